#include "sim/outline_shapes.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/units.h"

namespace aircut::sim {
namespace {

using Eigen::Vector2d;

constexpr double kSameHeight_mm = 1e-9;   // a cone may end where the flutes do, but for rounding

// Written so that NaN fails too.
void Require(bool holds, const char* field, double value, const std::string& bound) {
  if (!holds) throw std::invalid_argument(fmt::format("{} = {:.6g} must be {}", field, value, bound));
}

void RequireDimensions(const OutlineDimensions& d, double full_height_mm) {
  Require(d.diameter_mm > 0 && std::isfinite(d.diameter_mm), "diameter", d.diameter_mm, "> 0 mm");
  Require(d.height_mm >= full_height_mm - kSameHeight_mm && d.height_mm > 0 && std::isfinite(d.height_mm), "flute_length", d.height_mm,
          fmt::format(">= {:.6g} mm, the height at which the full diameter is reached", full_height_mm));
}

class OutlineDrawing {
 public:
  explicit OutlineDrawing(std::string shape) { out_.shape = std::move(shape); }

  OutlineDrawing& LineTo(const Vector2d& to) {
    if (to != at_) out_.pieces.push_back({at_, to, false, Vector2d::Zero(), false});
    at_ = to;
    return *this;
  }
  OutlineDrawing& ArcTo(const Vector2d& to, const Vector2d& centre, bool clockwise) {
    if (to != at_) out_.pieces.push_back({at_, to, true, centre, clockwise});
    at_ = to;
    return *this;
  }
  CutterOutline Ready(double diameter_mm) {
    out_.diameter_mm = diameter_mm;
    out_.height_mm = at_.y();
    return std::move(out_);
  }
  const Vector2d& at() const { return at_; }

