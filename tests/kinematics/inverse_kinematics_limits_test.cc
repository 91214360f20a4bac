// Degenerate, unreachable and refused cases of the inverse kinematics.
#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "kinematics/inverse_kinematics.h"
#include "tests/support/pose_near.h"
#include "tests/support/published_arms.h"
#include "tests/support/random_pose.h"

namespace aircut::kinematics {
namespace {

using support::PanelFromDeg;
using support::PoseNear;
using testing::HasSubstr;

// The accuracy that the header promises, for arms of up to 3 m.
constexpr double kPromise_mm = 3000.0 * 1e-9;
constexpr double kPromise_rad = 1e-9;

IkSolutions SolveAndCheck(const ArmModel& arm, const Pose& X_BF) {
  const IkSolutions ours = InverseKinematics(arm).Solve(X_BF);
  for (const IkSolution& solution : ours) {
    EXPECT_THAT(FlangePose(arm, solution.q), PoseNear(X_BF, kPromise_mm, kPromise_rad))
        << "posture " << solution.posture.id << ", q " << solution.q.transpose();
  }
  return ours;
}

Pose WithPosition(Pose X_BF, const Eigen::Vector3d& p_BF) {
  X_BF.translation() = p_BF;
  return X_BF;
}

// An arm without forearm step or last offset, so that reach is plain: 1,000 + 1,000 mm.
SphericalWristParameters PlainParameters() {
  SphericalWristParameters p;
  p.c2_mm = 1000, p.c3_mm = 1000;
  return p;
}

ArmModel PlainArm(const SphericalWristParameters& p) {
  return ArmModel::FromSphericalWrist(p, support::PlainJoints(6));
}

// Oracle: the contract: exactly straight wrist, one representative with joint 4 at
// model angle 0 per shoulder and elbow; the pose comes back. Bending the wrist
// leaves its centre alone, so as many branches reach as with a bent wrist.
TEST(InverseKinematicsLimitsTest, StraightWristHasOneRepresentativeWithJointFourAtZero) {
  std::vector<JointSpec> joints = support::SampleArmJoints();
  joints[3].zero_rad = 0.4, joints[3].sign = -1;
  // A table whose fourth joint is turned against the plane of the arm at its zero.
  const std::vector<DhRow> turned = {{70, -kPi / 2, 352, 0.2}, {360, 0, 0, 0.3},
                                     {0, kPi / 2, 0, -0.4},    {0, -kPi / 2, 380, 0.7},
                                     {0, kPi / 2, 0, 0},       {0, kPi / 2, 65, 0.5}};
  const ArmModel arms[] = {
      ArmModel::FromSphericalWrist(support::SampleArmParameters(), joints), support::ArmA(),
      support::ArmE(), support::ArmF(), ArmModel::FromDhStandard(turned, joints)};
  for (const ArmModel& arm : arms) {
    for (const double q5_deg : {0.0, 180.0}) {
      const Pose X_BF = FlangePose(arm, PanelFromDeg({15, -25, 35, 45, q5_deg, -65}));
      const IkSolutions ours = SolveAndCheck(arm, X_BF);
      int straight = 0;
      for (const IkSolution& solution : ours) {
        if (solution.wrist_sin > 0.0) continue;
        ++straight;
        EXPECT_EQ(solution.posture.id % 2, 0);
        EXPECT_NEAR(arm.ModelAngles(solution.q)[3], 0.0, 1e-14);
      }
      EXPECT_EQ(straight, 1);
      const Pose bent = FlangePose(arm, PanelFromDeg({15, -25, 35, 45, q5_deg - 40, -65}));
      EXPECT_EQ(ours.count, InverseKinematics(arm).Solve(bent).count - 1);
    }
  }
}

// Oracle: forward kinematics, on both sides of the threshold of the straight wrist.
TEST(InverseKinematicsLimitsTest, NearlyStraightWristStillReproducesThePose) {
  for (const ArmModel& arm : {support::SampleArm(), support::ArmE()}) {
    for (double bend_rad = 1e-3; bend_rad > 1e-16; bend_rad *= 0.3) {
      JointVector q = PanelFromDeg({15, -25, 35, 45, 0, -65});
      q[4] = bend_rad;
      const IkSolutions ours = SolveAndCheck(arm, FlangePose(arm, q));
      EXPECT_EQ(ours.count, bend_rad > 1e-12 ? 8 : 7) << bend_rad;
    }
  }
}

// Oracle: the triangle of upper arm and forearm; both elbows coincide when stretched.
TEST(InverseKinematicsLimitsTest, StretchedElbowIsReachedAndAHairBeyondIsNot) {
  const ArmModel arm = PlainArm(PlainParameters());
  const Pose X_BF = FlangePose(arm, PanelFromDeg({20, 70, 0, 10, 40, 30}));
  const Eigen::Vector3d out = X_BF.translation().normalized();
  EXPECT_NEAR(X_BF.translation().norm(), 2000.0, 1e-9);
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, out * 2000.0)).count, 8);
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, out * (2000.0 - 1e-6))).count, 8);
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, out * (2000.0 + 1e-10))).count, 8);
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, out * (2000.0 + 1e-6))).count, 0);
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, out * 5000.0)).count, 0);
}

