#include <cmath>

#include <fmt/format.h>

#include "sim/frame_fit.h"
#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using sim::FrameFit;

const char* const kFitNeed =
    "`workpiece.in_world.fit`: four or more named points around the work, each with its place in "
    "the piece and where the arm found it";
// Points that a person touches never fit to the last digit.
constexpr double kTooGood_mm = 1e-6;

// Where the frame may be off by most: the distance of the frame that the
// controller holds from the fitted one, and twice the fit's own expected error
// (95 % for errors of the size that `fle_mm` says).
struct Worst {
  double error_mm = -1.0;
  double typed_off_mm = 0.0, factor = 0.0;   ///< of the place with the largest error
  Vector3d p_S = Vector3d::Zero();
};

Worst WorstOver(const std::vector<Vector3d>& places, const sim::Cell& cell, const FrameFit& fit,
                double fle_mm) {
  Worst worst;
  for (const Vector3d& p_S : places) {
    const double off_mm = (cell.X_WS * p_S - fit.X_WS * p_S).norm();
    const double factor = sim::TargetErrorFactor(fit, p_S);
    const double error_mm = off_mm + 2.0 * fle_mm * factor;
    // Not a number counts as worst.
    if (error_mm <= worst.error_mm) continue;
    worst = {error_mm, off_mm, factor, p_S};
    if (std::isnan(error_mm)) break;
  }
  return worst;
}

std::string PointName(const sim::FitPoint& point) {
  return fmt::format("point {} (line {} of the fit's table)", point.name, point.line);
}

std::string ScaleCause(double factor) {
  for (const auto& [unit, text] : {std::pair{25.4, "inches and millimetres"},
                                   std::pair{1000.0, "metres and millimetres"},
                                   std::pair{10.0, "centimetres and millimetres"}}) {
    if (std::abs(factor / unit - 1.0) > 0.01 && std::abs(factor * unit - 1.0) > 0.01) continue;
    return fmt::format("the points found in the world span {:.4g} times what they span in the "
                       "piece: {} taken for each other", factor, text);
  }
  return fmt::format("the points found in the world span {:.6g} times what they span in the "
                     "piece: a wrong scale of the piece's file or of the arm", factor);
}

// What explains a bad fit best; a scale counts where it leaves a third of the error.
std::string CauseOf(const sim::Cell& cell, const FrameFit& fit, const Worst& worst) {
  const bool scaled = fit.scale.fle_mm * 3.0 < fit.fle_mm;
  if (scaled && (!fit.outlier || fit.scale.fle_mm < fit.outlier->fle_mm)) {
    return ScaleCause(fit.scale.factor);
  }
  if (fit.outlier) {
    const sim::FitPoint& point = cell.fit[static_cast<std::size_t>(fit.outlier->point)];
    return fmt::format("{} lies {} from where the other points expect it: touch it again",
                       PointName(point), Millimetres(fit.outlier->off_mm));
  }
  if (worst.typed_off_mm > 0.5 * worst.error_mm) {
    return fmt::format("the frame that the controller holds differs from the fitted one by {} "
                       "there; type the fitted frame, or fit again", Millimetres(worst.typed_off_mm));
  }
  if (worst.factor > 1.0) {
    return "the points lie too far from the work, or too near to each other, for what they are "
           "worth: touch points around the work";
  }
  std::size_t most = 0;
  for (std::size_t i = 1; i < fit.residual_W.size(); ++i) {
    if (fit.residual_W[i].norm() > fit.residual_W[most].norm()) most = i;
  }
  return fmt::format("the points do not fit each other; {} is farthest off, by {}",
                     PointName(cell.fit[most]), Millimetres(fit.residual_W[most].norm()));
}

