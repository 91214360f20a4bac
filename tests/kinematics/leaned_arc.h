#pragma once

#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {

/// A groove along an arc, the tool leaned outwards, rather far from the arm.
inline ToolPath LeanedArc(const int lines, const double step_rad, const double lean) {
  ToolPath path{Line(1, {250, 0, 30}, 0, MoveKind::kRapid, {lean, 0, 1})};
  for (int i = 0; i < lines; ++i) {
    const double angle = step_rad * i;
    const Eigen::Vector3d out(std::cos(angle), std::sin(angle), 0);
    path.push_back(Line(i + 2, 250.0 * out, 20.0, MoveKind::kCut, Eigen::Vector3d(0, 0, 1) + lean * out));
  }
  return path;
}

inline PlanRequest FreeRequest(const ArmModel& arm, const ToolPath& path) {
  PlanRequest request = Request(arm, path);
  request.spin = SpinRule::kFree;
  return request;
}

/// The arm on a track along y of B, 1 m to either side.
inline ArmModel WithTrack(const ArmModel& arm) {
  ExternalAxis track;
  track.direction_B = Eigen::Vector3d::UnitY();
  JointSpec joint;
  joint.lower_rad = -1000.0;   // mm, as for every slide
  joint.upper_rad = 1000.0;
  joint.speed_rad_s = 500.0;
  joint.acceleration_rad_s2 = 500.0;
  return arm.WithExternals({track}, {joint});
}

/// A free spin, and a free place on the track.
inline PlanRequest OnTrack(const ArmModel& arm, const ToolPath& path, const int samples) {
  PlanRequest request = FreeRequest(arm, path);
  const JointVector home = request.home;
  request.home.resize(7);
  request.home << home, 0.0;
  request.external = JointVector::Zero(1);
  request.external_free = {true};
  request.external_samples = samples;
  return request;
}

}  // namespace aircut::kinematics
