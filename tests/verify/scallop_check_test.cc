// Ridges between passes, on cuts made by the exact rays.
#include <cmath>
#include <functional>
#include <memory>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "tests/support/simple_tracks.h"
#include "verify/cross_lines.h"
#include "verify/ridges.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using sim::Cutter;
using support::Check;
using support::MadeRun;
using testing::HasSubstr;

// A face that is the same all along y: place and normal over the way across it.
struct Face {
  std::function<Vector3d(double)> at, normal;
};

Face Flat() {
  return {[](double u) { return Vector3d(u, 0, -1); }, [](double) { return Vector3d(0, 0, 1); }};
}
Face Slope45() {
  const double c = std::sqrt(0.5);
  return {[c](double u) { return Vector3d(c * u, 0, -4 - c * u); }, [c](double) { return Vector3d(c, 0, c); }};
}
Face Convex(double rho) {
  return {[rho](double u) { return Vector3d(rho * std::sin(u / rho), 0, -1 - rho + rho * std::cos(u / rho)); },
          [rho](double u) { return Vector3d(std::sin(u / rho), 0, std::cos(u / rho)); }};
}
Face Concave(double rho) {
  return {[rho](double u) { return Vector3d(rho * std::sin(u / rho), 0, -2 + rho - rho * std::cos(u / rho)); },
          [rho](double u) { return Vector3d(-std::sin(u / rho), 0, std::cos(u / rho)); }};
}

struct Passes {
  Face face = Flat();
  double ball_mm = 3.0;              // tip radius that rides on the face
  std::vector<double> at = {-2, -1, 0, 1, 2};
  double spacing_mm = 0.05;
  bool upright_rays = false;         // depth along z instead of the face's normal
  double half_mm = 1.8;              // samples reach this far to both sides
};

// Zigzag along y, on the face; samples over the middle of it.
MadeRun CutPasses(const Passes& p, const Cutter& cutter) {
  MadeRun made = support::MakeRun();
  std::vector<Vector3d> tips;
  for (std::size_t n = 0; n < p.at.size(); ++n) {
    const Vector3d tip = p.face.at(p.at[n]) + p.ball_mm * (p.face.normal(p.at[n]) - Vector3d::UnitZ());
    for (const double y : {n % 2 == 0 ? -20.0 : 20.0, n % 2 == 0 ? 20.0 : -20.0}) tips.push_back(tip + Vector3d(0, y, 0));
  }
  made.run.track = sim::UprightTrack(cutter, tips);
  made.job.stock_S = sim::Block(60, 60, 30);
  made.job.design = {};
  made.run.samples.clear();
  std::vector<sim::DepthRay> rays;
  const int half = static_cast<int>(std::lround(p.half_mm / p.spacing_mm));
  for (int column = -half; column <= half; ++column) {
    for (int row = -6; row <= 6; ++row) {
      const double u = p.spacing_mm * column;
      sim::DesignSample s;
      s.ray = {p.face.at(u) + Vector3d(0, p.spacing_mm * row, 0), p.upright_rays ? Vector3d::UnitZ() : p.face.normal(u)};
      s.area_mm2 = p.spacing_mm * p.spacing_mm;
      made.run.samples.push_back(s);
      rays.push_back(s.ray);
    }
  }
  made.run.sample_spacing_mm = p.spacing_mm;
  made.run.depths = sim::CutRays(*made.job.stock_S, made.run.track, rays, 1.0, 1);
  made.run.grid_gaps.assign(rays.size(), {0.0f, 0.25f});
  return made;
}

// The face as a target mesh: strips so narrow that their sag is 1.3e-6 mm at radius 10.
std::shared_ptr<const sim::MeshIndex> StripsOf(const Face& face) {
  sim::Mesh mesh;
  for (int n = -300; n <= 300; ++n) {
    for (const double y : {-10.0, 10.0}) mesh.vertices.push_back(face.at(0.01 * n) + Vector3d(0, y, 0));
    if (n == -300) continue;
    const int k = static_cast<int>(mesh.vertices.size()) - 4;
    mesh.triangles.push_back({k, k + 2, k + 3});
    mesh.triangles.push_back({k, k + 3, k + 1});
  }
  return std::make_shared<const sim::MeshIndex>(std::move(mesh));
}

