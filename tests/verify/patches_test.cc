#include "verify/patches.h"

#include <algorithm>
#include <cmath>
#include <queue>
#include <random>

#include <gtest/gtest.h>

namespace aircut::verify {
namespace {

sim::DesignSample SampleAt(double x, double y, double z) {
  sim::DesignSample s;
  s.ray.p_SQ = {x, y, z};
  s.ray.up_S = Eigen::Vector3d::UnitZ();
  s.area_mm2 = 1.0;
  return s;
}

std::vector<sim::DesignSample> Row(int count) {
  std::vector<sim::DesignSample> samples;
  for (int i = 0; i < count; ++i) samples.push_back(SampleAt(i - count / 2, 0, 0));
  return samples;
}

// Oracle: by hand, a row of samples 1 mm apart, each of 1 mm².
TEST(PatchesTest, RowFallsApartWhereItIsNotBeyond) {
  const std::vector<sim::DesignSample> samples = Row(8);
  const PatchField field = {&samples, {2, 3, 0.5, 2, 2, 2, 1, 4}, 1.6};
  const std::vector<Patch> patches = PatchesBeyond(field, 1.0, 2.0);
  ASSERT_EQ(patches.size(), 2u);   // {7} is too small
  EXPECT_EQ(patches[0].members, (std::vector<int>{3, 4, 5}));
  EXPECT_EQ(patches[1].members, (std::vector<int>{0, 1}));
  EXPECT_EQ(patches[1].deepest, 1);
  EXPECT_DOUBLE_EQ(patches[0].area_mm2, 3.0);
}

// Oracle: by hand. Levels of the row 5 4 1 3 3: {5, 4} reach 2 mm² at depth 4;
// 3 mm² need the bridge of depth 1.
TEST(PatchesTest, QualifyingDepthIsTheLevelWhereThePatchIsLargeEnough) {
  const std::vector<sim::DesignSample> samples = Row(5);
  const PatchField field = {&samples, {5, 4, 1, 3, 3}, 1.6};
  EXPECT_EQ(QualifyingDepth(field, 1.0).depth_mm, 5.0);
  EXPECT_EQ(QualifyingDepth(field, 2.0).depth_mm, 4.0);
  EXPECT_EQ(QualifyingDepth(field, 3.0).depth_mm, 1.0);
  EXPECT_EQ(QualifyingDepth(field, 5.0).depth_mm, 1.0);
  EXPECT_EQ(QualifyingDepth(field, 5.5).depth_mm, 0.0);   // no patch is that large
}

TEST(PatchesTest, NothingBeyondGivesNothing) {
  const std::vector<sim::DesignSample> samples = Row(3);
  const PatchField field = {&samples, {0.0, -1.0, std::nan("")}, 1.6};
  EXPECT_EQ(QualifyingDepth(field, 1.0).depth_mm, 0.0);
  EXPECT_TRUE(PatchesBeyond(field, 0.0, 0.0).empty());
}

PatchField RandomField(const std::vector<sim::DesignSample>& samples, std::uint64_t seed) {
  std::mt19937_64 rng(seed);
  std::uniform_real_distribution<double> depth(-1.0, 2.0);
  PatchField field = {&samples, {}, 1.6};
  for (std::size_t i = 0; i < samples.size(); ++i) field.depth_mm.push_back(depth(rng));
  return field;
}

std::vector<sim::DesignSample> RandomSamples(int count, std::uint64_t seed) {
  std::mt19937_64 rng(seed);
  std::uniform_real_distribution<double> at(-10.0, 10.0);
  std::vector<sim::DesignSample> samples;
  for (int i = 0; i < count; ++i) {
    const double x = at(rng), y = at(rng);
    samples.push_back(SampleAt(x, y, 0.1 * at(rng)));
  }
  return samples;
}

// Flood fill over all pairs: the definition of a connected set.
std::vector<std::vector<int>> FloodFill(const PatchField& field, double limit) {
  const std::vector<sim::DesignSample>& s = *field.samples;
  std::vector<char> open(s.size());
  for (std::size_t i = 0; i < s.size(); ++i) open[i] = field.depth_mm[i] > limit ? 1 : 0;
  std::vector<std::vector<int>> sets;
  for (std::size_t seed = 0; seed < s.size(); ++seed) {
    if (open[seed] == 0) continue;
    std::vector<int> members;
    std::queue<int> todo;
    todo.push(static_cast<int>(seed));
    open[seed] = 0;
    while (!todo.empty()) {
      const int i = todo.front();
      todo.pop();
      members.push_back(i);
      for (std::size_t j = 0; j < s.size(); ++j) {
        if (open[j] == 0 || (s[i].ray.p_SQ - s[j].ray.p_SQ).norm() > field.link_mm) continue;
        open[j] = 0;
        todo.push(static_cast<int>(j));
      }
    }
    std::sort(members.begin(), members.end());
    sets.push_back(members);
  }
  std::sort(sets.begin(), sets.end());
  return sets;
}

// Oracle: independent path, flood fill over all pairs.
TEST(PatchesTest, RandomPointsGiveThePatchesOfAFloodFill) {
  const std::vector<sim::DesignSample> samples = RandomSamples(400, 7);
  for (std::uint64_t seed = 0; seed < 5; ++seed) {
    const PatchField field = RandomField(samples, seed);
    std::vector<std::vector<int>> found;
    for (const Patch& p : PatchesBeyond(field, 0.5, 0.0)) found.push_back(p.members);
    std::sort(found.begin(), found.end());
    EXPECT_EQ(found, FloodFill(field, 0.5)) << "seed " << seed;
  }
}

// Oracle: definition. At the qualifying depth a patch is large enough; any
// higher level holds none.
TEST(PatchesTest, QualifyingDepthAgreesWithThePatchesOfItsLevel) {
  const std::vector<sim::DesignSample> samples = RandomSamples(400, 8);
  for (std::uint64_t seed = 0; seed < 5; ++seed) {
    const PatchField field = RandomField(samples, seed);
    const double level = QualifyingDepth(field, 6.0).depth_mm;
    ASSERT_GT(level, 0.0);
    EXPECT_TRUE(PatchesBeyond(field, level, 6.0).empty());
    EXPECT_FALSE(PatchesBeyond(field, std::nextafter(level, 0.0), 6.0).empty());
  }
}

// Oracle: definition of the link, on areas of a 0.5 mm grid.
TEST(PatchesTest, LinkJoinsTheDiagonalOfAGridButNotTheSecondNeighbour) {
  std::vector<sim::DesignSample> samples = Row(40);
  for (sim::DesignSample& s : samples) s.area_mm2 = 0.25;
  samples.front().area_mm2 = 100.0;   // one large cell must not widen it
  EXPECT_GT(LinkOf(samples), 0.5 * std::sqrt(2.0));
  EXPECT_LT(LinkOf(samples), 2.0 * 0.5);
  EXPECT_EQ(LinkOf({}), 0.0);
}

}  // namespace
}  // namespace aircut::verify
