#include "sim/profile_sweep.h"

#include <random>

#include <gtest/gtest.h>

#include "tests/support/outline_reference.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kHalfDegree = 0.5 * 3.14159265358979323846 / 180.0;

ToolTrack OneSweep(const Cutter& cutter, const Vector3d& travel, double turn_rad) {
  ToolTrack track = UprightTrack(cutter, {Vector3d::Zero(), travel});
  track.axis_S[1] = Eigen::AngleAxisd(turn_rad, Vector3d(1, 2, 0).normalized()) * Vector3d::UnitZ();
  return track;
}

// Least distance over all parts, and the least of their lower bounds.
struct Whole {
  double distance = 1e30, lower = 1e30;
};
Whole DistanceToCutter(const ToolTrack& track, const Vector3d& p, double slack_mm) {
  Whole whole;
  const Cutter& cutter = track.tools[0].cutter;
  for (int n = 0; n < static_cast<int>(cutter.strings().size()); ++n) {
    const StringSweep s = MakeStringSweep(track, 0, n);
    whole.distance = std::min(whole.distance, DistanceToSweep(s, p).distance_mm);
    whole.lower = std::min(whole.lower, StringFloor(s).At(p));
  }
  for (int n = 0; n < static_cast<int>(cutter.profiles().size()); ++n) {
    const ProfileSweep s = MakeProfileSweep(track, 0, n);
    whole.lower = std::min(whole.lower, DistanceLowerBound(s, p));
    EXPECT_TRUE(ProfileReach(s).Comes(DistanceToSweep(s, p).distance_mm + 1e-9, p)) << p.transpose();
    for (const ProfileSweep& span : CutIntoSpans(s, SpansWithin(s, slack_mm))) {
      whole.distance = std::min(whole.distance, DistanceToSweep(span, p).distance_mm);
    }
  }
  return whole;
}

// A sweep of 0.5 mm, plunges, pure turning, standing still, and 100 mm in one go.
class EveryMotionTest : public testing::TestWithParam<Vector3d> {};

// Oracle: dense poses of the drawing in long double. Outside, distances agree; the
// search over a turning axis may miss what it states and no more.
TEST_P(EveryMotionTest, DistanceOutsideIsThatOfDensePoses) {
  std::mt19937_64 rng(3);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  const double slack = 2e-4;
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    for (const double turn : {0.0, kHalfDegree}) {
      const ToolTrack track = OneSweep(named.cutter, GetParam(), turn);
      for (int n = 0; n < 8; ++n) {
        const Vector3d p = 0.5 * (1.0 + c(rng)) * GetParam() + Vector3d(6 * c(rng), 6 * c(rng), 5 + 9 * c(rng));
        const double dense = static_cast<double>(DensePoseDistance(track, 0, p)), bound = 0.0005 + 1e-6 + (turn > 0 ? slack + 1e-4 : 0);
        const Whole ours = DistanceToCutter(track, p, slack);
        EXPECT_LE(ours.lower, ours.distance + 1e-9) << named.name << " " << p.transpose();
        if (dense > 0) {
          EXPECT_NEAR(ours.distance, dense, bound) << named.name << " turn " << turn << " at " << p.transpose();
        } else {
          EXPECT_LE(ours.distance, bound) << named.name << " turn " << turn << " at " << p.transpose();
        }
      }
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Travels, EveryMotionTest,
                         testing::Values(Vector3d(0.4, 0.3, 0), Vector3d(0, 0, -5), Vector3d(3, 1, -2), Vector3d(0, 0, 0),
                                         Vector3d(80, 60, 0)));

// The stated slack is real: a 100 mm sweep that turns is curved as seen from the
// tool by up to the slack, and fewer spans than asked for may miss it.
TEST(ProfileSweepTest, SpansAreAsManyAsTheSlackAsksFor) {
  const ToolTrack track = OneSweep(Cutter::Of(FlatOutline({6, 12})), {100, 0, 0}, kHalfDegree);
  const ProfileSweep s = MakeProfileSweep(track, 0, 0);
  const double slack = TurnSlack(s);
  EXPECT_GE(slack, 100.0 * kHalfDegree);
  EXPECT_EQ(SpansWithin(s, slack), 1);
  EXPECT_EQ(SpansWithin(s, slack / 8.9), 3);
  const auto spans = CutIntoSpans(s, 3);
  ASSERT_EQ(spans.size(), 3u);
  EXPECT_NEAR((spans[2].tip + spans[2].travel - s.tip - s.travel).norm(), 0.0, 1e-12);
  EXPECT_NEAR((spans[2].axis + spans[2].turn - s.axis - s.turn).norm(), 0.0, 1e-12);
  for (const ProfileSweep& span : spans) EXPECT_LE(TurnSlack(span), slack / 8.5);
}

// Oracle: dense poses. Lines in all directions are clipped where the cutter's
// surface passes: 2 um outwards is outside, 2 um inwards inside.
TEST(ProfileSweepTest, ClippedLinesEndOnTheSweptSurface) {
  std::mt19937_64 rng(17);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  int hits = 0;
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    if (named.cutter.profiles().size() != 1 || !named.cutter.strings().empty()) continue;
    const ToolTrack track = OneSweep(named.cutter, {3, 0, -1}, 0.0);
    const ProfileSweep s = MakeProfileSweep(track, 0, 0);
    for (int n = 0; n < 60; ++n) {
      const Vector3d direction = Vector3d(c(rng), c(rng), c(rng)).normalized();
      const Vector3d origin(1.5 + 3.0 * c(rng), 3.0 * c(rng), 2.0 + 3.0 * c(rng));
      const LinePart part = ClipLine(s, origin, direction, -30.0, 30.0);
      const auto at = [&](double tau) { return static_cast<double>(DensePoseDistance(track, 0, origin + tau * direction)); };
      if (part.empty()) {
        for (double tau = -10.0; tau <= 10.0; tau += 0.5) EXPECT_GT(at(tau), -1e-6) << named.name;
        continue;
      }
      ++hits;
      EXPECT_GT(at(part.lo - 2e-3), 0.0) << named.name;
      EXPECT_GT(at(part.hi + 2e-3), 0.0) << named.name;
      EXPECT_NEAR(at(part.lo), 0.0, 1e-6) << named.name;
      EXPECT_NEAR(at(part.hi), 0.0, 1e-6) << named.name;
      EXPECT_LE(at(0.5 * (part.lo + part.hi)), 1e-6) << named.name;
    }
  }
  EXPECT_GT(hits, 100);
}

}  // namespace
}  // namespace aircut::sim