double HighestRidge(const MadeRun& made) {
  const Deviation deviation = Measure(made.job, made.run);
  double highest = 0.0;
  for (const Ridge& r : FindRidges({made.job, made.run, deviation})) highest = std::max(highest, r.height_mm);
  return highest;
}

double HighestPredicted(const MadeRun& made) {
  const Deviation deviation = Measure(made.job, made.run);
  const CheckInputs in{made.job, made.run, deviation};
  double highest = 0.0;
  for (const Ridge& r : FindRidges(in)) highest = std::max(highest, PredictedHeight(in, r));
  return highest;
}

CheckResult ScallopWithin(const MadeRun& made, double limit_mm) {
  sim::Job job = made.job;
  job.accept.scallop_mm = {limit_mm, true};
  return CheckScallop({job, made.run, Measure(job, made.run)});
}

TEST(ScallopTest, HeightOnAFlatFaceIsThatOfTheTables) {
  EXPECT_NEAR(*RidgeHeight(Cutter::Ball(6, 20), 0.5), 0.0104348, 1e-7);         // MAT-16
  EXPECT_NEAR(*RidgeHeight(Cutter::Ball(0.25, 2), 0.020), 0.00040064, 5e-9);    // MAT-17, in inches
  EXPECT_NEAR(*RidgeHeight(Cutter::Ball(6, 20), 1), 0.0419601, 1e-7);           // MAT-18
  EXPECT_NEAR(*RidgeHeight(Cutter::Ball(10, 20), 3), 0.2303040, 1e-7);
  EXPECT_NEAR(*RidgeHeight(Cutter::Ball(12.7, 20), 1.27), 0.0318298, 1e-7);
  EXPECT_NEAR(*RidgeHeight(Cutter::Ball(6, 20), 0.4894895), 0.01, 1e-7);        // MAT-22
  EXPECT_NEAR(*RidgeHeight(Cutter::Ball(6, 20), 0.3462658), 0.005, 1e-7);
}

// Oracle: by hand. Two flanks of half the V's angle meet half a stepover up their slope; a
// round tip of radius r has its sharp apex r (1 / sin 30 - 1) below its end.
TEST(ScallopTest, HeightOfAVFollowsItsAngle) {
  const double angle = 3.14159265358979 / 3.0;
  EXPECT_NEAR(*RidgeHeight(Cutter::V(angle, 0.0, 12, 20), 1.0), 0.5 * std::sqrt(3.0), 1e-6);
  EXPECT_NEAR(*RidgeHeight(Cutter::V(angle, 0.1, 12, 20), 1.0), 0.5 * std::sqrt(3.0) - 0.1, 1e-6);
  EXPECT_NEAR(*RidgeHeight(Cutter::V(angle, 0.1, 12, 20), 0.1), 0.1 - std::sqrt(0.01 - 0.0025), 1e-6);
  EXPECT_FALSE(RidgeHeight(Cutter::V(angle, 0.0, 12, 20), 12.0).has_value());   // they do not overlap
}

TEST(ScallopTest, RaysMeasureWhatTheTablesSay) {
  struct Row { const char* id; Passes passes; double ball_mm, expected_mm; };
  const auto scaled = [](double s) { return std::vector<double>{-2 * s, -s, 0, s, 2 * s}; };
  const Row rows[] = {
      {"MAT-16", {Flat(), 3, scaled(0.5), 0.05}, 3, 0.0104348},
      {"MAT-18", {Flat(), 5, scaled(3), 0.05, false, 3.3}, 5, 0.2303040},
      {"MAT-18", {Flat(), 6.35, scaled(1.27), 0.0635}, 6.35, 0.0318298},
      {"MAT-19", {Convex(10), 3, scaled(1), 0.05}, 3, 0.0549564},
      {"MAT-19", {Convex(20), 3, scaled(1), 0.05}, 3, 0.0484209},
      {"MAT-19", {Convex(50), 3, scaled(1), 0.05}, 3, 0.0445362},
      {"MAT-20", {Concave(10), 3, scaled(1), 0.05}, 3, 0.0292177},
      {"MAT-20", {Concave(20), 3, scaled(1), 0.05}, 3, 0.0355626},
      {"MAT-20", {Concave(50), 3, scaled(1), 0.05}, 3, 0.0393941},
      {"MAT-21", {Slope45(), 3, scaled(std::sqrt(2.0)), std::sqrt(2.0) / 20}, 3, 0.0845241},
  };
  for (const Row& row : rows) {
    MadeRun made = CutPasses(row.passes, Cutter::Ball(2 * row.ball_mm, 22));
    EXPECT_NEAR(HighestRidge(made), row.expected_mm, 1e-6) << row.id << " " << row.expected_mm;
    made.job.design.mesh_S = StripsOf(row.passes.face);
    EXPECT_NEAR(HighestPredicted(made), row.expected_mm, 5e-6) << row.id << " " << row.expected_mm;
  }
}

