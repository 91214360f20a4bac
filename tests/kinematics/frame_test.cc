#include "kinematics/frame.h"

#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "tests/support/random_pose.h"

namespace aircut::kinematics {
namespace {

constexpr double kRounding = 1e-14;

// Oracle: a pose maps the origin to its position and the axes to its columns.
TEST(FrameTest, MadePoseMapsOriginAndAxes) {
  std::mt19937_64 rng(11);
  const Eigen::Matrix3d R_AB = support::RandomRotation(rng);
  const Eigen::Vector3d p_AB(10, -20, 30);
  const Pose X_AB = MakePose(R_AB, p_AB);
  EXPECT_EQ((X_AB * Eigen::Vector3d::Zero()).eval(), p_AB);
  EXPECT_LT((X_AB * Eigen::Vector3d::UnitY() - p_AB - R_AB.col(1)).norm(), 1e-13);
  EXPECT_EQ(X_AB.matrix().row(3), Eigen::RowVector4d(0, 0, 0, 1));
}

// Oracle: rotations are rigid by construction; each damage breaks one condition.
TEST(FrameTest, RotationsAreRigidAndDamagedOnesAreNot) {
  std::mt19937_64 rng(12);
  for (int i = 0; i < 1000; ++i) {
    const Pose X = support::RandomPose(rng, 1e4);
    ASSERT_TRUE(IsRigid(X, 1e-12));
    Pose scaled = X, sheared = X, mirrored = X, stretched = X;
    scaled.linear() *= 1.0 + 1e-6;
    sheared.linear().col(0) += 1e-6 * X.linear().col(1);
    mirrored.linear().col(2) *= -1.0;
    stretched.linear().rightCols<2>() *= 1.0 + 1e-6;
    EXPECT_FALSE(IsRigid(scaled));
    EXPECT_FALSE(IsRigid(sheared));
    EXPECT_FALSE(IsRigid(mirrored));
    EXPECT_FALSE(IsRigid(stretched));
    EXPECT_TRUE(IsRigid(scaled, 1e-5));
  }
}

TEST(FrameTest, AnyEntryThatIsNotFiniteIsNotRigid) {
  for (const double bad : {std::numeric_limits<double>::quiet_NaN(),
                           std::numeric_limits<double>::infinity()}) {
    for (int row = 0; row < 3; ++row) {
      for (int column = 0; column < 4; ++column) {
        Pose X = Pose::Identity();
        X.matrix()(row, column) = bad;
        EXPECT_FALSE(IsRigid(X)) << row << ", " << column;
      }
    }
  }
}

// Oracle: the definition in the header: z along the axis, x in the half plane of `toward`.
TEST(FrameTest, RotationFromAxisFixesTheSpin) {
  std::mt19937_64 rng(13);
  for (int i = 0; i < 1000; ++i) {
    const Eigen::Vector3d axis = support::RandomVector(rng, 5.0);
    const Eigen::Vector3d toward = support::RandomVector(rng, 5.0);
    const Eigen::Matrix3d R = RotationFromAxis(axis, toward);
    ASSERT_TRUE(IsRigid(MakePose(R, Eigen::Vector3d::Zero()), kRounding));
    EXPECT_LT((R.col(2) - axis.normalized()).norm(), kRounding);
    EXPECT_NEAR(R.col(1).dot(toward.normalized()), 0.0, 1e-12);
    EXPECT_GT(R.col(0).dot(toward), 0.0);
  }
}

// Oracle: definition of a rotation; close to the axis a plain cross product keeps
// too few digits to be square.
TEST(FrameTest, RotationFromAxisStaysSquareCloseToTheAxis) {
  std::mt19937_64 rng(14);
  for (int i = 0; i < 1000; ++i) {
    const Eigen::Vector3d axis = support::RandomVector(rng, 1.0).normalized();
    const Eigen::Vector3d aside = axis.cross(support::RandomVector(rng, 1.0)).normalized();
    const Eigen::Matrix3d R = RotationFromAxis(axis, axis + 2e-6 * aside);
    ASSERT_TRUE(IsRigid(MakePose(R, Eigen::Vector3d::Zero()), kRounding)) << axis.transpose();
  }
}

// Oracle: the bound of 1e-6 rad in the header, just either side, along and against the axis.
TEST(FrameTest, RotationFromAxisRefusesADirectionAlongTheAxis) {
  const auto at = [](double angle_rad) {
    return Eigen::Vector3d(std::sin(angle_rad), 0, std::cos(angle_rad));
  };
  const Eigen::Vector3d axis(0, 0, 3);
  for (const double base_rad : {0.0, kPi}) {
    EXPECT_THROW(RotationFromAxis(axis, at(base_rad + 0.99e-6)), std::invalid_argument);
    const Eigen::Matrix3d R = RotationFromAxis(axis, at(base_rad + 1.01e-6));
    EXPECT_TRUE(IsRigid(MakePose(R, Eigen::Vector3d::Zero()), kRounding));
  }
  EXPECT_THROW(RotationFromAxis(axis, Eigen::Vector3d::Zero()), std::invalid_argument);
  EXPECT_THROW(RotationFromAxis(Eigen::Vector3d::Zero(), axis), std::invalid_argument);
  EXPECT_THROW(RotationFromAxis(axis, {NAN, 0, 1}), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::kinematics
