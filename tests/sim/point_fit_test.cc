#include "sim/point_fit.h"

#include <cmath>
#include <limits>
#include <stdexcept>

#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <Eigen/LU>

namespace aircut::sim {
namespace {

using Eigen::Matrix3d;
using Eigen::MatrixXd;
using Eigen::Vector3d;

// Oracle: REG-01, scikit-surgery test_reflection_BARD_data: R, t printed to 8 and
// 5 decimals; a plain singular value decomposition gives a mirror image here.
TEST(PointFitTest, MirrorImageIsNotReturnedForMeasuredPoints) {
  MatrixXd moving(3, 4), fixed(3, 4);
  moving << 37.82, 310.9, 171.98, 176.56,
            52.99, 70.36, 57.59, 71.3,
            -191, -196.5, -376.96, -7.42;
  fixed << -70.606253, -82.902905, 106.198414, -265.859557,
           -43.407313, 236.568572, 105.436578, 95.566193,
           -76.781453, -62.480635, -63.477521, -73.356145;
  const PointFit fit = FitPoints(moving, fixed, FitScale::kOne);
  Matrix3d R;
  R << -.04933494, -.01438556, -.99867869,
       .99212873, .11451658, -.05066094,
       .11509405, -.99331717, .00862266;
  EXPECT_LT((fit.R - R).cwiseAbs().maxCoeff(), 1e-7);
  EXPECT_LT((fit.t - Vector3d(-261.50063, -91.39937, -24.78406)).cwiseAbs().maxCoeff(), 1e-5);
  EXPECT_NEAR(std::sqrt(fit.mean_square), 4.19710, 1e-5);
  EXPECT_NEAR(fit.R.determinant(), 1.0, 1e-12);
}

// Oracle: REG-02, scikit-surgery.
TEST(PointFitTest, RotationIsPreferredToReflection) {
  MatrixXd fixed(3, 4), moving(3, 4);
  fixed << 0, 0, 2, 4, 1, 0, 0, 0, 0, 0, 0, 0;
  moving << 0, 0, -2, -4, 1, 0, 0, 0, 0, 0, 0, 0;
  const PointFit fit = FitPoints(moving, fixed, FitScale::kOne);
  EXPECT_LT((fit.R - Matrix3d(Vector3d(-1, 1, -1).asDiagonal())).cwiseAbs().maxCoeff(), 1e-7);
  EXPECT_LT(fit.t.norm(), 1e-7);
  EXPECT_LT(fit.mean_square, 1e-14);
}

// Oracle: REG-03, Umeyama, IEEE PAMI 13(4) 1991, numeric example (from memory,
// recomputed): without his sign the fit is a mirror image.
TEST(PointFitTest, SimilarityInThePlaneTurnsInsteadOfMirroring) {
  MatrixXd x(2, 3), y(2, 3);
  x << 0, 1, 0, 0, 0, 2;
  y << 0, -1, 0, 0, 0, 2;
  const PointFit fit = FitPoints(x, y, FitScale::kFree);
  Eigen::Matrix2d R;
  R << .8320503, .5547002, -.5547002, .8320503;
  EXPECT_LT((fit.R - R).cwiseAbs().maxCoeff(), 1e-7);
  EXPECT_LT((fit.t - Eigen::Vector2d(-.8, .4)).cwiseAbs().maxCoeff(), 1e-7);
  EXPECT_NEAR(fit.scale, .7211103, 1e-7);
  EXPECT_NEAR(fit.mean_square, .5333333, 1e-7);
}

// Oracle: the similarity that was put in.
TEST(PointFitTest, SimilarityInSpaceIsRecovered) {
  const Matrix3d R = Eigen::AngleAxisd(2.5, Vector3d(1, -2, 0.5).normalized()).toRotationMatrix();
  MatrixXd x(3, 5);
  x << 0, 100, 20, 50, 10, 0, 0, 80, 30, 60, 0, 5, -10, 40, 15;
  const MatrixXd y = (25.4 * R * x).colwise() + Vector3d(1000, -300, 250);
  const PointFit fit = FitPoints(x, y, FitScale::kFree);
  EXPECT_NEAR(fit.scale, 25.4, 1e-12);
  EXPECT_LT((fit.R - R).cwiseAbs().maxCoeff(), 1e-12);
  EXPECT_LT(fit.mean_square, 1e-18);
}

TEST(PointFitTest, UnequalEmptyOrBadPointsThrow) {
  const MatrixXd three = MatrixXd::Zero(3, 3), four = MatrixXd::Zero(3, 4);
  EXPECT_THROW(FitPoints(three, four, FitScale::kOne), std::invalid_argument);
  EXPECT_THROW(FitPoints(MatrixXd(3, 0), MatrixXd(3, 0), FitScale::kOne), std::invalid_argument);
  MatrixXd bad = three;
  bad(1, 1) = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THROW(FitPoints(three, bad, FitScale::kOne), std::invalid_argument);
  EXPECT_THROW(FitPoints(bad, three, FitScale::kOne), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::sim
