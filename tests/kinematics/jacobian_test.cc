#include "kinematics/jacobian.h"

#include <cmath>
#include <random>

#include <Eigen/LU>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "kinematics/singularity.h"
#include "tests/support/published_arms.h"
#include "tests/support/random_pose.h"

namespace aircut::kinematics {
namespace {

using support::kMm_m;
using support::PanelFromDeg;

Jacobian InMetres(Jacobian J) {
  J.topRows<3>() /= kMm_m;
  return J;
}

// Source: KIN-08 (table KIN-01; columns z x (p - o), z), printed to six decimals.
TEST(JacobianTest, TableArmMatchesThePublishedJacobian) {
  const Jacobian J =
      InMetres(GeometricJacobian(support::ArmE(), PanelFromDeg({0, 45, 180, 0, 45, 0})));
  Eigen::Matrix<double, 6, 6> expected;
  expected << .15005, .014354, .319683, 0, 0, 0,  //
      .596303, 0, 0, 0, 0, 0,                     //
      0, .596303, .290974, 0, 0, 0,               //
      0, 0, 0, .707107, 0, 1,                     //
      0, -1, -1, 0, -1, 0,                        //
      1, 0, 0, -.707107, 0, 0;
  EXPECT_TRUE(((J - expected).array().abs() < 5e-7).all()) << J;
  EXPECT_NEAR(J.determinant(), -.0786172, 5e-8);
}

ArmModel RandomArm(std::mt19937_64& rng, int joint_count) {
  std::vector<DhRow> rows(static_cast<std::size_t>(joint_count));
  std::vector<JointSpec> joints = support::PlainJoints(joint_count);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    rows[i] = {support::Draw(rng, -900, 900), support::Draw(rng, -3, 3),
               support::Draw(rng, -900, 900), support::Draw(rng, -3, 3)};
    joints[i].sign = support::Draw(rng, -1, 1) < 0 ? -1 : 1;
    joints[i].zero_rad = support::Draw(rng, -3, 3);
  }
  if (joint_count > 2) joints[2].follows = JointFollow{1, support::Draw(rng, -1.5, 1.5)};
  if (joint_count > 4) joints[4].follows = JointFollow{1, support::Draw(rng, -1.5, 1.5)};
  return ArmModel::FromDhStandard(rows, joints);
}

// Oracle: central differences of the forward kinematics. With step h the error is
// h^2 * reach / 6 from the third derivative and 1e-16 * reach / h from rounding:
// below 1e-6 mm/rad for h = 1e-5 and a reach of 10 m.
TEST(JacobianTest, AgreesWithFiniteDifferencesWithSignsAndCoupling) {
  constexpr double kStep_rad = 1e-5;
  std::mt19937_64 rng(41);
  for (int trial = 0; trial < 200; ++trial) {
    const ArmModel arm = RandomArm(rng, 5 + trial % 4);
    const JointVector q = support::RandomPanelValues(rng, arm);
    const Eigen::Vector3d p_FQ = support::RandomVector(rng, 300.0);
    const Jacobian J = GeometricJacobian(arm, q, p_FQ);
    const Eigen::Matrix3d R_BF = FlangePose(arm, q).linear();
    for (Eigen::Index j = 0; j < q.size(); ++j) {
      JointVector ahead = q, behind = q;
      ahead[j] += kStep_rad, behind[j] -= kStep_rad;
      const Pose X_ahead = FlangePose(arm, ahead), X_behind = FlangePose(arm, behind);
      const Eigen::Vector3d v = (X_ahead * p_FQ - X_behind * p_FQ) / (2 * kStep_rad);
      const Eigen::Matrix3d spin =
          (X_ahead.linear() - X_behind.linear()) * R_BF.transpose() / (2 * kStep_rad);
      const Eigen::Vector3d w(spin(2, 1), spin(0, 2), spin(1, 0));
      EXPECT_LT((J.col(j).head<3>() - v).norm(), 2e-6) << "trial " << trial << " joint " << j + 1;
      EXPECT_LT((J.col(j).tail<3>() - w).norm(), 2e-9) << "trial " << trial << " joint " << j + 1;
    }
  }
}

// Source: KIN-26: abs(det J) is the product of the three singularity factors, any b.
TEST(JacobianTest, DeterminantIsTheProductOfTheSingularityFactors) {
  std::mt19937_64 rng(42);
  for (int trial = 0; trial < 500; ++trial) {
    SphericalWristParameters p;
    p.a1_mm = support::Draw(rng, -400, 400), p.a2_mm = support::Draw(rng, -200, 200);
    p.b_mm = support::Draw(rng, -200, 200), p.c1_mm = support::Draw(rng, 0, 900);
    p.c2_mm = support::Draw(rng, 200, 1300), p.c3_mm = support::Draw(rng, 200, 1300);
    p.c4_mm = support::Draw(rng, 0, 300);
    const ArmModel arm = ArmModel::FromSphericalWrist(p, support::ArmBJoints());
    const JointVector q = support::RandomPanelValues(rng, arm);
    const SingularityFactors f = Singularity(p, arm.ModelAngles(q));
    const double product_m3 =
        f.det_scale_mm2 * f.elbow_sin * f.shoulder_mm * f.wrist_sin / (kMm_m * kMm_m * kMm_m);
    const double det_m3 = InMetres(GeometricJacobian(arm, q)).determinant();
    EXPECT_NEAR(std::abs(det_m3), product_m3, 1e-12) << "trial " << trial;
  }
}

// Source: KIN-26, the two printed values.
TEST(JacobianTest, DeterminantsMatchThePublishedValues) {
  const JointVector q = PanelFromDeg({10, 20, 30, 40, 50, 60});
  const double a = InMetres(GeometricJacobian(support::ArmA(), q)).determinant();
  const double b = InMetres(GeometricJacobian(support::ArmB(), q)).determinant();
  EXPECT_NEAR(std::abs(a), .3622422595, 1e-9);
  EXPECT_NEAR(std::abs(b), .0213891479, 1e-9);
}

}  // namespace
}  // namespace aircut::kinematics
