#include "sim/chain_motion.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::ArmModel;
using kinematics::JointVector;
using kinematics::kPi;
using kinematics::MotionTrack;
using kinematics::Pose;

constexpr double kRounding_mm = 1e-9;
constexpr int kSamples = 200;

std::vector<kinematics::JointSpec> Joints(int count) {
  kinematics::JointSpec joint;
  joint.lower_rad = -6.0;
  joint.upper_rad = 6.0;
  joint.speed_rad_s = 2.0;
  joint.acceleration_rad_s2 = 10.0;
  return std::vector<kinematics::JointSpec>(count, joint);
}

// A made-up chain of six joints with offsets in every direction; the third
// joint follows the second, as with a parallel-bar forearm.
ArmModel Chain() {
  auto joints = Joints(6);
  joints[2].follows = kinematics::JointFollow{1, -1.0};
  joints[4].sign = -1.0;
  return ArmModel::FromDhStandard({{150, -kPi / 2, 400, 0},
                                   {700, 0, 30, -kPi / 2},
                                   {120, -kPi / 2, 0, 0},
                                   {0, kPi / 2, 650, 0},
                                   {0, -kPi / 2, 0, 0},
                                   {20, 0, 100, 0}},
                                  joints);
}

// A chain of four joints on a track that carries a turning mast, its work on a sliding
// bed that carries a table.
ArmModel ChainWithAxes() {
  using kinematics::ExternalAxis;
  using kinematics::ExternalKind;
  using kinematics::ExternalSide;
  auto joints = Joints(8);
  joints[2].follows = kinematics::JointFollow{1, -1.0};
  joints[5].sign = -1.0;
  joints[6].zero_rad = 0.3;
  const ArmModel arm = ArmModel::FromDhStandard(
      {{150, -kPi / 2, 400, 0}, {700, 0, 30, -kPi / 2}, {120, -kPi / 2, 0, 0}, {0, kPi / 2, 650, 0}},
      {joints.begin(), joints.begin() + 4});
  const std::vector<ExternalAxis> axes = {
      {"track", ExternalSide::kTool, ExternalKind::kSlide, Vector3d::Zero(), Vector3d(1, 2, 0).normalized()},
      {"mast", ExternalSide::kTool, ExternalKind::kTurn, {100, -50, 0}, Vector3d(0, 1, 5).normalized()},
      {"bed", ExternalSide::kWork, ExternalKind::kSlide, Vector3d::Zero(), Vector3d(-1, 3, 1).normalized()},
      {"table", ExternalSide::kWork, ExternalKind::kTurn, {1500, 200, 300}, Vector3d(1, 0, 6).normalized()}};
  return arm.WithExternals(axes, {joints.begin() + 4, joints.end()});
}

MotionTrack Track(const std::vector<JointVector>& q) {
  MotionTrack track;
  track.q = q;
  track.time_s.assign(q.size(), 0.0);
  track.line.assign(q.size(), 0);
  return track;
}

JointVector RandomJoints(std::mt19937_64& rng, double size_rad) {
  std::uniform_real_distribution<double> angle(-size_rad, size_rad);
  JointVector q(6);
  for (Eigen::Index j = 0; j < 6; ++j) q[j] = angle(rng);
  return q;
}

struct Case {
  MotionTrack track;
  PreparedShape shape;
  ChainReach::Carried carried;
};

Case RandomCase(std::mt19937_64& rng, double step_rad) {
  const JointVector q = RandomJoints(rng, 2.0);
  Case c{Track({q, q + RandomJoints(rng, step_rad)}),
         Prepare(BoxShape{Vector3d(-40, -60, -10), Vector3d(90, 30, 200)}), {}};
  c.carried.X_LA = RandomPose(rng, 100);
  c.carried.outer = 1 + static_cast<int>(rng() % 6);
  c.carried.inner = static_cast<int>(rng() % c.carried.outer);
  return c;
}

// Joints of ChainWithAxes, its slides in hundreds of mm.
JointVector RandomAxes(std::mt19937_64& rng, double size_rad) {
  JointVector q(8);
  q << RandomJoints(rng, size_rad), 0.0, 0.0;
  q.tail<2>() = RandomJoints(rng, size_rad).head<2>();
  q[4] *= 200.0;
  q[6] *= 200.0;
  return q;
}

