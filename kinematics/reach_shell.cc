#include "kinematics/reach_shell.h"

#include <cmath>
#include <limits>
#include <vector>

#include "kinematics/axis_lines.h"

namespace aircut::kinematics {
namespace {

constexpr int kSweeps = 200;
// Rounding of the lengths.
constexpr double kSlack_mm = 1e-6;

// The point of `line` with the shortest way over it from `a` to `b`: both folded
// into one plane, on opposite sides.
Eigen::Vector3d ShortestOver(const AxisLine& line, const Eigen::Vector3d& a, const Eigen::Vector3d& b) {
  const Eigen::Vector3d to_a = a - line.point_B, to_b = b - line.point_B;
  const double along_a = to_a.dot(line.direction_B), along_b = to_b.dot(line.direction_B);
  const double off_a = (to_a - along_a * line.direction_B).norm();
  const double off_b = (to_b - along_b * line.direction_B).norm();
  const double share = off_a + off_b > 0.0 ? off_a / (off_a + off_b) : 0.0;
  return line.point_B + (along_a + share * (along_b - along_a)) * line.direction_B;
}

Eigen::Vector3d FootOn(const AxisLine& line, const Eigen::Vector3d& p_B) {
  return line.point_B + line.direction_B * line.direction_B.dot(p_B - line.point_B);
}

}  // namespace

ReachShell::ReachShell(const ArmModel& arm) : geometry_(ReadOrthoParallelGeometry(arm)) {
  const double forearm_mm = std::hypot(geometry_.a2_mm, geometry_.c3_mm);
  outer_mm_ = geometry_.c2_mm + forearm_mm;
  inner_mm_ = std::abs(geometry_.c2_mm - forearm_mm);
}

double ReachShell::Beyond_mm(const Pose& X_BF) const {
  const Eigen::Vector3d p_PC = (geometry_.X_PB * X_BF * geometry_.X_FC).translation();
  const double from_axis_mm = std::hypot(p_PC.x(), p_PC.y());
  const double b_mm = std::abs(geometry_.b_mm);
  // Nearer to axis 1 than the arm's plane passes it.
  if (from_axis_mm < b_mm) return b_mm - from_axis_mm;
  const double in_plane_mm = std::sqrt(from_axis_mm * from_axis_mm - b_mm * b_mm);
  double least_mm = std::numeric_limits<double>::infinity();
  for (const double x_mm : {in_plane_mm, -in_plane_mm}) {  // turned towards it, and away
    const double rho_mm = std::hypot(x_mm - geometry_.a1_mm, p_PC.z());
    least_mm = std::fmin(least_mm, std::fmax(rho_mm - outer_mm_, inner_mm_ - rho_mm));
  }
  return least_mm;
}

ChainReach::ChainReach(const ArmModel& arm) {
  const std::vector<AxisLine> axes = AxesAtZero(arm);
  std::vector<Eigen::Vector3d> points;
  for (const AxisLine& axis : axes) points.push_back(axis.point_B);
  for (int sweep = 0; sweep < kSweeps && points.size() > 1; ++sweep) {
    for (std::size_t i = 1; i + 1 < points.size(); ++i) {
      points[i] = ShortestOver(axes[i], points[i - 1], points[i + 1]);
    }
    points.front() = FootOn(axes.front(), points[1]);
    points.back() = FootOn(axes.back(), points[points.size() - 2]);
  }
  for (std::size_t i = 1; i < points.size(); ++i) outer_mm_ += (points[i] - points[i - 1]).norm();
  p_A1_ = points.front();
  p_FN_ = FlangeAtZero(arm).inverse() * points.back();
}

double ChainReach::Beyond_mm(const Pose& X_AF) const {
  return (X_AF * p_FN_ - p_A1_).norm() - outer_mm_ - kSlack_mm;
}

}  // namespace aircut::kinematics
