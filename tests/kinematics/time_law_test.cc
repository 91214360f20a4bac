#include "kinematics/time_law.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <stdexcept>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/kinematics/law_way.h"

namespace aircut::kinematics {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kPublished = 1e-9;   // tolerance of the rows TRJ-01..03, TRJ-22, 23, 25
constexpr double kRounding = 1e-12;

/// A straight way with the same limits everywhere.
struct Straight {
  double length = 0.0, speed = 0.0, acceleration = 0.0;
};

/// Cut at the given places, increasing, without the ends.
TimeLaw SolveStraight(const Straight& straight, std::vector<double> places) {
  places.push_back(straight.length);
  Way way;
  double from = 0.0;
  for (const double to : places) {
    way.Interval(to - from, straight.speed * straight.speed)
        .Both(1.0, 0.0, straight.acceleration, 0);
    from = to;
  }
  return way.EndMove().Solve();
}

std::vector<double> EvenPlaces(const double length, const int count) {
  std::vector<double> places;
  for (int i = 1; i < count; ++i) places.push_back(length * i / count);
  return places;
}

/// Moment at which each node is passed.
std::vector<double> NodeTimes(const std::vector<double>& lengths, const TimeLaw& law) {
  std::vector<double> times{0.0};
  for (std::size_t i = 0; i < lengths.size(); ++i) {
    times.push_back(times.back() + IntervalTime(lengths[i], law.x[i], law.x[i + 1]));
  }
  return times;
}

// Source: external-checks TRJ-01, published test of an open kinematics library
// (trapezoid, v 2, a 1, from 2 to 10): 4, 6, 8, 9.5 at t = 2, 3, 4, 5.
TEST(TimeLawTest, CruisingProfileMatchesPublishedPositionsAndSpeeds) {
  const std::vector<double> lengths = {2.0, 2.0, 2.0, 1.5, 0.5};
  const TimeLaw law = SolveStraight({8.0, 2.0, 1.0}, {2.0, 4.0, 6.0, 7.5});
  EXPECT_NEAR(law.duration_s, 6.0, kPublished);
  const std::vector<double> times = NodeTimes(lengths, law);
  const double t[] = {2, 3, 4, 5}, speed[] = {2, 2, 2, 1};
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_NEAR(times[i + 1], t[i], kPublished);
    EXPECT_NEAR(std::sqrt(law.x[i + 1]), speed[i], kPublished);
  }
}

// Source: external-checks TRJ-02, same origin (v 4, a 2; 2 to 10, 2 to -6, 13 to 29).
TEST(TimeLawTest, TriangleAtTheLimitAndCruiseMatchPublishedDurations) {
  EXPECT_NEAR(SolveStraight({8.0, 4.0, 2.0}, {4.0}).duration_s, 4.0, kPublished);
  EXPECT_NEAR(SolveStraight({16.0, 4.0, 2.0}, {4.0, 12.0}).duration_s, 6.0, kPublished);
}

// Source: external-checks TRJ-03, same origin: 2 to 10 in 12 s is what v 1, a 0.25 take.
TEST(TimeLawTest, StretchedProfileMatchesPublishedPositions) {
  const std::vector<double> lengths = {2.0, 4.0, 1.5, 0.5};
  const TimeLaw law = SolveStraight({8.0, 1.0, 0.25}, {2.0, 6.0, 7.5});
  EXPECT_NEAR(law.duration_s, 12.0, kPublished);
  const std::vector<double> times = NodeTimes(lengths, law);
  EXPECT_NEAR(times[1], 4.0, kPublished);
  EXPECT_NEAR(times[3], 10.0, kPublished);
}

// Source: external-checks TRJ-04, closed forms T = d/v + v/a and 2 sqrt(d/a).
TEST(TimeLawTest, StraightWayMatchesClosedForms) {
  EXPECT_NEAR(SolveStraight({100.0, 250.0, 1000.0}, {31.25, 68.75}).duration_s, 0.65, kRounding);
  EXPECT_NEAR(SolveStraight({10.0, 250.0, 1000.0}, {5.0}).duration_s, 0.2, kRounding);
}

/// The spline of TRJ-19: coefficients of x and y, cubic first, per segment.
constexpr double kSpline[3][2][4] = {{{-.5, 1.5, 0, 0}, {-.5, .5, 3, 0}},
                                     {{-.5, 0, 1.5, 1}, {-.5, -1, 2.5, 3}},
                                     {{-.5, -1.5, 0, 2}, {-.5, -2.5, -1, 4}}};