// Oracle: with links of 1,000 and 600 mm nothing within 400 mm of axis 2 is reached.
TEST(InverseKinematicsLimitsTest, TooNearToTheShoulderIsOutOfReach) {
  SphericalWristParameters p = PlainParameters();
  p.c3_mm = 600;
  const ArmModel arm = PlainArm(p);
  const Pose X_BF = FlangePose(arm, PanelFromDeg({20, 30, 180, 10, 40, 30}));
  const Eigen::Vector3d out = X_BF.translation().normalized();
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, out * 400.0)).count, 8);
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, out * (400.0 + 1e-6))).count, 8);
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, out * (400.0 - 1e-6))).count, 0);
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, out * 10.0)).count, 0);
}

// Oracle: a1 moves the circles of reach of the two shoulder branches apart.
TEST(InverseKinematicsLimitsTest, OneShoulderBranchAloneCanReach) {
  SphericalWristParameters p = PlainParameters();
  p.a1_mm = 300;
  const ArmModel arm = PlainArm(p);
  const Pose X_BF = FlangePose(arm, PanelFromDeg({20, 90, 2, 10, 40, 30}));
  const IkSolutions ours = SolveAndCheck(arm, X_BF);
  EXPECT_EQ(ours.count, 4);
  for (const IkSolution& solution : ours) EXPECT_LT(solution.posture.id, 4);
}

// Oracle: an arm standing b beside axis 1 never comes nearer to the axis than b.
TEST(InverseKinematicsLimitsTest, InsideTheShoulderOffsetIsOutOfReach) {
  SphericalWristParameters p = PlainParameters();
  p.b_mm = 100;
  const ArmModel arm = PlainArm(p);
  const Pose X_BF = FlangePose(arm, PanelFromDeg({0, 20, 50, 10, 40, 30}));
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, {100.0, 0, 1200})).count, 8);
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, {100.0 - 1e-6, 0, 1200})).count, 0);
  EXPECT_EQ(SolveAndCheck(arm, WithPosition(X_BF, {0, 0, 1200})).count, 0);
}

// Oracle: forward kinematics where angle 1, or angle 2, or both are open.
TEST(InverseKinematicsLimitsTest, WristCentreOnAnAxisStillReproducesThePose) {
  std::mt19937_64 rng(61);
  const Pose turned = support::RandomPose(rng, 1.0);
  const ArmModel plain = PlainArm(PlainParameters());
  const IkSolutions ours = SolveAndCheck(plain, WithPosition(turned, {0, 0, 1500}));
  EXPECT_EQ(ours.count, 8);
  for (const IkSolution& solution : ours) {
    const double back_rad = solution.posture.id < 4 ? 0.0 : kPi;
    EXPECT_NEAR(std::abs(solution.q[0]), back_rad, 1e-12);
  }
  EXPECT_EQ(SolveAndCheck(plain, WithPosition(turned, {0, 0, 0})).count, 8);
  EXPECT_EQ(SolveAndCheck(plain, WithPosition(turned, {1e-13, -1e-13, 1e-13})).count, 8);
  SphericalWristParameters p = PlainParameters();
  p.a1_mm = 300;
  EXPECT_EQ(SolveAndCheck(PlainArm(p), WithPosition(turned, {0, 0, 1500})).count, 8);
  EXPECT_EQ(SolveAndCheck(PlainArm(p), WithPosition(turned, {300, 0, 0})).count, 8);
}

