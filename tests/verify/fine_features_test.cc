// Standing walls, the tightest hollow and steps between passes, on cuts made by the exact rays.
#include "verify/fine_features.h"

#include <cmath>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/outline_shapes.h"
#include "tests/support/made_run.h"
#include "tests/support/simple_tracks.h"
#include "verify/fine_measures.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using sim::Cutter;
using support::MadeRun;

constexpr double kPi = 3.14159265358979323846;

Cutter Flat(double diameter_mm, double flute_mm) { return Cutter::Of(sim::FlatOutline({diameter_mm, flute_mm})); }

// Lines along y through the whole block, from one to the next outside of it.
sim::ToolTrack LinesAlongY(const Cutter& cutter, const std::vector<Eigen::Vector2d>& x_and_z) {
  std::vector<Vector3d> tips;
  for (std::size_t n = 0; n < x_and_z.size(); ++n) {
    const double from = n % 2 == 0 ? -50.0 : 50.0;
    tips.emplace_back(x_and_z[n].x(), from, x_and_z[n].y());
    tips.emplace_back(x_and_z[n].x(), -from, x_and_z[n].y());
  }
  return sim::UprightTrack(cutter, tips);
}

MadeRun Cut(const sim::ToolTrack& track) {
  MadeRun made = support::MakeRun();
  made.run.track = track;
  made.job.stock_S = sim::Block(60, 60, 30);
  made.run.samples.clear();
  made.run.depths.clear();
  made.run.grid_gaps.clear();
  return made;
}

FineFeatures FineOf(const MadeRun& made) {
  const Deviation deviation = Measure(made.job, made.run);
  return MeasureFineFeatures({made.job, made.run, deviation, 2});
}

StandingWalls WallsUnder(const MadeRun& made, double limit_mm) {
  sim::Job job = made.job;
  job.accept.standing_wall_mm = {limit_mm, true};
  const Deviation nothing;
  return *FindStandingWalls({job, made.run, nothing, 2});
}

// Oracle: two grooves of a flat cutter of 4 mm, 4.8 mm apart, leave a rib of 0.8 mm.
TEST(StandingWallsTest, RibBetweenTwoGroovesIsAsThickAsTheyLeaveIt) {
  MadeRun made = Cut(LinesAlongY(Flat(4, 20), {{-2.4, -3}, {2.4, -3}}));
  made.run.sample_spacing_mm = 0.5;
  const StandingWalls thin = WallsUnder(made, 1.0);
  ASSERT_EQ(thin.in_cut.size(), 1u);   // both of its sides are one wall
  EXPECT_NEAR(thin.in_cut[0].thickness_mm, 0.8, 1e-6);
  EXPECT_NEAR(std::abs(thin.in_cut[0].p_S.x()), 0.4, 1e-6);
  EXPECT_GT(thin.in_cut[0].line, 0);
  EXPECT_GT(thin.places, 100);
  EXPECT_TRUE(thin.in_design.empty());
  EXPECT_TRUE(WallsUnder(made, 0.79).in_cut.empty());
}

// Oracle: the outer side of a groove at x = 27.3 lies 0.7 mm from the block's edge at 30.
TEST(StandingWallsTest, WallTowardsTheEdgeOfThePieceCounts) {
  MadeRun made = Cut(LinesAlongY(Flat(4, 20), {{27.3, -3}}));
  const StandingWalls thin = WallsUnder(made, 1.0);
  ASSERT_EQ(thin.in_cut.size(), 1u);
  EXPECT_NEAR(thin.in_cut[0].thickness_mm, 0.7, 1e-6);
}

// Oracle: by hand. Two 60 degree Vs 3 mm deep, 4 mm apart: at 2 % of the depth the land is
// 4 - 6 tan 30 + 2 * 0.06 tan 30 wide; ball grooves as shallow as this leave a crest, no wall.
TEST(StandingWallsTest, LandBetweenVsIsAWallAndTheCrestBetweenShallowBallsIsNone) {
  MadeRun made = Cut(LinesAlongY(Cutter::V(kPi / 3, 0.0, 12, 20), {{-2, -3}, {2, -3}}));
  const StandingWalls thin = WallsUnder(made, 1.0);
  ASSERT_EQ(thin.in_cut.size(), 1u);
  EXPECT_NEAR(thin.in_cut[0].thickness_mm, 4.0 - 5.88 * std::tan(kPi / 6), 1e-6);
  const MadeRun shallow = Cut(LinesAlongY(Cutter::Ball(6, 20), {{-2.3, -1}, {2.3, -1}}));
  EXPECT_TRUE(WallsUnder(shallow, 1.0).in_cut.empty());
}

TEST(StandingWallsTest, NobodyAsksNothingIsTold) {
  const MadeRun made = support::MakeRun();
  EXPECT_FALSE(FineOf(made).walls.has_value());
}

