#include "verify/cause_words.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// "0.35 ± 0.02°". The modes are no truer than a hundredth, however small the scatter.
std::string Sized(const FittedCause& cause, double factor, const char* unit) {
  constexpr double kTruest = 0.01;
  const double scatter = factor * cause.standard_error, error = scatter > kTruest ? scatter : kTruest;
  const int decimals = error < 0.095 ? 2 : 1;
  return fmt::format("{:.{}f} ± {:.{}f}{}", factor * std::abs(cause.size), decimals, error, decimals, unit);
}

std::string MillimetresOf(const FittedCause& cause) { return Sized(cause, 1.0, " mm"); }
std::string DegreesOf(const FittedCause& cause, double factor) {
  return Sized(cause, factor * kinematics::DegFromRad(1.0), "°");
}

std::string FrameText(const FittedCause& cause, const char* axis) {
  return fmt::format("the work frame lies {} off towards {}{}", MillimetresOf(cause), cause.size > 0 ? "+" : "-", axis);
}

std::string TurnText(const FittedCause& cause, const char* axis) {
  return fmt::format("the work frame is turned by {}{} about {} through the middle of the carving",
                     cause.size > 0 ? "+" : "-", DegreesOf(cause, 1.0), axis);
}

// Cutters of the cell that the path may have been made for: own size less what was fitted.
std::string OtherCutterText(const FittedCause& cause, const sim::Job& job) {
  if (job.path.empty()) return "";
  const auto own = job.cell.cutters.find(job.path.back().tool);
  if (own == job.cell.cutters.end()) return "";
  const double made_for_mm = own->second.cutter.radius_mm() - cause.size;
  const double within_mm = std::max(3.0 * cause.standard_error, 0.1 * std::abs(cause.size));
  for (const auto& [number, other] : job.cell.cutters) {
    if (number != own->first && std::abs(other.cutter.radius_mm() - made_for_mm) <= within_mm) {
      return fmt::format(" (it suits cutter {})", number);
    }
  }
  return "";
}

std::string PartText(const FittedCause& cause, const sim::Job& job) {
  const bool more = cause.size > 0.0;
  switch (cause.kind) {
    case CauseKind::kFrameX: return FrameText(cause, "x");
    case CauseKind::kFrameY: return FrameText(cause, "y");
    case CauseKind::kFrameZ:
      return fmt::format("the work frame lies {} too {}", MillimetresOf(cause), more ? "high" : "low");
    case CauseKind::kTurnX: return TurnText(cause, "x");
    case CauseKind::kTurnY: return TurnText(cause, "y");
    case CauseKind::kTurnZ: return TurnText(cause, "z");
    case CauseKind::kToolLength:
      return fmt::format("the bit is {} {} than typed", MillimetresOf(cause), more ? "longer" : "shorter");
    case CauseKind::kToolRadius:
      return fmt::format("the cutter is {} {} in radius than the path was made for{}", MillimetresOf(cause),
                         more ? "larger" : "smaller", OtherCutterText(cause, job));
    case CauseKind::kVAngle:
      return fmt::format("the V is {} {} in its included angle than the path was made for", DegreesOf(cause, 2.0),
                         more ? "wider" : "narrower");
    case CauseKind::kDepth:
      return fmt::format("the path was made {} {} than the design", MillimetresOf(cause), more ? "deeper" : "shallower");
    case CauseKind::kScale:
      return fmt::format("the path is {} {} than the design", Sized(cause, 100.0, " %"), more ? "larger" : "smaller");
    case CauseKind::kMirrorX: return "the path is the design mirrored in x";
    case CauseKind::kMirrorY: return "the path is the design mirrored in y";
    case CauseKind::kOtherCutter: return fmt::format("the path was made for cutter {}", cause.cutter);
    case CauseKind::kUnits: return "the path is in inches where the design is in millimetres, or the reverse";
  }
  return "";
}

std::string FitText(const CauseFit& fit, const sim::Job& job) {
  std::vector<std::string> parts;
  for (const FittedCause& part : fit.parts) parts.push_back(PartText(part, job));
  return List(parts);
}

bool Holds(const ProbableCause& cause, CauseKind kind) {
  const auto has = [&](const CauseFit& fit) {
    return std::any_of(fit.parts.begin(), fit.parts.end(), [&](const FittedCause& p) { return p.kind == kind; });
  };
  return has(cause.best) || std::any_of(cause.rivals.begin(), cause.rivals.end(), has);
}

constexpr std::size_t kMostRivals = 3;

// The one measurement that tells the best cause from its rivals.
std::string MeasurementText(const ProbableCause& cause) {
  if (Holds(cause, CauseKind::kToolLength)) return "measure the stick-out of the bit with a setter";
  if (Holds(cause, CauseKind::kVAngle)) return "cut one line of known depth and measure its width";
  if (Holds(cause, CauseKind::kOtherCutter)) return "read the cutter that the path's program names, and measure the one in the spindle";
  if (Holds(cause, CauseKind::kToolRadius)) return "measure the diameter of the cutter";
  if (Holds(cause, CauseKind::kUnits) || Holds(cause, CauseKind::kMirrorX) || Holds(cause, CauseKind::kMirrorY)) {
    return "run the path in the air over a drawing of the design";
  }
  if (Holds(cause, CauseKind::kScale)) return "move the tip between two marks of the design and measure their distance";
  const bool sideways = Holds(cause, CauseKind::kFrameX) || Holds(cause, CauseKind::kFrameY) ||
                        Holds(cause, CauseKind::kTurnZ);
  if (sideways) return "touch three points on each of two edges of the piece";
  return "touch six points spread over the uncut face";
}

}  // namespace

std::string CauseText(const ProbableCause& cause, const sim::Job& job) {
  std::string text = fmt::format("{}, which explains {:.0f} % of the deviation over the whole carving",
                                 FitText(cause.best, job), std::floor(100.0 * cause.best.share + 0.05));
  std::vector<std::string> rivals;
  for (const CauseFit& rival : cause.rivals) {
    rivals.push_back(fmt::format("{} ({:.0f} %)", FitText(rival, job), std::floor(100.0 * rival.share + 0.05)));
  }
  if (!rivals.empty()) text += "; alike here: " + List(rivals, kMostRivals);
  return text + fmt::format("; to tell{}: {}", rivals.empty() ? "" : " them apart", MeasurementText(cause));
}

}  // namespace aircut::verify
