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

/// A row with a > 0 and 2 b length > a bounds a weighted mean of x at the two ends
/// of its interval (a joint turns back inside it): more at one end is less at the other.
///   kEachEnd   x at either end stays within c / b as well. Then no law is faster
///              at any node, a tighter limit never shortens the time, and the
///              way back takes as long; on finer intervals it costs nothing
///   kMean      as the row says, which is the published algorithm: a large x that
///              the forward pass takes at one end may be paid for at the other
enum class MeanRows { kEachEnd, kMean };

/// A way cut into intervals, with its limits. Structure of arrays; interval i runs
/// from node i to node i + 1. Where the parameter changes its meaning (mm of
/// travel, rad of turn, share of a joint move) the node's cap is 0. Between two
/// nodes of standstill there is at least one more node, or nothing could move:
/// with look_ahead_moves = 1 in every move.
struct TimeLawProblem {
  std::vector<double> length;             ///< n >= 1, > 0
  std::vector<std::uint32_t> first_row;   ///< n + 1, into `rows`, from 0 to its size
  std::vector<LawRow> rows;
  std::vector<double> x_max;              ///< n + 1, >= 0, may be infinite: cap on x at the node
  std::vector<Hold> x_hold;               ///< n + 1: what the cap stands for
  /// Node indices at which a move ends, increasing, the last is n; for look-ahead,
  /// without it they may be missing.
  std::vector<std::uint32_t> move_ends;
  /// How many moves are known ahead, the running one included, >= 1: on move m, up
  /// to and with its end, the way must allow standing still at the end of move
  /// m + look_ahead_moves - 1 (of the last move where there are no more). With 1
  /// it stands still at the end of each move. Nothing: endless.
  std::optional<int> look_ahead_moves;
  MeanRows mean_rows = MeanRows::kEachEnd;
};

struct TimeLaw {
  std::vector<double> x;                  ///< n + 1: (ds/dt)^2 at the nodes
  /// n + 1: largest x at the node from which the rest of the way can be run under
  /// all limits (the controllable set is [0, x_limit]), look-ahead included.
  std::vector<double> x_limit;
  /// n: what keeps x at the end of the interval from being larger.
  ///   A row of the interval: the row's hold.
  ///   The cap at that end: x_hold there. At the last node, where x_max is > 0, kStop.
  ///   What comes later: where the arm must begin to brake for a standstill, the
  ///   hold of that standstill (x_hold of its node, or kStop at the last one); for
  ///   a standstill that only the end of the look-ahead asks for, kLookAhead; for
  ///   a limit above 0, the hold of the row that bounds the braking. Where two
  ///   rows of the next interval leave no larger x, the one that bounds braking.
  std::vector<Hold> held_by;
  double duration_s = 0.0;
};

/// Fastest speeds from rest to rest under all rows and caps: reachability analysis,
/// a backward pass over the controllable sets and a greedy forward pass. Linear
/// in intervals (times look-ahead, where it binds). Between nodes x is linear in
/// s. With rows that stand for the start of an interval only this is the
/// published algorithm's collocation; callers that also state the rows of its end
/// (a u + b (x + 2 u length) <= c) bound both ends.
/// Rows hold within rounding of their terms, caps exactly.
/// Source: Pham, Pham, IEEE T-RO 34(3) 2018.
/// @throws std::invalid_argument naming field, index, value and bound; also where
/// nothing bounds x, and where an interval has standstill at both of its ends.
TimeLaw SolveTimeLaw(const TimeLawProblem& problem);

/// @returns the time over one interval of length > 0 from x0 to x1, at least one > 0.
/// @throws std::invalid_argument otherwise.
double IntervalTime(double length, double x0, double x1);

}  // namespace aircut::kinematics