// A cross-section in x and z, its outside on the left along the way, drawn out along y.
std::shared_ptr<const sim::MeshIndex> Extruded(const std::vector<Eigen::Vector2d>& section) {
  sim::Mesh mesh;
  for (const Eigen::Vector2d& p : section) {
    for (const double y : {-10.0, 10.0}) mesh.vertices.emplace_back(p.x(), y, p.y());
  }
  for (std::int32_t k = 0; k + 3 < static_cast<std::int32_t>(mesh.vertices.size()); k += 2) {
    mesh.triangles.push_back({k, k + 2, k + 3});
    mesh.triangles.push_back({k, k + 3, k + 1});
  }
  return std::make_shared<const sim::MeshIndex>(std::move(mesh));
}

void AddSample(MadeRun* made, const Vector3d& p) {
  sim::DesignSample s;
  s.ray = {p, Vector3d::UnitZ()};
  s.area_mm2 = 0.25;
  made->run.samples.push_back(s);
}

// Oracle: a rib 0.8 mm wide and 3 mm high on a floor.
TEST(StandingWallsTest, RibOfTheDesignIsAsThickAsItIsDrawn) {
  MadeRun made = Cut(LinesAlongY(Flat(4, 20), {{-20, -3}}));
  made.job.design = {};
  made.job.design.mesh_S = Extruded({{-10, -3}, {-0.4, -3}, {-0.4, -0.5}, {0.4, -0.5}, {0.4, -3}, {10, -3}});
  for (int n = 0; n < 5; ++n) {
    AddSample(&made, {-0.4, 0.4 * n, -1.5});
    AddSample(&made, {0.4, 0.4 * n, -1.5});
    AddSample(&made, {-5, 0.4 * n, -3});
  }
  const StandingWalls thin = WallsUnder(made, 1.0);
  ASSERT_EQ(thin.in_design.size(), 1u);
  EXPECT_NEAR(thin.in_design[0].thickness_mm, 0.8, 1e-9);
  EXPECT_EQ(thin.in_design[0].line, 0);
  EXPECT_TRUE(WallsUnder(made, 0.79).in_design.empty());
}

// A floor that rises to a wall by a fillet; of radius 0 in a sharp corner.
std::vector<Eigen::Vector2d> Corner(double radius_mm, int parts) {
  std::vector<Eigen::Vector2d> section = {{-10, -5}};
  for (int n = 0; n <= parts && radius_mm > 0.0; ++n) {
    const double turn = 0.5 * kPi * n / parts;
    section.emplace_back(-radius_mm + radius_mm * std::sin(turn), -5 + radius_mm - radius_mm * std::cos(turn));
  }
  if (radius_mm == 0.0) section.emplace_back(0, -5);
  section.emplace_back(0, -0.1);
  return section;
}

std::optional<SmallestHollow> HollowOf(const std::vector<Eigen::Vector2d>& section) {
  MadeRun made = Cut(LinesAlongY(Cutter::Ball(6, 20), {{-20, -3}}));
  made.job.design = {};
  made.job.design.mesh_S = Extruded(section);
  AddSample(&made, {-10, -10, -5});
  AddSample(&made, {10, 10, 0});
  const Deviation nothing;
  return FindSmallestHollow({made.job, made.run, nothing, 2});
}

// Oracle: the fillet's radius, and 0.01 mm more, by which a ball may enter the wall it faces.
TEST(SmallestHollowTest, FilletIsAsTightAsItIsDrawn) {
  for (const double radius_mm : {0.5, 2.0, 4.0}) {
    const auto hollow = HollowOf(Corner(radius_mm, 64));
    ASSERT_TRUE(hollow.has_value()) << radius_mm;
    EXPECT_NEAR(hollow->radius_mm, radius_mm + kHollowTouch_mm, 0.003) << radius_mm;
    EXPECT_LT((hollow->p_S - Vector3d(0, 0, -5)).cwiseProduct(Vector3d(1, 0, 1)).norm(), 1.001 * radius_mm);
    EXPECT_NEAR(hollow->cutter_radius_mm, 3.0, 1e-12);
  }
}

// Oracle: a ball on a square corner enters both faces by r (1 - cos 45).
TEST(SmallestHollowTest, SharpCornerHoldsNextToNothing) {
  const auto hollow = HollowOf(Corner(0.0, 0));
  ASSERT_TRUE(hollow.has_value());
  EXPECT_NEAR(hollow->radius_mm, kHollowTouch_mm / (1.0 - std::sqrt(0.5)), 1e-6);
  EXPECT_NEAR(hollow->p_S.x(), 0.0, 1e-12);
  EXPECT_NEAR(hollow->p_S.z(), -5.0, 1e-12);
}

