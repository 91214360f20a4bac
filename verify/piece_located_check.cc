#include <cmath>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// Mean rise of the touched piece over the carving, or over the one worst point
// where no sample is known.
double MeanRise(const CheckInputs& in) {
  double sum = 0.0, weight = 0.0;
  for (const sim::DesignSample& s : in.run.samples) {
    if (s.role != sim::DesignSample::Role::kCarve || !(s.area_mm2 > 0.0)) continue;
    sum += s.area_mm2 * RiseOfPiece(in.run.location, s.ray.p_SQ, s.ray.up_S);
    weight += s.area_mm2;
  }
  return weight > 0.0 ? sum / weight : in.run.location.worst_signed_mm;
}

std::string RiseText(double rise_mm) {
  if (std::abs(rise_mm) < 0.005) return "The path lies at the height of the touched piece";
  return fmt::format("The path lies {} {} the touched piece", Millimetres(std::abs(rise_mm)),
                     rise_mm > 0.0 ? "below" : "above");
}

const char* const kTouchNeed =
    "`workpiece.touched`: three or more points touched on the real piece, spread over the work";

void AddPieceFinding(const CheckInputs& in, const std::string& text, CheckResult* r) {
  const sim::PieceLocation& at = in.run.location;
  Finding f;
  f.text = text;
  f.at_S = at.worst_p_S;
  f.value = *r->worst;
  f.limit = *r->limit;
  f.unit = "mm";
  if (at.residual_mm <= *r->limit) {
    const double rise_mm = MeanRise(in);
    f.cause = fmt::format("the work frame stands {} too {} against the touched points; touch them "
                          "again before correcting `workpiece.in_world`",
                          Millimetres(std::abs(rise_mm)), rise_mm > 0.0 ? "low" : "high");
  } else {
    f.cause = "the scan is not of this piece, the piece has warped, or a touched point is wrong";
  }
  r->findings = {f};
}

}  // namespace

CheckResult CheckPieceLocated(const CheckInputs& in) {
  const sim::PieceLocation& at = in.run.location;
  if (!at.given || at.points == 0) {
    return Unproven("No point of the real piece was touched: a wrong work frame would not show.",
                    {kTouchNeed});
  }
  sim::Limit limit = in.job.accept.piece_mm;
  if (!limit.given) limit.value = in.job.accept.depth_mm.value / 3.0;
  // After the fit the points must lie on the scan as well, or it is another piece.
  const bool worse_after = at.residual_mm > at.before_mm || std::isnan(at.residual_mm);
  const double worst_mm = worse_after ? at.residual_mm : at.before_mm;
  constexpr double kBound_mm = 1e-6;   // nearest points are exact to 1e-9 mm
  CheckResult r = Measured({worst_mm, kBound_mm, limit.value, Sense::kAtMost, "mm"});
  r.assumed = !limit.given;
  r.where = Place(at.worst_p_S);
  const std::string seen = fmt::format(
      "{}; {} settle {} of the 6 ways a piece can lie", RiseText(MeanRise(in)),
      Plural(at.points, "touched point"), at.directions_seen);
  r.why = fmt::format("{}, and the farthest lies {} from the scan{}.", seen,
                      Millimetres(worst_mm), LimitText(limit, Millimetres(limit.value)));
  if (at.directions_seen < 6) {
    r.needs = {"touched points on faces that stand across each other, or on edges"};
  }
  if (r.result == Result::kFail) AddPieceFinding(in, r.why, &r);
  if (r.result == Result::kPass && at.directions_seen < 3) {
    r.result = Result::kUnproven;
    r.why += " That is too few to place it.";
    r.needs = {kTouchNeed};
  }
  if (r.result == Result::kUnproven && r.needs.empty()) r.needs = {kTouchNeed};
  return r;
}

}  // namespace aircut::verify
