// Second opinion: forward kinematics and Jacobian against Orocos KDL, a
// general kinematics library that multiplies the chain in its own way.
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <kdl/chain.hpp>
#include <kdl/chainfksolverpos_recursive.hpp>
#include <kdl/chainjnttojacsolver.hpp>

#include "kinematics/forward_kinematics.h"
#include "kinematics/jacobian.h"
#include "tests/support/pose_near.h"
#include "tests/support/random_pose.h"
#include "tests/support/sample_arm.h"

namespace aircut::kinematics {
namespace {

// Rounding of at most eight rotations, at a reach of at most 15 m.
constexpr double kRounding_mm = 1e-10;
constexpr double kRounding_rad = 1e-13;

struct PairOfArms {
  ArmModel ours;
  KDL::Chain theirs;
};

PairOfArms RandomArms(std::mt19937_64& rng, int joint_count) {
  std::vector<DhRow> rows(static_cast<std::size_t>(joint_count));
  std::vector<JointSpec> joints = support::PlainJoints(joint_count);
  KDL::Chain chain;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    DhRow& row = rows[i];
    row = {support::Draw(rng, -900, 900), support::Draw(rng, -kPi, kPi),
           support::Draw(rng, -900, 900), support::Draw(rng, -kPi, kPi)};
    joints[i].sign = support::Draw(rng, -1, 1) < 0 ? -1 : 1;
    joints[i].zero_rad = support::Draw(rng, -kPi, kPi);
    // There a joint turns by scale * q + offset, and a segment is given by its tip at q = 0.
    const double offset_rad = joints[i].zero_rad + row.theta_offset_rad;
    const KDL::Joint joint(KDL::Joint::RotZ, joints[i].sign, offset_rad);
    chain.addSegment(
        KDL::Segment(joint, KDL::Frame::DH(row.a_mm, row.alpha_rad, row.d_mm, offset_rad)));
  }
  return {ArmModel::FromDhStandard(rows, joints), chain};
}

KDL::JntArray TheirJoints(const JointVector& q) {
  KDL::JntArray joints(static_cast<unsigned>(q.size()));
  joints.data = q;
  return joints;
}

Pose FromTheirs(const KDL::Frame& frame) {
  Pose X = Pose::Identity();
  for (int row = 0; row < 3; ++row) {
    for (int column = 0; column < 3; ++column) X.linear()(row, column) = frame.M(row, column);
    X.translation()[row] = frame.p[row];
  }
  return X;
}

TEST(KdlKinematicsTest, FlangePoseAgreesForRandomArms) {
  std::mt19937_64 rng(20260201);
  for (int trial = 0; trial < 300; ++trial) {
    const PairOfArms arms = RandomArms(rng, 1 + trial % kMaxJoints);
    KDL::ChainFkSolverPos_recursive solver(arms.theirs);
    for (int i = 0; i < 10; ++i) {
      const JointVector q = support::RandomPanelValues(rng, arms.ours);
      KDL::Frame frame;
      ASSERT_EQ(solver.JntToCart(TheirJoints(q), frame), 0);
      ASSERT_THAT(FlangePose(arms.ours, q),
                  support::PoseNear(FromTheirs(frame), kRounding_mm, kRounding_rad))
          << "trial " << trial;
    }
  }
}

TEST(KdlKinematicsTest, EveryLinkPoseAgreesForRandomArms) {
  std::mt19937_64 rng(20260202);
  for (int trial = 0; trial < 300; ++trial) {
    const PairOfArms arms = RandomArms(rng, 1 + trial % kMaxJoints);
    KDL::ChainFkSolverPos_recursive solver(arms.theirs);
    const JointVector q = support::RandomPanelValues(rng, arms.ours);
    const std::vector<Pose> links = LinkPoses(arms.ours, q);
    for (std::size_t i = 0; i < links.size(); ++i) {
      KDL::Frame frame;
      ASSERT_EQ(solver.JntToCart(TheirJoints(q), frame, static_cast<int>(i) + 1), 0);
      ASSERT_THAT(links[i], support::PoseNear(FromTheirs(frame), kRounding_mm, kRounding_rad))
          << "trial " << trial << " link " << i + 1;
    }
  }
}

// Theirs refers to the flange origin and is expressed in the base, as ours with p_FQ = 0.
TEST(KdlKinematicsTest, JacobianAgreesForRandomArms) {
  std::mt19937_64 rng(20260203);
  for (int trial = 0; trial < 300; ++trial) {
    const PairOfArms arms = RandomArms(rng, 1 + trial % kMaxJoints);
    KDL::ChainJntToJacSolver solver(arms.theirs);
    for (int i = 0; i < 10; ++i) {
      const JointVector q = support::RandomPanelValues(rng, arms.ours);
      KDL::Jacobian theirs(static_cast<unsigned>(q.size()));
      ASSERT_EQ(solver.JntToJac(TheirJoints(q), theirs), 0);
      const Jacobian ours = GeometricJacobian(arms.ours, q);
      ASSERT_LE((ours - theirs.data).topRows(3).norm(), 10 * kRounding_mm) << "trial " << trial;
      ASSERT_LE((ours - theirs.data).bottomRows(3).norm(), 10 * kRounding_rad)
          << "trial " << trial;
    }
  }
}

}  // namespace
}  // namespace aircut::kinematics