std::string Why(const FrameFit& fit, const Worst& worst, const std::string& limit) {
  std::string why = fmt::format(
      "Over the work the frame may be off by {}{}: {} leave a residual of {:.3f} mm (rms), which "
      "means {} at the farthest place with 95 %",
      Millimetres(worst.error_mm), limit, Plural(fit.points, "point"), fit.fre_mm,
      Millimetres(2.0 * fit.fle_mm * worst.factor));
  if (worst.typed_off_mm > 1e-6) {
    why += fmt::format(", and the frame that the controller holds lies {} from the fit",
                       Millimetres(worst.typed_off_mm));
  }
  return why + ".";
}

// Pass and fail both at the unlucky end of what so few points say of their error.
CheckResult Decided(const CheckInputs& in, const FrameFit& fit) {
  const std::vector<Vector3d> places = WorkPlaces(in);
  const sim::Limit limit = LimitOr(in.job.accept.frame_mm, in.job.accept.depth_mm.value / 3.0);
  const Worst worst = WorstOver(places, in.job.cell, fit, fit.fle_mm);
  const sim::FleRange fle = sim::RangeOfFle(fit);
  const double low_mm = WorstOver(places, in.job.cell, fit, fle.low_mm).error_mm;
  const double high_mm = WorstOver(places, in.job.cell, fit, fle.high_mm).error_mm;
  const bool over = low_mm > limit.value;
  const double bound_mm = over ? worst.error_mm - low_mm : high_mm - worst.error_mm;
  CheckResult r = Measured({worst.error_mm, bound_mm, limit.value, Sense::kAtMost, "mm"});
  // Far above and far below may both be open: then neither end decides.
  if (r.result == Result::kFail && !over) r.result = Result::kUnproven;
  r.assumed = !limit.given;
  r.where = Place(worst.p_S);
  r.why = Why(fit, worst, LimitText(limit, fmt::format("{:g} mm", limit.value)));
  if (r.result != Result::kFail) return r;
  Finding f;
  f.text = r.why;
  f.at_S = worst.p_S;
  f.value = worst.error_mm;
  f.limit = limit.value;
  f.unit = "mm";
  f.cause = CauseOf(in.job.cell, fit, worst);
  r.findings = {f};
  return r;
}

// What keeps a fit that looks good from being a proof.
std::string Doubt(const FrameFit& fit, Result result) {
  if (fit.points == 3) {
    return " Three points always lie on a plane, so a wrong height of one leaves no residual.";
  }
  if (fit.fre_mm < kTooGood_mm) {
    return " Touched points never fit to the last digit: these look calculated from the frame.";
  }
  if (result == Result::kUnproven) return " So few points do not settle it.";
  return "";
}

}  // namespace

CheckResult CheckFrameFit(const CheckInputs& in) {
  const sim::Cell& cell = in.job.cell;
  if (cell.fit.empty()) {
    return Unproven("The work frame is typed: nothing shows how well it was found.", {kFitNeed});
  }
  const FrameFit fit = sim::FitFrame(cell.fit);
  if (fit.state == sim::FitState::kTooFew) {
    return Unproven(fmt::format("{} cannot settle a frame; three are the least, four show an error.",
                                Plural(fit.points, "point")), {kFitNeed});
  }
  if (fit.state == sim::FitState::kOnALine) {
    return Unproven("The points of the fit lie on one line: the turn about it is open.", {kFitNeed});
  }
  if (WorkPlaces(in).empty()) {
    return Unproven("The path has no cut, so there is no work to hold the frame against.",
                    {"a path that cuts"});
  }
  CheckResult r = Decided(in, fit);
  if (r.result == Result::kFail) return r;
  const std::string doubt = Doubt(fit, r.result);
  if (doubt.empty()) return r;
  r.result = Result::kUnproven;
  r.why += doubt;
  r.needs = {fit.fre_mm < kTooGood_mm
                 ? std::string("`workpiece.in_world.fit`: points as the arm really found them")
                 : "`workpiece.in_world.fit`: two or more further points around the work"};
  return r;
}

}  // namespace aircut::verify