// Oracle: forward kinematics ever nearer to axis 2, where the cosine rule loses its digits.
TEST(InverseKinematicsLimitsTest, FoldedArmKeepsItsAccuracy) {
  std::mt19937_64 rng(62);
  const Pose turned = support::RandomPose(rng, 1.0);
  const ArmModel arm = PlainArm(PlainParameters());
  for (double distance_mm = 100.0; distance_mm > 1e-10; distance_mm *= 0.1) {
    const Eigen::Vector3d p_BF = Eigen::Vector3d(0.6, 0.3, 0.74) * distance_mm;
    EXPECT_EQ(SolveAndCheck(arm, WithPosition(turned, p_BF)).count, 8) << distance_mm;
  }
}

TEST(InverseKinematicsLimitsTest, PoseThatIsNoPoseHasNoSolution) {
  const ArmModel arm = support::SampleArm();
  const InverseKinematics inverse(arm);
  const Pose good = FlangePose(arm, PanelFromDeg({10, 20, -10, 40, 50, 60}));
  ASSERT_GT(inverse.Solve(good).count, 0);
  for (const double bad : {std::numeric_limits<double>::quiet_NaN(),
                           std::numeric_limits<double>::infinity()}) {
    for (int row = 0; row < 3; ++row) {
      for (int column = 0; column < 4; ++column) {
        Pose X_BF = good;
        X_BF.matrix()(row, column) = bad;
        EXPECT_EQ(inverse.Solve(X_BF).count, 0) << row << ", " << column;
      }
    }
  }
  Pose scaled = good;
  scaled.linear() *= 1.001;
  EXPECT_EQ(inverse.Solve(scaled).count, 0);
}

std::string RefusalAfter(const std::vector<DhRow>& rows) {
  try {
    InverseKinematics(
        ArmModel::FromDhStandard(rows, support::PlainJoints(static_cast<int>(rows.size()))));
  } catch (const std::invalid_argument& error) {
    return error.what();
  }
  return "accepted";
}

template <typename Change>
std::string RefusalOf(Change change) {
  const double quarter = kPi / 2;
  std::vector<DhRow> rows = {{70, -quarter, 352, 0}, {360, 0, 0, 0},         {0, quarter, 0, 0},
                             {0, -quarter, 380, 0},  {0, quarter, 0, 0}, {0, quarter, 65, 0}};
  change(rows);
  return RefusalAfter(rows);
}

// Oracle: each condition of the closed form (header) broken alone by changing one number.
TEST(InverseKinematicsLimitsTest, ArmOfAnotherGeometryIsRefusedWithTheCondition) {
  using Rows = std::vector<DhRow>;
  EXPECT_EQ(RefusalOf([](Rows&) {}), "accepted");
  EXPECT_THAT(RefusalOf([](Rows& r) { r[1].alpha_rad = 1e-6; }),
              HasSubstr("angle between axes 2 and 3"));
  EXPECT_THAT(RefusalOf([](Rows& r) { r[0].alpha_rad += 1e-6; }), HasSubstr("axes 1 and 2"));
  EXPECT_THAT(RefusalOf([](Rows& r) { r[2].alpha_rad += 1e-6; }), HasSubstr("axes 3 and 4"));
  EXPECT_THAT(RefusalOf([](Rows& r) { r[3].alpha_rad += 1e-6; }), HasSubstr("axes 4 and 5"));
  EXPECT_THAT(RefusalOf([](Rows& r) { r[4].alpha_rad += 1e-6; }), HasSubstr("axes 5 and 6"));
  EXPECT_THAT(RefusalOf([](Rows& r) { r[3].a_mm = 1e-4; }),
              HasSubstr("axes 4 and 5, which must meet"));
  EXPECT_THAT(RefusalOf([](Rows& r) { r[4].d_mm = 100; }), HasSubstr("axis 6 and the point"));
  EXPECT_THAT(RefusalOf([](Rows& r) { r[1].a_mm = 0; }), HasSubstr("axes 2 and 3"));
  EXPECT_THAT(RefusalOf([](Rows& r) { r[3].d_mm = 0; }), HasSubstr("wrist centre from axis 3"));
  EXPECT_THAT(RefusalOf([](Rows& r) { r.pop_back(); }), HasSubstr("number of joints is 5"));
  EXPECT_THAT(RefusalOf([](Rows& r) { r.push_back(DhRow{}); }), HasSubstr("number of joints is 7"));
}

// The refusal is one sentence with the value and its bound.
TEST(InverseKinematicsLimitsTest, RefusalNamesValueAndBound) {
  EXPECT_THAT(RefusalOf([](std::vector<DhRow>& r) { r[4].d_mm = 100; }),
              testing::AllOf(HasSubstr("is 100"), HasSubstr("must be <= 1e-7")));
}

}  // namespace
}  // namespace aircut::kinematics
