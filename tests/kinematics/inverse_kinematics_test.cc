#include "kinematics/inverse_kinematics.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "tests/support/pose_near.h"
#include "tests/support/published_arms.h"
#include "tests/support/random_pose.h"

namespace aircut::kinematics {
namespace {

using support::PanelFromDeg;
using support::PoseNear;

// Root of the sum of squared differences, whole turns left out.
double TurnApart(const JointVector& a, const JointVector& b) {
  return (a - b).unaryExpr([](double d) { return std::remainder(d, 2.0 * kPi); }).norm();
}

// The four printed solutions and their wrist flips (q4 + 180, -q5, q6 + 180).
void ExpectFourAndTheirFlips(const IkSolutions& ours,
                             const std::vector<std::vector<double>>& printed_deg,
                             double tolerance_rad) {
  EXPECT_EQ(ours.count, 8);
  for (const std::vector<double>& q_deg : printed_deg) {
    std::vector<double> flip_deg = q_deg;
    flip_deg[3] += 180.0, flip_deg[4] = -flip_deg[4], flip_deg[5] += 180.0;
    for (const std::vector<double>& expected_deg : {q_deg, flip_deg}) {
      const JointVector expected = PanelFromDeg(expected_deg);
      EXPECT_EQ(std::count_if(ours.begin(), ours.end(),
                              [&](const IkSolution& solution) {
                                return TurnApart(solution.q, expected) <= tolerance_rad;
                              }),
                1)
          << testing::PrintToString(expected_deg);
    }
  }
}

// Source: KIN-09 (table KIN-01), all eight solutions found by random-start Newton steps.
TEST(InverseKinematicsTest, TableArmWithShoulderOffsetGivesAllEightSolutions) {
  const ArmModel arm = support::ArmE();
  const IkSolutions ours =
      InverseKinematics(arm).Solve(FlangePose(arm, PanelFromDeg({0, 45, 180, 0, 45, 0})));
  std::vector<std::vector<double>> printed = {
      {0, -.833533, .093956, 0, -.831219, 0},
      {0, .785398, kPi, 0, .785398, 0},
      {2.648561, -2.308060, kPi, .674266, .860390, 2.661125},
      {2.648561, 2.356194, .093956, 2.532559, .974350, .373400}};
  for (std::vector<double>& q : printed) {
    for (double& angle : q) angle = DegFromRad(angle);
  }
  ExpectFourAndTheirFlips(ours, printed, 1e-6);
}

// Source: KIN-10, the closed-form solution printed in Corke, Robotics, Vision and Control.
TEST(InverseKinematicsTest, TableArmFindsThePrintedLeftHandedSolution) {
  const ArmModel arm = support::ArmE();
  JointVector printed(6);
  printed << 2.6486, -3.9270, .0940, 2.5326, .9743, .3734;
  const IkSolutions ours =
      InverseKinematics(arm).Solve(FlangePose(arm, PanelFromDeg({0, 45, 180, 0, 45, 0})));
  EXPECT_TRUE(std::any_of(ours.begin(), ours.end(), [&](const IkSolution& solution) {
    return TurnApart(solution.q, printed) <= 1e-4;
  }));
}

// Source: KIN-19 (pose KIN-18), KIN-40 (pose KIN-20), KIN-23 (pose KIN-22).
TEST(InverseKinematicsTest, PublishedCasesGiveTheirEightSolutions) {
  const double tolerance_rad = RadFromDeg(1e-6);
  const ArmModel a = support::ArmA(), b = support::ArmB();
  ExpectFourAndTheirFlips(
      InverseKinematics(a).Solve(FlangePose(a, PanelFromDeg({22, -160, 1, -21, -176, -173}))),
      {{-158, 70.286261, 20.041611, -1.581281, 64.945401, 28.623073},
       {-158, 175.925277, -179.766003, -4.010737, 159.058772, 24.206691},
       {22, -160, 1, 159, 176, 7},
       {22, -75.028949, -160.724392, 178.547584, 99.508559, 27.713308}},
      tolerance_rad);
  ExpectFourAndTheirFlips(
      InverseKinematics(a).Solve(FlangePose(a, PanelFromDeg({-129, 17, 74, -14, 74, -45}))),
      {{-129, 17, 74, -14, 74, -45},
       {-129, -168.577515, 126.275608, -152.093788, 150.206532, 155.7525},
       {51, -173.990998, 57.822949, 17.739644, 130.250201, 142.747041},
       {51, -23.888527, 142.452659, 166.206963, 102.735192, -52.02914}},
      tolerance_rad);
  ExpectFourAndTheirFlips(
      InverseKinematics(b).Solve(FlangePose(b, PanelFromDeg({99, 124, 49, -169, -55, 82}))),
      {{-81, 2.772624, 65.166491, -170.060634, 115.103860, -87.386381},
       {-81, 67.442447, -54.211754, -169.717916, 61.123871, -96.644870},
       {99, 124, 49, 11, 55, -98},
       {99, 170.989165, -38.045263, 9.020319, 94.499233, -90.924780}},
      tolerance_rad);
}

std::vector<JointSpec> RandomJoints(std::mt19937_64& rng) {
  std::vector<JointSpec> joints = support::PlainJoints(6);
  for (JointSpec& joint : joints) {
    joint.lower_rad = support::Draw(rng, -5, -0.5);
    joint.upper_rad = support::Draw(rng, 0.5, 5);
    joint.sign = support::Draw(rng, -1, 1) < 0 ? -1 : 1;
    joint.zero_rad = support::Draw(rng, -3, 3);
  }
  if (support::Draw(rng, -1, 1) < 0) joints[2].follows = JointFollow{1, -1.0};
  if (support::Draw(rng, -1, 1) < 0) joints[5].follows = JointFollow{4, support::Draw(rng, -1, 1)};
  return joints;
}

ArmModel RandomWristArm(std::mt19937_64& rng) {
  SphericalWristParameters p;
  p.a1_mm = support::Draw(rng, -500, 500), p.a2_mm = support::Draw(rng, -200, 200);
  p.b_mm = support::Draw(rng, -150, 150), p.c1_mm = support::Draw(rng, -500, 900);
  p.c2_mm = support::Draw(rng, 200, 1400), p.c3_mm = support::Draw(rng, -1400, 1400);
  p.c4_mm = support::Draw(rng, -300, 300);
  return ArmModel::FromSphericalWrist(p, RandomJoints(rng));
}

// Any table whose axes are as the closed form asks: axis 3 with or against axis 2,
// offsets along both, last flange turned anyhow.
ArmModel RandomTableArm(std::mt19937_64& rng) {
  const auto quarter = [&] { return support::Draw(rng, -1, 1) < 0 ? -kPi / 2 : kPi / 2; };
  const auto turn = [&] { return support::Draw(rng, -3, 3); };
  const auto length = [&](double most) { return support::Draw(rng, -most, most); };
  const double half = support::Draw(rng, -1, 1) < 0 ? kPi : 0.0;
  const double upper_mm = support::Draw(rng, 200, 1400);
  const double forearm_mm = support::Draw(rng, 200, 1400);
  return ArmModel::FromDhStandard({{length(400), quarter(), length(800), turn()},
                                   {upper_mm, half, length(150), turn()},
                                   {length(200), quarter(), length(150), turn()},
                                   {0, quarter(), forearm_mm, turn()},
                                   {0, quarter(), 0, turn()},
                                   {length(100), turn(), length(300), turn()}},
                                  RandomJoints(rng));
}

// The accuracy that the header promises, for arms of up to 3 m.
constexpr double kPromise_mm = 3000.0 * 1e-9;
constexpr double kPromise_rad = 1e-9;

double MiddleOf(const JointSpec& joint) { return 0.5 * (joint.lower_rad + joint.upper_rad); }

void ExpectRoundTrip(const ArmModel& arm, const JointVector& q) {
  const Pose X_BF = FlangePose(arm, q);
  const IkSolutions ours = InverseKinematics(arm).Solve(X_BF);
  int returned = 0;
  for (const IkSolution& solution : ours) {
    EXPECT_THAT(FlangePose(arm, solution.q), PoseNear(X_BF, kPromise_mm, kPromise_rad));
    for (Eigen::Index j = 0; j < 6; ++j) {
      const double middle_rad = MiddleOf(arm.joints()[static_cast<std::size_t>(j)]);
      EXPECT_LE(std::abs(solution.q[j] - middle_rad), kPi * (1 + 1e-12));
    }
    if ((solution.q - q).norm() < 1e-6) ++returned;
  }
  EXPECT_EQ(returned, 1) << "q " << q.transpose();
}

// Panel values within half a turn of the middle of each range.
JointVector RandomTurn(std::mt19937_64& rng, const ArmModel& arm) {
  JointVector q(6);
  for (Eigen::Index j = 0; j < 6; ++j) {
    const double middle_rad = MiddleOf(arm.joints()[static_cast<std::size_t>(j)]);
    q[j] = support::Draw(rng, middle_rad - kPi, middle_rad + kPi);
  }
  return q;
}

// Oracle: forward kinematics; the joints that made the pose come back, once, on
// the turn nearest to the middle of each range. Random lengths, offsets, signs,
// zeros and coupling.
TEST(InverseKinematicsTest, JointsThatMadeThePoseComeBackOnce) {
  std::mt19937_64 rng(51);
  for (int trial = 0; trial < 400; ++trial) {
    const ArmModel arm = trial % 2 == 0 ? RandomWristArm(rng) : RandomTableArm(rng);
    for (int i = 0; i < 25; ++i) ExpectRoundTrip(arm, RandomTurn(rng, arm));
    if (HasFailure()) FAIL() << "trial " << trial;
  }
}

// Source: KIN-41: one arm in two conventions. Oracle: the same geometry, with a
// constant turn of the flange, has the same panel values on the same branches.
TEST(InverseKinematicsTest, BothFormsOfOneArmGiveTheSamePanelValues) {
  const ArmModel table = support::ArmF();
  const ArmModel wrist = ArmModel::FromSphericalWrist(
      support::ParametersFromMetres({.07, 0, 0, .352, .36, .38, .065}),
      support::PublishedJoints({0, -90, 90, 0, 0, -90}, {1, 1, 1, 1, 1, 1}));
  const JointVector home = PanelFromDeg({0, -90, 180, 0, 0, -90});
  const Pose X_FG = FlangePose(table, home).inverse() * FlangePose(wrist, home);  // G: its flange
  std::mt19937_64 rng(52);
  for (int i = 0; i < 200; ++i) {
    const Pose X_BF = FlangePose(table, support::RandomPanelValues(rng, table));
    const IkSolutions a = InverseKinematics(table).Solve(X_BF);
    const IkSolutions b = InverseKinematics(wrist).Solve(X_BF * X_FG);
    ASSERT_EQ(a.count, b.count);
    for (int k = 0; k < a.count; ++k) {
      const std::size_t at = static_cast<std::size_t>(k);
      EXPECT_EQ(a.items[at].posture.id, b.items[at].posture.id);
      EXPECT_LT(TurnApart(a.items[at].q, b.items[at].q), 1e-9);
    }
  }
}

// Signed factors of KIN-26 at model angles theta: shoulder, elbow, wrist.
Eigen::Vector3d SignedFactors(const SphericalWristParameters& p, const JointVector& theta) {
  const double k = std::hypot(p.a2_mm, p.c3_mm), psi = std::atan2(p.a2_mm, p.c3_mm);
  return {p.a1_mm + p.c2_mm * std::sin(theta[1]) + k * std::sin(theta[1] + theta[2] + psi),
          std::sin(theta[2] + psi), std::sin(theta[4])};
}

int PostureOf(const IkSolutions& solutions, const JointVector& q) {
  for (const IkSolution& solution : solutions) {
    if (TurnApart(solution.q, q) < 1e-6) return solution.posture.id;
  }
  return -1;
}

// Oracle: KIN-26: the arm passes a singularity exactly where a factor changes sign.
TEST(InverseKinematicsTest, PostureChangesOnlyWhereASingularityIsCrossed) {
  const SphericalWristParameters p = support::SampleArmParameters();
  const ArmModel arm = support::SampleArm();
  const InverseKinematics inverse(arm);
  std::mt19937_64 rng(53);
  int kept = 0, changed = 0;
  for (int trial = 0; trial < 200; ++trial) {
    const JointVector from = support::RandomPanelValues(rng, arm);
    const JointVector to = support::RandomPanelValues(rng, arm);
    int before = -1;
    Eigen::Vector3d factors_before = Eigen::Vector3d::Zero();
    for (int step = 0; step <= 60; ++step) {
      const JointVector q = from + (to - from) * (step / 60.0);
      const int id = PostureOf(inverse.Solve(FlangePose(arm, q)), q);
      const Eigen::Vector3d factors = SignedFactors(p, arm.ModelAngles(q));
      ASSERT_GE(id, 0) << "q " << q.transpose();
      if (step > 0) {
        const Eigen::Array3i crossed = (factors.array() * factors_before.array() < 0).cast<int>();
        EXPECT_EQ(id ^ before, 4 * crossed[0] + 2 * crossed[1] + crossed[2]);
        (crossed.sum() == 0 ? kept : changed)++;
      }
      before = id, factors_before = factors;
    }
  }
  EXPECT_GT(kept, 1000);
  EXPECT_GT(changed, 100);
}

// Oracle: definition of wrist_sin, and ids that name each branch once.
TEST(InverseKinematicsTest, SolutionsCarryTheirWristBendAndDistinctPostures) {
  const ArmModel arm = support::SampleArm();
  std::mt19937_64 rng(54);
  for (int i = 0; i < 300; ++i) {
    const IkSolutions ours =
        InverseKinematics(arm).Solve(FlangePose(arm, support::RandomPanelValues(rng, arm)));
    int last = -1;
    for (const IkSolution& solution : ours) {
      EXPECT_NEAR(solution.wrist_sin, std::abs(std::sin(solution.q[4])), 1e-14);
      EXPECT_GT(solution.posture.id, last);
      last = solution.posture.id;
    }
    EXPECT_LE(last, 7);
  }
}

}  // namespace
}  // namespace aircut::kinematics
