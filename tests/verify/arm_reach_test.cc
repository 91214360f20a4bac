#include "verify/arm_reach.h"

#include <cmath>
#include <stdexcept>

#include <gtest/gtest.h>

#include "tests/verify/sheet_cell.h"

namespace aircut::verify {
namespace {

using support::BareCell;
using support::FreeJoints;
using support::kDegree;
using support::SheetArm;

constexpr double kTol_mm = 0.01;   // promised by the search
const double kForearm_mm = std::hypot(50.0, 600.0);
const double kForearmLean_rad = std::atan2(-50.0, 600.0);
const Eigen::Vector3d kWrist_F(0, 0, -100);

// Oracle: the wrist centre lies one wrist length behind the flange, by definition
// of the parameters.
TEST(ArmReachTest, WristCentreIsBehindTheFlange) {
  const auto wrist_F = WristCentreInFlange(*BareCell().cell.arm);
  ASSERT_TRUE(wrist_F.has_value());
  EXPECT_NEAR((*wrist_F - kWrist_F).norm(), 0, 1e-9);
}

// Oracle: closed form. Free joints stretch upper arm and forearm into one line.
TEST(ArmReachTest, FreeArmStretchesToTheSumOfItsLengths) {
  const ArmReach reach = FindReach(BareCell().cell, kWrist_F);
  EXPECT_NEAR(reach.farthest_mm, 100 + 500 + kForearm_mm, kTol_mm);
  EXPECT_NEAR(reach.highest_mm, 300 + 400 + 500 + kForearm_mm, kTol_mm);
  EXPECT_NEAR(reach.lowest_mm, 300 + 400 - 500 - kForearm_mm, kTol_mm);
}

// Oracle: closed form. A tip beside the flange axis is one more straight length.
TEST(ArmReachTest, TipBesideTheFlangeAxisAddsItsDistanceFromTheWrist) {
  const ArmReach reach = FindReach(BareCell().cell, {150, 0, 60});
  EXPECT_NEAR(reach.farthest_mm, 100 + 500 + kForearm_mm + std::hypot(150, 160), kTol_mm);
}

// Oracle: closed form with the elbow held: the arm is one bent bar about joint 2
// that leans forward by at most 30 degrees.
TEST(ArmReachTest, RangesOfShoulderAndElbowAreKept) {
  sim::Cell cell = BareCell().cell;
  auto joints = FreeJoints();
  joints[1].lower_rad = 0;
  joints[1].upper_rad = 30 * kDegree;
  joints[2].lower_rad = 0;
  joints[2].upper_rad = 1e-9;
  cell.arm = SheetArm(joints);
  const ArmReach reach = FindReach(cell, kWrist_F);
  EXPECT_NEAR(reach.farthest_mm, 100 + 500 * 0.5 + kForearm_mm * std::sin(30 * kDegree + kForearmLean_rad), kTol_mm);
  EXPECT_NEAR(reach.highest_mm, 300 + 400 + std::hypot(1100, 50), kTol_mm);
  EXPECT_NEAR(reach.lowest_mm,
              300 + 400 + 500 * std::cos(30 * kDegree) + kForearm_mm * std::cos(30 * kDegree + kForearmLean_rad), kTol_mm);
}

// Oracle: closed form. A forearm that keeps its lean while joint 2 moves (joint 3
// follows by -1) and may lean at most 10 degrees more than the upper arm.
TEST(ArmReachTest, CouplingAndSharedRangeAreKept) {
  sim::Cell cell = BareCell().cell;
  auto joints = FreeJoints();
  joints[1].lower_rad = 0;
  joints[1].upper_rad = 60 * kDegree;
  joints[2].lower_rad = 0;
  joints[2].upper_rad = 90 * kDegree;
  joints[2].follows = kinematics::JointFollow{1, -1.0};
  joints[2].sum_limit = kinematics::SumLimit{1, -1.0, -10 * kDegree, 10 * kDegree};
  cell.arm = SheetArm(joints);
  const ArmReach reach = FindReach(cell, kWrist_F);
  EXPECT_NEAR(reach.farthest_mm,
              100 + 500 * std::sin(60 * kDegree) + kForearm_mm * std::sin(70 * kDegree + kForearmLean_rad), kTol_mm);
  EXPECT_NEAR(reach.lowest_mm,
              300 + 400 + 500 * std::cos(60 * kDegree) + kForearm_mm * std::cos(70 * kDegree + kForearmLean_rad), kTol_mm);
}

// Metamorphic: an arm hung upside down from the ceiling swaps highest and lowest;
// turned on its side its heights become distances from joint 1.
TEST(ArmReachTest, HeightsAreThoseOfTheWorld) {
  sim::Cell cell = BareCell().cell;
  const Eigen::Vector3d x = Eigen::Vector3d::UnitX();
  cell.X_WB = kinematics::MakePose(Eigen::AngleAxisd(kinematics::kPi, x).toRotationMatrix(), {0, 0, 3000});
  const ArmReach hung = FindReach(cell, kWrist_F);
  EXPECT_NEAR(hung.highest_mm, 3000 - 400 + 500 + kForearm_mm, kTol_mm);
  EXPECT_NEAR(hung.lowest_mm, 3000 - 400 - 500 - kForearm_mm, kTol_mm);
  cell.X_WB = kinematics::MakePose(Eigen::AngleAxisd(0.5 * kinematics::kPi, x).toRotationMatrix(), {0, 0, 3000});
  const ArmReach aside = FindReach(cell, kWrist_F);
  EXPECT_NEAR(aside.highest_mm, 3000 + 100 + 500 + kForearm_mm, kTol_mm);
  EXPECT_NEAR(aside.farthest_mm, hung.farthest_mm, kTol_mm);
}

TEST(ArmReachTest, ACellWithoutAnArmIsRefused) {
  EXPECT_THROW(FindReach(sim::Cell{}, kWrist_F), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::verify
