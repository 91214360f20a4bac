#include "kinematics/arm_model.h"

#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/random_pose.h"
#include "tests/support/sample_arm.h"

namespace aircut::kinematics {
namespace {

using support::PlainJoints;
using support::SampleArmJoints;
using support::SampleArmParameters;
using testing::HasSubstr;

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kInfinity = std::numeric_limits<double>::infinity();

std::string MessageOf(const std::vector<JointSpec>& joints) {
  try {
    ArmModel::FromSphericalWrist(SampleArmParameters(), joints);
  } catch (const std::invalid_argument& error) {
    return error.what();
  }
  return "accepted";
}

template <typename Change>
std::string MessageAfter(Change change) {
  std::vector<JointSpec> joints = SampleArmJoints();
  change(joints[2]);
  return MessageOf(joints);
}

// Oracle: the conditions written beside the fields in joint.h; each is broken alone.
TEST(ArmModelTest, EachBadJointFieldIsNamedWithJointValueAndBound) {
  EXPECT_EQ(MessageAfter([](JointSpec&) {}), "accepted");
  for (const double bad : {0.0, -3.5, kNaN, kInfinity}) {
    EXPECT_THAT(MessageAfter([&](JointSpec& j) { j.speed_rad_s = bad; }),
                HasSubstr("joint 3: speed_rad_s = "))
        << bad;
    EXPECT_THAT(MessageAfter([&](JointSpec& j) { j.acceleration_rad_s2 = bad; }),
                HasSubstr("joint 3: acceleration_rad_s2 = "))
        << bad;
  }
  for (const double bad : {0.0, 0.5, -2.0, kNaN}) {
    EXPECT_THAT(MessageAfter([&](JointSpec& j) { j.sign = bad; }), HasSubstr("joint 3: sign = "));
  }
  for (const double bad : {kNaN, kInfinity, -kInfinity}) {
    EXPECT_THAT(MessageAfter([&](JointSpec& j) { j.zero_rad = bad; }),
                HasSubstr("joint 3: zero_rad = "));
    EXPECT_THAT(MessageAfter([&](JointSpec& j) { j.lower_rad = bad; }),
                HasSubstr("joint 3: lower_rad = "));
    EXPECT_THAT(MessageAfter([&](JointSpec& j) { j.upper_rad = bad; }),
                HasSubstr("joint 3: upper_rad = "));
    EXPECT_THAT(MessageAfter([&](JointSpec& j) { j.follows = JointFollow{1, bad}; }),
                HasSubstr("joint 3: follows.ratio = "));
  }
  EXPECT_THAT(MessageAfter([](JointSpec& j) { j.speed_rad_s = -3.5; }),
              testing::AllOf(HasSubstr("-3.5"), HasSubstr("> 0")));
}

TEST(ArmModelTest, RangeMustHaveWidthAndFollowMustPointBack) {
  EXPECT_THAT(MessageAfter([](JointSpec& j) { j.lower_rad = j.upper_rad; }),
              HasSubstr("joint 3: upper_rad = "));
  EXPECT_EQ(MessageAfter([](JointSpec& j) { j.lower_rad = j.upper_rad - 1e-9; }), "accepted");
  for (const int bad : {-1, 2, 3, 6}) {
    EXPECT_THAT(MessageAfter([&](JointSpec& j) { j.follows = JointFollow{bad, 1.0}; }),
                HasSubstr("joint 3: follows.joint = " + std::to_string(bad)));
  }
  EXPECT_EQ(MessageAfter([](JointSpec& j) { j.follows = JointFollow{1, -1.0}; }), "accepted");
}

TEST(ArmModelTest, CountsAndLengthsAreChecked) {
  EXPECT_THAT(MessageOf(PlainJoints(5)), HasSubstr("joints.size() = 5 must be 6"));
  EXPECT_THAT(MessageOf({}), HasSubstr("joints.size() = 0 must be 6"));
  EXPECT_THROW(ArmModel::FromDhStandard({}, {}), std::invalid_argument);
  EXPECT_THROW(ArmModel::FromDhStandard(std::vector<DhRow>(9), PlainJoints(9)),
               std::invalid_argument);
  EXPECT_THROW(ArmModel::FromDhStandard(std::vector<DhRow>(3), PlainJoints(2)),
               std::invalid_argument);
  EXPECT_EQ(ArmModel::FromDhStandard(std::vector<DhRow>(8), PlainJoints(8)).joint_count(), 8);
  EXPECT_EQ(ArmModel::FromDhStandard(std::vector<DhRow>(1), PlainJoints(1)).joint_count(), 1);
}

TEST(ArmModelTest, LengthsThatAreNotFiniteAreNamed) {
  const auto message = [](auto change) -> std::string {
    std::vector<DhRow> rows(3);
    change(rows[1]);
    try {
      ArmModel::FromDhStandard(rows, PlainJoints(3));
    } catch (const std::invalid_argument& error) {
      return error.what();
    }
    return "accepted";
  };
  EXPECT_THAT(message([](DhRow& row) { row.a_mm = kNaN; }), HasSubstr("joint 2: a_mm = nan"));
  EXPECT_THAT(message([](DhRow& row) { row.alpha_rad = kNaN; }), HasSubstr("joint 2: alpha_rad"));
  EXPECT_THAT(message([](DhRow& row) { row.d_mm = kInfinity; }), HasSubstr("joint 2: d_mm"));
  EXPECT_THAT(message([](DhRow& row) { row.theta_offset_rad = kNaN; }),
              HasSubstr("joint 2: theta_offset_rad"));
  SphericalWristParameters parameters = SampleArmParameters();
  parameters.c3_mm = kNaN;
  EXPECT_THAT([&] { ArmModel::FromSphericalWrist(parameters, SampleArmJoints()); },
              testing::ThrowsMessage<std::invalid_argument>(HasSubstr("c3_mm = nan")));
}

// Oracle: the conditions written beside the fields in joint.h; each is broken alone.
TEST(ArmModelTest, EachBadSumLimitFieldIsNamed) {
  const auto message = [](auto change) {
    return MessageAfter([&](JointSpec& j) {
      j.sum_limit = SumLimit{1, 1.0, -1.0, 1.0};
      change(*j.sum_limit);
    });
  };
  EXPECT_EQ(message([](SumLimit&) {}), "accepted");
  EXPECT_EQ(message([](SumLimit& s) { s.joint = 0, s.ratio = -0.5; }), "accepted");
  for (const int bad : {-1, 2, 3}) {
    EXPECT_THAT(message([&](SumLimit& s) { s.joint = bad; }),
                HasSubstr("joint 3: sum_limit.joint = " + std::to_string(bad)));
  }
  for (const double bad : {0.0, kNaN, kInfinity}) {
    EXPECT_THAT(message([&](SumLimit& s) { s.ratio = bad; }),
                HasSubstr("joint 3: sum_limit.ratio = "));
  }
  for (const double bad : {1.0, 2.0, kNaN, -kInfinity}) {
    EXPECT_THAT(message([&](SumLimit& s) { s.lower_rad = bad; }), HasSubstr("joint 3: sum_limit."));
  }
  EXPECT_THAT(message([](SumLimit& s) { s.upper_rad = kInfinity; }),
              HasSubstr("joint 3: sum_limit.upper_rad = inf"));
  EXPECT_EQ(message([](SumLimit& s) { s.lower_rad = s.upper_rad - 1e-9; }), "accepted");
}

// Oracle: the sum at hand: ends belong to the range, a margin narrows it.
TEST(ArmModelTest, SumsOfJointsAreHeldInTheirRange) {
  std::vector<JointSpec> joints = PlainJoints(3);
  joints[2].sum_limit = SumLimit{1, -0.5, -0.25, 0.75};
  const ArmModel arm = ArmModel::FromDhStandard(std::vector<DhRow>(3), joints);
  const auto in_range = [&](double q2, double q3, double margin_rad) {
    JointVector q(3);
    q << 3.0, q2, q3;
    return arm.InRange(q, margin_rad);
  };
  EXPECT_TRUE(in_range(1.0, 0.25, 0.0));     // sum -0.25
  EXPECT_TRUE(in_range(1.0, 1.25, 0.0));     // sum 0.75
  EXPECT_FALSE(in_range(1.0, 0.25 - 1e-9, 0.0));
  EXPECT_FALSE(in_range(1.0, 1.25 + 1e-9, 0.0));
  EXPECT_FALSE(in_range(1.0, 1.25, 1e-6));
  EXPECT_TRUE(in_range(1.0, 1.25 - 2e-6, 1e-6));
  EXPECT_TRUE(in_range(-1.0, 0.0, 0.1));     // sum 0.5
  EXPECT_FALSE(in_range(-1.0, 0.5, 0.0));    // sum 1.0
}

TEST(ArmModelTest, ModifiedRowsAndChainsAreChecked) {
  const auto refusal = [](auto make) -> std::string {
    try {
      make();
    } catch (const std::invalid_argument& error) {
      return error.what();
    }
    return "accepted";
  };
  const auto rows = [&](auto change) {
    std::vector<ModifiedDhRow> table(3);
    change(table);
    return refusal([&] { ArmModel::FromDhModified(table, PlainJoints(3)); });
  };
  EXPECT_EQ(rows([](auto&) {}), "accepted");
  EXPECT_THAT(rows([](auto& t) { t[1].a_mm = kNaN; }), HasSubstr("joint 2: a_mm = nan"));
  EXPECT_THAT(rows([](auto& t) { t[1].alpha_rad = kNaN; }), HasSubstr("joint 2: alpha_rad"));
  EXPECT_THAT(rows([](auto& t) { t[1].d_mm = kInfinity; }), HasSubstr("joint 2: d_mm"));
  EXPECT_THAT(rows([](auto& t) { t[1].theta_offset_rad = kNaN; }),
              HasSubstr("joint 2: theta_offset_rad"));
  EXPECT_THAT(rows([](auto& t) { t.pop_back(); }), HasSubstr("joints.size() = 3"));
  EXPECT_THAT(rows([](auto& t) { t.clear(); }), HasSubstr("rows.size() = 0"));

  const auto chain = [&](auto change) {
    std::vector<ChainJoint> joints(2);
    change(joints);
    return refusal([&] { ArmModel::FromChain(joints, PlainJoints(2)); });
  };
  EXPECT_EQ(chain([](auto&) {}), "accepted");
  EXPECT_THAT(chain([](auto& c) { c[1].before.linear() *= 2; }), HasSubstr("joint 2: before"));
  EXPECT_THAT(chain([](auto& c) { c[1].after.translation().x() = kNaN; }),
              HasSubstr("joint 2: after"));
  EXPECT_THAT(chain([](auto& c) { c[0].after.linear() *= -1; }), HasSubstr("joint 1: after"));
  EXPECT_THAT(chain([](auto& c) { c[1].axis *= 1.001; }), HasSubstr("joint 2: axis"));
  EXPECT_THAT(chain([](auto& c) { c[1].axis.setZero(); }), HasSubstr("joint 2: axis"));
  EXPECT_THAT(chain([](auto& c) { c[1].axis.y() = kNaN; }), HasSubstr("joint 2: axis"));
  EXPECT_THAT(chain([](auto& c) { c.clear(); }), HasSubstr("chain.size() = 0"));
  EXPECT_THAT(chain([](auto& c) { c.resize(9); }), HasSubstr("chain.size() = 9"));
}

// Oracle: the definition in joint.h, written out for one arm by hand.
TEST(ArmModelTest, ModelAnglesFollowSignZeroAndCoupling) {
  std::vector<JointSpec> joints = PlainJoints(3);
  joints[0].sign = -1;
  joints[1].zero_rad = 0.25;
  joints[2].follows = JointFollow{0, -0.5};
  const ArmModel arm = ArmModel::FromDhStandard(std::vector<DhRow>(3), joints);
  JointVector q(3);
  q << 0.5, 1.0, 2.0;
  const JointVector theta = arm.ModelAngles(q);
  EXPECT_DOUBLE_EQ(theta[0], -0.5);
  EXPECT_DOUBLE_EQ(theta[1], 1.25);
  EXPECT_DOUBLE_EQ(theta[2], 1.75);
}

// Oracle: the two maps undo each other.
TEST(ArmModelTest, PanelValuesUndoModelAngles) {
  std::mt19937_64 rng(21);
  for (int i = 0; i < 200; ++i) {
    std::vector<JointSpec> joints = PlainJoints(8);
    for (std::size_t j = 0; j < joints.size(); ++j) {
      joints[j].sign = support::Draw(rng, -1, 1) < 0 ? -1 : 1;
      joints[j].zero_rad = support::Draw(rng, -3, 3);
      const int driver = static_cast<int>(support::Draw(rng, 0, static_cast<double>(j)));
      if (j > 0 && i % 2 == 0) joints[j].follows = JointFollow{driver, support::Draw(rng, -1, 1)};
    }
    const ArmModel arm = ArmModel::FromDhStandard(std::vector<DhRow>(8), joints);
    const JointVector q = support::RandomPanelValues(rng, arm);
    EXPECT_LT((arm.PanelValues(arm.ModelAngles(q)) - q).norm(), 1e-13);
  }
}

// Oracle: the ends of the range belong to it; a margin moves them inwards.
TEST(ArmModelTest, RangeEndsAreInsideAndMarginNarrows) {
  const ArmModel arm = support::SampleArm();
  JointVector q = JointVector::Zero(6);
  EXPECT_TRUE(arm.InRange(q));
  for (Eigen::Index i = 0; i < 6; ++i) {
    const JointSpec& joint = arm.joints()[static_cast<std::size_t>(i)];
    for (const auto& [end, outward] : {std::pair(joint.lower_rad, -1.0),
                                       std::pair(joint.upper_rad, 1.0)}) {
      q[i] = end;
      EXPECT_TRUE(arm.InRange(q));
      EXPECT_FALSE(arm.InRange(q, 1e-6));
      q[i] = end + outward * 1e-9;
      EXPECT_FALSE(arm.InRange(q));
      q[i] = end - outward * 1.1e-6;
      EXPECT_TRUE(arm.InRange(q, 1e-6));
    }
    q[i] = kNaN;
    EXPECT_FALSE(arm.InRange(q));
    q[i] = 0.0;
  }
  EXPECT_FALSE(arm.InRange(q, 10.0));
  EXPECT_FALSE(arm.InRange(q, kNaN));
}

TEST(ArmModelTest, WrongNumberOfValuesIsRefused) {
  const ArmModel arm = support::SampleArm();
  const JointVector five = JointVector::Zero(5);
  EXPECT_THAT([&] { arm.ModelAngles(five); },
              testing::ThrowsMessage<std::invalid_argument>(HasSubstr("q.size() = 5")));
  EXPECT_THROW(arm.PanelValues(five), std::invalid_argument);
  EXPECT_THROW(arm.InRange(five), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::kinematics
