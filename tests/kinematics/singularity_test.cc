#include "kinematics/singularity.h"

#include <cmath>
#include <stdexcept>

#include <Eigen/LU>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "kinematics/jacobian.h"
#include "tests/support/published_arms.h"

namespace aircut::kinematics {
namespace {

using support::PanelFromDeg;

SingularityFactors FactorsAt(const JointVector& q) {
  return Singularity(support::ArmAParameters(), support::ArmA().ModelAngles(q));
}

double Determinant(const JointVector& q) {
  return GeometricJacobian(support::ArmA(), q).determinant();
}

// Rounding of the determinant [mm^3] of an arm of 1.5 m.
constexpr double kZeroDeterminant_mm3 = 1e-6;

// Source: KIN-27: the wrist is singular at theta5 = 0 and 180 degrees.
TEST(SingularityTest, StraightWristHasNoWristFactorAndNoDeterminant) {
  for (const double q5_deg : {0.0, 180.0, -180.0}) {
    const JointVector q = PanelFromDeg({10, 20, 30, 40, q5_deg, 60});
    EXPECT_NEAR(FactorsAt(q).wrist_sin, 0.0, 1e-15);
    EXPECT_NEAR(Determinant(q), 0.0, kZeroDeterminant_mm3);
    EXPECT_GT(FactorsAt(q).elbow_sin, 0.1);
    EXPECT_GT(FactorsAt(q).shoulder_mm, 100.0);
  }
  EXPECT_NEAR(FactorsAt(PanelFromDeg({0, 0, 0, 0, 30, 0})).wrist_sin, 0.5, 1e-15);
}

// Source: KIN-27: the elbow is singular at q3 = -79.862196 degrees and the opposite.
TEST(SingularityTest, StretchedElbowIsWhereTheSourceSays) {
  for (const double q3_deg : {-79.862196, 100.137804}) {
    const JointVector q = PanelFromDeg({10, 20, q3_deg, 40, 50, 60});
    EXPECT_NEAR(FactorsAt(q).elbow_sin, 0.0, RadFromDeg(1e-6));
    EXPECT_GT(FactorsAt(q).wrist_sin, 0.1);
  }
}

// Source: KIN-27: the shoulder is singular where the wrist centre is level with axis 1.
// Oracle: forward kinematics; link 5 of this form starts at the wrist centre.
TEST(SingularityTest, ShoulderFactorIsTheDistanceOfTheWristCentreFromAxisOne) {
  const ArmModel arm = support::ArmA();
  for (const double q2_deg : {-80.0, -35.0, 0.0, 25.0, 70.0}) {
    const JointVector q = PanelFromDeg({0, q2_deg, -20, 33, 44, 55});
    const double x_mm = LinkPoses(arm, q)[4].translation().x();
    EXPECT_NEAR(FactorsAt(q).shoulder_mm, std::abs(x_mm), 1e-10) << q2_deg;
  }
}

TEST(SingularityTest, ScaleIsUpperArmTimesForearm) {
  // c2 = 705, a2 = -135, c3 = 755 of KIN-15.
  EXPECT_NEAR(FactorsAt(JointVector::Zero(6)).det_scale_mm2,
              705.0 * std::sqrt(135.0 * 135.0 + 755.0 * 755.0), 1e-8);
}

TEST(SingularityTest, WrongNumberOfAnglesIsRefused) {
  EXPECT_THROW(Singularity(support::ArmAParameters(), JointVector::Zero(5)),
               std::invalid_argument);
}

}  // namespace
}  // namespace aircut::kinematics
