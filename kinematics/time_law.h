#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "kinematics/motion.h"

namespace aircut::kinematics {

/// One limit on one interval: a * u + b * x <= c, where s is the parameter of
/// the way, x = (ds/dt)^2 at the start of the interval and u = d2s/dt2, even over
/// it. c >= 0: standing still is always allowed.
struct LawRow {
  double a = 0.0, b = 0.0, c = 0.0;
  Hold hold;                   ///< what it stands for
};

/// A way cut into intervals, with its limits. Structure of arrays; interval i runs
/// from node i to node i + 1. Where the parameter changes its meaning (mm of
/// travel, rad of turn, share of a joint move) the node's cap is 0.
struct TimeLawProblem {
  std::vector<double> length;             ///< n, > 0
  std::vector<std::uint32_t> first_row;   ///< n + 1, into `rows`
  std::vector<LawRow> rows;
  std::vector<double> x_max;              ///< n + 1, >= 0, may be infinite: cap on x at the node
  std::vector<Hold> x_hold;               ///< n + 1: what the cap stands for
  /// Node indices at which a move ends, increasing, the last is n; for look-ahead.
  std::vector<std::uint32_t> move_ends;
  /// On move m the way must allow standing still at the end of move
  /// m + look_ahead_moves - 1. Nothing: endless.
  std::optional<int> look_ahead_moves;
};

struct TimeLaw {
  std::vector<double> x;                  ///< n + 1: (ds/dt)^2 at the nodes
  std::vector<Hold> held_by;              ///< n: what keeps the interval from being faster
  double duration_s = 0.0;
};

/// Fastest speeds from rest to rest under all rows and caps: reachability
/// analysis, a backward pass over the controllable sets and a greedy forward
/// pass. Linear in intervals (times look-ahead, where it binds). Between nodes x
/// is linear in s. With rows that stand for the start of an interval only this
/// is the published algorithm's collocation; callers that also state the rows of
/// its end (a u + b (x + 2 u length) <= c) bound both ends.
/// Source: Pham, Pham, IEEE T-RO 34(3) 2018.
/// @throws std::invalid_argument naming field, index, value and bound.
TimeLaw SolveTimeLaw(const TimeLawProblem& problem);

/// @returns the time over one interval of length > 0 from x0 to x1, at least one > 0.
double IntervalTime(double length, double x0, double x1);

}  // namespace aircut::kinematics
