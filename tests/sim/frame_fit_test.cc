#include "sim/frame_fit.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "tests/support/fit_points.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;
using support::FitPointsAt;

Pose SomeFrame() {
  Pose X = Pose::Identity();
  X.translate(Vector3d(1200, -340, 815));
  X.rotate(Eigen::AngleAxisd(2.1, Vector3d(0.3, -0.2, 1.0).normalized()));
  return X;
}

// Adds normal errors whose 3D rms is `fle_mm`.
std::vector<FitPoint> WithNoise(std::vector<FitPoint> points, double fle_mm, std::mt19937_64* rng) {
  std::normal_distribution<double> error_mm(0.0, fle_mm / std::sqrt(3.0));
  for (FitPoint& p : points) {
    const double x = error_mm(*rng), y = error_mm(*rng), z = error_mm(*rng);
    p.p_W += Vector3d(x, y, z);
  }
  return points;
}

const std::vector<Vector3d> kSlanted = {{1, 1, 0}, {-.5, .5, 0}, {-1, -1, 0}, {.5, -.5, 0}};
const std::vector<Vector3d> kSquare = {{1, 1, 0}, {-1, 1, 0}, {-1, -1, 0}, {1, -1, 0}};

double FactorSquared(const std::vector<Vector3d>& places, const Vector3d& p_S) {
  const double f = TargetErrorFactor(FitFrame(FitPointsAt(places, SomeFrame())), p_S);
  return f * f;
}

// Oracle: REG-04 and REG-05, scikit-surgery test_tre_from_fle (Fitzpatrick, West,
// Maurer 1998, eq. 46).
TEST(FrameFitTest, TargetErrorFactorIsAsPublished) {
  EXPECT_NEAR(FactorSquared(kSlanted, {0, 0, 0}), 0.25, 1e-6);
  EXPECT_NEAR(FactorSquared(kSlanted, {2, 0, 0}), 1.35, 1e-6);
  EXPECT_NEAR(FactorSquared(kSquare, {2, 0, 0}), 0.75, 1e-6);
}

// Oracle: table B8 of the domain notes (computed there by the same formula): four
// points on a plate of 200 mm, at its centre, 150 mm above, 300 mm aside.
TEST(FrameFitTest, TargetErrorGrowsAwayFromThePlate) {
  const std::vector<Vector3d> plate = {{100, 100, 0}, {-100, 100, 0}, {-100, -100, 0}, {100, -100, 0}};
  const FrameFit fit = FitFrame(FitPointsAt(plate, SomeFrame()));
  EXPECT_NEAR(TargetErrorFactor(fit, {0, 0, 0}), .50, 0.005);
  EXPECT_NEAR(TargetErrorFactor(fit, {0, 0, 150}), .79, 0.005);
  EXPECT_NEAR(TargetErrorFactor(fit, {300, 0, 0}), 1.2, 0.05);
}

// Oracle: simulation with known errors, independent of the formula. REG-06: FRE^2 =
// (1 - 2/N) FLE^2 within 2 %; TRE as found at a place off the points (REG-04).
TEST(FrameFitTest, ResidualAndTargetErrorAgreeWithSimulation) {
  std::vector<Vector3d> places = kSlanted;
  for (Vector3d& p : places) p *= 100.0;
  const Pose X_WS = SomeFrame();
  const Vector3d target(200, 0, 0);
  const double fle_mm = 0.1;
  std::mt19937_64 rng(20260411);
  const int kRuns = 20000;
  double fre2 = 0.0, tre2 = 0.0, fle2 = 0.0;
  for (int i = 0; i < kRuns; ++i) {
    const FrameFit fit = FitFrame(WithNoise(FitPointsAt(places, X_WS), fle_mm, &rng));
    fre2 += fit.fre_mm * fit.fre_mm / kRuns;
    fle2 += fit.fle_mm * fit.fle_mm / kRuns;
    tre2 += (fit.X_WS * target - X_WS * target).squaredNorm() / kRuns;
  }
  EXPECT_NEAR(fre2 / (fle_mm * fle_mm), 0.5, 0.01);
  EXPECT_NEAR(fle2 / (fle_mm * fle_mm), 1.0, 0.02);
  EXPECT_NEAR(tre2 / (fle_mm * fle_mm), 1.35, 0.03);
}

// Oracle: REG-07, FRE^2 = FLE^2 / 3 for three points: what is left is a poor witness.
// The range of FLE holds the real one in 90 % of the runs, by simulation.
TEST(FrameFitTest, RangeOfErrorHoldsTheRealOneAsOftenAsStated) {
  for (const std::size_t count : {3u, 4u, 8u}) {
    std::vector<Vector3d> places = {{0, 0, 0}, {300, 0, 20}, {0, 200, 0}, {310, 190, -15},
                                    {150, 0, 60}, {150, 210, 40}, {20, 100, 5}, {280, 90, 30}};
    places.resize(count);
    std::mt19937_64 rng(77 + count);
    const int kRuns = 20000;
    double fre2 = 0.0;
    int too_high = 0, too_low = 0;
    for (int i = 0; i < kRuns; ++i) {
      const FrameFit fit = FitFrame(WithNoise(FitPointsAt(places, SomeFrame()), 0.05, &rng));
      fre2 += fit.fre_mm * fit.fre_mm / kRuns;
      too_low += RangeOfFle(fit).high_mm < 0.05 ? 1 : 0;
      too_high += RangeOfFle(fit).low_mm > 0.05 ? 1 : 0;
    }
    EXPECT_NEAR(fre2 / 0.0025, 1.0 - 2.0 / static_cast<double>(count), 0.02) << count;
    // 5 % each side; the cube-root quantile is a little on the safe side.
    EXPECT_LT(too_low, 0.054 * kRuns) << count;
    EXPECT_GT(too_low, 0.040 * kRuns) << count;
    EXPECT_NEAR(too_high, 0.05 * kRuns, 0.006 * kRuns) << count;
  }
}

