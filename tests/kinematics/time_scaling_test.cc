#include "kinematics/time_scaling.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace aircut::kinematics {
namespace {

constexpr double kPublished = 1e-9;   // tolerance of the rows TRJ-01..03, TRJ-22..25
constexpr double kRounding = 1e-12;
constexpr double kInfinity = std::numeric_limits<double>::infinity();

double TotalTime(const std::vector<Trapezoid>& profiles) {
  double time = 0.0;
  for (const Trapezoid& profile : profiles) time += profile.duration();
  return time;
}

std::vector<PieceLimits> RandomPieces(std::mt19937_64& rng, const int count) {
  std::uniform_real_distribution<double> length(0.05, 3.0), speed(0.2, 5.0), rate(0.2, 8.0);
  std::uniform_int_distribution<int> kind(0, 3);
  std::vector<PieceLimits> pieces;
  for (int i = 0; i < count; ++i) {
    PieceLimits piece{length(rng), speed(rng), rate(rng), kInfinity};
    const int junction = kind(rng);
    if (junction == 0) piece.v_end_max = 0.0;
    if (junction == 1) piece.v_end_max = 0.5 * speed(rng);
    pieces.push_back(piece);
  }
  return pieces;
}

// Source: external-checks TRJ-01, published test of an open kinematics library
// (trapezoid, v 2, a 1, from 2 to 10).
TEST(TrapezoidTest, CruisingProfileMatchesPublishedPositionsAndSpeeds) {
  const Trapezoid profile = Trapezoid::Fastest(8.0, 0.0, 0.0, 2.0, 1.0);
  EXPECT_NEAR(profile.duration(), 6.0, kPublished);
  const double t[] = {2, 3, 4, 5}, position[] = {4, 6, 8, 9.5}, speed[] = {2, 2, 2, 1};
  for (int i = 0; i < 4; ++i) {
    EXPECT_NEAR(2.0 + profile.Position(t[i]), position[i], kPublished) << "t " << t[i];
    EXPECT_NEAR(profile.Speed(t[i]), speed[i], kPublished) << "t " << t[i];
  }
}

// Source: external-checks TRJ-02, same origin (v 4, a 2; 2 to 10, 2 to -6, 13 to 29).
TEST(TrapezoidTest, TriangleAtTheLimitAndCruiseMatchPublishedDurations) {
  EXPECT_NEAR(Trapezoid::Fastest(std::abs(10.0 - 2.0), 0, 0, 4, 2).duration(), 4.0, kPublished);
  EXPECT_NEAR(Trapezoid::Fastest(std::abs(-6.0 - 2.0), 0, 0, 4, 2).duration(), 4.0, kPublished);
  EXPECT_NEAR(Trapezoid::Fastest(std::abs(29.0 - 13.0), 0, 0, 4, 2).duration(), 6.0, kPublished);
}

// Source: external-checks TRJ-03, same origin (v 2, a 1, 2 to 10 stretched to 12).
TEST(TrapezoidTest, StretchedProfileMatchesPublishedPositions) {
  const Trapezoid profile = Trapezoid::Stretched(8.0, 2.0, 1.0, 12.0);
  EXPECT_NEAR(profile.duration(), 12.0, kPublished);
  EXPECT_NEAR(profile.peak_speed(), 1.0, kPublished);
  EXPECT_NEAR(profile.Speed(2.0), 0.25 * 2.0, kPublished);  // a = 0.25
  EXPECT_NEAR(2.0 + profile.Position(4.0), 4.0, kPublished);
  EXPECT_NEAR(2.0 + profile.Position(10.0), 9.5, kPublished);
}

// Source: external-checks TRJ-04, closed forms T = d/v + v/a and 2 sqrt(d/a).
TEST(TrapezoidTest, DurationMatchesClosedForms) {
  EXPECT_NEAR(Trapezoid::Fastest(100, 0, 0, 250, 1000).duration(), 0.65, kRounding);
  EXPECT_NEAR(Trapezoid::Fastest(10, 0, 0, 250, 1000).duration(), 0.2, kRounding);
}

// Source: external-checks TRJ-23, example of an open time-scaling library (v 3, a 4, 0 to 10).
TEST(TrapezoidTest, ScalarPathMatchesExactOptimum) {
  EXPECT_NEAR(Trapezoid::Fastest(10, 0, 0, 3, 4).duration(), 10.0 / 3.0 + 3.0 / 4.0, kPublished);
}

// Oracle: definition; speed is the derivative of position, position ends at the
// distance, speeds start and end as asked, and the inverse gives the time back.
TEST(TrapezoidTest, PositionSpeedAndTimeAgreeForRandomProfiles) {
  std::mt19937_64 rng(11);
  std::uniform_real_distribution<double> unit(0.0, 1.0);
  for (int run = 0; run < 2000; ++run) {
    const double v_max = 0.1 + 5.0 * unit(rng), a_max = 0.1 + 5.0 * unit(rng);
    const double v0 = v_max * unit(rng), v1 = v_max * unit(rng);
    const double d = std::abs(v1 * v1 - v0 * v0) / (2.0 * a_max) + 4.0 * unit(rng);
    const Trapezoid profile = Trapezoid::Fastest(d, v0, v1, v_max, a_max);
    const double T = profile.duration();
    EXPECT_NEAR(profile.Position(0.0), 0.0, kRounding);
    EXPECT_NEAR(profile.Position(T), d, kRounding);
    EXPECT_NEAR(profile.Speed(0.0), v0, 1e-9);
    EXPECT_NEAR(profile.Speed(T), v1, 1e-9);
    EXPECT_LE(profile.peak_speed(), v_max * (1.0 + kRounding));
    const double h = 1e-6 * T;
    double before = 0.0;
    for (int k = 1; k < 20; ++k) {
      const double t = T * k / 20.0;
      const double slope = (profile.Position(t + h) - profile.Position(t - h)) / (2.0 * h);
      // Inside a ramp's corner the slope is off by a h; rounding of the difference: 1e-15 d / h.
      EXPECT_NEAR(profile.Speed(t), slope, a_max * h + 1e-8) << "run " << run << " t " << t;
      EXPECT_NEAR(profile.Position(profile.TimeAt(profile.Position(t))), profile.Position(t), 1e-9);
      EXPECT_GE(profile.Position(t), before);
      before = profile.Position(t);
    }
  }
}

// Oracle: definition by counting fine time steps.
TEST(TrapezoidTest, TimeBelowMatchesCountedSteps) {
  const Trapezoid profile = Trapezoid::Fastest(10.0, 1.0, 2.0, 4.0, 3.0);
  const int steps = 200000;
  for (const double speed : {0.5, 1.5, 2.0, 3.0, 3.9, 4.0, 5.0}) {
    int below = 0;
    for (int i = 0; i < steps; ++i) {
      if (profile.Speed(profile.duration() * (i + 0.5) / steps) < speed) ++below;
    }
    const double step = profile.duration() / steps;
    EXPECT_NEAR(profile.TimeBelow(speed), below * step, 3.0 * step) << "speed " << speed;
  }
}

TEST(TrapezoidTest, NoDistanceTakesNoTime) {
  const Trapezoid profile = Trapezoid::Fastest(0.0, 0.0, 0.0, 2.0, 1.0);
  EXPECT_EQ(profile.duration(), 0.0);
  EXPECT_EQ(profile.Position(0.0), 0.0);
  EXPECT_EQ(Trapezoid::Fastest(0.0, 1.5, 1.5, 2.0, 1.0).duration(), 0.0);
}

TEST(TrapezoidTest, SpeedJustReachableIsTakenAndJustBeyondThrows) {
  // From rest over 2 at a 1: exactly v = 2.
  EXPECT_NEAR(Trapezoid::Fastest(2.0, 0.0, 2.0, 5.0, 1.0).duration(), 2.0, kRounding);
  EXPECT_THROW(Trapezoid::Fastest(2.0, 0.0, 2.001, 5.0, 1.0), std::invalid_argument);
}

TEST(TrapezoidTest, BadArgumentsThrowNamingThem) {
  const double nan = std::nan("");
  EXPECT_THAT([] { Trapezoid::Fastest(-1, 0, 0, 1, 1); },
              testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr("distance")));
  EXPECT_THAT([] { Trapezoid::Fastest(1, 0, 0, 0, 1); },
              testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr("v_max")));
  EXPECT_THAT([] { Trapezoid::Fastest(1, 0, 0, 1, -2); },
              testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr("a_max")));
  EXPECT_THAT([] { Trapezoid::Fastest(1, 1.1, 0, 1, 1); },
              testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr("v0")));
  EXPECT_THROW(Trapezoid::Fastest(nan, 0, 0, 1, 1), std::invalid_argument);
  EXPECT_THROW(Trapezoid::Fastest(1, nan, 0, 1, 1), std::invalid_argument);
  EXPECT_THROW(Trapezoid::Fastest(1, 0, nan, 1, 1), std::invalid_argument);
  EXPECT_THROW(Trapezoid::Fastest(1, 0, 0, nan, 1), std::invalid_argument);
  EXPECT_THROW(Trapezoid::Fastest(1, 0, 0, 1, nan), std::invalid_argument);
  EXPECT_THROW(Trapezoid::Stretched(8, 2, 1, 5.9), std::invalid_argument);
  const Trapezoid profile = Trapezoid::Fastest(1, 0, 0, 1, 1);
  EXPECT_THROW(profile.Position(-0.1), std::out_of_range);
  EXPECT_THROW(profile.Speed(profile.duration() + 0.1), std::out_of_range);
  EXPECT_THROW(profile.Position(nan), std::out_of_range);
  EXPECT_THROW(profile.TimeAt(1.1), std::out_of_range);
  EXPECT_THROW(profile.TimeAt(nan), std::out_of_range);
  EXPECT_THROW(profile.TimeBelow(nan), std::invalid_argument);
}

