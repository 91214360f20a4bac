#include "kinematics/manipulability.h"

#include <cmath>
#include <random>

#include <Eigen/SVD>

#include <gtest/gtest.h>

#include "kinematics/jacobian.h"
#include "kinematics/singularity.h"
#include "tests/support/published_arms.h"

namespace aircut::kinematics {
namespace {

using support::kMm_m;

JointVector Radians(const std::vector<double>& q) {
  return Eigen::Map<const Eigen::VectorXd>(q.data(), static_cast<Eigen::Index>(q.size()));
}

const std::vector<double> kNominal = {0, kPi / 4, kPi, 0, kPi / 4, 0};   // KIN-05

double Index(const std::vector<double>& q, Rows rows) {
  return Manipulability(GeometricJacobian(support::ArmE(), Radians(q)), kMm_m, rows);
}

// Source: MAN-01 and MAN-02 (Yoshikawa, IJRR 4(2) 1985), printed digits.
TEST(ManipulabilityTest, PublishedIndicesOfTheTableArm) {
  EXPECT_NEAR(Index(kNominal, Rows::kAll), .0786, 5e-5);
  EXPECT_NEAR(Index(kNominal, Rows::kTranslation), .111181, 5e-7);
  EXPECT_NEAR(Index(kNominal, Rows::kRotation), 2.44949, 5e-6);
  const std::vector<double> turned = {0, kPi / 4, -kPi, 1, kPi / 4, 0};
  EXPECT_NEAR(Index(turned, Rows::kAll), .0786, 1e-4);
  EXPECT_NEAR(Index(turned, Rows::kTranslation), .1112, 1e-4);
  EXPECT_NEAR(Index(turned, Rows::kRotation), 2.5936, 1e-4);
}

// Source: MAN-03.
TEST(ManipulabilityTest, PublishedSingularValuesOfTheTableArm) {
  const JointVector values =
      SingularValues(support::ArmE(), Radians(kNominal), Eigen::Vector3d::Zero(), kMm_m);
  const double expected[] = {1.820968, 1.456072, 1.087623, .403544, .292489, .230969};
  ASSERT_EQ(values.size(), 6);
  for (int i = 0; i < 6; ++i) EXPECT_NEAR(values[i], expected[i], 1e-6);
}

// Source: MAN-04: named poses of the table arm.
TEST(ManipulabilityTest, NamedPosesAreSingular) {
  const ArmModel arm = support::ArmE();
  const auto values = [&](const std::vector<double>& q) {
    return SingularValues(arm, Radians(q), Eigen::Vector3d::Zero(), kMm_m);
  };
  EXPECT_NEAR(values({0, 0, 0, 0, 0, 0})[5], 0.0, 1e-6);
  const JointVector ready = values({0, kPi / 2, -kPi / 2, 0, 0, 0});
  EXPECT_NEAR(ready[5], 0.0, 1e-6);
  EXPECT_NEAR(ready[4], .008123, 1e-6);
  const JointVector stretched = values({0, 0, -kPi / 2, 0, 0, 0});
  EXPECT_NEAR(stretched[5], 0.0, 1e-6);
  EXPECT_NEAR(stretched[4], .008232, 1e-6);
  EXPECT_EQ(SmallestSingularValue(arm, Radians({0, 0, 0, 0, 0, 0}), Eigen::Vector3d::Zero(), kMm_m),
            values({0, 0, 0, 0, 0, 0})[5]);
}

// A planar arm of two joints: the rows that it has.
Eigen::Matrix2d Planar(double l1, double l2, double theta2) {
  std::vector<DhRow> rows = {{l1, 0, 0, 0}, {l2, 0, 0, 0}};
  const ArmModel arm = ArmModel::FromDhStandard(rows, support::PlainJoints(2));
  return GeometricJacobian(arm, Radians({0.3, theta2})).topRows<2>();
}

// Source: MAN-05 (Yoshikawa 1985, example of two links) and MAN-06 (Salisbury and
// Craig, IJRR 1(1) 1982).
TEST(ManipulabilityTest, PublishedValuesOfPlanarArms) {
  const struct { double theta2_deg, w, high, low, ratio; } rows[] = {
      {90, .8, 1.397196, .572575, 2.440197},
      {45, .5656854, 1.820669, .310702, 5.859856},
      {135, .5656854, .820669, .689298, 1.190586}};
  for (const auto& row : rows) {
    const Eigen::Matrix2d J = Planar(1, .8, RadFromDeg(row.theta2_deg));
    const Eigen::Vector2d sigma = Eigen::JacobiSVD<Eigen::Matrix2d>(J).singularValues();
    EXPECT_NEAR(std::abs(J.determinant()), row.w, 1e-6);
    EXPECT_NEAR(sigma[0], row.high, 1e-6);
    EXPECT_NEAR(sigma[1], row.low, 1e-6);
    EXPECT_NEAR(sigma[0] / sigma[1], row.ratio, 5e-6);
  }
  const Eigen::Vector2d even =
      Eigen::JacobiSVD<Eigen::Matrix2d>(Planar(std::sqrt(2.0), 1.0, RadFromDeg(135))).singularValues();
  EXPECT_NEAR(even[0], 1.0, 1e-12);
  EXPECT_NEAR(even[1], 1.0, 1e-12);
}

// Source: MAN-07 and KIN-26: the index does not feel the first and the last joint,
// and is the product of the three closed-form factors.
TEST(ManipulabilityTest, IndexIsThatOfTheFactorsWhateverTheFirstAndLastJoint) {
  const ArmModel arm = support::ArmA();
  std::mt19937 rng(7);
  std::uniform_real_distribution<double> angle(-2.5, 2.5);
  for (int i = 0; i < 200; ++i) {
    std::vector<double> q(6);
    for (double& value : q) value = angle(rng);
    const double w = Manipulability(GeometricJacobian(arm, Radians(q)), kMm_m);
    std::vector<double> turned = q;
    turned[0] += 1.0;
    turned[5] -= 2.0;
    EXPECT_NEAR(Manipulability(GeometricJacobian(arm, Radians(turned)), kMm_m), w, 1e-9);
    const SingularityFactors f = Singularity(support::ArmAParameters(), arm.ModelAngles(Radians(q)));
    const double product = f.det_scale_mm2 * f.elbow_sin * f.shoulder_mm * f.wrist_sin / (kMm_m * kMm_m * kMm_m);
    EXPECT_NEAR(w, product, 1e-9);
  }
}

}  // namespace
}  // namespace aircut::kinematics