// MAT-21 along upright rays: no sample meets the ridge's top, which stands aside of the
// face's own half way; what is hidden covers that.
TEST(ScallopTest, UprightRaysOnASlopeMeasureAlongItsNormal) {
  const double s = std::sqrt(2.0);
  const MadeRun made = CutPasses({Slope45(), 3, {-2 * s, -s, 0, s, 2 * s}, s / 20, true}, Cutter::Ball(6, 22));
  const Deviation deviation = Measure(made.job, made.run);
  double highest = 0.0, high = 0.0;
  for (const Ridge& r : FindRidges({made.job, made.run, deviation})) {
    highest = std::max(highest, r.height_mm);
    high = std::max(high, r.height_mm + r.hidden_mm);
  }
  EXPECT_LT(highest, 0.0845241 + 1e-6);
  EXPECT_GT(high, 0.0845241);
  EXPECT_NEAR(highest, 0.0845241, 0.005);
}

TEST(ScallopTest, VGroovesSideBySideLeaveTheRidgeOfTheirAngle) {
  const Cutter v = Cutter::V(3.14159265358979 / 3.0, 0.0, 12, 20);
  Passes passes;
  passes.ball_mm = 0.0;
  const MadeRun made = CutPasses(passes, v);
  EXPECT_NEAR(HighestRidge(made), 0.5 * std::sqrt(3.0), 1e-6);
  EXPECT_NEAR(HighestPredicted(made), 0.5 * std::sqrt(3.0), 1e-6);
}

// MAT-18: R 3, s 1 makes 0.04196 mm. Between samples 0.05 mm apart 0.007 mm may hide.
TEST(ScallopTest, LimitsOnBothSidesAndBetweenAreToldApart) {
  const MadeRun made = CutPasses({}, Cutter::Ball(6, 22));
  EXPECT_EQ(ScallopWithin(made, 0.055).result, Result::kPass);
  EXPECT_EQ(ScallopWithin(made, 0.043).result, Result::kUnproven);
  const CheckResult fails = ScallopWithin(made, 0.039);
  ASSERT_EQ(fails.result, Result::kFail);
  EXPECT_NEAR(*fails.worst, 0.0419601, 1e-6);
  EXPECT_THAT(fails.why, HasSubstr("Ridges between passes would stand 0.042 mm high at"));
  EXPECT_THAT(fails.why, HasSubstr("(limit 0.04 mm)"));
  EXPECT_THAT(fails.why, HasSubstr("passes lie 1 mm apart there, which makes ridges of 0.042 mm"));
  ASSERT_FALSE(fails.findings.empty());
  EXPECT_EQ(fails.findings[0].lines.size(), 2u);
}

TEST(ScallopTest, DefaultLimitIsMarkedAsAssumed) {
  const CheckResult r = Check(CutPasses({}, Cutter::Ball(6, 22)), CheckScallop);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_TRUE(r.assumed);
  EXPECT_THAT(r.why, HasSubstr("(default limit 0.15 mm)"));
}

// Samples as far apart as the passes see no ridge; that proves nothing.
TEST(ScallopTest, SamplesTooFarApartLeaveItUnproven) {
  Passes passes;
  passes.spacing_mm = 0.75;
  const CheckResult r = ScallopWithin(CutPasses(passes, Cutter::Ball(6, 22)), 0.055);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, HasSubstr("could hide"));
  ASSERT_EQ(r.needs.size(), 1u);
  EXPECT_THAT(r.needs[0], HasSubstr("resolution_mm"));
}

