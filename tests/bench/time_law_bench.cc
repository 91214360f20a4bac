// The time law of 100,000 moves in three intervals each, six joints, speed as
// caps and acceleration as 2 x 6 rows at the start and at the end of every
// interval: 7.2 million rows. Once with endless look-ahead, once with three
// moves, which hold every ninth interval. The rows are laid before the clock
// runs; what that costs is a benchmark of its own. The peer is the plain way to
// the same sets: bisection of every node's limit. One thread. The duration is
// held against that of the peer.

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

#include <benchmark/benchmark.h>

#include "kinematics/time_law.h"

namespace aircut::kinematics {
namespace {

constexpr int kMoves = 100'000;
constexpr int kIntervalsPerMove = 3;
constexpr int kJoints = 6;
constexpr double kSpeed_rad_s = 2.5;
constexpr double kAcceleration_rad_s2 = 12.0;
constexpr double kFeed_mm_s = 150.0;
constexpr double kCycle_s = 0.012;

/// Joint rate and bend per mm at s: even waves, a little turned at every line so
/// that the line's start is a corner.
double Rate(int joint, int move, double s) {
  const double kink = 2e-4 * std::sin(1.7 * move + joint);
  return 1e-3 * (1.0 + 0.2 * joint) * std::cos(0.01 * (1.0 + 0.3 * joint) * s + joint) + kink;
}
double Bend(int joint, double s) {
  const double wave = 0.01 * (1.0 + 0.3 * joint);
  return -1e-3 * (1.0 + 0.2 * joint) * wave * std::sin(wave * s + joint);
}
double MoveLength(int move) { return 1.5 + std::sin(0.37 * move) + 0.3 * std::sin(0.011 * move); }

double CapAt(int move, double s, bool corner) {
  double cap = kFeed_mm_s * kFeed_mm_s;
  for (int j = 0; j < kJoints; ++j) {
    const double rate = Rate(j, move, s);
    const double by_speed = kSpeed_rad_s * kSpeed_rad_s / (rate * rate);
    cap = by_speed < cap ? by_speed : cap;
    const double step = corner ? (Rate(j, move + 1, s) - rate) / (kAcceleration_rad_s2 * kCycle_s) : 0.0;
    if (step * step * cap > 1.0) cap = 1.0 / (step * step);
  }
  return cap;
}

void AddRows(TimeLawProblem& problem, int move, double s, double length) {
  for (int j = 0; j < kJoints; ++j) {
    const Hold hold{HeldBy::kJointAcceleration, j};
    const double a0 = Rate(j, move, s), b0 = Bend(j, s);
    const double b1 = Bend(j, s + length), a1 = Rate(j, move, s + length) + 2.0 * b1 * length;
    for (const double sign : {1.0, -1.0}) {
      problem.rows.push_back({sign * a0, sign * b0, kAcceleration_rad_s2, hold});
      problem.rows.push_back({sign * a1, sign * b1, kAcceleration_rad_s2, hold});
    }
  }
  problem.first_row.push_back(static_cast<std::uint32_t>(problem.rows.size()));
}

TimeLawProblem LayRows() {
  constexpr std::size_t n = std::size_t{kMoves} * kIntervalsPerMove;
  TimeLawProblem problem;
  problem.rows.reserve(n * 4 * kJoints);
  problem.first_row = {0};
  problem.x_max = {0.0};
  problem.x_hold.assign(n + 1, Hold{});
  double s = 0.0;
  for (int move = 0; move < kMoves; ++move) {
    const double length = MoveLength(move) / kIntervalsPerMove;
    for (int k = 1; k <= kIntervalsPerMove; ++k) {
      AddRows(problem, move, s, length);
      s += length;
      problem.length.push_back(length);
      problem.x_max.push_back(CapAt(move, s, k == kIntervalsPerMove));
    }
    problem.move_ends.push_back(static_cast<std::uint32_t>(problem.length.size()));
  }
  return problem;
}

const TimeLawProblem& Problem() {
  static const TimeLawProblem problem = LayRows();
  return problem;
}

/// Range of y at x under the rows of interval i; empty where low > high.
struct Range {
  double low = 0.0, high = 0.0;
};

Range RangeAt(const TimeLawProblem& problem, std::size_t i, double x, double y_max) {
  Range range{0.0, y_max};
  const double per_length = 0.5 / problem.length[i];
  for (std::uint32_t r = problem.first_row[i]; r < problem.first_row[i + 1]; ++r) {
    const LawRow& row = problem.rows[r];
    const double q = row.a * per_length, y = (row.c - (row.b - q) * x) / q;
    if (q > 0.0 && y < range.high) range.high = y;
    if (q < 0.0 && y > range.low) range.low = y;
  }
  return range;
}

double DurationByBisection(const TimeLawProblem& problem) {
  const std::size_t n = problem.length.size();
  std::vector<double> limit(n + 1, 0.0);
  for (std::size_t i = n; i-- > 0;) {
    double good = 0.0, bad = problem.x_max[i];
    for (int step = 0; step < 50; ++step) {
      const double x = 0.5 * (good + bad);
      const Range range = RangeAt(problem, i, x, limit[i + 1]);
      (range.low <= range.high ? good : bad) = x;
    }
    limit[i] = good;
  }
  double time = 0.0, x = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double y = std::fmax(0.0, RangeAt(problem, i, x, limit[i + 1]).high);
    time += 2.0 * problem.length[i] / (std::sqrt(x) + std::sqrt(y));
    x = y;
  }
  return time;
}

void TimeLawOurs(benchmark::State& state) {
  const TimeLawProblem& problem = Problem();
  double duration = 0.0;
  for (auto _ : state) duration = SolveTimeLaw(problem).duration_s;
  const double plain = DurationByBisection(problem);
  if (!(std::abs(duration - plain) < 1e-6 * plain)) state.SkipWithError("durations differ");
  state.counters["duration_s"] = duration;
}
BENCHMARK(TimeLawOurs)->Name("TimeLaw/ours")->Unit(benchmark::kMillisecond)->UseRealTime();

void TimeLawBisection(benchmark::State& state) {
  const TimeLawProblem& problem = Problem();
  for (auto _ : state) benchmark::DoNotOptimize(DurationByBisection(problem));
}
BENCHMARK(TimeLawBisection)->Name("TimeLaw/bisection")->Unit(benchmark::kMillisecond)->UseRealTime();

void TimeLawLookAhead(benchmark::State& state) {
  TimeLawProblem problem = Problem();
  problem.look_ahead_moves = 3;
  TimeLaw law;
  for (auto _ : state) law = SolveTimeLaw(problem);
  std::size_t held = 0;
  for (const Hold& hold : law.held_by) held += hold.by == HeldBy::kLookAhead ? 1 : 0;
  if (held == 0) state.SkipWithError("the look-ahead binds nowhere");
  state.counters["duration_s"] = law.duration_s;
  state.counters["held"] = static_cast<double>(held);
}
BENCHMARK(TimeLawLookAhead)->Name("TimeLaw/ours/look_ahead_3")->Unit(benchmark::kMillisecond)->UseRealTime();

void TimeLawRows(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(LayRows());
}
BENCHMARK(TimeLawRows)->Name("TimeLawRows/ours")->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
}  // namespace aircut::kinematics
