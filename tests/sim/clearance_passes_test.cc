// Every separate passing of a pair, and the clearance over time.
#include <algorithm>
#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "tests/sim/clearance_scene.h"

namespace aircut::sim {
namespace {

using namespace clearance_scene;

// A needle of 0.5 mm stands in the way of a rod that passes it within one step: both
// moments are far from it on either side. Oracle: the rod's own circle meets it.
TEST(ClearanceTest, NeedleBetweenTwoMomentsIsAlwaysFound) {
  std::mt19937_64 rng(12);
  std::uniform_real_distribution<double> angle(-0.39, 0.49), radius(150, 850);
  for (int n = 0; n < 40; ++n) {
    const double at = angle(rng), r = radius(rng);
    const Vector3d p(r * std::cos(at), r * std::sin(at), 0);
    Scene scene{OneAxis(), TrackThrough({Angles({-0.4}), Angles({0.5})}),
                CollisionWorld({{"rod", {CapsuleShape{{100, 0, 0}, {900, 0, 0}, 5}}},
                                {"needle", {CylinderShape{p - Vector3d(0, 0, 60), p + Vector3d(0, 0, 60), 0.25}}}}),
                {OnLink(1), InWorld(0, 0, 0)}, {{0, 1}}};
    const PairClearance found = SmallestClearances(scene.Request()).pairs[0];
    EXPECT_LE(found.clearance_mm, 0.0) << "needle at " << p.transpose();
    ASSERT_EQ(found.clashes.size(), 1u) << n;
    // All of the contact lies in it, and no more than the halving of a step leaves.
    const double half_s = 0.5 * std::asin(5.25 / r) / 0.9, middle_s = 0.5 * (at + 0.4) / 0.9;
    const double part_s = 0.5 / 32;
    EXPECT_LE(found.clashes[0].from_s, std::max(middle_s - half_s, 0.0) + 1e-4) << n;
    EXPECT_GE(found.clashes[0].to_s, std::min(middle_s + half_s, 0.5) - 1e-4) << n;
    EXPECT_GT(found.clashes[0].from_s, middle_s - half_s - part_s) << n;
    EXPECT_LT(found.clashes[0].to_s, middle_s + half_s + part_s) << n;
  }
}

// Closed form: there and back again past two posts is four clashes, each where the
// rod's circle says; a third post just beyond the rod's end is none, but too near.
TEST(ClearanceTest, EverySeparatePassingIsListed) {
  const auto post = [](double at, double r) {
    const Vector3d p(r * std::cos(at), r * std::sin(at), 0);
    return CylinderShape{p - Vector3d(0, 0, 60), p + Vector3d(0, 0, 60), 10.0};
  };
  std::vector<JointVector> q;
  for (int i = 0; i <= 100; ++i) q.push_back(Angles({0.02 * i - 1.0}));
  for (int i = 99; i >= 0; --i) q.push_back(Angles({0.02 * i - 1.0}));
  Scene scene{OneAxis(), TrackThrough(q),
              CollisionWorld({{"rod", {CapsuleShape{{100, 0, 0}, {900, 0, 0}, 5}}},
                              {"posts", {post(-0.6, 500), post(0.5, 700), post(0.0, 918)}}}),
              {OnLink(1), InWorld(0, 0, 0)}, {{0, 1, 5.0}}};
  const PairClearance found = SmallestClearances(scene.Request()).pairs[0];
  const auto time_at = [](double angle) { return 0.5 * (angle + 1.0) / 0.02; };
  ASSERT_EQ(found.clashes.size(), 4u);
  const double expected[] = {time_at(-0.6), time_at(0.5), 100.0 - time_at(0.5), 100.0 - time_at(-0.6)};
  for (std::size_t k = 0; k < 4; ++k) {
    const ClosePass& clash = found.clashes[k];
    EXPECT_GT(expected[k], clash.from_s);
    EXPECT_LT(expected[k], clash.to_s);
    EXPECT_LE(clash.nearest.clearance_mm, 0.0);
    EXPECT_GE(clash.last_line, clash.first_line);
  }
  ASSERT_EQ(found.close.size(), 6u);   // and past the third post, twice
  EXPECT_NEAR(found.close[1].nearest.clearance_mm, 3.0, 0.1);
  EXPECT_GT(found.close[1].lower_mm, 2.8);
}

TEST(ClearanceTest, StartPoseInClashIsAPassFromTheFirstMoment) {
  Scene scene{OneAxis(), TrackThrough({Angles({0.0}), Angles({0.5})}),
              CollisionWorld({{"rod", {CapsuleShape{{100, 0, 0}, {900, 0, 0}, 5}}}, {"post", {Block(20, 20, 20)}}}),
              {OnLink(1), InWorld(800, 8, 0)}, {{0, 1}}};
  const PairClearance found = SmallestClearances(scene.Request()).pairs[0];
  ASSERT_EQ(found.clashes.size(), 1u);
  EXPECT_EQ(found.clashes[0].from_s, 0.0);
  EXPECT_LT(found.clashes[0].to_s, 0.5);
}

// Oracle: dense sampling of every stretch.
TEST(ClearanceTest, OverTimeNothingIsNearerThanTheStretchSays) {
  const Scene scene = Workshop(300, 0.02, 4);
  const ClearanceRequest request = scene.Request();
  const std::vector<ClearanceStretch> over_time = SmallestClearances(request).over_time;
  ASSERT_GT(over_time.size(), 3u);
  EXPECT_EQ(over_time.front().from_s, scene.track.time_s.front());
  EXPECT_EQ(over_time.back().to_s, scene.track.time_s.back());
  for (std::size_t s = 0; s < over_time.size(); ++s) {
    if (s > 0) {
      EXPECT_EQ(over_time[s].from_s, over_time[s - 1].to_s);
    }
    Scene part = Workshop(300, 0.02, 4);
    const auto first = static_cast<std::ptrdiff_t>(std::lround(2.0 * over_time[s].from_s));
    const auto last = static_cast<std::ptrdiff_t>(std::lround(2.0 * over_time[s].to_s));
    part.track = TrackThrough({scene.track.q.begin() + first, scene.track.q.begin() + last + 1});
    double least = 1e9;
    for (const ClearancePair& pair : scene.pairs) least = std::min(least, part.Sampled(pair, 10));
    // Told apart to a tenth while apart and within what the search tells apart; the
    // depth of an overlap is an estimate.
    if (!(least > 0)) continue;
    EXPECT_LE(over_time[s].lower_mm, least + 1e-6) << s;
    if (least < request.enough_mm) {
      EXPECT_GT(over_time[s].lower_mm, 0.9 * least - 0.2) << s;
    }
  }
}

}  // namespace
}  // namespace aircut::sim