// Source: external-checks TRJ-25, closed form 2 sqrt(d/a) for each segment.
TEST(ScaleTimeTest, StopAtEveryPointMatchesClosedForm) {
  const std::vector<PieceLimits> pieces(7, {1.0, 50.0, 500.0, 0.0});
  const std::vector<Trapezoid> profiles = ScaleTime(pieces);
  ASSERT_EQ(profiles.size(), pieces.size());
  for (const Trapezoid& profile : profiles) {
    EXPECT_NEAR(profile.duration(), 0.0894427191, kPublished);
    EXPECT_LT(profile.peak_speed(), 50.0);
  }
}

// Oracle: pieces with the same limits and free junctions are one trapezoid.
TEST(ScaleTimeTest, FreeJunctionsOfEqualPiecesMakeOneTrapezoid) {
  const std::vector<PieceLimits> pieces(10, {10.0, 250.0, 1000.0, kInfinity});
  EXPECT_NEAR(TotalTime(ScaleTime(pieces)), 0.65, kRounding);  // TRJ-04
}

// Property: speeds join, limits hold, both ends are at rest, and stopping at
// every point is never faster.
TEST(ScaleTimeTest, SpeedsJoinAndLimitsHold) {
  std::mt19937_64 rng(5);
  for (int run = 0; run < 300; ++run) {
    std::vector<PieceLimits> pieces = RandomPieces(rng, 40);
    const std::vector<Trapezoid> profiles = ScaleTime(pieces);
    ASSERT_EQ(profiles.size(), pieces.size());
    EXPECT_EQ(profiles.front().Speed(0.0), 0.0);
    EXPECT_NEAR(profiles.back().Speed(profiles.back().duration()), 0.0, kRounding);
    for (std::size_t i = 0; i < pieces.size(); ++i) {
      EXPECT_NEAR(profiles[i].distance(), pieces[i].length, kRounding);
      EXPECT_LE(profiles[i].peak_speed(), pieces[i].v_max * (1.0 + kRounding));
      if (i + 1 == pieces.size()) break;
      const double end = profiles[i].Speed(profiles[i].duration());
      EXPECT_NEAR(end, profiles[i + 1].Speed(0.0), 1e-9) << "run " << run << " piece " << i;
      EXPECT_LE(end, pieces[i].v_end_max + 1e-9);
    }
    const double fastest = TotalTime(profiles);
    for (PieceLimits& piece : pieces) piece.v_end_max = 0.0;
    EXPECT_LE(fastest, TotalTime(ScaleTime(pieces)) + kRounding);
  }
}