 private:
  CutterOutline out_;
  Vector2d at_ = Vector2d::Zero();
};

double Cross(const Vector2d& a, const Vector2d& b) { return a.x() * b.y() - a.y() * b.x(); }

[[noreturn]] void FailStep(std::size_t step, const std::string& what) {
  throw std::invalid_argument(fmt::format("point {} {}", step + 1, what));
}

// Does the arc pass the point of its circle in this direction from the centre?
bool Passes(const OutlinePiece& arc, const Vector2d& direction) {
  const Vector2d a = arc.from - arc.centre, b = arc.to - arc.centre;
  const double way = arc.clockwise ? -1.0 : 1.0;
  return way * Cross(a, direction) > 0 && way * Cross(direction, b) > 0;
}

OutlinePiece ArcOf(std::size_t step, const Vector2d& from, const OutlineStep& to) {
  const Vector2d a = from - *to.centre, b = to.to - *to.centre;
  const double gap_mm = std::abs(a.norm() - b.norm());
  if (!(gap_mm <= kArcRadius_mm) || !(a.norm() > 0)) {
    FailStep(step, fmt::format("has an arc of radius {:.6g} at one end and {:.6g} at the other, must be equal within "
                               "{:g} mm", a.norm(), b.norm(), kArcRadius_mm));
  }
  const double turn = std::atan2(Cross(a, b), a.dot(b));
  if (!(std::abs(turn) < kinematics::kPi - 1e-6)) {
    FailStep(step, "has an arc of half a turn, must be less: write it as two arcs");
  }
  return {from, to.to, true, *to.centre, turn < 0};
}

// z must not fall anywhere, r must not be below 0.
void RequireRising(std::size_t step, const OutlinePiece& piece) {
  bool falls = piece.to.y() < piece.from.y();
  double least_r = piece.to.x();
  if (piece.arc) {
    falls = falls || Passes(piece, {0, 1}) || Passes(piece, {0, -1});
    if (Passes(piece, {-1, 0})) least_r = piece.centre.x() - (piece.from - piece.centre).norm();
  }
  if (falls) FailStep(step, "lets z fall on the way to it, must rise or stay: list the outline from the tip up");
  if (!(least_r >= 0)) FailStep(step, fmt::format("has r = {:.6g}, must be >= 0", least_r));
}

double LargestRadius(const OutlinePiece& piece) {
  const double ends = std::max(piece.from.x(), piece.to.x());
  if (!piece.arc || !Passes(piece, {1, 0})) return ends;
  return std::max(ends, piece.centre.x() + (piece.from - piece.centre).norm());
}

// Pieces that rise share heights at their ends only, so level lines alone can meet.
void RequireOnward(std::size_t step, const OutlinePiece& before, const OutlinePiece& piece) {
  const auto level = [](const OutlinePiece& p) { return !p.arc && p.from.y() == p.to.y(); };
  if (level(before) && level(piece) && (before.to - before.from).dot(piece.to - piece.from) < 0) {
    FailStep(step, "runs back over the piece before it: list each point of the outline once");
  }
}

}  // namespace

CutterOutline BallOutline(const OutlineDimensions& d) {
  const double r = d.diameter_mm / 2;
  RequireDimensions(d, r);
  return OutlineDrawing("ball").ArcTo({r, r}, {0, r}, false).LineTo({r, d.height_mm}).Ready(d.diameter_mm);
}

CutterOutline FlatOutline(const OutlineDimensions& d) {
  const double r = d.diameter_mm / 2;
  RequireDimensions(d, 0.0);
  return OutlineDrawing("flat").LineTo({r, 0}).LineTo({r, d.height_mm}).Ready(d.diameter_mm);
}

CutterOutline BullNoseOutline(const OutlineDimensions& d, double corner_radius_mm) {
  const double r = d.diameter_mm / 2, c = corner_radius_mm;
  Require(c > 0 && c < r, "corner_radius", c, "> 0 and below half the diameter, in mm");
  RequireDimensions(d, c);
  return OutlineDrawing("bull_nose").LineTo({r - c, 0}).ArcTo({r, c}, {r - c, c}, false).LineTo({r, d.height_mm})
      .Ready(d.diameter_mm);
}

CutterOutline RoundTipConeOutline(const OutlineDimensions& d, double angle_rad, double tip_radius_mm) {
  const double r = d.diameter_mm / 2, t = tip_radius_mm, half = angle_rad / 2;
  Require(angle_rad > 0 && angle_rad < kinematics::kPi, "angle", kinematics::DegFromRad(angle_rad),
          "between 0 and 180 degrees");
  Require(t >= 0 && t < r, "tip_radius", t, "at least 0 and below half the diameter, in mm");
  const Vector2d tangent(t * std::cos(half), t - t * std::sin(half));
  const double full_mm = tangent.y() + (r - tangent.x()) / std::tan(half);
  RequireDimensions(d, full_mm);
  return OutlineDrawing("v").ArcTo(tangent, {0, t}, false).LineTo({r, std::min(full_mm, d.height_mm)}).LineTo({r, d.height_mm})
      .Ready(d.diameter_mm);
}

CutterOutline FlatTipConeOutline(const OutlineDimensions& d, double angle_rad, double tip_flat_mm) {
  const double r = d.diameter_mm / 2, flat = tip_flat_mm / 2;
  Require(angle_rad > 0 && angle_rad < kinematics::kPi, "angle", kinematics::DegFromRad(angle_rad),
          "between 0 and 180 degrees");
  Require(flat > 0 && flat < r, "tip_flat", tip_flat_mm, "> 0 and below the diameter, in mm");
  const double full_mm = (r - flat) / std::tan(angle_rad / 2);
  RequireDimensions(d, full_mm);
  return OutlineDrawing("v").LineTo({flat, 0}).LineTo({r, std::min(full_mm, d.height_mm)}).LineTo({r, d.height_mm}).Ready(d.diameter_mm);
}

CutterOutline SevenParameterOutline(const SevenParameters& p) {
  const double quarter = kinematics::kPi / 2, half = p.d_mm / 2;
  Require(p.d_mm > 0 && std::isfinite(p.d_mm), "d", p.d_mm, "> 0 mm");
  Require(p.r_mm >= 0 && std::isfinite(p.r_mm), "r", p.r_mm, "at least 0 mm");
  Require(p.alpha_rad >= 0 && p.alpha_rad < quarter, "alpha", kinematics::DegFromRad(p.alpha_rad), "at least 0 and below 90 degrees");
  Require(p.beta_rad > -quarter && p.alpha_rad + p.beta_rad < quarter - 1e-6, "beta", kinematics::DegFromRad(p.beta_rad),
          "above -90 degrees and below 90 degrees less alpha");
  const double sa = std::sin(p.alpha_rad), ca = std::cos(p.alpha_rad), sb = std::sin(p.beta_rad), cb = std::cos(p.beta_rad);
  // The circle's centre lies r inside of both lines.
  const double side = half * (cb - sb * sa / ca) - p.r_mm, det = ca * cb - sa * sb;
  const Vector2d centre((p.r_mm * sb + side * ca) / det, (p.r_mm * cb + side * sa) / det);
  const std::string place = fmt::format("{:.6g}, where the corner touches bottom and side", centre.x());
  Require(std::abs(p.e_mm - centre.x()) <= kArcRadius_mm, "e", p.e_mm, place);
  Require(std::abs(p.f_mm - centre.y()) <= kArcRadius_mm, "f", p.f_mm,
          fmt::format("{:.6g}, where the corner touches bottom and side", centre.y()));
  Vector2d low = centre + p.r_mm * Vector2d(sa, -ca);
  const Vector2d high = centre + p.r_mm * Vector2d(cb, -sb);
  Require(low.x() >= -kSameHeight_mm, "r", p.r_mm, "small enough for its corner to end on this side of the axis");
  if (low.x() < kSameHeight_mm) low = Vector2d::Zero();
  Require(p.h_mm > high.y() - kSameHeight_mm && p.h_mm > 0 && std::isfinite(p.h_mm), "h", p.h_mm,
          fmt::format(">= {:.6g} mm, the top of the corner", high.y()));
  const Vector2d top(high.x() + (p.h_mm - high.y()) * sb / cb, std::max(p.h_mm, high.y()));
  Require(top.x() >= 0, "h", p.h_mm, "low enough for the side to end before the axis");
  return OutlineDrawing("seven_parameters").LineTo(low).ArcTo(high, centre, false).LineTo(top).Ready(2 * std::max(high.x(), top.x()));
}

CutterOutline ListedOutline(const std::vector<OutlineStep>& steps) {
  CutterOutline out;
  out.shape = "outline";
  Vector2d from = Vector2d::Zero();
  double radius_mm = 0.0;
  for (std::size_t i = 0; i < steps.size(); ++i) {
    if (steps[i].to == from) FailStep(i, "is where the one before is: list each point of the outline once");
    const OutlinePiece piece =
        steps[i].centre ? ArcOf(i, from, steps[i]) : OutlinePiece{from, steps[i].to, false, Vector2d::Zero(), false};
    RequireRising(i, piece);
    if (i > 0) RequireOnward(i, out.pieces.back(), piece);
    radius_mm = std::max(radius_mm, LargestRadius(piece));
    from = piece.to;
    out.pieces.push_back(piece);
  }
  if (!(radius_mm > 0) || !(from.y() > 0)) {
    throw std::invalid_argument("has no width or no height, must have both: list the outline from the tip end up");
  }
  out.diameter_mm = 2 * radius_mm;
  out.height_mm = from.y();
  return out;
}

}  // namespace aircut::sim
