#include <algorithm>
#include <cmath>
#include <optional>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/outline_shapes.h"
#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using sim::PathEvent;
using sim::PathEventKind;

// Differences of typed and measured lengths are exact but for rounding.
constexpr double kBound_mm = 1e-9;

// One number stated twice.
struct Comparison {
  double off_mm = 0.0;     ///< as it counts against the limit
  int line = 0;            ///< of the path, where it is the path that says otherwise
  std::string text, cause;
};

struct Book {
  std::vector<Comparison> seen;
  std::vector<std::string> missing;   ///< why it is open
  std::vector<std::string> needs;
  void Ask(const std::string& what, const std::string& need) {
    missing.push_back(what);
    needs.push_back(need);
  }
};

double DiameterOf(const sim::CellCutter& cutter) {
  return 2.0 * cutter.cutter.radius_mm();
}

void LookAtLength(const sim::CellCutter& cutter, Book* book) {
  if (!cutter.measured) {
    return book->Ask(fmt::format("the stick-out of cutter {}", cutter.number),
                     fmt::format("`cutters.{}.measured.stick_out`: from a tool setter, after the "
                                 "last tightening", cutter.number));
  }
  const double off_mm = cutter.measured_stick_out_mm - cutter.stick_out_mm;
  book->seen.push_back(
      {std::abs(off_mm), 0,
       fmt::format("Cutter {} stands out {} as typed, {} as measured", cutter.number,
                   Millimetres(cutter.stick_out_mm), Millimetres(cutter.measured_stick_out_mm)),
       fmt::format("another bit, or it slipped in the collet: it cuts {} too {}",
                   Millimetres(std::abs(off_mm)), off_mm > 0.0 ? "deep" : "shallow")});
}

// Half a difference of diameters stands between a wall, or the flank of a ball,
// and where it should be.
void LookAtDiameter(const sim::CellCutter& cutter, Book* book) {
  if (!cutter.measured_diameter_mm) {
    return book->Ask(fmt::format("the diameter of cutter {}", cutter.number),
                     fmt::format("`cutters.{}.measured.diameter`: from a micrometer",
                                 cutter.number));
  }
  const double typed_mm = DiameterOf(cutter);
  book->seen.push_back(
      {0.5 * std::abs(*cutter.measured_diameter_mm - typed_mm), 0,
       fmt::format("Cutter {} is {} thick as typed, {} as measured", cutter.number,
                   Millimetres(typed_mm), Millimetres(*cutter.measured_diameter_mm)),
       "another bit, a worn one, or a radius typed for a diameter"});
}

// The cutter in use from an event on: that of the next line.
int ToolAt(const sim::Job& job, const PathEvent& event) {
  if (job.path.empty()) return 0;
  const auto last = static_cast<int>(job.path.size()) - 1;
  return job.path[static_cast<std::size_t>(std::clamp(event.before, 0, last))].tool;
}

// Radius where bottom and side meet; of cylinders only.
std::optional<double> CornerOf(const sim::CellCutter& cutter) {
  const std::string& shape = cutter.cutter.outline().shape;
  if (shape == "flat") return 0.0;
  if (shape == "ball" || shape == "bull_nose") return cutter.cutter.nose_radius_mm();
  return std::nullopt;
}

std::string ShapeWords(const sim::CellCutter& cutter) {
  std::string words = cutter.cutter.outline().shape;
  std::replace(words.begin(), words.end(), '_', ' ');
  return words;
}

// How far apart two outlines lie at most, at the corners and middles of the one's
// pieces, up to where both have flutes.
double OutlinesApart_mm(const sim::CutterOutline& stated, const sim::Cutter& cutter) {
  double apart = 0.0;
  for (const sim::OutlinePiece& piece : stated.pieces) {
    for (const double part : {0.0, 0.25, 0.5, 0.75, 1.0}) {
      Eigen::Vector2d p = piece.from + part * (piece.to - piece.from);
      if (piece.arc) p = piece.centre + (p - piece.centre).normalized() * (piece.to - piece.centre).norm();
      if (p.y() > cutter.flute_length_mm()) continue;
      apart = std::max(apart, std::abs(cutter.SignedDistance({p.x(), 0.0, p.y()})));
    }
  }
  return apart;
}

// The outline that a statement of all seven parameters describes, if they fit together.
std::optional<sim::CutterOutline> StatedOutline(const PathEvent& event) {
  const auto& s = event.shape;
  if (!(s[6] > 0.0)) return std::nullopt;   // the short forms do not say the height
  try {
    return sim::SevenParameterOutline({s[0], s[1], s[2], s[3], s[4], s[5], s[6]});
  } catch (const std::invalid_argument&) {
    return std::nullopt;
  }
}