// Oracle: the envelope. The largest possible v^2 at a junction is the smallest,
// over all junctions, of their cap^2 plus twice the acceleration integrated
// over the path between (Pontryagin's phase-plane argument, by hand).
TEST(ScaleTimeTest, JunctionSpeedsAreTheLargestPossible) {
  std::mt19937_64 rng(17);
  for (int run = 0; run < 200; ++run) {
    const std::vector<PieceLimits> pieces = RandomPieces(rng, 25);
    const std::vector<Trapezoid> profiles = ScaleTime(pieces);
    const std::size_t count = pieces.size();
    std::vector<double> cap(count + 1, 0.0), work(count + 1, 0.0);
    for (std::size_t i = 0; i < count; ++i) {
      work[i + 1] = work[i] + 2.0 * pieces[i].a_max * pieces[i].length;
    }
    for (std::size_t i = 1; i < count; ++i) {
      cap[i] = std::min({pieces[i - 1].v_max, pieces[i].v_max, pieces[i - 1].v_end_max});
    }
    for (std::size_t i = 0; i < count; ++i) {
      double v2 = kInfinity;
      for (std::size_t k = 0; k <= count; ++k) {
        v2 = std::min(v2, cap[k] * cap[k] + std::abs(work[i] - work[k]));
      }
      EXPECT_NEAR(profiles[i].Speed(0.0), std::sqrt(v2), 1e-9) << "run " << run << " at " << i;
    }
  }
}

