#include "kinematics/joint_rates.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "kinematics/curve_stretches.h"
#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

// Twist of T in B that joint rates make, by differences of forward kinematics.
Twist TwistOf(const ArmModel& arm, const JointVector& q, const JointVector& qd) {
  const double h = 1e-6;
  const Pose X_BT0 = FlangePose(arm, q - h * qd) * SpindleInFlange();
  const Pose X_BT1 = FlangePose(arm, q + h * qd) * SpindleInFlange();
  Twist twist;
  twist.head<3>() = (X_BT1.translation() - X_BT0.translation()) / (2.0 * h);
  const Eigen::AngleAxisd turn(
      Eigen::Quaterniond(X_BT1.linear() * X_BT0.linear().transpose()));
  twist.tail<3>() = turn.axis() * turn.angle() / (2.0 * h);
  return twist;
}

// Oracle: central differences of forward kinematics, error h^2 times 2.7 m.
TEST(JointRatesTest, RatesMakeTheTwistTheyWereAskedFor) {
  const ArmModel arm = InventedArm::Make();
  std::mt19937_64 rng(8);
  std::uniform_real_distribution<double> angle_rad(-1.0, 1.0);
  for (int run = 0; run < 100; ++run) {
    JointVector q(6), qd(6);
    for (Eigen::Index j = 0; j < 6; ++j) q[j] = angle_rad(rng);
    for (Eigen::Index j = 0; j < 6; ++j) qd[j] = angle_rad(rng);
    q[4] = 0.3 + 0.5 * std::abs(q[4]);   // away from the straight wrist
    q[2] = 0.5 + 0.5 * std::abs(q[2]);   // and the straight elbow
    const JointRates rates(arm, q, SpindleInFlange().translation());
    const auto solved = rates.Solve(TwistOf(arm, q, qd));
    ASSERT_TRUE(solved.has_value());
    EXPECT_LT((*solved - qd).norm(), 1e-5) << "run " << run;
    EXPECT_NEAR(rates.TipSpeed(qd), TwistOf(arm, q, qd).head<3>().norm(), 1e-3);
  }
}

// Oracle: with the wrist straight joints 4 and 6 are one axis: what other joints
// make can be followed, a tilt about the third axis cannot.
TEST(JointRatesTest, StraightWristFollowsWhatItCanAndRefusesTheRest) {
  const ArmModel arm = InventedArm::Make();
  const JointVector q = Joints6({10, 20, 40, 0, 0, 0});
  const JointRates rates(arm, q, SpindleInFlange().translation());
  JointVector qd(6);
  qd << 0.3, -0.2, 0.5, 0.1, 0.4, 0.1;   // joints 4 and 6 equal: the smallest of all ways
  const auto solved = rates.Solve(TwistOf(arm, q, qd));
  ASSERT_TRUE(solved.has_value());
  EXPECT_LT((*solved - qd).norm(), 1e-5);
  // About the axis square to joints 4, 5 and 6, with the wrist centre at rest.
  const Pose X_BF = FlangePose(arm, q);
  const Eigen::Vector3d p_BC = X_BF * Eigen::Vector3d(0, 0, -InventedArm::Parameters().c4_mm);
  Twist tilt;
  tilt.tail<3>() = X_BF.linear().col(0);
  tilt.head<3>() = tilt.tail<3>().cross(X_BF * SpindleInFlange().translation() - p_BC);
  EXPECT_FALSE(rates.Solve(tilt).has_value());
}

// Oracle: the derivative of the cubic itself, sampled.
TEST(JointRatesTest, BoundsEncloseACubicTightly) {
  std::mt19937_64 rng(9);
  std::uniform_real_distribution<double> unit(-1.0, 1.0);
  for (int run = 0; run < 500; ++run) {
    const double c1 = unit(rng), c2 = unit(rng), c3 = unit(rng), length = 0.5 + std::abs(unit(rng));
    const auto slope = [&](const double s) { return c1 + (2 * c2 + 3 * c3 * s) * s; };
    JointVector step(1), from(1), to(1);
    step << (c1 + (c2 + c3 * length) * length) * length;
    from << slope(0.0);
    to << slope(length);
    const RateBounds bounds = BoundRates(step, from, to, length);
    double peak = 0.0, curvature = 0.0;
    for (int k = 0; k <= 1000; ++k) {
      const double s = length * k / 1000.0;
      peak = std::max(peak, std::abs(slope(s)));
      curvature = std::max(curvature, std::abs(2 * c2 + 6 * c3 * s));
    }
    EXPECT_GE(bounds.peak[0], peak - 1e-12);
    EXPECT_LE(bounds.peak[0], peak + std::abs(0.5 * c3 * length * length) + 1e-12);
    EXPECT_NEAR(bounds.curvature[0], curvature, 1e-9);
  }
}

}  // namespace
}  // namespace aircut::kinematics
