#include "kinematics/arm_suspects.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "tests/support/pose_near.h"
#include "tests/support/random_pose.h"
#include "tests/support/sample_arm.h"

namespace aircut::kinematics {
namespace {

constexpr int kRows = 6;

ArmModel RandomArm(std::mt19937_64& rng, const std::vector<JointSpec>& joints) {
  SphericalWristParameters p = support::SampleArmParameters();
  p.a1_mm += support::Draw(rng, -100, 100), p.a2_mm += support::Draw(rng, -80, 80);
  p.b_mm = support::Draw(rng, -50, 50), p.c1_mm += support::Draw(rng, -200, 200);
  p.c2_mm += support::Draw(rng, -200, 200), p.c3_mm += support::Draw(rng, -200, 200);
  return ArmModel::FromSphericalWrist(p, joints);
}

std::vector<JointSpec> RandomJoints(std::mt19937_64& rng) {
  std::vector<JointSpec> joints = support::SampleArmJoints();
  for (JointSpec& joint : joints) {
    joint.sign = support::Draw(rng, -1, 1) < 0 ? -1 : 1;
    joint.zero_rad = support::Draw(rng, -2, 2);
  }
  if (support::Draw(rng, -1, 1) < 0) joints[2].follows = JointFollow{1, -1.0};
  return joints;
}

// What the true arm shows, rounded like a panel does.
struct Rounding {
  double position_mm = 0.0;   // 0: as computed
  double angle_rad = 0.0;
};

double Round(const double value, const double step) {
  return step > 0.0 ? std::round(value / step) * step : value;
}

std::vector<ArmReadout> Show(std::mt19937_64& rng, const ArmModel& truth, const Rounding& r) {
  std::vector<ArmReadout> readouts;
  for (int i = 0; i < kRows; ++i) {
    ArmReadout readout;
    readout.q = support::RandomPanelValues(rng, truth);
    for (double& value_rad : readout.q) value_rad = Round(value_rad, r.angle_rad);
    readout.X_BF = FlangePose(truth, readout.q);
    for (double& value_mm : readout.X_BF.translation()) value_mm = Round(value_mm, r.position_mm);
    if (r.angle_rad > 0.0) {
      const double turn_rad = support::Draw(rng, -0.5, 0.5) * r.angle_rad;
      readout.X_BF.rotate(
          Eigen::AngleAxisd(turn_rad, support::RandomVector(rng, 1).normalized()));
    }
    readouts.push_back(readout);
  }
  return readouts;
}

// One error put into a model: what mends it is the answer.
struct Seeded {
  ArmModel wrong;
  Suspect answer;
};

Seeded SeedFault(std::mt19937_64& rng, const ArmModel& truth, const int kind) {
  std::vector<ChainJoint> chain = truth.chain();
  std::vector<JointSpec> joints = truth.joints();
  const int j = static_cast<int>(support::Draw(rng, 0, 6));
  JointSpec& joint = joints[static_cast<std::size_t>(j)];
  Suspect answer;
  answer.joint = j;
  if (kind == 0) {
    answer.kind = SuspectKind::kSign;
    answer.amount = joint.sign;
    joint.sign = -joint.sign;
  } else if (kind == 1) {
    answer.kind = SuspectKind::kZero;
    const double off_rad = std::exp(support::Draw(rng, std::log(RadFromDeg(0.1)), std::log(3.0)));
    answer.amount = support::Draw(rng, -1, 1) < 0 ? -off_rad : off_rad;
    joint.zero_rad -= answer.amount;
  } else if (kind == 2 || kind == 3) {
    answer.kind = SuspectKind::kCoupling;
    answer.joint = 2;
    answer.driver = 1;
    JointSpec& forearm = joints[2];
    answer.amount = forearm.follows ? forearm.follows->ratio : 0.0;
    if (forearm.follows && kind == 2) {
      forearm.follows.reset();
    } else {
      const double ratio = kind == 2 ? 1.0 : support::Draw(rng, 0.05, 0.9);
      forearm.follows = JointFollow{1, ratio};
    }
  } else {
    answer.kind = SuspectKind::kScale;
    answer.joint = -1;
    answer.amount = (kind == 4) ? 25.4 : 1.0 / 1000.0;
    for (ChainJoint& link : chain) {
      link.before.translation() /= answer.amount;
      link.after.translation() /= answer.amount;
    }
  }
  return {ArmModel::FromChain(chain, joints), answer};
}

void ExpectFirst(const std::vector<Suspect>& suspects, const Suspect& answer,
                 const double tolerance, const std::string& place) {
  ASSERT_FALSE(suspects.empty()) << place;
  EXPECT_EQ(suspects[0].kind, answer.kind) << place;
  EXPECT_EQ(suspects[0].joint, answer.joint) << place;
  EXPECT_EQ(suspects[0].driver, answer.driver) << place;
  EXPECT_NEAR(suspects[0].amount, answer.amount, tolerance * std::max(1.0, answer.amount)) << place;
}

// Oracle: the seeded error, known by construction.
TEST(ArmSuspectsTest, SeededSingleErrorIsRankedFirstWithItsSize) {
  std::mt19937_64 rng(20260401);
  for (int trial = 0; trial < 500; ++trial) {
    const ArmModel truth = RandomArm(rng, RandomJoints(rng));
    const std::vector<ArmReadout> readouts = Show(rng, truth, {});
    const Seeded seeded = SeedFault(rng, truth, trial % 6);
    const std::vector<Suspect> suspects = RankSuspects(seeded.wrong, readouts);
    ExpectFirst(suspects, seeded.answer, 1e-6, "trial " + std::to_string(trial));
    EXPECT_LT(suspects[0].residual_mm, 1e-6) << "trial " << trial;
    EXPECT_LT(suspects[0].residual_rad, 1e-9) << "trial " << trial;
  }
}

// The same with read-outs rounded to 0.01 mm and 0.001 deg; the smallest seeded zero
// error, 0.1 deg, is a hundred times the rounding. Sizes hold to ten roundings.
TEST(ArmSuspectsTest, RoundedReadoutsStillNameTheSeededError) {
  std::mt19937_64 rng(20260402);
  const Rounding rounding{0.01, RadFromDeg(0.001)};
  for (int trial = 0; trial < 500; ++trial) {
    const ArmModel truth = RandomArm(rng, RandomJoints(rng));
    const std::vector<ArmReadout> readouts = Show(rng, truth, rounding);
    const Seeded seeded = SeedFault(rng, truth, trial % 6);
    ExpectFirst(RankSuspects(seeded.wrong, readouts), seeded.answer, 10 * rounding.angle_rad,
                "trial " + std::to_string(trial));
  }
}

// Oracle: definition, with a separate measure of the turn.
TEST(ArmSuspectsTest, ResidualsAreTheGapsBetweenModelAndShownPose) {
  std::mt19937_64 rng(7);
  const ArmModel arm = support::SampleArm();
  std::vector<ArmReadout> readouts = Show(rng, arm, {});
  for (const ReadoutResidual& r : ReadoutResiduals(arm, readouts)) {
    EXPECT_LT(r.position_mm, 1e-12);
    EXPECT_LT(r.turn_rad, 1e-12);
  }
  readouts[1].X_BF.translation() += Eigen::Vector3d(3, 4, 12);
  readouts[2].X_BF.rotate(Eigen::AngleAxisd(2.5, Eigen::Vector3d(1, 2, 2) / 3.0));
  const std::vector<ReadoutResidual> residuals = ReadoutResiduals(arm, readouts);
  EXPECT_NEAR(residuals[1].position_mm, 13.0, 1e-9);
  EXPECT_NEAR(residuals[2].turn_rad, 2.5, 1e-9);
  EXPECT_LT(residuals[2].position_mm, 1e-12);
}

// Oracle: construction. A joint that stands at 0 in every row shows no sign; one whose
// driver stands still shows no coupling; a last joint's zero turns F in place.
TEST(ArmSuspectsTest, ReadoutsThatNeverMoveAJointDoNotShowItsErrors) {
  const ArmModel arm = support::SampleArm();
  std::vector<ArmReadout> readouts(3);
  const double rows[3][6] = {{0, 0, 10, 20, 30, 40}, {0, 0, -30, 60, -40, 10}, {0, 0, 50, 5, 70, 9}};
  for (std::size_t i = 0; i < 3; ++i) {
    readouts[i].q = support::PanelFromDeg(std::vector<double>(rows[i], rows[i] + 6));
    readouts[i].X_BF = FlangePose(arm, readouts[i].q);
  }
  int signs = 0, zeros = 0, couplings = 0;
  for (const Visibility& v : VisibilityOf(arm, readouts)) {
    const bool moved = v.joint > 1;
    if (v.kind == SuspectKind::kSign) {
      ++signs;
      EXPECT_EQ(v.shown_rad > 0.1, moved) << "joint " << v.joint + 1;
      if (!moved) {
        EXPECT_LT(v.shown_mm + v.shown_rad, 1e-12) << "joint " << v.joint + 1;
      }
    } else if (v.kind == SuspectKind::kZero) {
      ++zeros;
      EXPECT_NEAR(v.shown_rad, RadFromDeg(1.0), 1e-12);
      if (v.joint == 5) {
        EXPECT_LT(v.shown_mm, 1e-9);
      }
      if (v.joint == 0) {
        double lever_mm = 0.0;
        for (const ArmReadout& r : readouts) {
          lever_mm = std::max(lever_mm, r.X_BF.translation().head<2>().norm());
        }
        EXPECT_NEAR(v.shown_mm, 2.0 * lever_mm * std::sin(RadFromDeg(0.5)), 1e-9);
      }
    } else {
      ++couplings;
      EXPECT_EQ(v.joint, 2);
      EXPECT_EQ(v.driver, 1);
      EXPECT_LT(v.shown_mm + v.shown_rad, 1e-12);   // joint 2 never moves
    }
  }
  EXPECT_EQ(signs, 6);
  EXPECT_EQ(zeros, 6);
  EXPECT_EQ(couplings, 2);
}

// Oracle: the two parts agree: what a seeded error shows is what VisibilityOf foretold.
TEST(ArmSuspectsTest, VisibilityIsTheResidualOfTheSeededError) {
  std::mt19937_64 rng(9);
  std::vector<JointSpec> joints = support::SampleArmJoints();
  joints[2].follows = JointFollow{1, -1.0};
  const ArmModel arm = RandomArm(rng, joints);
  const std::vector<ArmReadout> readouts = Show(rng, arm, {});
  for (const Visibility& v : VisibilityOf(arm, readouts)) {
    std::vector<JointSpec> changed = joints;
    JointSpec& joint = changed[static_cast<std::size_t>(v.joint)];
    if (v.kind == SuspectKind::kSign) joint.sign = -1.0;
    if (v.kind == SuspectKind::kZero) joint.zero_rad += RadFromDeg(1.0);
    if (v.kind == SuspectKind::kCoupling) joint.follows.reset();
    double most_mm = 0.0, most_rad = 0.0;
    for (const ReadoutResidual& r :
         ReadoutResiduals(ArmModel::FromChain(arm.chain(), changed), readouts)) {
      most_mm = std::max(most_mm, r.position_mm);
      most_rad = std::max(most_rad, r.turn_rad);
    }
    EXPECT_NEAR(v.shown_mm, most_mm, 1e-9);
    EXPECT_NEAR(v.shown_rad, most_rad, 1e-9);
  }
}

// Two errors at once: no single one brings the rows together.
TEST(ArmSuspectsTest, TwoErrorsAreNotExplainedByOne) {
  std::mt19937_64 rng(11);
  std::vector<JointSpec> joints = support::SampleArmJoints();
  const ArmModel truth = RandomArm(rng, joints);
  const std::vector<ArmReadout> readouts = Show(rng, truth, {});
  joints[0].zero_rad += 0.2;
  joints[4].sign = -1.0;
  const std::vector<Suspect> suspects =
      RankSuspects(ArmModel::FromChain(truth.chain(), joints), readouts);
  for (const Suspect& suspect : suspects) EXPECT_GT(suspect.residual_mm, 1.0);
}

TEST(ArmSuspectsTest, NoReadoutsGiveNoSuspectsAndNoVisibility) {
  const ArmModel arm = support::SampleArm();
  EXPECT_TRUE(RankSuspects(arm, {}).empty());
  EXPECT_TRUE(ReadoutResiduals(arm, {}).empty());
  for (const Visibility& v : VisibilityOf(arm, {})) EXPECT_EQ(v.shown_mm + v.shown_rad, 0.0);
}

TEST(ArmSuspectsTest, BadReadoutsAreNamedWithTheirRow) {
  const ArmModel arm = support::SampleArm();
  const ArmReadout good{JointVector::Zero(6), Pose::Identity()};
  const auto refuse = [&](const std::string& text, auto spoil) {
    std::vector<ArmReadout> readouts(3, good);
    spoil(readouts[1]);
    const auto thrown =
        testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr("read-out 2: " + text));
    EXPECT_THAT([&] { RankSuspects(arm, readouts); }, thrown);
    EXPECT_THAT([&] { VisibilityOf(arm, readouts); }, thrown);
    EXPECT_THAT([&] { ReadoutResiduals(arm, readouts); }, thrown);
  };
  refuse("q.size = 5", [](ArmReadout& r) { r.q = JointVector::Zero(5); });
  refuse("q must be finite", [](ArmReadout& r) { r.q[3] = std::nan(""); });
  refuse("X_BF", [](ArmReadout& r) { r.X_BF.linear() *= 1.01; });
  refuse("X_BF", [](ArmReadout& r) { r.X_BF.translation().x() = std::nan(""); });
}

}  // namespace
}  // namespace aircut::kinematics