/// Rows of the start of each of n intervals: velocity 1, acceleration 0.2.
TimeLawProblem SplineProblem(const int n) {
  Way way;
  const auto slope = [n](const int i, const int joint) {
    const double s = 3.0 * i / n;
    const int segment = std::min(2, static_cast<int>(s));
    const double* c = kSpline[segment][joint];
    const double t = s - segment;
    return std::array<double, 2>{3 * c[0] * t * t + 2 * c[1] * t + c[2], 6 * c[0] * t + 2 * c[1]};
  };
  const auto cap = [&](const int i) {
    const double fastest = std::max(std::abs(slope(i, 0)[0]), std::abs(slope(i, 1)[0]));
    return 1.0 / (fastest * fastest);
  };
  way.problem().x_max[0] = cap(0);
  for (int i = 0; i < n; ++i) {
    way.Interval(3.0 / n, cap(i + 1));
    for (int joint = 0; joint < 2; ++joint) {
      way.Both(slope(i, joint)[0], slope(i, joint)[1], 0.2, joint);
    }
  }
  return way.EndMove().problem();
}

// Source: external-checks TRJ-19, TRJ-20, TRJ-21: published values of an open
// implementation of Pham, Pham, IEEE T-RO 34(3) 2018.
TEST(TimeLawTest, SplineMatchesPublishedSpeedsTimeAndControllableSets) {
  TimeLawProblem problem = SplineProblem(50);
  problem.mean_rows = MeanRows::kMean;
  const TimeLaw law = SolveTimeLaw(problem);
  const int at[] = {0, 1, 5, 11, 12, 20, 30, 31, 32, 45, 49, 50};
  const double x[] = {0, .00799999, .0375065, .08890758, .08734253, .06257243, .04761904,
                      .0285715, .05376003, .03206054, .00394282, 0};
  for (int k = 0; k < 12; ++k) EXPECT_NEAR(law.x[at[k]], x[k], 1e-6) << "node " << at[k];
  EXPECT_NEAR(law.duration_s, 17.7758, 1e-3);
  const int at_limit[] = {0, 10, 20, 30, 40, 49};
  const double limit[] = {.06666667, .09655088, .06257244, .04761905, .09525987, .00394283};
  for (int k = 0; k < 6; ++k) {
    EXPECT_NEAR(law.x_limit[at_limit[k]], limit[k], 1e-6) << "node " << at_limit[k];
  }
}

// Source: external-checks TRJ-22, limits of an example of the same origin: joints
// (.2, .3, -1), v (.1, .2, .3), a (1, 2, 3). The first joint bounds neither: s' <=
// .3 and s'' <= 3 are the third joint's.
TEST(TimeLawTest, StraightJointPathMatchesExactOptimum) {
  const double slope[] = {.2, .3, -1}, v[] = {.1, .2, .3}, a[] = {1, 2, 3};
  Way way;
  for (const double length : {.015, .97, .015}) {   // .3^2 / (2 3) to gather and to lose speed
    double cap = kInfinity;
    for (int k = 0; k < 3; ++k) cap = std::min(cap, v[k] * v[k] / (slope[k] * slope[k]));
    way.Interval(length, cap);
    for (int k = 0; k < 3; ++k) way.Both(slope[k], 0.0, a[k], k);
  }
  EXPECT_NEAR(way.Solve().duration_s, 1 / .3 + .3 / 3, kPublished);
}

// Source: external-checks TRJ-23, closed form; on nodes that miss the switching
// points a linear x costs time, which shrinks with the intervals.
TEST(TimeLawTest, ScalarPathMatchesExactOptimumAndConvergesToIt) {
  const double exact = 10.0 / 3.0 + 3.0 / 4.0;
  EXPECT_NEAR(SolveStraight({10.0, 3.0, 4.0}, {1.125, 8.875}).duration_s, exact, kPublished);
  double worse = kInfinity;
  for (const int count : {10, 20, 40, 160, 1600}) {
    const double excess = SolveStraight({10.0, 3.0, 4.0}, EvenPlaces(10.0, count)).duration_s - exact;
    EXPECT_GE(excess, -kRounding) << count;
    EXPECT_LE(excess, 0.5 * worse + kRounding) << count;
    worse = excess;
  }
  EXPECT_LT(worse, 1e-5);
}

