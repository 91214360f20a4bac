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

// Rounding of at most eight rotations, at a reach of at most 15 m: a tenth of the
// 1e-9 mm that is asked.
constexpr double kRounding_mm = 1e-10;
constexpr double kRounding_rad = 1e-13;
constexpr int kArms = 1000;

enum class Table { kStandard, kModified, kChain };

// An arm of ours and the same chain of theirs. Theirs turns by plain joint angles;
// sign, zero and coupling stand in `by_panel` and `zero`: theta = by_panel * q + zero.
struct PairOfArms {
  ArmModel ours;
  KDL::Chain theirs;
  unsigned segments_per_joint = 1;
  Eigen::MatrixXd by_panel;
  Eigen::VectorXd zero;
};

KDL::Frame ToTheirs(const Pose& X) {
  const Eigen::Matrix3d& R = X.linear();
  return {KDL::Rotation(R(0, 0), R(0, 1), R(0, 2), R(1, 0), R(1, 1), R(1, 2), R(2, 0), R(2, 1),
                        R(2, 2)),
          KDL::Vector(X.translation().x(), X.translation().y(), X.translation().z())};
}

// Random signs, zeros and couplings of about every other joint to any earlier one.
std::vector<JointSpec> RandomJoints(std::mt19937_64& rng, const int joint_count) {
  std::vector<JointSpec> joints = support::PlainJoints(joint_count);
  for (std::size_t i = 0; i < joints.size(); ++i) {
    joints[i].sign = support::Draw(rng, -1, 1) < 0 ? -1 : 1;
    joints[i].zero_rad = support::Draw(rng, -kPi, kPi);
    if (i == 0 || support::Draw(rng, -1, 1) < 0) continue;
    const int driver = static_cast<int>(support::Draw(rng, 0, static_cast<double>(i)));
    joints[i].follows = JointFollow{driver, support::Draw(rng, -2, 2)};
  }
  return joints;
}

struct ChainPair {
  ArmModel ours;
  KDL::Chain theirs;
};

ChainPair StandardPair(std::mt19937_64& rng, const std::vector<JointSpec>& joints) {
  std::vector<DhRow> rows(joints.size());
  KDL::Chain chain;
  for (DhRow& row : rows) {
    row = {support::Draw(rng, -900, 900), support::Draw(rng, -kPi, kPi),
           support::Draw(rng, -900, 900), support::Draw(rng, -kPi, kPi)};
    chain.addSegment(KDL::Segment(
        KDL::Joint(KDL::Joint::RotZ),
        KDL::Frame::DH(row.a_mm, row.alpha_rad, row.d_mm, row.theta_offset_rad)));
  }
  return {ArmModel::FromDhStandard(rows, joints), chain};
}

// Theirs: a fixed segment by the row, then a bare turn about its z.
ChainPair ModifiedPair(std::mt19937_64& rng, const std::vector<JointSpec>& joints) {
  std::vector<ModifiedDhRow> rows(joints.size());
  KDL::Chain chain;
  for (ModifiedDhRow& row : rows) {
    row = {support::Draw(rng, -900, 900), support::Draw(rng, -kPi, kPi),
           support::Draw(rng, -900, 900), support::Draw(rng, -kPi, kPi)};
    chain.addSegment(KDL::Segment(
        KDL::Joint(KDL::Joint::None),
        KDL::Frame::DH_Craig1989(row.a_mm, row.alpha_rad, row.d_mm, row.theta_offset_rad)));
    chain.addSegment(KDL::Segment(KDL::Joint(KDL::Joint::RotZ)));
  }
  return {ArmModel::FromDhModified(rows, joints), chain};
}

