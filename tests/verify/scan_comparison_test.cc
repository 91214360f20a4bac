// A scan of a piece against what a run predicted of it. Oracle: both are drawn from one
// closed form; what was added to the scan is what must be told.

#include <cmath>
#include <functional>
#include <limits>
#include <stdexcept>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "verify/scan_comparison.h"
#include "verify/scan_verdict.h"

namespace aircut::verify {
namespace {

using testing::HasSubstr;

using Height = std::function<double(double, double)>;
constexpr double kPi = 3.14159265358979323846;

// Sheet over [0, 120] x [0, 90], squares of `step` mm.
sim::Mesh Sheet(double step, const Height& z) {
  sim::Mesh mesh;
  const int nx = static_cast<int>(120 / step) + 1, ny = static_cast<int>(90 / step) + 1;
  for (int j = 0; j < ny; ++j) {
    for (int i = 0; i < nx; ++i) mesh.vertices.emplace_back(i * step, j * step, z(i * step, j * step));
  }
  for (int j = 0; j + 1 < ny; ++j) {
    for (int i = 0; i + 1 < nx; ++i) {
      const int a = j * nx + i;
      mesh.triangles.push_back({a, a + 1, a + nx + 1});
      mesh.triangles.push_back({a, a + nx + 1, a + nx});
    }
  }
  return mesh;
}

// A bowed face with a shallow dish carved into it, off its middle.
double DishShare(double x, double y) {
  const double r2 = ((x - 55) * (x - 55) / 900 + (y - 40) * (y - 40) / 400);
  return r2 < 1 ? (1 - r2) * (1 - r2) : 0.0;
}
double Carved(double x, double y) { return 5e-4 * x * x + 2e-4 * x * y - 2 * DishShare(x, y); }

// Predicted to lie 0.03 mm above the design all over the dish.
PredictedSurface Predicted() {
  PredictedSurface p;
  p.mesh_S = Sheet(0.75, Carved);
  p.voxel_mm = 0.2;
  for (const auto& v : p.mesh_S.vertices) {
    const bool dish = DishShare(v.x(), v.y()) > 0;
    p.deviation_mm.push_back(dish ? 0.03F : std::numeric_limits<float>::quiet_NaN());
    p.line.push_back(dish ? 10.0F + std::floor(static_cast<float>(v.y())) : std::numeric_limits<float>::quiet_NaN());
  }
  return p;
}

// A round dent (< 0) or bump of 3 mm radius about (60, 45).
Height WithDent(double depth_mm) {
  return [depth_mm](double x, double y) {
    const double r2 = ((x - 60) * (x - 60) + (y - 45) * (y - 45)) / 9;
    return Carved(x, y) + (r2 < 1 ? depth_mm * (1 - r2) : 0.0);
  };
}

ScanComparison CompareWith(const Height& z) { return CompareWithScan(Predicted(), Sheet(0.6, z), 1.0); }

TEST(ScanComparisonTest, PieceAsPredictedIsCovered) {
  const ScanComparison c = CompareWith(Carved);
  EXPECT_TRUE(c.regions.empty());
  EXPECT_GT(c.seen_share, 0.999);
  EXPECT_NEAR(c.carving_mm2, kPi * 30 * 20, 0.02 * kPi * 30 * 20);   // of the ellipse
  EXPECT_NEAR(c.mean_mm, 0, 0.002);
  EXPECT_EQ(c.covered_share, 1);
  EXPECT_NEAR(c.predicted_p95_mm, 0.03, 1e-6);
  EXPECT_NEAR(c.measured_p95_mm, 0.03, 0.005);
  EXPECT_EQ(JudgeScan(c, 0.2).result, Result::kPass);
}

// The dent is as deep as d (1 - r^2 / 9): it passes the bound within r = 3 sqrt(1 - bound / d).
TEST(ScanComparisonTest, DentThatNobodyPredictedIsFound) {
  const ScanComparison c = CompareWith(WithDent(-0.5));
  ASSERT_EQ(c.regions.size(), 1U);
  const ScanRegion& r = c.regions.front();
  EXPECT_EQ(r.kind, ScanRegion::Kind::kDeeper);
  EXPECT_NEAR(r.worst_mm, 0.5, 0.02);
  EXPECT_LE((r.at_S.head<2>() - Eigen::Vector2d(60, 45)).norm(), 0.8);
  const double area = kPi * 9 * (1 - c.bound_mm / 0.5);
  EXPECT_NEAR(r.area_mm2, area, 0.15 * area);
  EXPECT_LE(r.first_line, 10 + 43);
  EXPECT_GE(r.last_line, 10 + 46);
  const ScanVerdict verdict = JudgeScan(c, 0.2);
  EXPECT_EQ(verdict.result, Result::kFail);
  EXPECT_THAT(verdict.why, HasSubstr("deeper than predicted"));
}

TEST(ScanComparisonTest, BumpIsHigher) {
  const ScanComparison c = CompareWith(WithDent(0.3));
  ASSERT_EQ(c.regions.size(), 1U);
  EXPECT_EQ(c.regions.front().kind, ScanRegion::Kind::kHigher);
}

// A mark of a clash on the face, and a strip of tape: the mark is wrong, the tape is told.
TEST(ScanComparisonTest, BesideTheCarvingMissingMaterialIsWrong) {
  const auto with = [](double mm) {
    return CompareWith([mm](double x, double y) {
      const double r2 = ((x - 100) * (x - 100) + (y - 75) * (y - 75)) / 16;
      return Carved(x, y) + (r2 < 1 ? mm * (1 - r2) : 0.0);
    });
  };
  const ScanComparison mark = with(-0.4), tape = with(0.4);
  ASSERT_EQ(mark.regions.size(), 1U);
  EXPECT_EQ(mark.regions.front().place, ScanRegion::Place::kBeside);
  EXPECT_NEAR(mark.regions.front().worst_mm, 0.4, 0.02);
  EXPECT_EQ(JudgeScan(mark, 0.2).result, Result::kFail);
  ASSERT_EQ(tape.regions.size(), 1U);
  EXPECT_EQ(tape.regions.front().kind, ScanRegion::Kind::kHigher);
  EXPECT_EQ(JudgeScan(tape, 0.2).result, Result::kPass);
}

// Just inside the bound: nothing is told.
TEST(ScanComparisonTest, DentWithinTheBoundStaysQuiet) {
  const double bound = CompareWith(Carved).bound_mm;
  EXPECT_TRUE(CompareWith(WithDent(-0.8 * bound)).regions.empty());
  EXPECT_FALSE(CompareWith(WithDent(-1.5 * bound)).regions.empty());
}

// A hole in the scan is not seen, and nothing beside it is taken for it.
TEST(ScanComparisonTest, HoleOfTheScanIsNotSeen) {
  sim::Mesh scan = Sheet(0.6, Carved), open;
  open.vertices = scan.vertices;
  for (const auto& t : scan.triangles) {
    if ((scan.vertices[static_cast<std::size_t>(t[0])].head<2>() - Eigen::Vector2d(55, 40)).norm() > 12) open.triangles.push_back(t);
  }
  const ScanComparison c = CompareWithScan(Predicted(), open, 1.0);
  const double hole = 144.0 / 600;   // of the ellipse's area
  EXPECT_NEAR(c.seen_share, 1 - hole, 0.03);
  EXPECT_TRUE(c.regions.empty());
  const ScanVerdict verdict = JudgeScan(c, 0.2);
  EXPECT_EQ(verdict.result, Result::kUnproven);
  EXPECT_THAT(verdict.why, HasSubstr("% of the carving only"));
}

TEST(ScanComparisonTest, LimitIsHeldOnBothSidesOfTheBound) {
  ScanComparison c = CompareWith(Carved);
  c.measured_p95_mm = 0.3;
  EXPECT_EQ(JudgeScan(c, 0.3 + 1.1 * c.bound_mm).result, Result::kPass);
  EXPECT_EQ(JudgeScan(c, 0.3 + 0.9 * c.bound_mm).result, Result::kUnproven);
  EXPECT_EQ(JudgeScan(c, 0.3 - 0.9 * c.bound_mm).result, Result::kUnproven);
  EXPECT_EQ(JudgeScan(c, 0.3 - 1.1 * c.bound_mm).result, Result::kFail);
  EXPECT_EQ(JudgeScan(c, std::nullopt).result, Result::kUnproven);
}

TEST(ScanComparisonTest, FitThatIsOpenNeverPasses) {
  ScanComparison c = CompareWith(Carved);
  for (const auto state : {sim::ScanFitState::kNotFound, sim::ScanFitState::kTwoWays}) {
    c.fit.state = state;
    EXPECT_EQ(JudgeScan(c, 10).result, Result::kUnproven);
  }
  c.fit.state = sim::ScanFitState::kSettled;
  EXPECT_EQ(JudgeScan(c, 10).result, Result::kPass);
  c.fit.cut_offset_mm.reset();
  EXPECT_EQ(JudgeScan(c, 10).result, Result::kUnproven);
}

TEST(ScanComparisonTest, ColumnsOfAnotherLengthAreAWrongCall) {
  PredictedSurface p = Predicted();
  p.line.pop_back();
  EXPECT_THROW(CompareWithScan(p, p.mesh_S, 1.0), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::verify
