#include "verify/vertex_values.h"

#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>

#include <gtest/gtest.h>

namespace aircut::verify {
namespace {

struct Case {
  sim::Run run;
  Deviation deviation;
};

void AddSample(Case* c, const Eigen::Vector3d& p_S, double error_mm) {
  sim::DesignSample sample;
  sample.ray = {p_S, Eigen::Vector3d::UnitZ()};
  sample.area_mm2 = 1.0;
  c->run.samples.push_back(sample);
  sim::RayDepth depth;
  depth.has_material = true, depth.touched = true, depth.top_mm = error_mm;
  c->run.depths.push_back(depth);
  c->deviation.error_mm.push_back(error_mm);
}

sim::Mesh Points(const std::vector<Eigen::Vector3d>& points) {
  sim::Mesh mesh;
  mesh.vertices = points;
  return mesh;
}

// Oracle: brute force over all samples, random places, fixed seed.
TEST(VertexValuesTest, AgreesWithTryingEverySample) {
  std::mt19937_64 rng(20240611);
  std::uniform_real_distribution<double> place_mm(-15, 15), error_mm(-1, 1);
  Case c;
  for (int i = 0; i < 600; ++i) {
    const double x = place_mm(rng), y = place_mm(rng), z = place_mm(rng);
    AddSample(&c, {x, y, z}, error_mm(rng));
  }
  std::vector<Eigen::Vector3d> points;
  for (int i = 0; i < 2000; ++i) {
    const double x = place_mm(rng), y = place_mm(rng), z = place_mm(rng);
    points.emplace_back(x, y, z);
  }
  const std::vector<float> found = ValuesOfVertices(Points(points), c.run, c.deviation).deviation_mm;
  int known = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    double best = std::numeric_limits<double>::infinity();
    std::size_t nearest = 0;
    for (std::size_t s = 0; s < c.run.samples.size(); ++s) {
      const Eigen::Vector3d cut = c.run.samples[s].ray.p_SQ + Eigen::Vector3d(0, 0, c.run.depths[s].top_mm);
      if ((cut - points[i]).norm() >= best) continue;
      best = (cut - points[i]).norm();
      nearest = s;
    }
    if (best > 2.0) {   // two spacings of samples that stand for 1 mm² each
      EXPECT_TRUE(std::isnan(found[i])) << i;
    } else {
      EXPECT_EQ(found[i], static_cast<float>(c.deviation.error_mm[nearest])) << i;
      ++known;
    }
  }
  EXPECT_GT(known, 200);
}

// Oracle: the sample is looked for where the cut left it, not on the design:
// at 10 mm too deep the design point itself is far from the surface.
TEST(VertexValuesTest, LooksWhereTheCutLeftTheSurface) {
  Case c;
  AddSample(&c, {0, 0, 0}, -10);
  const std::vector<float> found = ValuesOfVertices(Points({{0, 0, -10}, {0, 0, 0}}), c.run, c.deviation).deviation_mm;
  EXPECT_EQ(found[0], -10.0f);
  EXPECT_TRUE(std::isnan(found[1]));
}

// Oracle: by definition, what is not known or not of the carving has no colour.
TEST(VertexValuesTest, UnknownAndUncutPlacesHaveNoValue) {
  Case c;
  AddSample(&c, {0, 0, 0}, std::numeric_limits<double>::quiet_NaN());
  c.run.depths[0].top_mm = 0;
  AddSample(&c, {10, 0, 0}, 0.5);   // beside the carving, left standing: not a fault
  c.run.samples[1].role = sim::DesignSample::Role::kSpare;
  AddSample(&c, {20, 0, 0}, -0.5);  // beside the carving, cut into: a fault
  c.run.samples[2].role = sim::DesignSample::Role::kSpare;
  AddSample(&c, {30, 0, 0}, -0.5);  // cut through: no surface left
  c.run.depths[3].cut_through = true;
  const std::vector<float> found = ValuesOfVertices(
      Points({{0, 0, 0}, {10, 0, 0.5}, {20, 0, -0.5}, {30, 0, -0.5}, {std::nan(""), 0, 0}}), c.run, c.deviation).deviation_mm;
  EXPECT_TRUE(std::isnan(found[0]));
  EXPECT_TRUE(std::isnan(found[1]));
  EXPECT_EQ(found[2], -0.5f);
  EXPECT_TRUE(std::isnan(found[3]));
  EXPECT_TRUE(std::isnan(found[4]));
}

// Oracle: the sweep that the ray names.
TEST(VertexValuesTest, TellsTheLineThatLeftTheSurface) {
  Case c;
  AddSample(&c, {0, 0, 0}, 0);
  AddSample(&c, {10, 0, 0}, 0);     // not cut
  c.run.track.sweeps.resize(3);
  c.run.track.sweeps[2].line = 41;
  c.run.depths[0].touched = true;
  c.run.depths[0].sweep = 2;
  c.run.depths[1].touched = false;
  c.run.depths[1].sweep = -1;
  const std::vector<float> lines = ValuesOfVertices(Points({{0, 0, 0}, {10, 0, 0}, {500, 0, 0}}), c.run, c.deviation).line;
  EXPECT_EQ(lines[0], 41.0f);
  EXPECT_TRUE(std::isnan(lines[1]));
  EXPECT_TRUE(std::isnan(lines[2]));
}

TEST(VertexValuesTest, NothingMeasuredGivesNothing) {
  const std::vector<float> found = ValuesOfVertices(Points({{0, 0, 0}}), sim::Run{}, Deviation{}).deviation_mm;
  ASSERT_EQ(found.size(), 1u);
  EXPECT_TRUE(std::isnan(found[0]));
}

TEST(VertexValuesTest, ListsOfDifferentLengthAreRefused) {
  Case c;
  AddSample(&c, {0, 0, 0}, 0);
  c.deviation.error_mm.clear();
  EXPECT_THROW(ValuesOfVertices(Points({}), c.run, c.deviation), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::verify