// Oracle: the frame that was put in; moving everything in W moves only the frame.
TEST(FrameFitTest, ExactPointsGiveTheFrameBack) {
  const std::vector<Vector3d> places = {{0, 0, 0}, {400, 0, 0}, {0, 300, 0}, {400, 300, 50}};
  const FrameFit fit = FitFrame(FitPointsAt(places, SomeFrame()));
  ASSERT_EQ(fit.state, FitState::kSettled);
  EXPECT_LT((fit.X_WS.matrix() - SomeFrame().matrix()).cwiseAbs().maxCoeff(), 1e-9);
  EXPECT_TRUE(kinematics::IsRigid(fit.X_WS));
  EXPECT_LT(fit.fre_mm, 1e-9);
  EXPECT_EQ(fit.residual_W.size(), 4u);
  EXPECT_FALSE(fit.outlier.has_value());
  EXPECT_NEAR(fit.scale.factor, 1.0, 1e-12);
}

TEST(FrameFitTest, TooFewPointsOrALineSettleNothing) {
  EXPECT_EQ(FitFrame({}).state, FitState::kTooFew);
  EXPECT_EQ(FitFrame(FitPointsAt({{0, 0, 0}, {1, 0, 0}}, SomeFrame())).state, FitState::kTooFew);
  const std::vector<Vector3d> line = {{0, 0, 0}, {100, 100, 0}, {250, 250, 0}, {300, 300, 0}};
  EXPECT_EQ(FitFrame(FitPointsAt(line, SomeFrame())).state, FitState::kOnALine);
  const std::vector<Vector3d> one_place(4, Vector3d(5, 6, 7));
  EXPECT_EQ(FitFrame(FitPointsAt(one_place, SomeFrame())).state, FitState::kOnALine);
  // In S they spread, in W all rows are the same: a pasted column.
  std::vector<FitPoint> pasted = FitPointsAt(kSquare, SomeFrame());
  for (FitPoint& p : pasted) p.p_W = pasted[0].p_W;
  EXPECT_EQ(FitFrame(pasted).state, FitState::kOnALine);
  // A thin triangle is one still.
  const std::vector<Vector3d> thin = {{0, 0, 0}, {100, 0.1, 0}, {200, 0, 0}};
  EXPECT_EQ(FitFrame(FitPointsAt(thin, SomeFrame())).state, FitState::kSettled);
}

std::vector<Vector3d> Six() {
  return {{0, 0, 0}, {300, 0, 20}, {0, 200, 0}, {310, 190, -15}, {150, 0, 60}, {150, 210, 40}};
}

// Oracle: the point that was moved, and by how much.
TEST(FrameFitTest, OnePointThatSlippedIsNamed) {
  std::mt19937_64 rng(5);
  std::vector<FitPoint> points = WithNoise(FitPointsAt(Six(), SomeFrame()), 0.02, &rng);
  EXPECT_FALSE(FitFrame(points).outlier.has_value());
  points[3].p_W += Vector3d(0.0, 0.6, -0.8);
  const FrameFit fit = FitFrame(points);
  ASSERT_TRUE(fit.outlier.has_value());
  EXPECT_EQ(fit.outlier->point, 3);
  EXPECT_NEAR(fit.outlier->off_mm, 1.0, 0.1);
  EXPECT_LT(fit.outlier->fle_mm, 0.05);
}

// Two points that slipped, or one of four on a plane that is too high (each three
// of them fit without a remainder): nobody may be named.
TEST(FrameFitTest, NobodyIsNamedWhereItCannotBeTold) {
  std::mt19937_64 rng(6);
  std::vector<FitPoint> two = WithNoise(FitPointsAt(Six(), SomeFrame()), 0.02, &rng);
  two[1].p_W += Vector3d(0.9, 0, 0);
  two[4].p_W += Vector3d(0, 0, -0.9);
  EXPECT_FALSE(FitFrame(two).outlier.has_value());
  const std::vector<Vector3d> plate = {{0, 0, 0}, {200, 0, 0}, {200, 200, 0}, {0, 200, 0}};
  std::vector<FitPoint> flat = WithNoise(FitPointsAt(plate, SomeFrame()), 0.01, &rng);
  flat[2].p_W += SomeFrame().linear() * Vector3d(0, 0, 1.0);
  EXPECT_FALSE(FitFrame(flat).outlier.has_value());
}

// Oracle: the factor that was put in; the rigid fit is bad, the free one is not.
TEST(FrameFitTest, WrongScaleShowsAsAFactor) {
  for (const double factor : {25.4, 1.0 / 25.4, 1.002}) {
    std::mt19937_64 rng(9);
    std::vector<FitPoint> points = FitPointsAt(Six(), SomeFrame());
    for (FitPoint& p : points) p.p_S /= factor;
    points = WithNoise(points, 0.005, &rng);
    const FrameFit fit = FitFrame(points);
    EXPECT_NEAR(fit.scale.factor, factor, 1e-3 * factor);
    EXPECT_LT(fit.scale.fle_mm, 0.02);
    EXPECT_GT(fit.fle_mm, 10.0 * fit.scale.fle_mm);
  }
}

}  // namespace
}  // namespace aircut::sim
