#include "sim/path_arc.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/path_fault.h"
#include "sim/path_source.h"

namespace aircut::sim {
namespace {

using kinematics::kPi;

Eigen::Vector2d InPlane(const ArcPlane& plane, const Eigen::Vector3d& point) {
  return {point[plane.first], point[plane.second]};
}

double RadiusTolerance_mm(double radius_mm) {
  return std::max(kArcRadiusGap_mm, kArcRadiusShare * radius_mm);
}

// The arc about a known centre, but for its sweep.
Arc WithCentre(const ArcEnds& ends, const Eigen::Vector2d& centre) {
  Arc arc;
  arc.ends = ends;
  arc.centre = centre;
  const Eigen::Vector2d to_start = InPlane(ends.plane, ends.start) - centre;
  arc.start_radius_mm = to_start.norm();
  arc.end_radius_mm = (InPlane(ends.plane, ends.end) - centre).norm();
  arc.start_angle_rad = std::atan2(to_start.y(), to_start.x());
  return arc;
}

// From start to end the way the move turns, in (0, 2 pi] or [-2 pi, 0).
double SweepBetweenEnds_rad(const Arc& arc) {
  const Eigen::Vector2d a = InPlane(arc.ends.plane, arc.ends.start) - arc.centre;
  const Eigen::Vector2d b = InPlane(arc.ends.plane, arc.ends.end) - arc.centre;
  const double angle = std::atan2(a.x() * b.y() - a.y() * b.x(), a.dot(b));
  if (arc.ends.turn == ArcTurn::kCounterclockwise) return angle > 0 ? angle : angle + 2 * kPi;
  return angle < 0 ? angle : angle - 2 * kPi;
}

}  // namespace

Arc ArcAboutCentre(const ArcEnds& ends, const Eigen::Vector2d& offset) {
  Arc arc = WithCentre(ends, InPlane(ends.plane, ends.start) + offset);
  const double larger_mm = std::max(arc.start_radius_mm, arc.end_radius_mm);
  if (!(arc.start_radius_mm > 0)) throw PathFault("the arc's centre is its start: I J K must lead from the start to the centre");
  if (!(std::abs(arc.start_radius_mm - arc.end_radius_mm) <= RadiusTolerance_mm(larger_mm))) {
    throw PathFault(fmt::format("the arc has radius {:.9g} mm at its start and {:.9g} mm at its end, must be one "
                                "circle within {} mm or 0.1 %: I J K lead from the start to the centre",
                                arc.start_radius_mm, arc.end_radius_mm, kArcRadiusGap_mm));
  }
  const double gap_mm = (InPlane(ends.plane, ends.end) - InPlane(ends.plane, ends.start)).norm();
  if (gap_mm <= kArcSamePoint_mm) {
    arc.sweep_rad = ends.turn == ArcTurn::kCounterclockwise ? 2 * kPi : -2 * kPi;
    return arc;
  }
  arc.sweep_rad = SweepBetweenEnds_rad(arc);
  const double short_way_rad = std::min(std::abs(arc.sweep_rad), 2 * kPi - std::abs(arc.sweep_rad));
  if (short_way_rad * larger_mm < kArcUnclearGap_mm) {
    throw PathFault(fmt::format("start and end of the arc lie {:.3g} mm apart: whether a full circle or none is meant "
                                "is not clear; write the same point for a full circle, or a straight move",
                                gap_mm));
  }
  return arc;
}

Arc ArcWithRadius(const ArcEnds& ends, double radius_mm) {
  const Eigen::Vector2d start = InPlane(ends.plane, ends.start);
  const Eigen::Vector2d chord = InPlane(ends.plane, ends.end) - start;
  const double half_mm = 0.5 * chord.norm();
  if (!(2 * half_mm > kArcSamePoint_mm)) {
    throw PathFault("start and end of the arc are one point: a full circle must be written with I J K, not with R");
  }
  if (!(half_mm - std::abs(radius_mm) <= RadiusTolerance_mm(std::abs(radius_mm)))) {
    throw PathFault(fmt::format("the arc's ends lie {:.9g} mm apart, must be at most two radii R = {:.9g} mm: mend R "
                                "or the end",
                                2 * half_mm, std::abs(radius_mm)));
  }
  const double radius = std::max(std::abs(radius_mm), half_mm);
  const double height_mm = std::sqrt((radius - half_mm) * (radius + half_mm));
  // The shorter way round counterclockwise has its centre on the left.
  const bool is_left = (ends.turn == ArcTurn::kCounterclockwise) == (radius_mm > 0);
  const Eigen::Vector2d left = Eigen::Vector2d(-chord.y(), chord.x()) / (2 * half_mm);
  Arc arc = WithCentre(ends, start + 0.5 * chord + (is_left ? height_mm : -height_mm) * left);
  // From the half chord, not from the ends' angles: just under half a turn they
  // could fall on the other side of it.
  const double short_way_rad = 2 * std::atan2(half_mm, height_mm);
  const double way_rad = radius_mm > 0 ? short_way_rad : 2 * kPi - short_way_rad;
  arc.sweep_rad = ends.turn == ArcTurn::kCounterclockwise ? way_rad : -way_rad;
  return arc;
}

int ChordCount(const Arc& arc) {
  const double radius_mm = std::max(arc.start_radius_mm, arc.end_radius_mm);
  // Sagitta r (1 - cos(step / 2)) = 2 r sin^2(step / 4).
  const double share = std::min(1.0, std::sqrt(kArcSag_mm / (2 * radius_mm)));
  const double step_rad = std::min(kArcStep_rad, 4 * std::asin(share));
  // A rounding error in the sweep is not worth a chord of its own.
  const double steps = std::abs(arc.sweep_rad) / step_rad * (1.0 - 1e-12);
  return std::max(1, static_cast<int>(std::ceil(steps)));
}

Eigen::Vector3d ChordEnd(const Arc& arc, int i, int count) {
  if (i >= count) return arc.ends.end;
  const double share = static_cast<double>(i) / count;
  const double angle_rad = arc.start_angle_rad + share * arc.sweep_rad;
  const double radius_mm = arc.start_radius_mm + share * (arc.end_radius_mm - arc.start_radius_mm);
  const ArcPlane& plane = arc.ends.plane;
  Eigen::Vector3d point;
  point[plane.first] = arc.centre.x() + radius_mm * std::cos(angle_rad);
  point[plane.second] = arc.centre.y() + radius_mm * std::sin(angle_rad);
  point[plane.third] = arc.ends.start[plane.third] +
                       share * (arc.ends.end[plane.third] - arc.ends.start[plane.third]);
  return point;
}

double ArcLength(const Arc& arc) {
  const double radius_mm = 0.5 * (arc.start_radius_mm + arc.end_radius_mm);
  const double rise_mm = arc.ends.end[arc.ends.plane.third] - arc.ends.start[arc.ends.plane.third];
  return std::hypot(radius_mm * arc.sweep_rad, rise_mm);
}

}  // namespace aircut::sim