// MAT-18 again, R 3, s 1: 0.04196 mm. Samples that see no ridge leave it open, lines of rays
// across the passes do not: they need the design's height beside the samples.
TEST(ScallopTest, LinesOfRaysDecideWhatTheSamplesLeaveOpen) {
  Passes passes;
  passes.spacing_mm = 0.75;
  MadeRun made = CutPasses(passes, Cutter::Ball(6, 22));
  made.job.design.depth_below_stock_mm = 1.0;
  EXPECT_EQ(ScallopWithin(made, 0.055).result, Result::kPass);
  const CheckResult fails = ScallopWithin(made, 0.036);
  ASSERT_EQ(fails.result, Result::kFail);
  EXPECT_LE(*fails.worst, 0.0419601 + 1e-6);
  EXPECT_GT(*fails.worst, 0.0419601 - 0.004);   // between two rays of a line
  made.job.design.depth_below_stock_mm.reset();
  made.job.design.mesh_S = StripsOf(Flat());
  EXPECT_EQ(ScallopWithin(made, 0.055).result, Result::kPass);
}

TEST(ScallopTest, LinesMeasureWhatTheTablesSay) {
  struct Row { const char* id; double ball_mm, step_mm, expected_mm; };
  for (const Row& row : {Row{"MAT-16", 3, 0.5, 0.0104348}, Row{"MAT-18", 5, 3, 0.2303040}, Row{"MAT-18", 6.35, 1.27, 0.0318298}}) {
    Passes passes;
    passes.ball_mm = row.ball_mm;
    for (double& at : passes.at) at *= row.step_mm;
    MadeRun made = CutPasses(passes, Cutter::Ball(2 * row.ball_mm, 22));
    made.job.design.depth_below_stock_mm = 1.0;
    const Deviation deviation = Measure(made.job, made.run);
    const CheckInputs in{made.job, made.run, deviation};
    const Eigen::Vector3d& middle = made.run.samples[made.run.samples.size() / 2].ray.p_SQ;
    EXPECT_NEAR(middle.norm(), 1.0, 1e-9);   // below the origin: in the middle of a pass
    const auto pairs = MeasureAcross(in, {{static_cast<int>(made.run.samples.size() / 2), Vector3d::UnitX(), 1.6 * row.step_mm,
                                           row.step_mm / kRaysAcross}}).front();
    int measured = 0;
    for (const CrossPair& pair : pairs) {
      if (!(pair.ridge_hidden_mm > 0.0)) continue;
      ++measured;
      EXPECT_NEAR(pair.apart_mm, row.step_mm, 1e-9) << row.id;
      EXPECT_LE(pair.ridge_mm, row.expected_mm + 1e-7) << row.id;
      EXPECT_GE(pair.ridge_mm + pair.ridge_hidden_mm, row.expected_mm - 1e-7) << row.id;
      EXPECT_LT(pair.ridge_hidden_mm, 0.15 * row.expected_mm + 0.003) << row.id;
    }
    EXPECT_EQ(measured, 2) << row.id;   // on both sides of the middle pass
  }
}