// Source: external-checks TRJ-24, centripetal bound: radius .05 m, 2 m/s^2. The
// way runs half a circle on eighty chords of its parameter, the length of arc; a
// gantry of two axes stands for the arm: q'' = the normal / radius.
TEST(TimeLawTest, CircleSpeedIsTheRootOfAccelerationTimesRadius) {
  const double radius = .05, a_max = 2.0;
  Way way;
  for (int i = 0; i < 80; ++i) {
    way.Interval(3.14159265358979 * radius / 80, kInfinity);
    const int directions = 64;   // of a tool acceleration, held in every direction of the plane
    for (int k = 0; k < directions; ++k) {
      const double angle = 2.0 * 3.14159265358979 * k / directions;
      way.Both(std::cos(angle), std::sin(angle) / radius, a_max, -1);
    }
  }
  const TimeLaw law = way.Solve();
  double fastest = 0.0;
  for (const double x : law.x) fastest = std::max(fastest, x);
  EXPECT_NEAR(std::sqrt(fastest), .3162278, 1e-7);
}

// Source: external-checks TRJ-25, closed form 2 sqrt(d/a) for each segment.
TEST(TimeLawTest, StopAtEveryPointMatchesClosedForm) {
  Way way;
  const int segments = 7;
  for (int i = 0; i < segments; ++i) {
    way.Interval(0.5, 2500.0).Both(1.0, 0.0, 500.0, 0);
    way.Interval(0.5, 0.0).Both(1.0, 0.0, 500.0, 0);
  }
  EXPECT_NEAR(way.Solve().duration_s, segments * 2.0 * std::sqrt(1.0 / 500.0), kPublished);
  EXPECT_NEAR(way.Solve().duration_s / segments, .0894427, 1e-7);
}

/// `count` intervals of length 1, x changes by at most 4 over each, by joint 3.
Way EvenWay(const int count, const double x_max) {
  Way way;
  for (int i = 0; i < count; ++i) {
    way.Interval(1.0, x_max).Both(1.0, 0.0, 2.0, 3).Both(0.5, 0.0, 2.0, 4);
  }
  return way;
}

constexpr HeldBy kJoint = HeldBy::kJointAcceleration;

std::vector<HeldBy> Causes(const TimeLaw& law) {
  std::vector<HeldBy> causes;
  for (const Hold& hold : law.held_by) {
    causes.push_back(hold.by);
    EXPECT_EQ(hold.joint, hold.by == kJoint ? 3 : -1);
  }
  return causes;
}

// Definition: the interval's own row; the cap at its end; the row that bounds
// braking for a cap above 0; the standstill that is braked for.
TEST(TimeLawTest, EachIntervalNamesWhatHoldsIt) {
  Way way = EvenWay(12, 10.0);
  way.problem().x_max[6] = 1.0;
  way.problem().x_hold[6].by = HeldBy::kCorner;
  const TimeLaw law = way.Solve();
  EXPECT_THAT(law.x, testing::Pointwise(testing::DoubleNear(kRounding),
                                        {0, 4, 8, 10, 9, 5, 1, 5, 9, 10, 8, 4, 0}));
  EXPECT_THAT(Causes(law), testing::ElementsAre(
      kJoint, kJoint, HeldBy::kFeed, kJoint, kJoint, HeldBy::kCorner, kJoint, kJoint, HeldBy::kFeed,
      HeldBy::kStop, HeldBy::kStop, HeldBy::kStop));
}

TEST(TimeLawTest, BrakingForAStandstillOnTheWayNamesItsCap) {
  Way way = EvenWay(12, 10.0);
  way.problem().x_max[6] = 0.0;
  way.problem().x_hold[6].by = HeldBy::kCycle;
  const TimeLaw law = way.Solve();
  EXPECT_EQ(law.x[6], 0.0);
  EXPECT_EQ(law.held_by[4].by, HeldBy::kCycle);
  EXPECT_EQ(law.held_by[5].by, HeldBy::kCycle);
  EXPECT_EQ(law.held_by[11].by, HeldBy::kStop);
  way.problem().x_max[12] = 0.0;
  way.problem().x_hold[12].by = HeldBy::kSlowPass;
  EXPECT_EQ(way.Solve().held_by[11].by, HeldBy::kSlowPass);
}

