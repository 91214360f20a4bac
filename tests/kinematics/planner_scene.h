#pragma once

#include <array>
#include <cmath>
#include <stdexcept>
#include <vector>

#include "kinematics/forward_kinematics.h"
#include "kinematics/motion_planner.h"
#include "kinematics/units.h"

namespace aircut::kinematics {

/// An invented six-axis arm of about 2.7 m reach.
struct InventedArm {
  static SphericalWristParameters Parameters() {
    SphericalWristParameters p;
    p.a1_mm = 350;
    p.a2_mm = -60;
    p.c1_mm = 815;
    p.c2_mm = 1150;
    p.c3_mm = 1200;
    p.c4_mm = 220;
    return p;
  }

  static std::vector<JointSpec> Joints() {
    const double range_deg[6][2] = {{-185, 185}, {-90, 140}, {-120, 165},
                                    {-350, 350}, {-125, 125}, {-350, 350}};
    const double speed_deg_s[6] = {105, 100, 105, 170, 170, 230};
    const double acceleration_deg_s2[6] = {260, 240, 260, 500, 500, 700};
    std::vector<JointSpec> joints(6);
    for (std::size_t j = 0; j < 6; ++j) {
      joints[j].lower_rad = RadFromDeg(range_deg[j][0]);
      joints[j].upper_rad = RadFromDeg(range_deg[j][1]);
      joints[j].speed_rad_s = RadFromDeg(speed_deg_s[j]);
      joints[j].acceleration_rad_s2 = RadFromDeg(acceleration_deg_s2[j]);
    }
    return joints;
  }

  static ArmModel Make(const std::vector<JointSpec>& joints = Joints()) {
    return ArmModel::FromSphericalWrist(Parameters(), joints);
  }
};

/// A spindle in line with the flange, tip 400 mm in front of it.
inline Pose SpindleInFlange() {
  const Eigen::Matrix3d R_FT =
      Eigen::AngleAxisd(kPi, Eigen::Vector3d::UnitX()).toRotationMatrix();
  return MakePose(R_FT, {0, 0, 400});
}

inline JointVector Joints6(const std::array<double, 6>& values_deg) {
  JointVector q(6);
  for (std::size_t j = 0; j < 6; ++j) q[static_cast<Eigen::Index>(j)] = RadFromDeg(values_deg[j]);
  return q;
}

inline PathLine Line(const int number, const Eigen::Vector3d& p_ST, const double feed_mm_s,
                     const MoveKind move = MoveKind::kCut,
                     const Eigen::Vector3d& axis_S = Eigen::Vector3d::UnitZ()) {
  PathLine line;
  line.line = number;
  line.p_ST = p_ST;
  line.axis_S = axis_S.normalized();
  line.feed_mm_s = feed_mm_s;
  line.move = move;
  return line;
}

/// A request for `path` on a piece 1.6 m in front of the arm.
inline PlanRequest Request(const ArmModel& arm, const ToolPath& path) {
  PlanRequest request;
  request.arm = &arm;
  request.path = path;
  request.X_FT.assign(path.size(), SpindleInFlange());
  request.X_BS = MakePose(Eigen::Matrix3d::Identity(), {1600, 0, 600});
  request.controller.corner = CornerRule::kBlend;
  request.home = Joints6({0, -20, 30, 0, 80, 0});
  return request;
}

/// Cut lines over a straight line along y.
inline ToolPath StraightCut(const double length_mm, const double feed_mm_s) {
  return {Line(1, {0, -0.5 * length_mm, 0}, 0, MoveKind::kRapid),
          Line(2, {0, 0.5 * length_mm, 0}, feed_mm_s)};
}

/// Rows over a wavy relief with the tool tilted along it, a rapid between rows.
inline ToolPath WavyRows(const int rows, const int lines_per_row) {
  ToolPath path;
  for (int row = 0; row < rows; ++row) {
    const double y_mm = 4.0 * row;
    const double x0_mm = 0.0;
    int number = static_cast<int>(path.size()) + 1;
    path.push_back(Line(number++, {x0_mm, y_mm, 30}, 0.0, MoveKind::kRapid));
    for (int i = 0; i < lines_per_row; ++i) {
      const double x_mm = x0_mm + 0.5 * i;
      const double z_mm = 3.0 * std::sin(x_mm / 15.0) * std::cos(y_mm / 20.0);
      const Eigen::Vector3d axis_S(0.15 * std::sin(x_mm / 40.0), 0.1 * std::cos(x_mm / 30.0), 1);
      path.push_back(Line(number++, {x_mm, y_mm, z_mm}, 25.0, MoveKind::kCut, axis_S));
    }
    const Eigen::Vector3d p_end_ST = path.back().p_ST;
    path.push_back(Line(number, {p_end_ST.x(), y_mm, 30}, 0.0, MoveKind::kRapid));
  }
  return path;
}

/// @returns the last moment of a path line.
inline std::size_t MomentOfLine(const MotionTrack& track, const int path_index) {
  std::size_t found = track.size();
  for (std::size_t i = 0; i < track.size(); ++i) {
    if (track.path_index[i] == path_index) found = i;
  }
  if (found == track.size()) throw std::out_of_range("no moment of the path line");
  return found;
}

}  // namespace aircut::kinematics