TEST(SmallestHollowTest, CrestsAndLevelFacesAreNoHollow) {
  EXPECT_FALSE(HollowOf({{-10, -5}, {0, -2}, {10, -5}}).has_value());
  EXPECT_FALSE(HollowOf({{-10, -5}, {0, -5}, {10, -5}}).has_value());
  MadeRun engraved = support::MakeRun();
  EXPECT_FALSE(FineOf(engraved).hollow.has_value());
}

// MAT-23: a facet of 2 mm on a circle of 50 mm stands 0.0100010 mm off it in its middle.
TEST(SmallestHollowTest, FacetStandsOffItsCircleByItsSag) {
  constexpr double kRadius = 50.0, kChord = 2.0;
  const double turn = 2.0 * std::asin(0.5 * kChord / kRadius);
  std::vector<Eigen::Vector2d> arc;
  for (int n = -3; n <= 3; ++n) arc.emplace_back(kRadius * std::sin(n * turn), -kRadius * std::cos(n * turn));
  const auto mesh = Extruded(arc);
  const double middle = 0.5 * turn;
  const Vector3d on_circle(kRadius * std::sin(middle), 0, -kRadius * std::cos(middle));
  EXPECT_NEAR(mesh->ClosestPoint(on_circle).distance_mm, 0.0100010, 1e-7);
  EXPECT_NEAR(mesh->ClosestPoint({kRadius * std::sin(turn), 0, -kRadius * std::cos(turn)}).distance_mm, 0.0, 1e-9);
}

// Samples over the passes, and what the rays say there.
void SampleFloor(MadeRun* made, double half_mm, double spacing_mm) {
  std::vector<sim::DepthRay> rays;
  const int half = static_cast<int>(std::lround(half_mm / spacing_mm));
  for (int column = -half; column <= half; ++column) {
    for (int row = -6; row <= 6; ++row) {
      AddSample(made, {spacing_mm * column, spacing_mm * row, -1});
      made->run.samples.back().area_mm2 = spacing_mm * spacing_mm;
      rays.push_back(made->run.samples.back().ray);
    }
  }
  made->run.sample_spacing_mm = spacing_mm;
  made->run.depths = sim::CutRays(*made->job.stock_S, made->run.track, rays, 1.0, 1);
  made->run.grid_gaps.assign(rays.size(), {0.0f, 0.25f});
}

// Oracle: the passes themselves, 0.1 mm apart in depth between x = 0 and x = 1.
TEST(PassStepsTest, PassesOffsetInDepthShowTheirStep) {
  MadeRun made = Cut(LinesAlongY(Cutter::Ball(6, 20), {{-2, -1}, {-1, -1}, {0, -1}, {1, -1.1}, {2, -1.1}}));
  SampleFloor(&made, 1.8, 0.2);
  const PassSteps steps = FineOf(made).steps;
  ASSERT_TRUE(steps.largest.has_value());
  EXPECT_NEAR(steps.largest->height_mm, 0.1, steps.largest->bound_mm);
  EXPECT_LT(steps.largest->bound_mm, 0.005);
  EXPECT_NEAR(steps.largest->p_S.x(), 0.2, 0.05);   // where both circles meet
  EXPECT_LT(steps.largest->lines[0], steps.largest->lines[1]);   // the higher one was cut first
  EXPECT_FALSE(steps.steps.empty());                // above a quarter of 0.3 mm
}

TEST(PassStepsTest, LevelPassesHaveNone) {
  MadeRun made = Cut(LinesAlongY(Cutter::Ball(6, 20), {{-2, -1}, {-1, -1}, {0, -1}, {1, -1}, {2, -1}}));
  SampleFloor(&made, 1.8, 0.2);
  const PassSteps steps = FineOf(made).steps;
  ASSERT_TRUE(steps.largest.has_value());
  EXPECT_LE(steps.largest->height_mm, steps.largest->bound_mm);
  EXPECT_TRUE(steps.steps.empty());
}

// Oracle: as above, by another cutter after the third pass. It is 0.08 mm lower.
TEST(PassStepsTest, StepAfterAChangeOfCutterNamesBoth) {
  MadeRun made = Cut(LinesAlongY(Cutter::Ball(6, 20), {{-2, -1}, {-1, -1}, {0, -1}, {1, -1.08}, {2, -1.08}}));
  made.run.track.tools.push_back({7, Cutter::Ball(8, 20), {}});
  for (std::size_t i = 6; i < made.run.track.sweeps.size(); ++i) made.run.track.sweeps[i].tool = 1;
  SampleFloor(&made, 1.8, 0.2);
  const PassSteps steps = FineOf(made).steps;
  ASSERT_TRUE(steps.largest.has_value());
  EXPECT_NEAR(steps.largest->height_mm, 0.08, steps.largest->bound_mm);
  EXPECT_THAT(steps.largest->tools, testing::ElementsAre(1, 7));
}

}  // namespace
}  // namespace aircut::verify
