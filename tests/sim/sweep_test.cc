#include "sim/sweep.h"

#include <algorithm>
#include <random>

#include <gtest/gtest.h>

#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kPi = 3.14159265358979323846;

// A track of one sweep whose axis turns by `turn_rad`.
ToolTrack OneSweep(const Cutter& cutter, const Vector3d& travel, double turn_rad) {
  ToolTrack track = UprightTrack(cutter, {Vector3d::Zero(), travel});
  track.axis_S[1] = Eigen::AngleAxisd(turn_rad, Vector3d(1, 2, 0).normalized()) * Vector3d::UnitZ();
  return track;
}

// Oracle: brute force over both parameters of the sweep, in double.
double BruteForce(const StringSweep& s, const Vector3d& p) {
  double least = 1e9;
  const int n = 600;
  for (int i = 0; i <= n; ++i) {
    for (int j = 0; j <= n; ++j) {
      const double a = static_cast<double>(i) / n, t = static_cast<double>(j) / n;
      least = std::min(least, (p - s.a - a * s.u - t * s.v - a * t * s.w).norm() - s.r0 - a * s.dr);
    }
  }
  return least;
}

class SweepDistanceTest : public testing::TestWithParam<Vector3d> {};

TEST_P(SweepDistanceTest, AgreesWithBruteForceForFixedAndTurningAxes) {
  std::mt19937_64 rng(3);
  std::uniform_real_distribution<double> c(-6.0, 9.0);
  for (const Cutter& cutter : {Cutter::Ball(6.0, 15.0), Cutter::V(kPi / 3.0, 0.2, 8.0, 15.0)}) {
    for (const double turn : {0.0, 0.5 * kPi / 180.0}) {
      const ToolTrack track = OneSweep(cutter, GetParam(), turn);
      const StringSweep s = MakeStringSweep(track, 0, 0);
      for (int n = 0; n < 12; ++n) {
        const Vector3d p(c(rng), c(rng), c(rng));
        const double brute = BruteForce(s, p), ours = DistanceToSweep(s, p).distance_mm;
        // The brute force can only be too large, by its step.
        EXPECT_LE(ours, brute + 1e-9) << p.transpose();
        EXPECT_GE(ours, brute - 0.02) << p.transpose();
        EXPECT_LE(StringFloor(s).At(p), ours + 1e-9) << p.transpose();
      }
    }
  }
}

// Oracle: the swept distance. A line on its way to a place inside crosses the surface
// where it says, and lies outside before that; a place outside is left to ClipLine.
TEST_P(SweepDistanceTest, LineEntersOnTheSweptSurface) {
  std::mt19937_64 rng(5);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  int entered = 0;
  for (const Cutter& cutter : {Cutter::Ball(6.0, 15.0), Cutter::V(kPi / 3.0, 0.2, 8.0, 15.0), Cutter::V(2.0, 3.0, 20.0, 15.0)}) {
    for (const double turn : {0.0, 0.5 * kPi / 180.0}) {
      const ToolTrack track = OneSweep(cutter, GetParam(), turn);
      const StringSweep s = MakeStringSweep(track, 0, 0);
      for (int n = 0; n < 200; ++n) {
        const Vector3d top = 0.5 * GetParam() + Vector3d(2 * c(rng), 2 * c(rng), 4.5 + 4 * c(rng));
        const Vector3d up = Vector3d(0.4 * c(rng), 0.4 * c(rng), 1).normalized();
        const auto entry = LineEntry(s, top, up, 0.0);
        if (!entry) continue;
        ++entered;
        EXPECT_NEAR(DistanceToSweep(s, top + *entry * up).distance_mm, 0.0, 1e-6) << top.transpose();
        EXPECT_GT(DistanceToSweep(s, top + (*entry - 0.01) * up).distance_mm, 0.0) << top.transpose();
        EXPECT_LE(DistanceToSweep(s, top + 0.5 * *entry * up).distance_mm, 1e-6) << top.transpose();
      }
    }
  }
  EXPECT_GT(entered, 100);
  const StringSweep s = MakeStringSweep(OneSweep(Cutter::Ball(6.0, 15.0), GetParam(), 0.0), 0, 0);
  EXPECT_FALSE(LineEntry(s, Vector3d(9, 9, 30), Vector3d::UnitZ(), 0.0));
}

INSTANTIATE_TEST_SUITE_P(Travels, SweepDistanceTest,
                         testing::Values(Vector3d(4, 0, 0), Vector3d(0, 0, -5), Vector3d(3, 1, -2),
                                         Vector3d(0, 0, 0), Vector3d(0.3, -0.4, 0.1)));

// Oracle: points on the returned ends lie on the surface; between them inside,
// beyond them outside.
TEST(ClipLineTest, EndsLieOnTheSweptSurface) {
  const ToolTrack track = OneSweep(Cutter::V(kPi / 3.0, 0.2, 8.0, 15.0), {3, 0, -1}, 0.3 * kPi / 180.0);
  const StringSweep s = MakeStringSweep(track, 0, 0);
  std::mt19937_64 rng(17);
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  int hits = 0;
  for (int n = 0; n < 500; ++n) {
    const Vector3d direction = Vector3d(0.3 * c(rng), 0.3 * c(rng), 1.0).normalized();
    const Vector3d origin(1.5 + 3.0 * c(rng), 2.0 * c(rng), 0.0);
    const LinePart part = ClipLine(s, origin, direction, -10.0, 10.0);
    if (part.empty()) {
      for (double tau = -10.0; tau <= 10.0; tau += 0.05) {
        EXPECT_GT(DistanceToSweep(s, origin + tau * direction).distance_mm, -1e-7);
      }
      continue;
    }
    ++hits;
    const auto at = [&](double tau) { return DistanceToSweep(s, origin + tau * direction).distance_mm; };
    if (part.lo > -10.0) {
      EXPECT_NEAR(at(part.lo), 0.0, 1e-6);
    }
    if (part.hi < 10.0) {
      EXPECT_NEAR(at(part.hi), 0.0, 1e-6);
    }
    EXPECT_LE(at(0.5 * (part.lo + part.hi)), 1e-7);
  }
  EXPECT_GT(hits, 100);
}

// A line that only touches the capsule from outside is not cut.
TEST(ClipLineTest, LineBesideTheSweepIsUncut) {
  const ToolTrack track = OneSweep(Cutter::Ball(6.0, 15.0), {4, 0, 0}, 0.0);
  const StringSweep s = MakeStringSweep(track, 0, 0);
  EXPECT_TRUE(ClipLine(s, {2, 3.001, 0}, Vector3d::UnitZ(), -5, 5).empty());
  EXPECT_FALSE(ClipLine(s, {2, 2.999, 0}, Vector3d::UnitZ(), -5, 5).empty());
}

}  // namespace
}  // namespace aircut::sim
