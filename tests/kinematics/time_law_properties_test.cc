#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <random>
#include <vector>

#include <gtest/gtest.h>

#include "kinematics/time_law.h"
#include "tests/kinematics/law_way.h"

namespace aircut::kinematics {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

struct Scale {
  int intervals = 0, joints = 0;
};

/// Caps are infinite, finite or, not at neighbours, 0; a row pair of a joint holds
/// the start and another the end of the interval.
TimeLawProblem RandomProblem(std::mt19937_64& rng, const Scale& scale) {
  std::uniform_real_distribution<double> unit(0.0, 1.0), both(-1.0, 1.0);
  Way way;
  bool rested = true;
  for (int i = 0; i < scale.intervals; ++i) {
    const double length = 0.05 + unit(rng), kind = unit(rng);
    const bool rest = !rested && kind < 0.1 && i + 2 < scale.intervals;
    way.Interval(length, rest ? 0.0 : kind < 0.5 ? kInfinity : 4.0 * unit(rng) + 0.01);
    rested = rest;
    for (int joint = 0; joint < scale.joints; ++joint) {
      const double odd = unit(rng), limit = 0.1 + 2.0 * unit(rng);
      double a = both(rng), b = both(rng);
      if (odd < 0.1) a = 0.0;
      else if (odd < 0.2) a *= 1e-15;
      else if (odd < 0.3) b = 0.0;
      way.Both(a, b, limit, joint).Both(a + 2.0 * b * length, b, limit, joint);
    }
    way.Both(1.0, 0.0, 3.0, scale.joints);   // something always bounds u
    if (unit(rng) < 0.4 && i > 0) way.EndMove();
  }
  if (way.problem().move_ends.empty() ||
      way.problem().move_ends.back() != way.problem().length.size()) {
    way.EndMove();
  }
  return way.problem();
}

double AccelerationAt(const TimeLawProblem& problem, const TimeLaw& law, const std::size_t i) {
  return (law.x[i + 1] - law.x[i]) / (2.0 * problem.length[i]);
}

// Property: all rows and caps hold, both ends are at rest, the duration is the
// sum of its intervals.
TEST(TimeLawPropertyTest, RowsAndCapsHoldOnRandomWays) {
  std::mt19937_64 rng(3);
  for (int run = 0; run < 400; ++run) {
    TimeLawProblem problem = RandomProblem(rng, {40, 1 + run % 6});
    problem.mean_rows = run < 200 ? MeanRows::kEachEnd : MeanRows::kMean;
    const TimeLaw law = SolveTimeLaw(problem);
    ASSERT_EQ(law.x.front(), 0.0);
    ASSERT_EQ(law.x.back(), 0.0);
    double time = 0.0;
    for (std::size_t i = 0; i < problem.length.size(); ++i) {
      ASSERT_TRUE(law.x[i] >= 0.0 && law.x[i] <= law.x_limit[i] && law.x_limit[i] <= problem.x_max[i]);
      const double u = AccelerationAt(problem, law, i);
      for (auto r = problem.first_row[i]; r < problem.first_row[i + 1]; ++r) {
        const LawRow& row = problem.rows[r];
        ASSERT_LE(row.a * u + row.b * law.x[i], row.c * (1.0 + 1e-9)) << "run " << run << " at " << i;
      }
      time += IntervalTime(problem.length[i], law.x[i], law.x[i + 1]);
    }
    EXPECT_EQ(law.duration_s, time);
  }
}

// Property: numbers of any size give numbers, and no row is missed by more than
// rounding of its own terms.
TEST(TimeLawPropertyTest, RowsHoldWithinRoundingForNumbersOfAnySize) {
  std::mt19937_64 rng(29);
  std::uniform_real_distribution<double> exponent(-20.0, 20.0), unit(0.0, 1.0);
  const auto any = [&] { return std::pow(10.0, exponent(rng)); };
  const auto coefficient = [&] {
    return unit(rng) < 0.15 ? 0.0 : (unit(rng) < 0.5 ? -1.0 : 1.0) * any();
  };
  for (int run = 0; run < 10000; ++run) {
    Way way;
    for (int i = 0; i < 12; ++i) {
      way.Interval(std::pow(any(), 0.3), unit(rng) < 0.5 ? kInfinity : any());
      for (int joint = 0; joint < 4; ++joint) {
        const double a = coefficient(), b = coefficient();   // in this order with every compiler
        way.Both(a, b, any(), joint);
      }
      way.Both(1.0, 0.0, any(), 4);
    }
    TimeLawProblem& problem = way.problem();
    problem.mean_rows = run % 2 == 0 ? MeanRows::kEachEnd : MeanRows::kMean;
    const TimeLaw law = way.Solve();
    ASSERT_TRUE(std::isfinite(law.duration_s)) << "run " << run;
    for (std::size_t i = 0; i < problem.length.size(); ++i) {
      for (auto r = problem.first_row[i]; r < problem.first_row[i + 1]; ++r) {
        const LawRow& row = problem.rows[r];
        const double q = row.a / (2.0 * problem.length[i]), p = row.b - q;
        const double size = row.c + std::abs(p) * law.x[i] + std::abs(q) * law.x[i + 1];
        ASSERT_LE(p * law.x[i] + q * law.x[i + 1] - row.c, 1e-14 * size) << "run " << run << " at " << i;
      }
    }
  }
}

/// The row bounds a weighted mean of x at both ends of an interval.
bool BoundsMean(const LawRow& row, const double length) {
  return row.a > 0.0 && 2.0 * row.b * length > row.a;
}

/// p x + q y <= c with y the x at the end of the interval.
struct Line {
  double p = 0.0, q = 0.0, c = 0.0;
};

// Largest x of the set of interval i with y <= y_max: all corners of all pairs.
double LargestCorner(const TimeLawProblem& problem, const std::size_t i, const double y_max) {
  std::vector<Line> lines = {{-1, 0, 0}, {0, -1, 0}, {0, 1, y_max}};
  if (std::isfinite(problem.x_max[i])) lines.push_back({1, 0, problem.x_max[i]});
  for (auto r = problem.first_row[i]; r < problem.first_row[i + 1]; ++r) {
    const LawRow& row = problem.rows[r];
    const double q = row.a / (2.0 * problem.length[i]), p = row.b - q;
    lines.push_back({p, q, row.c});
    if (problem.mean_rows == MeanRows::kEachEnd && BoundsMean(row, problem.length[i])) {
      lines.push_back({row.b, 0.0, row.c});
      lines.push_back({0.0, row.b, row.c});
    }
  }
  double largest = 0.0;
  for (const Line& one : lines) {
    for (const Line& other : lines) {
      const double det = one.p * other.q - other.p * one.q;
      const double x = (one.c * other.q - other.c * one.q) / det;
      const double y = (one.p * other.c - other.p * one.c) / det;
      if (det == 0.0 || !std::isfinite(x) || !std::isfinite(y)) continue;
      const bool inside = std::all_of(lines.begin(), lines.end(), [&](const Line& line) {
        return line.p * x + line.q * y <= line.c + 1e-10 * (1.0 + std::abs(x) + std::abs(y));
      });
      if (inside) largest = std::max(largest, x);
    }
  }
  return largest;
}

// Oracle: brute force over all corners of every interval's set.
TEST(TimeLawPropertyTest, ControllableSetsMatchEnumeratedCorners) {
  std::mt19937_64 rng(31);
  for (int run = 0; run < 100; ++run) {
    TimeLawProblem problem = RandomProblem(rng, {12, 3});
    problem.mean_rows = run % 2 == 0 ? MeanRows::kEachEnd : MeanRows::kMean;
    const TimeLaw law = SolveTimeLaw(problem);
    for (std::size_t i = 0; i < problem.length.size(); ++i) {
      const double largest = LargestCorner(problem, i, law.x_limit[i + 1]);
      EXPECT_NEAR(law.x_limit[i], largest, 1e-7 * (1.0 + largest)) << "run " << run << " at " << i;
    }
  }
}

bool Allows(const TimeLawProblem& problem, const std::size_t i, const double x, const double y) {
  const double slack = 1e-12, u = (y - x) / (2.0 * problem.length[i]);
  for (auto r = problem.first_row[i]; r < problem.first_row[i + 1]; ++r) {
    const LawRow& row = problem.rows[r];
    if (row.a * u + row.b * x > row.c + slack) return false;
    if (BoundsMean(row, problem.length[i]) && row.b * std::max(x, y) > row.c + slack) return false;
  }
  return x + y > 0.0;
}

/// Least time over all laws whose x are multiples of their node's limit / steps.
double LeastTimeOnGrid(const TimeLawProblem& problem, const std::vector<double>& limit,
                       const int steps) {
  const std::size_t count = static_cast<std::size_t>(steps) + 1;
  std::vector<double> least(count, kInfinity);
  least[0] = 0.0;
  for (std::size_t i = 0; i < problem.length.size(); ++i) {
    std::vector<double> next(count, kInfinity);
    for (std::size_t k = 0; k < count; ++k) {
      for (std::size_t to = 0; std::isfinite(least[k]) && to < count; ++to) {
        const double x = limit[i] * static_cast<double>(k) / steps;
        const double y = limit[i + 1] * static_cast<double>(to) / steps;
        if (!Allows(problem, i, x, y)) continue;
        next[to] = std::min(next[to], least[k] + IntervalTime(problem.length[i], x, y));
      }
    }
    least = next;
  }
  return *std::min_element(least.begin(), least.end());
}

// Oracle: dynamic programming over a fine grid of x: nothing on it is faster, and
// what it finds is as near as the grid is fine.
TEST(TimeLawPropertyTest, NoLawOnAGridIsFaster) {
  std::mt19937_64 rng(37);
  for (int run = 0; run < 60; ++run) {
    const TimeLawProblem problem = RandomProblem(rng, {6, 2});
    const TimeLaw law = SolveTimeLaw(problem);
    const double least = LeastTimeOnGrid(problem, law.x_limit, 120);
    EXPECT_GE(least, law.duration_s * (1.0 - 1e-9)) << "run " << run;
    EXPECT_LE(least, law.duration_s * 1.1) << "run " << run;
  }
}

/// Three joints on waves over s in [0, 10], rows for both ends of each interval.
class WavyPath {
 public:
  static constexpr double kLength = 10.0, kLimit = 2.0;
  explicit WavyPath(std::mt19937_64& rng) {
    std::uniform_real_distribution<double> unit(0.0, 1.0);
    for (int k = 0; k < 9; ++k) wave_[k / 3][k % 3] = unit(rng) + (k % 3 == 2 ? 0.0 : 0.4);
  }
  double Rate(const int joint, const double s) const {
    const double* w = wave_[joint];
    return w[0] * w[1] * std::cos(w[1] * s + 6.0 * w[2]);
  }
  double Bend(const int joint, const double s) const {
    const double* w = wave_[joint];
    return -w[0] * w[1] * w[1] * std::sin(w[1] * s + 6.0 * w[2]);
  }
  TimeLawProblem Problem(const int intervals) const {
    Way way;
    const double length = kLength / intervals;
    for (int i = 0; i < intervals; ++i) {
      way.Interval(length, 20.0);
      const double s0 = length * i, s1 = length * (i + 1);
      for (int joint = 0; joint < 3; ++joint) {
        way.Both(Rate(joint, s0), Bend(joint, s0), kLimit, joint);
        way.Both(Rate(joint, s1) + 2.0 * Bend(joint, s1) * length, Bend(joint, s1), kLimit, joint);
      }
    }
    return way.EndMove().problem();
  }