// Theirs: a joint about a line that does not pass through the last frame.
ChainPair FreePair(std::mt19937_64& rng, const std::vector<JointSpec>& joints) {
  std::vector<ChainJoint> links(joints.size());
  KDL::Chain chain;
  for (ChainJoint& link : links) {
    link = {support::RandomPose(rng, 600), support::RandomVector(rng, 1).normalized(),
            support::RandomPose(rng, 600)};
    const KDL::Frame before = ToTheirs(link.before);
    const KDL::Vector axis(link.axis.x(), link.axis.y(), link.axis.z());
    chain.addSegment(KDL::Segment(KDL::Joint("", before.p, before.M * axis, KDL::Joint::RotAxis),
                                  before * ToTheirs(link.after)));
  }
  return {ArmModel::FromChain(links, joints), chain};
}

PairOfArms RandomArms(std::mt19937_64& rng, const int trial) {
  const int joint_count = 1 + trial % kMaxJoints;
  const std::vector<JointSpec> joints = RandomJoints(rng, joint_count);
  const auto table = static_cast<Table>(trial / kMaxJoints % 3);
  const ChainPair pair = table == Table::kStandard   ? StandardPair(rng, joints)
                         : table == Table::kModified ? ModifiedPair(rng, joints)
                                                     : FreePair(rng, joints);
  PairOfArms arms{pair.ours, pair.theirs, table == Table::kModified ? 2u : 1u,
                  Eigen::MatrixXd::Zero(joint_count, joint_count),
                  Eigen::VectorXd::Zero(joint_count)};
  for (int i = 0; i < joint_count; ++i) {
    const JointSpec& joint = joints[static_cast<std::size_t>(i)];
    arms.by_panel(i, i) = joint.sign;
    if (joint.follows) arms.by_panel(i, joint.follows->joint) = joint.follows->ratio;
    arms.zero[i] = joint.zero_rad;
  }
  return arms;
}

KDL::JntArray TheirJoints(const PairOfArms& arms, const JointVector& q) {
  KDL::JntArray joints(static_cast<unsigned>(q.size()));
  joints.data = arms.by_panel * q + arms.zero;
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

TEST(KdlKinematicsTest, EveryLinkPoseAgreesForRandomArms) {
  std::mt19937_64 rng(20260201);
  for (int trial = 0; trial < kArms; ++trial) {
    const PairOfArms arms = RandomArms(rng, trial);
    KDL::ChainFkSolverPos_recursive solver(arms.theirs);
    const JointVector q = support::RandomPanelValues(rng, arms.ours);
    const std::vector<Pose> links = LinkPoses(arms.ours, q);
    ASSERT_THAT(FlangePose(arms.ours, q), support::PoseNear(links.back(), 0.0, 0.0));
    for (std::size_t i = 0; i < links.size(); ++i) {
      KDL::Frame frame;
      const int segment = static_cast<int>((i + 1) * arms.segments_per_joint);
      ASSERT_EQ(solver.JntToCart(TheirJoints(arms, q), frame, segment), 0);
      ASSERT_THAT(links[i], support::PoseNear(FromTheirs(frame), kRounding_mm, kRounding_rad))
          << "trial " << trial << " link " << i + 1;
    }
  }
}

// Theirs refers to the flange origin and is expressed in the base, as ours with p_FQ = 0;
// by the chain rule the panel values come in on the right.
TEST(KdlKinematicsTest, JacobianAgreesForRandomArms) {
  std::mt19937_64 rng(20260203);
  for (int trial = 0; trial < kArms; ++trial) {
    const PairOfArms arms = RandomArms(rng, trial);
    KDL::ChainJntToJacSolver solver(arms.theirs);
    const JointVector q = support::RandomPanelValues(rng, arms.ours);
    KDL::Jacobian theirs(static_cast<unsigned>(q.size()));
    ASSERT_EQ(solver.JntToJac(TheirJoints(arms, q), theirs), 0);
    const Eigen::MatrixXd difference =
        GeometricJacobian(arms.ours, q) - theirs.data * arms.by_panel;
    ASSERT_LE(difference.topRows(3).norm(), 10 * kRounding_mm) << "trial " << trial;
    ASSERT_LE(difference.bottomRows(3).norm(), 10 * kRounding_rad) << "trial " << trial;
  }
}

}  // namespace
}  // namespace aircut::kinematics
