#pragma once

#include <algorithm>
#include <memory>
#include <random>
#include <vector>

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"
#include "sim/clearance.h"
#include "tests/sim/sample_meshes.h"

// Small arms among bodies, and what dense sampling makes of their distances.
namespace aircut::sim::clearance_scene {

using Eigen::Vector3d;
using kinematics::ArmModel;
using kinematics::JointSpec;
using kinematics::JointVector;
using kinematics::MotionTrack;
using kinematics::Pose;

inline std::vector<JointSpec> Joints(int count) {
  JointSpec joint;
  joint.lower_rad = -6.0;
  joint.upper_rad = 6.0;
  joint.speed_rad_s = 2.0;
  joint.acceleration_rad_s2 = 10.0;
  return std::vector<JointSpec>(count, joint);
}

// A made-up arm of the usual six-axis form.
inline ArmModel SixAxes() {
  kinematics::SphericalWristParameters p;
  p.a1_mm = 150;
  p.a2_mm = -100;
  p.c1_mm = 500;
  p.c2_mm = 800;
  p.c3_mm = 900;
  p.c4_mm = 150;
  return ArmModel::FromSphericalWrist(p, Joints(6));
}

// One joint about z of the base; the link frame turns with it.
inline ArmModel OneAxis() { return ArmModel::FromDhStandard({{0, 0, 0, 0}}, Joints(1)); }

inline MotionTrack TrackThrough(const std::vector<JointVector>& q) {
  MotionTrack track;
  for (std::size_t i = 0; i < q.size(); ++i) {
    track.time_s.push_back(0.5 * static_cast<double>(i));
    track.q.push_back(q[i]);
    track.line.push_back(static_cast<int>(i));
  }
  return track;
}

inline JointVector Angles(std::initializer_list<double> values) {
  JointVector q(static_cast<Eigen::Index>(values.size()));
  Eigen::Index i = 0;
  for (const double v : values) q[i++] = v;
  return q;
}

inline BodyMount OnLink(int link, int tool = 0) {
  BodyMount mount;
  mount.on = BodyMount::On::kLink;
  mount.link = link;
  mount.tool = tool;
  return mount;
}

inline BodyMount InWorld(double x, double y, double z) {
  BodyMount mount;
  mount.X_MA = Pose(Eigen::Translation3d(x, y, z));
  return mount;
}

inline BoxShape Block(double x, double y, double z) {
  return {Vector3d(-x / 2, -y / 2, -z / 2), Vector3d(x / 2, y / 2, z / 2)};
}

struct Scene {
  ArmModel arm;
  MotionTrack track;
  CollisionWorld world;
  std::vector<BodyMount> mounts;
  std::vector<ClearancePair> pairs;
  Pose X_WB = Pose::Identity();

  ClearanceRequest Request() const {
    ClearanceRequest request;
    request.arm = &arm;
    request.track = &track;
    request.tool_per_moment.assign(track.size(), 1);
    request.world = &world;
    request.mounts = mounts;
    request.pairs = pairs;
    request.X_WB = X_WB;
    return request;
  }

  Pose PoseOf(int body, const JointVector& q) const {
    const BodyMount& mount = mounts[body];
    if (mount.on == BodyMount::On::kWorld) return mount.X_MA;
    const JointVector e = kinematics::ExternalPart(arm, q);
    if (mount.on == BodyMount::On::kWork) return X_WB * kinematics::TableMotion(arm, e) * mount.X_MA;
    if (mount.link == 0) return X_WB * kinematics::FootPose(arm, e) * mount.X_MA;
    return X_WB * kinematics::LinkPoses(arm, q)[mount.link - 1] * mount.X_MA;
  }

  // Smallest distance at `per_step` evenly spaced places of every step.
  double Sampled(const ClearancePair& pair, int per_step) const {
    double least = 1e9;
    for (std::size_t i = 0; i + 1 < track.size(); ++i) {
      for (int k = 0; k <= per_step; ++k) {
        const double f = static_cast<double>(k) / per_step;
        const JointVector q = track.q[i] + f * (track.q[i + 1] - track.q[i]);
        least = std::min(least, world.Distance(pair.a, PoseOf(pair.a, q), pair.b,
                                               PoseOf(pair.b, q)).distance_mm);
      }
    }
    return least;
  }
};

// An arm of capsules with a spindle among boxes, a pillar and a ball of
// triangles, on a random walk with steps of up to `step_rad`.
inline Scene Workshop(int moments, double step_rad, int seed) {
  std::mt19937_64 rng(seed);
  std::uniform_real_distribution<double> step(-step_rad, step_rad);
  JointVector q = Angles({0.1, 0.5, 0.6, 0.1, 0.7, 0.0});
  std::vector<JointVector> qs{q};
  JointVector drift = q;
  while (static_cast<int>(qs.size()) < moments) {
    for (Eigen::Index j = 0; j < q.size(); ++j) drift[j] = 0.8 * step(rng);
    q += drift;
    qs.push_back(q);
  }
  const auto ball = std::make_shared<const Mesh>(IcosphereMesh(120, 3));
  std::vector<Body> bodies{
      {"upper arm", {CapsuleShape{{0, 0, 0}, {0, 0, 700}, 90}}},
      {"forearm", {CapsuleShape{{0, 0, 0}, {0, 0, 600}, 70}, Block(120, 150, 180)}},
      {"spindle", {CylinderShape{{0, 0, 0}, {0, 0, 260}, 55}, CylinderShape{{0, 0, 260}, {0, 0, 330}, 6}}},
      {"table", {BoxShape{{700, -600, -200}, {1500, 600, 100}}, Block(50, 50, 600)}},
      {"floor", {HalfSpaceShape{-300}}},
      {"ball", {MeshShape{ball}}},
      {"stand", {CylinderShape{{-200, -900, -300}, {-200, -900, 1200}, 80}}}};
  std::vector<BodyMount> mounts{OnLink(2), OnLink(3), OnLink(6), InWorld(0, 0, 0), InWorld(0, 0, 0),
                                InWorld(1100, 100, 300), InWorld(0, 0, 0)};
  std::vector<ClearancePair> pairs;
  for (int a = 0; a < 3; ++a) {
    for (int b = 3; b < 7; ++b) pairs.push_back({a, b});
  }
  pairs.push_back({2, 0});   // the arm against itself, in either order
  pairs.push_back({0, 2});
  pairs.push_back({3, 1});
  return {SixAxes(), TrackThrough(qs), CollisionWorld(std::move(bodies)), mounts, pairs};
}

}  // namespace aircut::sim::clearance_scene