// By hand: on the second interval y <= x + 1 and y >= 2 x - 2, which meet at x = 3.
TEST(TimeLawTest, OfTwoRowsThatMeetTheOneThatBoundsBrakingIsNamed) {
  Way way;
  way.Interval(0.5, kInfinity).Both(1.0, 0.0, 9.0, 0);
  way.Interval(0.5, kInfinity).Both(1.0, 0.0, 1.0, 1).Both(-1.0, 1.0, 2.0, 2);
  way.Interval(0.5, kInfinity).Both(1.0, 0.0, 9.0, 0);
  const TimeLaw law = way.Solve();
  EXPECT_THAT(law.x, testing::Pointwise(testing::DoubleNear(kRounding), {0, 3, 4, 0}));
  EXPECT_EQ(law.held_by[0].joint, 2);
  EXPECT_EQ(law.held_by[1].joint, 1);
}

// By hand: six moves of two intervals, two known ahead; x may be 4 and 8 at one
// and two intervals before the end of what is known.
TEST(TimeLawTest, LookAheadIsNamedWhereItIsSlowerThanEndless) {
  Way way = EvenWay(12, 100.0);
  way.problem().move_ends = {2, 4, 6, 8, 10, 12};
  way.problem().look_ahead_moves = 2;
  const TimeLaw law = way.Solve();
  EXPECT_THAT(law.x, testing::Pointwise(testing::DoubleNear(kRounding),
                                        {0, 4, 8, 12, 8, 12, 8, 12, 8, 12, 8, 4, 0}));
  EXPECT_EQ(law.held_by[0].by, kJoint);
  EXPECT_EQ(law.held_by[3].by, HeldBy::kLookAhead);
  EXPECT_EQ(law.held_by[7].by, HeldBy::kLookAhead);
  EXPECT_EQ(law.held_by[9].by, HeldBy::kStop);   // endless is no faster here
}

// Closed form: with b alone the row is a cap on x at both ends, c / b.
TEST(TimeLawTest, RowsOfOneCoefficientAndInertRows) {
  Way way;
  for (int i = 0; i < 8; ++i) {
    way.Interval(1.0, kInfinity).Both(1.0, 0.0, 2.0, 0).Both(0.0, 0.25, 2.0, 1).Both(0.0, 0.0, 0.0, 2);
  }
  EXPECT_THAT(way.Solve().x, testing::Pointwise(testing::DoubleNear(kRounding),
                                                {0, 4, 8, 8, 8, 8, 8, 4, 0}));
}

// By hand: u + x <= 3 on an interval of length 1 is x + y <= 6. At each end x
// stays within 3; as a mean, the 4 and 5 that are reached leave 2 and 1.
TEST(TimeLawTest, MeanRowsAreReadInBothWays) {
  Way way;
  way.Interval(1.0, 5.0).Both(1.0, 0.0, 9.0, 0);
  way.Interval(1.0, 20.0).Both(1.0, 0.0, 9.0, 0);
  way.problem().rows.push_back({1.0, 1.0, 3.0, Hold{kJoint, 1}});
  way.problem().first_row.back() += 1;
  way.Interval(1.0, 20.0).Both(1.0, 0.0, 9.0, 0);
  EXPECT_THAT(way.Solve().x, testing::Pointwise(testing::DoubleNear(kRounding), {0, 3, 3, 0}));
  EXPECT_EQ(way.Solve().held_by[0].joint, 1);
  way.problem().mean_rows = MeanRows::kMean;
  EXPECT_THAT(way.Solve().x, testing::Pointwise(testing::DoubleNear(kRounding), {0, 5, 1, 0}));
}

// A braking row of almost no slope must not hide another that is missed.
TEST(TimeLawTest, RowsThatHardlyFeelTheEndHideNoOther) {
  for (const double a : {1e-9, 1e-15, 1e-20, 1e-60, 1e-290}) {
    Way way = EvenWay(3, kInfinity);
    Way with = EvenWay(0, kInfinity);
    for (int i = 0; i < 3; ++i) with.Interval(1.0, kInfinity).Both(1.0, 0.0, 2.0, 3).Both(a, 0.1, 50.0, 1);
    EXPECT_THAT(with.Solve().x, testing::Pointwise(testing::DoubleNear(kRounding), way.Solve().x)) << a;
  }
}