// A valley of two slopes of 45 degrees. Oracle: by hand. A ball of 3 mm that lies in it stands
// 3 (sqrt 2 - 1) mm over its bottom, however close the passes lie. Those next to the bottom
// are 0.636 mm apart, which makes a ridge of 0.017 mm on a flat face; over what a ball can
// reach it is 0.335 - 0.284 mm (see the heights three quarters of 0.636 mm beside). On the
// slopes 1 mm makes 0.042 mm.
TEST(ScallopTest, WhatABallLeavesInACreaseIsNoRidge) {
  MadeRun made = support::MakeRun();
  std::vector<Vector3d> tips;
  for (const double up : {6.45, 5.45, 4.45, 3.45, -3.45, -4.45, -5.45, -6.45}) {
    const double t = std::abs(up), side = up > 0 ? -1.0 : 1.0, c = std::sqrt(0.5);
    const Vector3d tip(side * c * (t - 3), 0, -9 + c * (t + 3) - 3);
    const double from = tips.size() % 4 == 0 ? -20.0 : 20.0;
    tips.push_back(tip + Vector3d(0, from, 0));
    tips.push_back(tip - Vector3d(0, from, 0));
  }
  made.run.track = sim::UprightTrack(Cutter::Ball(6, 22), tips);
  made.job.stock_S = sim::Block(60, 60, 30);
  made.job.design = {};
  sim::Mesh valley;
  valley.vertices = {{-8, -15, -1}, {-8, 15, -1}, {0, -15, -9}, {0, 15, -9}, {8, -15, -1}, {8, 15, -1}};
  valley.triangles = {{0, 2, 3}, {0, 3, 1}, {2, 4, 5}, {2, 5, 3}};
  made.job.design.mesh_S = std::make_shared<const sim::MeshIndex>(valley);
  made.run.samples.clear();
  std::vector<sim::DepthRay> rays;
  for (int column = -20; column <= 20; ++column) {
    for (int row = -6; row <= 6; ++row) {
      sim::DesignSample s;
      s.ray = {Vector3d(0.2 * column, 0.2 * row, -9 + std::abs(0.2 * column)), Vector3d::UnitZ()};
      s.area_mm2 = 0.04;
      made.run.samples.push_back(s);
      rays.push_back(s.ray);
    }
  }
  made.run.sample_spacing_mm = 0.2;
  made.run.depths = sim::CutRays(*made.job.stock_S, made.run.track, rays, 1.0, 1);
  made.run.grid_gaps.assign(rays.size(), {0.0f, 0.25f});
  EXPECT_GT(HighestRidge(made), 0.3);   // what the samples alone say
  EXPECT_EQ(ScallopWithin(made, 0.15).result, Result::kPass);
  EXPECT_NE(ScallopWithin(made, 0.03).result, Result::kPass);
}

// One pass left out: twice the stepover, four times the ridge, among ridges that are fine.
TEST(ScallopTest, OneSkippedPassIsCaught) {
  Passes passes;
  passes.at = {-2, -1.5, -1, -0.5, 0.5, 1, 1.5, 2};
  const MadeRun made = CutPasses(passes, Cutter::Ball(6, 22));
  const CheckResult r = ScallopWithin(made, 0.03);
  ASSERT_EQ(r.result, Result::kFail);
  EXPECT_NEAR(r.findings[0].at_S->x(), 0.0, 0.06);
  passes.at = {-2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2};
  EXPECT_EQ(ScallopWithin(CutPasses(passes, Cutter::Ball(6, 22)), 0.03).result, Result::kPass);
}

// A face that is cut evenly too deep, or on a tilt, has no more ridges for it.
TEST(ScallopTest, DepthAndTiltAreNoRidges) {
  MadeRun made = CutPasses({}, Cutter::Ball(6, 22));
  const double level = HighestRidge(made);
  for (std::size_t i = 0; i < made.run.samples.size(); ++i) {
    made.run.depths[i].top_mm += -0.5 + 0.01 * made.run.samples[i].ray.p_SQ.y();
  }
  EXPECT_NEAR(HighestRidge(made), level, 0.02);
  EXPECT_EQ(ScallopWithin(made, 0.08).result, Result::kPass);
}

TEST(ScallopTest, WhatCannotBeSeenIsUnproven) {
  Passes one;
  one.at = {0.0};
  EXPECT_EQ(ScallopWithin(CutPasses(one, Cutter::Ball(6, 22)), 1.0).result, Result::kUnproven);
  MadeRun stuck = CutPasses({}, Cutter::Ball(6, 22));
  support::BreakMotion(&stuck, kinematics::PlanFaultKind::kOutOfReach);
  EXPECT_EQ(ScallopWithin(stuck, 1.0).result, Result::kUnproven);
  MadeRun disputed = CutPasses({}, Cutter::Ball(6, 22));
  disputed.run.guard.samples = disputed.run.guard.beyond = {3};
  disputed.run.guard.worst_sample = 3;
  EXPECT_EQ(ScallopWithin(disputed, 1.0).result, Result::kUnproven);
  MadeRun empty = CutPasses({}, Cutter::Ball(6, 22));
  empty.run.samples.clear(), empty.run.depths.clear(), empty.run.grid_gaps.clear();
  EXPECT_EQ(ScallopWithin(empty, 1.0).result, Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
