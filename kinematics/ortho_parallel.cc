#include "kinematics/ortho_parallel.h"

#include <cmath>
#include <sstream>
#include <stdexcept>
#include <vector>

#include "kinematics/axis_lines.h"

namespace aircut::kinematics {

namespace {

constexpr double kLargestSine = 1e-10;
constexpr double kLargestGap_mm = 1e-7;
constexpr double kSmallestLength_mm = 1e-3;

using AxisLines = std::vector<AxisLine>;

void Require(bool holds, const std::string& condition, double value, const std::string& bound) {
  if (holds) return;
  std::ostringstream text;
  text << "No closed-form inverse kinematics for this arm: " << condition << " is " << value
       << ", must be " << bound;
  throw std::invalid_argument(text.str());
}

void RequireSquare(const AxisLines& axes, std::size_t i, std::size_t j) {
  const double cosine = std::abs(axes[i].direction_B.dot(axes[j].direction_B));
  Require(cosine <= kLargestSine,
          "the angle by which axes " + std::to_string(i + 1) + " and " + std::to_string(j + 1) +
              " miss being square, in rad,",
          cosine, "<= 1e-10");
}

double DistanceFromLine(const Eigen::Vector3d& point_B, const AxisLine& line) {
  return (point_B - line.point_B).cross(line.direction_B).norm();
}

// Point of `a` nearest to `b`; the lines are square to each other.
Eigen::Vector3d NearestPoint(const AxisLine& a, const AxisLine& b) {
  return a.point_B + a.direction_B * a.direction_B.dot(b.point_B - a.point_B);
}

void RequireParallel(const AxisLines& axes) {
  const double sine = axes[1].direction_B.cross(axes[2].direction_B).norm();
  Require(sine <= kLargestSine, "the angle between axes 2 and 3, in rad,", sine, "<= 1e-10");
}

void RequireThrough(const Eigen::Vector3d& p_BC, const AxisLine& line, const std::string& name) {
  const double gap_mm = DistanceFromLine(p_BC, line);
  Require(gap_mm <= kLargestGap_mm, "the gap in mm between " + name, gap_mm, "<= 1e-7");
}

void CheckDirections(const AxisLines& axes) {
  RequireParallel(axes);
  RequireSquare(axes, 0, 1);
  RequireSquare(axes, 2, 3);
  RequireSquare(axes, 3, 4);
  RequireSquare(axes, 4, 5);
}

Eigen::Vector3d WristCentre(const AxisLines& axes) {
  const Eigen::Vector3d p_BC = NearestPoint(axes[3], axes[4]);
  RequireThrough(p_BC, axes[4], "axes 4 and 5, which must meet,");
  RequireThrough(p_BC, axes[5], "axis 6 and the point where axes 4 and 5 meet,");
  return p_BC;
}

// Rotation about y that carries z to the direction of (x, z).
double AngleAboutY(double x, double z) { return std::atan2(x, z); }

Pose CanonicalBase(const AxisLines& axes) {
  const Eigen::Vector3d z_B = axes[0].direction_B, y_B = axes[1].direction_B;
  Eigen::Matrix3d R_BP;
  R_BP.col(0) = y_B.cross(z_B).normalized();
  R_BP.col(2) = z_B;
  R_BP.col(1) = z_B.cross(R_BP.col(0));
  return MakePose(R_BP, NearestPoint(axes[0], axes[1]));
}

// What the axes at model angles 0 say of the canonical arm, piece by piece.
class GeometryReader {
 public:
  GeometryReader(const AxisLines& axes, const Eigen::Vector3d& p_BC)
      : axes_(axes), p_BC_(p_BC) {
    g_.X_PB = CanonicalBase(axes).inverse();
    ReadUpperArm();
    ReadForearm();
    ReadWrist();
  }

  const OrthoParallelGeometry& geometry() const { return g_; }

 private:
  void ReadUpperArm();
  void ReadForearm();
  void ReadWrist();

  const AxisLines& axes_;
  const Eigen::Vector3d& p_BC_;
  OrthoParallelGeometry g_;
};

void GeometryReader::ReadUpperArm() {
  const Eigen::Vector3d link = g_.X_PB.linear() * (axes_[2].point_B - axes_[1].point_B);
  g_.a1_mm = (g_.X_PB * axes_[1].point_B).x();
  g_.c2_mm = std::hypot(link.x(), link.z());
  Require(g_.c2_mm >= kSmallestLength_mm, "the distance in mm between axes 2 and 3", g_.c2_mm,
          ">= 1e-3");
  g_.sign[0] = g_.sign[1] = 1.0;
  g_.offset_rad[1] = AngleAboutY(link.x(), link.z());
}

void GeometryReader::ReadForearm() {
  const Eigen::Vector3d along = g_.X_PB.linear() * axes_[3].direction_B;
  const Eigen::Vector3d across(along.z(), 0, -along.x());
  const Eigen::Vector3d forearm = g_.X_PB.linear() * (p_BC_ - axes_[2].point_B);
  g_.a2_mm = forearm.dot(across);
  g_.c3_mm = forearm.dot(along);
  g_.b_mm = (g_.X_PB * p_BC_).y();
  const double forearm_mm = std::hypot(g_.a2_mm, g_.c3_mm);
  Require(forearm_mm >= kSmallestLength_mm, "the distance in mm of the wrist centre from axis 3",
          forearm_mm, ">= 1e-3");
  g_.sign[2] = std::copysign(1.0, axes_[1].direction_B.dot(axes_[2].direction_B));
  g_.offset_rad[2] = AngleAboutY(along.x(), along.z()) - g_.offset_rad[1];
}

void GeometryReader::ReadWrist() {
  const Eigen::Vector3d y_B = axes_[1].direction_B;
  const Eigen::Vector3d z4_B = axes_[3].direction_B, z5_B = axes_[4].direction_B;
  const Eigen::Vector3d z6_B = axes_[5].direction_B;
  const Eigen::Vector3d x3_B = y_B.cross(z4_B), x4_B = z5_B.cross(z4_B);
  g_.sign[3] = g_.sign[4] = g_.sign[5] = 1.0;
  g_.offset_rad[3] = std::atan2(-z5_B.dot(x3_B), z5_B.dot(y_B));
  g_.offset_rad[4] = std::atan2(z6_B.dot(x4_B), z6_B.dot(z4_B));
}

// C at model angles 0: y along axis 5, z along axis 6.
Pose WristAtZero(const AxisLines& axes, const Eigen::Vector3d& p_BC) {
  Eigen::Matrix3d R_BC;
  R_BC.col(1) = axes[4].direction_B;
  R_BC.col(2) = axes[5].direction_B;
  R_BC.col(0) = R_BC.col(1).cross(R_BC.col(2));
  return MakePose(R_BC, p_BC);
}

}  // namespace

OrthoParallelGeometry ReadOrthoParallelGeometry(const ArmModel& arm) {
  Require(arm.chain().size() == 6, "the number of joints",
          static_cast<double>(arm.chain().size()), "6");
  const AxisLines axes = AxesAtZero(arm);
  CheckDirections(axes);
  const Eigen::Vector3d p_BC = WristCentre(axes);
  OrthoParallelGeometry geometry = GeometryReader(axes, p_BC).geometry();
  geometry.X_FC = FlangeAtZero(arm).inverse() * WristAtZero(axes, p_BC);
  return geometry;
}

}  // namespace aircut::kinematics
