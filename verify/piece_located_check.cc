#include <algorithm>
#include <cmath>
#include <optional>

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

std::vector<Eigen::Vector3d> TouchedInS(const sim::Cell& cell) {
  const kinematics::Pose X_SW = cell.X_WS.inverse();
  std::vector<Eigen::Vector3d> touched_S;
  for (const Eigen::Vector3d& p_W : cell.touched_W) touched_S.push_back(X_SW * p_W);
  return touched_S;
}

// The one point without which all others lie on the scan where the frame puts it;
// nothing where there is none or more than one such point.
std::optional<std::size_t> LonelySlip(const CheckInputs& in, double limit_mm) {
  constexpr std::size_t kFewest = 4, kMost = 200;   // a longer table is no hand-touched one
  const std::vector<Eigen::Vector3d> touched_S = TouchedInS(in.job.cell);
  if (in.job.stock_S == nullptr || touched_S.size() < kFewest || touched_S.size() > kMost) {
    return std::nullopt;
  }
  std::optional<std::size_t> slip;
  for (std::size_t i = 0; i < touched_S.size(); ++i) {
    const double off_mm = std::abs(in.job.stock_S->SignedDistance(touched_S[i]));
    if (off_mm <= limit_mm) continue;
    if (slip) return std::nullopt;
    slip = i;
  }
  return slip;
}

std::string SlipCause(const CheckInputs& in, std::size_t point) {
  const std::vector<int>& lines = in.job.cell.touched_lines;
  const std::string name = point < lines.size()
                               ? fmt::format("line {} of the touched points", lines[point])
                               : fmt::format("touched point {}", point + 1);
  return fmt::format("only the point of {} disagrees, by {}: a probable slip or a chip under the "
                     "probe; touch it again", name,
                     Millimetres(std::abs(in.job.stock_S->SignedDistance(
                         TouchedInS(in.job.cell)[point]))));
}

// How far the work reaches beyond the ball round the touched points [mm]; what is
// touched far away is levered up at the work.
double ReachBeyond(const CheckInputs& in) {
  const std::vector<Eigen::Vector3d> touched_S = TouchedInS(in.job.cell);
  if (touched_S.empty()) return 0.0;
  Eigen::Vector3d middle = Eigen::Vector3d::Zero();
  for (const Eigen::Vector3d& p : touched_S) middle += p / static_cast<double>(touched_S.size());
  double radius_mm = 0.0, reach_mm = 0.0;
  for (const Eigen::Vector3d& p : touched_S) radius_mm = std::max(radius_mm, (p - middle).norm());
  for (const Eigen::Vector3d& p : WorkPlaces(in)) reach_mm = std::max(reach_mm, (p - middle).norm());
  return std::max(0.0, reach_mm - radius_mm);
}

// Touched points whose nearest face was drawn to close a scan: they are held against
// nothing that was seen. Walls below the rim count as seen where the piece ends there.
std::int64_t OnDrawnFaces(const CheckInputs& in) {
  const sim::StockFaces& faces = in.job.stock_faces;
  if (faces.origin.empty()) return 0;
  std::int64_t drawn = 0;
  for (const Eigen::Vector3d& p : TouchedInS(in.job.cell)) {
    const auto face = static_cast<std::size_t>(in.job.stock_S->ClosestPoint(p).triangle);
    const bool wall = faces.origin[face] == sim::FaceOrigin::kSkirt && faces.ends_at_rim;
    if (faces.origin[face] != sim::FaceOrigin::kGiven && !wall) ++drawn;
  }
  return drawn;
}

void SettleDrawnFaces(const CheckInputs& in, CheckResult* r) {
  const std::int64_t drawn = OnDrawnFaces(in);
  if (drawn == 0) return;
  r->why += fmt::format(" {} on faces that no scan has seen.", Plural(drawn, "touched point") + (drawn == 1 ? " lies" : " lie"));
  if (r->result == Result::kPass) r->result = Result::kUnproven;
  r->needs.push_back("touched points on the scanned face, or `stock.scan.beside: air` once you have looked that the piece "
                     "ends where the scan does");
}

void AddPieceFinding(const CheckInputs& in, const std::string& text, CheckResult* r) {
  const sim::PieceLocation& at = in.run.location;
  Finding f;
  f.text = text;
  f.at_S = at.worst_p_S;
  f.value = *r->worst;
  f.limit = *r->limit;
  f.unit = "mm";
  if (const auto slip = LonelySlip(in, *r->limit)) {
    f.cause = SlipCause(in, *slip);
  } else if (at.residual_mm <= *r->limit) {
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
                      Millimetres(worst_mm), LimitText(limit, fmt::format("{:g} mm", limit.value)));
  const double beyond_mm = ReachBeyond(in);
  if (beyond_mm > 0.0) {
    r.why += fmt::format(" The work reaches {} beyond the touched points: touch round it.",
                         Millimetres(beyond_mm));
  }
  if (at.directions_seen < 6) {
    r.needs = {"touched points on faces that stand across each other, or on edges"};
  }
  if (r.result == Result::kFail) AddPieceFinding(in, r.why, &r);
  if (r.result == Result::kPass && at.directions_seen < 3) {
    r.result = Result::kUnproven;
    r.why += " That is too few to place it.";
    r.needs = {kTouchNeed};
  }
  SettleDrawnFaces(in, &r);
  if (r.result == Result::kUnproven && r.needs.empty()) r.needs = {kTouchNeed};
  return r;
}

}  // namespace aircut::verify