// Any carrier seen from any other, inwards and outwards.
Case RandomAxesCase(std::mt19937_64& rng, double step_rad, int carriers) {
  const JointVector q = RandomAxes(rng, 2.0);
  Case c{Track({q, q + RandomAxes(rng, step_rad)}),
         Prepare(BoxShape{Vector3d(-40, -60, -10), Vector3d(90, 30, 200)}),
         {}};
  c.carried.X_LA = RandomPose(rng, 100);
  c.carried.outer = static_cast<int>(rng() % carriers);
  do c.carried.inner = static_cast<int>(rng() % carriers);
  while (c.carried.inner == c.carried.outer);
  return c;
}

// Places of the box's corners seen from the inner link, along the step.
std::vector<std::vector<Vector3d>> Paths(const Case& c, const ChainMoments& moments) {
  std::vector<std::vector<Vector3d>> paths(c.shape.cover.size());
  for (int k = 0; k <= kSamples; ++k) {
    const double f = static_cast<double>(k) / kSamples;
    const Pose X_LA = moments.BetweenX_WC(0, f, c.carried.inner).inverse() *
                      moments.BetweenX_WC(0, f, c.carried.outer) * c.carried.X_LA;
    for (std::size_t i = 0; i < paths.size(); ++i) paths[i].push_back(X_LA * c.shape.cover[i].centre);
  }
  return paths;
}

// Oracle: the length of the sampled path of every corner.
TEST(ChainMotionTest, PathBoundHoldsForEveryCorner) {
  const ArmModel arm = Chain();
  std::mt19937_64 rng(51);
  for (int n = 0; n < 400; ++n) {
    Case c = RandomCase(rng, n % 2 == 0 ? 0.05 : 1.5);
    c.carried.shape = &c.shape;
    const ChainMoments moments(arm, RandomPose(rng, 1000), c.track, 0, 2);
    const ChainReach reach(moments, c.carried);
    const double bound = reach.PathBound_mm(reach.FromAxes(moments, 0), moments.Turned(0, 1));
    for (const auto& path : Paths(c, moments)) {
      double length = 0.0;
      for (std::size_t k = 1; k < path.size(); ++k) length += (path[k] - path[k - 1]).norm();
      ASSERT_LE(length, bound + kRounding_mm) << "case " << n;
    }
  }
}

// Oracle: the sampled distance of every corner from its chord.
TEST(ChainMotionTest, BowBoundHoldsForEveryCorner) {
  const ArmModel arm = Chain();
  std::mt19937_64 rng(52);
  for (int n = 0; n < 400; ++n) {
    Case c = RandomCase(rng, n % 2 == 0 ? 0.05 : 1.0);
    c.carried.shape = &c.shape;
    const ChainMoments moments(arm, RandomPose(rng, 1000), c.track, 0, 2);
    const double bound = ChainReach(moments, c.carried).BowBound_mm(moments.Turned(0, 1));
    for (const auto& path : Paths(c, moments)) {
      for (int k = 0; k <= kSamples; ++k) {
        const double f = static_cast<double>(k) / kSamples;
        const Vector3d chord = path.front() + f * (path.back() - path.front());
        ASSERT_LE((path[k] - chord).norm(), bound + kRounding_mm) << "case " << n;
      }
    }
  }
}

// Oracle: the sampled ways of every corner, between any two carriers of a cell with
// slides and turns on both sides.
TEST(ChainMotionTest, BoundsHoldAcrossExternalAxes) {
  const ArmModel arm = ChainWithAxes();
  const int carriers = CarrierLine(arm).count();
  ASSERT_EQ(carriers, 9);
  std::mt19937_64 rng(53);
  double tightest = 1e9;
  for (int n = 0; n < 400; ++n) {
    Case c = RandomAxesCase(rng, n % 2 == 0 ? 0.05 : 1.0, carriers);
    c.carried.shape = &c.shape;
    const ChainMoments moments(arm, RandomPose(rng, 1000), c.track, 0, 2);
    const ChainReach reach(moments, c.carried);
    const double path_mm = reach.PathBound_mm(reach.FromAxes(moments, 0), moments.Turned(0, 1));
    const double bow_mm = reach.BowBound_mm(moments.Turned(0, 1));
    for (const auto& path : Paths(c, moments)) {
      double length = 0.0;
      for (int k = 0; k <= kSamples; ++k) {
        const double f = static_cast<double>(k) / kSamples;
        if (k > 0) length += (path[k] - path[k - 1]).norm();
        ASSERT_LE((path[k] - path.front() - f * (path.back() - path.front())).norm(), bow_mm + kRounding_mm)
            << n;
      }
      ASSERT_LE(length, path_mm + kRounding_mm) << "case " << n;
      tightest = std::min(tightest, path_mm - length);
    }
  }
  EXPECT_LT(tightest, 1.0);
}