// Oracle: brute force over the two junction speeds of three pieces, each piece
// timed by the closed form.
TEST(ScaleTimeTest, NoJunctionSpeedsOnAGridAreFaster) {
  const auto time = [](const PieceLimits& piece, const double v0, const double v1) {
    const double peak = std::min(
        piece.v_max, std::sqrt(piece.a_max * piece.length + 0.5 * (v0 * v0 + v1 * v1)));
    if (peak < std::max(v0, v1) - 1e-12) return kInfinity;  // out of reach
    const double ramps = (2.0 * peak * peak - v0 * v0 - v1 * v1) / (2.0 * piece.a_max);
    return (2.0 * peak - v0 - v1) / piece.a_max + (piece.length - ramps) / peak;
  };
  std::mt19937_64 rng(23);
  for (int run = 0; run < 20; ++run) {
    const std::vector<PieceLimits> pieces = RandomPieces(rng, 3);
    const double fastest = TotalTime(ScaleTime(pieces));
    double best = kInfinity;
    const int steps = 200;
    for (int i = 0; i <= steps; ++i) {
      const double v1 =
          std::min({pieces[0].v_max, pieces[1].v_max, pieces[0].v_end_max}) * i / steps;
      for (int k = 0; k <= steps; ++k) {
        const double v2 =
            std::min({pieces[1].v_max, pieces[2].v_max, pieces[1].v_end_max}) * k / steps;
        best = std::min(best, time(pieces[0], 0, v1) + time(pieces[1], v1, v2) +
                                  time(pieces[2], v2, 0));
      }
    }
    EXPECT_LE(fastest, best + 1e-9) << "run " << run;
    EXPECT_GE(fastest, best * 0.95) << "run " << run;  // the grid is that coarse
  }
}

TEST(ScaleTimeTest, NoPiecesGiveNoProfiles) { EXPECT_TRUE(ScaleTime({}).empty()); }

TEST(ScaleTimeTest, BadPiecesThrowNamingPieceAndField) {
  const PieceLimits good{1, 1, 1, 0};
  EXPECT_THAT(([&] { ScaleTime({good, {0, 1, 1, 0}}); }),
              testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr("pieces[1].length")));
  EXPECT_THAT(([&] { ScaleTime({{1, 0, 1, 0}}); }),
              testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr("pieces[0].v_max")));
  EXPECT_THROW(ScaleTime({{1, 1, std::nan(""), 0}}), std::invalid_argument);
  EXPECT_THROW(ScaleTime({{1, 1, 1, -1}}), std::invalid_argument);
  EXPECT_THROW(ScaleTime({{1, 1, 1, std::nan("")}}), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::kinematics