void LookAtStatedShape(const PathEvent& event, const sim::CellCutter& cutter, Book* book) {
  const std::string cause = "the path was made for another bit";
  const auto stated = StatedOutline(event);
  const bool leans = stated && event.shape[5] != 0.0;   // d is no diameter then
  if (!leans) {
    const double typed_mm = DiameterOf(cutter);
    book->seen.push_back({0.5 * std::abs(event.shape[0] - typed_mm), event.line,
                          fmt::format("The path was made for a cutter of {}, cutter {} of the cell is {} thick",
                                      Millimetres(event.shape[0]), cutter.number, Millimetres(typed_mm)), cause});
  }
  if (stated) {
    const double apart_mm = OutlinesApart_mm(*stated, cutter.cutter);
    book->seen.push_back({apart_mm, event.line,
                          fmt::format("The outline that the path was made for lies up to {} off that of cutter {} of the cell",
                                      Millimetres(apart_mm), cutter.number), cause});
    return;
  }
  const std::optional<double> typed_corner_mm = CornerOf(cutter);
  if (!typed_corner_mm) return;   // a short statement does not speak of cones
  const double corner_mm = event.shape[1];
  book->seen.push_back(
      {std::abs(corner_mm - *typed_corner_mm), event.line,
       fmt::format("The path was made for a cutter with a corner of {}, cutter {} of the cell is a {} with one of {}",
                   Millimetres(corner_mm), cutter.number, ShapeWords(cutter), Millimetres(*typed_corner_mm)),
       cause});
}

void LookAtStatedLength(const PathEvent& event, const sim::CellCutter& cutter, Book* book) {
  book->seen.push_back(
      {std::abs(event.value - cutter.stick_out_mm), event.line,
       fmt::format("The path states a length of {} for cutter {}, the cell a stick-out of {}",
                   Millimetres(event.value), cutter.number, Millimetres(cutter.stick_out_mm)),
       "two tool tables that do not agree: find out which one the controller uses"});
}

Book LookAtAll(const sim::Job& job) {
  Book book;
  for (const int number : CuttersUsed(job)) {
    const sim::CellCutter* cutter = FindCutter(job.cell, number);
    if (cutter == nullptr) {
      book.Ask(fmt::format("cutter {}", number), fmt::format("`cutters.{}`", number));
      continue;
    }
    LookAtLength(*cutter, &book);
    LookAtDiameter(*cutter, &book);
  }
  for (const PathEvent& event : job.events) {
    const sim::CellCutter* cutter = FindCutter(job.cell, ToolAt(job, event));
    if (cutter == nullptr) continue;
    if (event.kind == PathEventKind::kCutterShape) LookAtStatedShape(event, *cutter, &book);
    if (event.kind == PathEventKind::kToolLength) LookAtStatedLength(event, *cutter, &book);
  }
  return book;
}

// Largest difference; not a number counts as largest.
const Comparison* WorstOf(const std::vector<Comparison>& seen) {
  const Comparison* worst = nullptr;
  for (const Comparison& one : seen) {
    if (worst == nullptr || !(one.off_mm <= worst->off_mm)) worst = &one;
    if (std::isnan(one.off_mm)) break;
  }
  return worst;
}

void AddFindings(const std::vector<Comparison>& seen, double limit_mm, CheckResult* r) {
  for (const Comparison& one : seen) {
    if (Decide(one.off_mm, kBound_mm, limit_mm, Sense::kAtMost) != Result::kFail) continue;
    Finding f;
    f.text = one.text + ".";
    f.line = one.line;
    f.value = one.off_mm;
    f.limit = limit_mm;
    f.unit = "mm";
    f.cause = one.cause;
    r->findings.push_back(f);
  }
  TrimFindings(r);
}

}  // namespace

CheckResult CheckToolMeasured(const CheckInputs& in) {
  const Book book = LookAtAll(in.job);
  const sim::Limit limit = LimitOr(in.job.accept.tool_mm, in.job.accept.depth_mm.value / 4.0);
  const Comparison* worst = WorstOf(book.seen);
  CheckResult r;
  if (worst != nullptr) {
    r = Measured({worst->off_mm, kBound_mm, limit.value, Sense::kAtMost, "mm"});
    r.why = worst->text + LimitText(limit, fmt::format("{:g} mm", limit.value)) + ".";
  }
  r.assumed = !limit.given;
  AddFindings(book.seen, limit.value, &r);
  if (r.result == Result::kFail) return r;
  if (book.missing.empty() && worst != nullptr) {
    if (r.result == Result::kUnproven) r.needs = {"the lengths and diameters measured again"};
    return r;
  }
  r.result = Result::kUnproven;
  r.why = book.missing.empty() ? "The path uses no cutter."
                               : fmt::format("Nobody measured {}.", List(book.missing));
  r.needs = book.needs;
  return r;
}

}  // namespace aircut::verify
