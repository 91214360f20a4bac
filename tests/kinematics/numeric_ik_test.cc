#include "kinematics/numeric_ik.h"

#include <algorithm>
#include <cmath>
#include <random>
#include <stdexcept>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "kinematics/inverse_kinematics.h"
#include "kinematics/jacobian.h"
#include "kinematics/reach_shell.h"
#include "tests/support/pose_near.h"
#include "tests/support/published_arms.h"
#include "tests/support/random_pose.h"
#include "tests/support/searched_arms.h"

namespace aircut::kinematics {
namespace {

using support::PanelFromDeg;
using ::testing::HasSubstr;

struct NamedArm {
  const char* name;
  ArmModel model;
};

std::vector<NamedArm> SearchedArms() {
  return {{"OffsetWrist", support::OffsetWristArm()},
          {"BesideWrist", support::BesideWristArm()},
          {"ThreeParallel", support::ThreeParallelArm()},
          {"LeaningWrist", support::LeaningWristArm()}};
}

std::string NameOf(const ::testing::TestParamInfo<NamedArm>& info) { return info.param.name; }

double Apart(const JointVector& a, const JointVector& b) {
  double most = 0.0;
  for (Eigen::Index j = 0; j < 6; ++j) {
    most = std::max(most, std::abs(std::remainder(a[j] - b[j], 2.0 * kPi)));
  }
  return most;
}

double Determinant(const ArmModel& arm, const JointVector& q) {
  return Eigen::Matrix<double, 6, 6>(JacobianFromFoot(arm, q)).determinant();
}

class SearchedArmTest : public ::testing::TestWithParam<NamedArm> {};
INSTANTIATE_TEST_SUITE_P(Arms, SearchedArmTest, ::testing::ValuesIn(SearchedArms()), NameOf);

// Oracle: forward kinematics; the rate is the one that numeric_ik.h states.
TEST_P(SearchedArmTest, FindsAWayToPosesOfRandomPosturesAndEachReproducesThePose) {
  constexpr int kPoses = 500;
  const ArmModel& arm = GetParam().model;
  EXPECT_FALSE(HasClosedForm(arm));
  const NumericIk search(arm);
  std::mt19937_64 rng(20260801);
  int found = 0;
  for (int i = 0; i < kPoses; ++i) {
    const Pose X_BF = FlangePose(arm, support::RandomPanelValues(rng, arm));
    const SearchedSolutions solutions = search.Solve(X_BF);
    if (solutions.count > 0) ++found;
    for (const SearchedSolution& one : solutions) {
      EXPECT_THAT(FlangePose(arm, one.q), support::PoseNear(X_BF, 1e-9, 1e-12));
      EXPECT_EQ(one.in_range, arm.InRange(one.q));
      EXPECT_EQ(one.sides, search.SidesOf(one.q));
    }
    for (int a = 0; a < solutions.count; ++a) {
      for (int b = 0; b < a; ++b) {
        const JointVector& q_a = solutions.items[static_cast<std::size_t>(a)].q;
        EXPECT_GT(Apart(q_a, solutions.items[static_cast<std::size_t>(b)].q), 1e-5);
      }
    }
  }
  EXPECT_GE(found, static_cast<int>(std::ceil(0.999 * kPoses)));
}

// Property: the same pose gives the same solutions bit for bit, whoever asks.
TEST_P(SearchedArmTest, IsTheSameForEveryoneBitForBit) {
  const ArmModel& arm = GetParam().model;
  const NumericIk one(arm), other(arm);
  std::mt19937_64 rng(20260802);
  for (int i = 0; i < 20; ++i) {
    const Pose X_BF = FlangePose(arm, support::RandomPanelValues(rng, arm));
    const SearchedSolutions a = one.Solve(X_BF);
    other.Solve(FlangePose(arm, support::RandomPanelValues(rng, arm)));   // leaves no trace
    const SearchedSolutions b = other.Solve(X_BF);
    ASSERT_EQ(a.count, b.count);
    for (std::size_t k = 0; k < static_cast<std::size_t>(a.count); ++k) {
      EXPECT_TRUE(a.items[k].q == b.items[k].q);
    }
  }
}

// Oracle: the joints that drew the way. Flange poses along an even run of all
// joints are handed over one by one; where the run keeps clear of singular
// places the continuation must come out at its end, turns and all.
TEST_P(SearchedArmTest, ContinuesABranchAlongTheWayOfKnownJoints) {
  constexpr int kSteps = 40;
  const ArmModel& arm = GetParam().model;
  const NumericIk search(arm);
  std::mt19937_64 rng(20260803);
  int runs = 0;
  for (int trial = 0; trial < 200; ++trial) {
    const JointVector q_from = support::RandomPanelValues(rng, arm);
    JointVector step(6);
    for (Eigen::Index j = 0; j < 6; ++j) step[j] = support::Draw(rng, -0.04, 0.04);
    const double start = Determinant(arm, q_from);
    bool clear = true;
    for (int k = 0; k <= kSteps; ++k) clear = clear && Determinant(arm, q_from + k * step) / start > 0.2;
    if (!clear) continue;
    ++runs;
    JointVector q = q_from;
    for (int k = 1; k <= kSteps; ++k) {
      const auto next = search.Continue(FlangePose(arm, q_from + k * step), q);
      ASSERT_TRUE(next.has_value()) << "trial " << trial << " step " << k;
      q = *next;
    }
    EXPECT_LT((q - (q_from + kSteps * step)).lpNorm<Eigen::Infinity>(), 1e-8) << "trial " << trial;
  }
  EXPECT_GT(runs, 20);
}

// Oracle: the definition of a branch. A way of known joints through a singular
// place is left by its branch there: whatever the continuation gives, it never
// stands on the other side of it.
TEST_P(SearchedArmTest, NeverCrossesToTheOtherSideOfASingularPlace) {
  const ArmModel& arm = GetParam().model;
  const NumericIk search(arm);
  std::mt19937_64 rng(20260804);
  int crossings = 0;
  for (int trial = 0; trial < 400; ++trial) {
    const JointVector q_from = support::RandomPanelValues(rng, arm);
    JointVector q_to = q_from;
    for (Eigen::Index j = 0; j < 6; ++j) q_to[j] += support::Draw(rng, -0.1, 0.1);
    if (Determinant(arm, q_from) * Determinant(arm, q_to) > 0.0) continue;
    ++crossings;
    const auto next = search.Continue(FlangePose(arm, q_to), q_from);
    if (next) {
      EXPECT_GT(Determinant(arm, q_from) * Determinant(arm, *next), 0.0) << "trial " << trial;
    }
  }
  EXPECT_GT(crossings, 10);
}

// Oracle: the flange of a random posture is never beyond a sure bound, and a
// pose farther off than all links together is.
TEST_P(SearchedArmTest, NoPostureIsBeyondTheSureReach) {
  const ArmModel& arm = GetParam().model;
  const ChainReach reach(arm);
  std::mt19937_64 rng(20260805);
  double farthest_mm = -1e9;
  for (int i = 0; i < 2000; ++i) {
    const Pose X_BF = FlangePose(arm, support::RandomPanelValues(rng, arm));
    farthest_mm = std::max(farthest_mm, reach.Beyond_mm(X_BF));
  }
  EXPECT_LT(farthest_mm, 0.0);
  EXPECT_GT(farthest_mm, -0.35 * reach.outer_mm());   // the bound is not idle
  EXPECT_GT(reach.Beyond_mm(MakePose(Eigen::Matrix3d::Identity(), {9000, 0, 0})), 0.0);
}

TEST_P(SearchedArmTest, PoseThatIsNoRotationHasNoSolution) {
  const NumericIk search(GetParam().model);
  Pose X_BF = FlangePose(GetParam().model, PanelFromDeg({10, 20, 30, 40, 50, 60}));
  X_BF.linear() *= 1.001;
  EXPECT_EQ(search.Solve(X_BF).count, 0);
  EXPECT_FALSE(search.Continue(X_BF, PanelFromDeg({10, 20, 30, 40, 50, 60})).has_value());
}

std::vector<NamedArm> ClosedFormArms() {
  return {{"ArmA", support::ArmA()}, {"ArmB", support::ArmB()}, {"ArmC", support::ArmC()},
          {"ArmD", support::ArmD()}, {"ArmE", support::ArmE()}, {"ArmF", support::ArmF()},
          {"ArmG", support::ArmG()}, {"Sample", support::SampleArm()}};
}

class ClosedFormArmTest : public ::testing::TestWithParam<NamedArm> {};
INSTANTIATE_TEST_SUITE_P(Arms, ClosedFormArmTest, ::testing::ValuesIn(ClosedFormArms()), NameOf);

// Oracle: the closed form. The search starts from its table alone and from all
// of it, so that nothing of the closed form is in it.
TEST_P(ClosedFormArmTest, SearchFromSpreadStartsFindsTheSetOfTheClosedForm) {
  const ArmModel& arm = GetParam().model;
  SearchRules rules;
  rules.near_closed_form = false;
  rules.most_starts = rules.quiet_starts = 512;
  const NumericIk search(arm, rules);
  const InverseKinematics closed_form(arm);
  std::mt19937_64 rng(20260806);
  for (int i = 0; i < 12; ++i) {
    const Pose X_BF = FlangePose(arm, support::RandomPanelValues(rng, arm));
    const SearchedSolutions ours = search.Solve(X_BF);
    const IkSolutions theirs = closed_form.Solve(X_BF);
    EXPECT_EQ(ours.count, theirs.count) << "pose " << i;
    for (const IkSolution& want : theirs) {
      const auto same = std::find_if(ours.begin(), ours.end(), [&](const SearchedSolution& one) {
        return Apart(one.q, want.q) < 1e-7;
      });
      ASSERT_NE(same, ours.end()) << "pose " << i << " posture " << want.posture.id;
      EXPECT_EQ(same->sides, want.posture.id);
    }
  }
}

// Oracle: the closed form, of which the near arm is then the arm itself.
TEST_P(ClosedFormArmTest, SidesAreThePostureAndTheNearArmIsTheArm) {
  const ArmModel& arm = GetParam().model;
  SearchRules rules;
  rules.most_starts = 0;
  const NumericIk search(arm, rules);
  ASSERT_TRUE(search.has_near_arm());
  const InverseKinematics closed_form(arm);
  std::mt19937_64 rng(20260807);
  for (int i = 0; i < 200; ++i) {
    const Pose X_BF = FlangePose(arm, support::RandomPanelValues(rng, arm));
    const SearchedSolutions ours = search.Solve(X_BF);
    EXPECT_EQ(ours.count, closed_form.Solve(X_BF).count);
    for (const IkSolution& one : closed_form.Solve(X_BF)) EXPECT_EQ(search.SidesOf(one.q), one.posture.id);
  }
}

// Source: KIN-09, the eight solutions of pose KIN-05, and the joint ranges KIN-11
// (Wang and Chen, IEEE TRA 7(4) 1991). By hand: joint 2 of the first and third
// pair is outside -45..225 deg, joint 4 of the flip of the second outside -110..170.
TEST(NumericIkTest, PublishedPoseHasItsEightSolutionsAndThreeInsideThePublishedRanges) {
  std::vector<JointSpec> joints;
  for (const auto& [lower, upper] : std::vector<std::pair<double, double>>{
           {-160, 160}, {-45, 225}, {-225, 45}, {-110, 170}, {-100, 100}, {-266, 266}}) {
    joints.push_back(support::JointInDegrees(lower, upper, 100, 300));
  }
  const ArmModel arm = ArmModel::FromChain(support::ArmE().chain(), joints);
  SearchRules rules;
  rules.near_closed_form = false;
  rules.quiet_starts = 96;
  const Pose X_BF = FlangePose(arm, PanelFromDeg({0, 45, 180, 0, 45, 0}));
  const SearchedSolutions ours = NumericIk(arm, rules).Solve(X_BF);
  ASSERT_EQ(ours.count, 8);
  const std::vector<std::vector<double>> published = {
      {0, -.833533, .093956, 0, -.831219, 0},
      {0, .785398, kPi, 0, .785398, 0},
      {2.648561, -2.308060, kPi, .674266, .860390, 2.661125},
      {2.648561, 2.356194, .093956, 2.532559, .974350, .373400}};
  int inside = 0;
  for (const std::vector<double>& row : published) {
    for (const bool flipped : {false, true}) {
      JointVector q = Eigen::Map<const Eigen::Matrix<double, 6, 1>>(row.data());
      if (flipped) q[3] += kPi, q[4] = -q[4], q[5] += kPi;
      const auto same = std::find_if(ours.begin(), ours.end(),
                                     [&](const SearchedSolution& one) { return Apart(one.q, q) < 1e-6; });
      ASSERT_NE(same, ours.end());
      inside += same->in_range ? 1 : 0;
    }
  }
  EXPECT_EQ(inside, 3);
}

std::string RefusalOf(const ArmModel& arm) {
  try {
    NumericIk search(arm);
  } catch (const std::invalid_argument& error) {
    return error.what();
  }
  return "";
}

TEST(NumericIkTest, DegenerateChainsAreRefused) {
  const auto arm_of = [](const std::vector<DhRow>& rows) {
    return ArmModel::FromDhStandard(rows, support::PlainJoints(static_cast<int>(rows.size())));
  };
  EXPECT_THAT(RefusalOf(arm_of(std::vector<DhRow>(6, {200, 0, 50, 0}))), HasSubstr("determinant"));
  EXPECT_THAT(RefusalOf(arm_of(std::vector<DhRow>(6, {0, 1, 0, 0}))), HasSubstr("determinant"));
  for (const std::size_t count : {3u, 7u}) {
    EXPECT_THAT(RefusalOf(arm_of(std::vector<DhRow>(count, {200, 1, 50, 0}))),
                HasSubstr("number of joints is " + std::to_string(count) + ", must be 6"));
  }
}

// A table whose angles are rounded to six digits has lost the closed form by a
// hair; its solutions are still as near to those of the true table as the hair.
TEST(NumericIkTest, RoundedTableIsSearchedFromTheTrueArmsSolutions) {
  std::vector<DhRow> rows = support::OffsetWristRows();
  rows[3].a_mm = rows[4].a_mm = 0;
  const ArmModel exact = ArmModel::FromDhStandard(rows, support::PlainJoints(6));
  for (DhRow& row : rows) row.alpha_rad = std::round(1e6 * row.alpha_rad) / 1e6;
  const ArmModel rounded = ArmModel::FromDhStandard(rows, support::PlainJoints(6));
  ASSERT_TRUE(HasClosedForm(exact));
  ASSERT_FALSE(HasClosedForm(rounded));
  const Pose X_BF = FlangePose(exact, PanelFromDeg({10, 20, 30, 40, 50, 60}));
  const SearchedSolutions ours = NumericIk(rounded).Solve(X_BF);
  const IkSolutions theirs = InverseKinematics(exact).Solve(X_BF);
  ASSERT_EQ(ours.count, theirs.count);
  for (const IkSolution& want : theirs) {
    EXPECT_TRUE(std::any_of(ours.begin(), ours.end(), [&](const SearchedSolution& one) {
      return Apart(one.q, want.q) < 1e-4 && one.sides == want.posture.id;
    }));
  }
}

}  // namespace
}  // namespace aircut::kinematics