 private:
  double wave_[3][3];
};

// Property: on a smooth path the joints' accelerations stay within 0.5 % between
// nodes too, as computed from the path's own waves.
TEST(TimeLawPropertyTest, LimitsHoldBetweenNodesOfASmoothPath) {
  std::mt19937_64 rng(59);
  for (int run = 0; run < 20; ++run) {
    const WavyPath path(rng);
    const TimeLawProblem problem = path.Problem(200);
    const TimeLaw law = SolveTimeLaw(problem);
    for (std::size_t i = 0; i < problem.length.size(); ++i) {
      const double length = problem.length[i], u = AccelerationAt(problem, law, i);
      for (int part = 0; part <= 10; ++part) {
        const double share = part / 10.0, s = length * (static_cast<double>(i) + share);
        const double x = law.x[i] + 2.0 * u * length * share;
        for (int joint = 0; joint < 3; ++joint) {
          const double qdd = path.Rate(joint, s) * u + path.Bend(joint, s) * x;
          ASSERT_LE(std::abs(qdd), WavyPath::kLimit * 1.005) << "run " << run << " s " << s;
        }
      }
    }
  }
}

// Property: what bounding each end costs vanishes on finer intervals.
TEST(TimeLawPropertyTest, BothReadingsOfMeanRowsComeTogether) {
  std::mt19937_64 rng(61);
  for (int run = 0; run < 10; ++run) {
    const WavyPath path(rng);
    for (const int intervals : {100, 1000, 10000}) {
      TimeLawProblem problem = path.Problem(intervals);
      const double each_end = SolveTimeLaw(problem).duration_s;
      problem.mean_rows = MeanRows::kMean;
      const double mean = SolveTimeLaw(problem).duration_s;
      EXPECT_NEAR(each_end, mean, mean / intervals) << "run " << run << " of " << intervals;
    }
  }
}

// Property: halving any limit never shortens the time.
TEST(TimeLawPropertyTest, HalvingALimitNeverShortensTheTime) {
  std::mt19937_64 rng(41);
  for (int run = 0; run < 300; ++run) {
    TimeLawProblem problem = RandomProblem(rng, {30, 3});
    const double time = SolveTimeLaw(problem).duration_s;
    if (run % 3 == 0) {
      for (LawRow& row : problem.rows) row.c *= row.hold.joint == 1 ? 0.5 : 1.0;
    } else if (run % 3 == 1) {
      for (double& x_max : problem.x_max) x_max *= 0.25;
    } else {
      problem.rows[rng() % problem.rows.size()].c *= 0.5;
    }
    const double slower = SolveTimeLaw(problem).duration_s;
    EXPECT_GE(slower, time * (1.0 - 1e-12)) << "run " << run;
  }
}

/// The same way run from its end: x and y change places in every row.
TimeLawProblem Reversed(const TimeLawProblem& problem) {
  Way way;
  way.problem().x_max[0] = problem.x_max.back();
  for (std::size_t i = problem.length.size(); i-- > 0;) {
    way.Interval(problem.length[i], problem.x_max[i]);
    for (auto r = problem.first_row[i]; r < problem.first_row[i + 1]; r += 2) {   // row pairs
      const LawRow& row = problem.rows[r];
      way.Both(2.0 * row.b * problem.length[i] - row.a, row.b, row.c, row.hold.joint);
    }
  }
  return way.problem();
}

// Property: the way back takes the same time.
TEST(TimeLawPropertyTest, TheWayBackTakesTheSameTime) {
  std::mt19937_64 rng(43);
  for (int run = 0; run < 200; ++run) {
    const TimeLawProblem problem = RandomProblem(rng, {30, 3});
    const TimeLaw there = SolveTimeLaw(problem), back = SolveTimeLaw(Reversed(problem));
    EXPECT_NEAR(there.duration_s, back.duration_s, 1e-9 * there.duration_s) << "run " << run;
    for (std::size_t i = 0; i < there.x.size(); ++i) {
      EXPECT_NEAR(there.x[i], back.x[there.x.size() - 1 - i], 1e-9 * (1.0 + there.x[i]));
    }
  }
}

/// The way up to node `end`.
TimeLawProblem Begin(const TimeLawProblem& problem, const std::size_t end) {
  TimeLawProblem begin = problem;
  begin.length.resize(end);
  begin.first_row.resize(end + 1);
  begin.rows.resize(begin.first_row.back());
  begin.x_max.resize(end + 1);
  begin.x_hold.resize(end + 1);
  begin.move_ends.clear();
  begin.look_ahead_moves.reset();
  return begin;
}

/// Moves of two to four intervals: one between two standstills could not be run.
void SpreadMoves(TimeLawProblem& problem) {
  std::vector<std::uint32_t> ends;
  for (std::size_t end = 2; end + 2 <= problem.length.size(); end += 2 + end % 3) {
    ends.push_back(static_cast<std::uint32_t>(end));
  }
  ends.push_back(static_cast<std::uint32_t>(problem.length.size()));
  problem.move_ends = ends;
}

// Oracle: definition; the limits of a move are those of the way that ends with
// its look-ahead, computed from the way cut there, and the law is the fastest under them.
TEST(TimeLawPropertyTest, LookAheadLimitsAreThoseOfTheWayCutAtItsEnd) {
  std::mt19937_64 rng(47);
  for (int run = 0; run < 40; ++run) {
    TimeLawProblem problem = RandomProblem(rng, {40, 3});
    for (double& x_max : problem.x_max) x_max = std::max(x_max, 0.05);
    TimeLawProblem capped = problem;
    const std::vector<std::uint32_t>& ends = problem.move_ends;
    const std::size_t ahead = 2 + static_cast<std::size_t>(run) % 3;
    for (std::size_t m = 0; m < ends.size(); ++m) {
      const std::size_t end = ends[std::min(m + ahead - 1, ends.size() - 1)];
      const std::vector<double> limit = SolveTimeLaw(Begin(problem, end)).x_limit;
      for (std::size_t i = m == 0 ? 0 : ends[m - 1] + 1; i <= ends[m]; ++i) {
        capped.x_max[i] = std::min(capped.x_max[i], limit[i]);
      }
    }
    problem.look_ahead_moves = static_cast<int>(ahead);
    const TimeLaw law = SolveTimeLaw(problem), by_caps = SolveTimeLaw(capped);
    for (std::size_t i = 0; i < law.x.size(); ++i) {
      EXPECT_NEAR(law.x[i], by_caps.x[i], 1e-12 * (1.0 + law.x[i])) << "run " << run << " at " << i;
    }
  }
}

// Property: knowing more moves never lengthens; knowing all is endless; knowing
// one is standing still at every move's end.
TEST(TimeLawPropertyTest, LongerLookAheadNeverLengthens) {
  std::mt19937_64 rng(53);
  for (int run = 0; run < 60; ++run) {
    TimeLawProblem problem = RandomProblem(rng, {40, 3});
    for (double& x_max : problem.x_max) x_max = std::max(x_max, 0.05);
    SpreadMoves(problem);
    const TimeLaw endless = SolveTimeLaw(problem);
    TimeLawProblem stops = problem;
    for (const std::uint32_t end : stops.move_ends) stops.x_max[end] = 0.0;
    double before = kInfinity;
    const int moves = static_cast<int>(problem.move_ends.size());
    for (int ahead = 1; ahead <= moves + 1; ++ahead) {
      problem.look_ahead_moves = ahead;
      const TimeLaw law = SolveTimeLaw(problem);
      EXPECT_LE(law.duration_s, before * (1.0 + 1e-12)) << "run " << run << " ahead " << ahead;
      if (ahead == 1) {
        EXPECT_EQ(law.x, SolveTimeLaw(stops).x) << "run " << run;
        EXPECT_GT(law.duration_s, endless.duration_s) << "run " << run;
      }
      if (ahead >= moves) {
        EXPECT_EQ(law.x, endless.x) << "run " << run;
      }
      before = law.duration_s;
    }
  }
}

}  // namespace
}  // namespace aircut::kinematics