TEST(TimeLawTest, IntervalTimeIsLengthOverMeanSpeed) {
  EXPECT_DOUBLE_EQ(IntervalTime(3.0, 4.0, 16.0), 1.0);
  EXPECT_DOUBLE_EQ(IntervalTime(3.0, 0.0, 9.0), 2.0);
  EXPECT_THROW(IntervalTime(3.0, 0.0, 0.0), std::invalid_argument);
  EXPECT_THROW(IntervalTime(0.0, 1.0, 1.0), std::invalid_argument);
  EXPECT_THROW(IntervalTime(std::nan(""), 1.0, 1.0), std::invalid_argument);
  EXPECT_THROW(IntervalTime(1.0, std::nan(""), 1.0), std::invalid_argument);
  EXPECT_THROW(IntervalTime(1.0, 1.0, -1.0), std::invalid_argument);
}

struct BadProblem {
  const char* text;       // the message begins with it
  void (*spoil)(TimeLawProblem&);
};

const BadProblem kBadProblems[] = {
    {"length.size() = 0 must be >= 1", [](TimeLawProblem& p) { p = TimeLawProblem{}; }},
    {"length[1] = 0 must be > 0", [](TimeLawProblem& p) { p.length[1] = 0.0; }},
    {"length[1] = nan must be", [](TimeLawProblem& p) { p.length[1] = std::nan(""); }},
    {"length[2] = inf must be", [](TimeLawProblem& p) { p.length[2] = kInfinity; }},
    {"first_row.size() = 5 must be 4", [](TimeLawProblem& p) { p.first_row.push_back(12); }},
    {"first_row[0] = 1 must be 0", [](TimeLawProblem& p) { p.first_row[0] = 1; }},
    {"first_row[2] = 3 must be >= 4", [](TimeLawProblem& p) { p.first_row[2] = 3; }},
    {"rows.size() = 13 must be 12", [](TimeLawProblem& p) { p.rows.emplace_back(); }},
    {"rows[5].a = nan must be", [](TimeLawProblem& p) { p.rows[5].a = std::nan(""); }},
    {"rows[5].a = inf must be", [](TimeLawProblem& p) { p.rows[5].a = kInfinity; }},
    {"rows[0].b = -inf must be", [](TimeLawProblem& p) { p.rows[0].b = -kInfinity; }},
    {"rows[7].c = -0.1 must be >= 0", [](TimeLawProblem& p) { p.rows[7].c = -0.1; }},
    {"rows[7].c = nan must be >= 0", [](TimeLawProblem& p) { p.rows[7].c = std::nan(""); }},
    {"x_max.size() = 3 must be 4", [](TimeLawProblem& p) { p.x_max.pop_back(); }},
    {"x_max[3] = -1 must be >= 0", [](TimeLawProblem& p) { p.x_max[3] = -1.0; }},
    {"x_max[0] = nan must be >= 0", [](TimeLawProblem& p) { p.x_max[0] = std::nan(""); }},
    {"x_hold.size() = 0 must be 4", [](TimeLawProblem& p) { p.x_hold.clear(); }},
    {"look_ahead_moves = 0 must be >= 1", [](TimeLawProblem& p) { p.look_ahead_moves = 0; }},
    {"move_ends.size() = 0 must be >= 1", [](TimeLawProblem& p) { p.look_ahead_moves = 1; }},
    {"move_ends[0] = 0 must be > 0", [](TimeLawProblem& p) { p.move_ends = {0, 3}; }},
    {"move_ends[1] = 2 must be > 2", [](TimeLawProblem& p) { p.move_ends = {2, 2, 3}; }},
    {"move_ends[0] = 2 must be the last node, 3", [](TimeLawProblem& p) { p.move_ends = {2}; }},
    {"x at both ends of length[2] = 0", [](TimeLawProblem& p) { p.x_max[2] = 0.0; }},
    {"x at both ends of length[0] = 0", [](TimeLawProblem& p) { p.rows[0].c = 0.0; }},
    {"x_max[1] = inf must be finite", [](TimeLawProblem& p) { p.rows.assign(12, LawRow{}); }}};

TEST(TimeLawTest, BadProblemsThrowNamingFieldAndBound) {
  for (const BadProblem& bad : kBadProblems) {
    TimeLawProblem problem = EvenWay(3, kInfinity).problem();
    bad.spoil(problem);
    EXPECT_THAT([&] { SolveTimeLaw(problem); },
                testing::ThrowsMessage<std::invalid_argument>(testing::StartsWith(bad.text)));
  }
}

}  // namespace
}  // namespace aircut::kinematics