// Definition: without external axes carriers are links; with them the room lies
// between what the work stands on and the foot.
TEST(ChainMotionTest, CarriersStandInOneLine) {
  BodyMount room, foot, flange, work;
  foot.on = flange.on = BodyMount::On::kLink;
  flange.link = 4;
  work.on = BodyMount::On::kWork;
  const ArmModel arm = ChainWithAxes(), plain = Chain();
  const CarrierLine line(arm), links(plain);
  EXPECT_EQ(line.CarrierOf(work), 0);
  EXPECT_EQ(line.CarrierOf(room), 2);
  EXPECT_EQ(line.CarrierOf(foot), 4);
  EXPECT_EQ(line.CarrierOf(flange), 8);
  EXPECT_EQ(links.CarrierOf(work), 0);
  EXPECT_EQ(links.CarrierOf(room), 0);
  EXPECT_EQ(links.CarrierOf(flange), 4);
}

// Closed form: what a slide carries goes its travel, on a straight line.
TEST(ChainMotionTest, ASlideGivesItsTravelAndNoBow) {
  const ArmModel arm =
      ArmModel::FromDhStandard({{0, 0, 0, 0}}, Joints(1))
          .WithExternals({{"track", kinematics::ExternalSide::kTool, kinematics::ExternalKind::kSlide,
                           Vector3d::Zero(), Vector3d::UnitX()}},
                         Joints(1));
  JointVector q0(2), q1(2);
  q0 << 0.3, 100;
  q1 << 0.3, 350;
  const MotionTrack track = Track({q0, q1});
  const PreparedShape ball = Prepare(CapsuleShape{{500, 0, 0}, {500, 0, 0}, 1e-9});
  ChainReach::Carried carried;
  carried.shape = &ball;
  carried.outer = 2;
  const ChainMoments moments(arm, Pose::Identity(), track, 0, 2);
  const ChainReach reach(moments, carried);
  EXPECT_NEAR(reach.PathBound_mm(reach.FromAxes(moments, 0), moments.Turned(0, 1)), 250, 1e-9);
  EXPECT_EQ(reach.BowBound_mm(moments.Turned(0, 1)), 0.0);
}

// Oracle: closed form of a circle, where both bounds are as tight as they can be.
TEST(ChainMotionTest, OneJointGivesArcAndSagitta) {
  const ArmModel arm = ArmModel::FromDhStandard({{0, 0, 0, 0}}, Joints(1));
  const double radius_mm = 500, turn_rad = 0.02;
  JointVector q0(1), q1(1);
  q0[0] = 0.3;
  q1[0] = 0.3 + turn_rad;
  const MotionTrack track = Track({q0, q1});
  const PreparedShape ball =
      Prepare(CapsuleShape{{radius_mm, 0, 0}, {radius_mm, 0, 0}, 1e-9});
  ChainReach::Carried carried;
  carried.shape = &ball;
  carried.outer = 1;
  const ChainMoments moments(arm, Pose::Identity(), track, 0, 2);
  const ChainReach reach(moments, carried);
  EXPECT_NEAR(reach.PathBound_mm(reach.FromAxes(moments, 0), moments.Turned(0, 1)),
              radius_mm * turn_rad, 1e-8);
  const double sagitta_mm = radius_mm * (1 - std::cos(turn_rad / 2));
  EXPECT_GE(reach.BowBound_mm(moments.Turned(0, 1)), sagitta_mm);
  EXPECT_LE(reach.BowBound_mm(moments.Turned(0, 1)), 1.001 * sagitta_mm);
}

// Definition: turning there and back counts twice.
TEST(ChainMotionTest, TurningThereAndBackAddsUp) {
  const ArmModel arm = ArmModel::FromDhStandard({{0, 0, 0, 0}}, Joints(1));
  std::vector<JointVector> q(3, JointVector(1));
  q[0][0] = 0.1;
  q[1][0] = 0.4;
  q[2][0] = -0.1;
  const MotionTrack track = Track(q);
  const ChainMoments moments(arm, Pose::Identity(), track, 0, 3);
  EXPECT_NEAR(moments.Turned(0, 2)[0], 0.8, 1e-15);
  EXPECT_NEAR(moments.Turned(1, 2)[0], 0.5, 1e-15);
}

}  // namespace
}  // namespace aircut::sim
