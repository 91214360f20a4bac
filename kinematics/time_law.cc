#include "kinematics/time_law.h"

#include <cmath>
#include <cstddef>
#include <cstdio>
#include <stdexcept>
#include <string>

namespace aircut::kinematics {
namespace {

// Over one interval let y = x + 2 u length be x at its end. A row then reads
// p x + q y <= c with q = a / (2 length), p = b - q: all that is allowed is a
// convex set in the plane (x, y) that holds the origin, since c >= 0. Whoever
// can run on from (x, y) can also run on from any shorter (t x, t y), t < 1.

// Numbers beyond this size are refused, so that no product below overflows.
constexpr double kLargest = 1e30;
// Stands for an infinite cap: far above any x that a row of such numbers asks for.
constexpr double kUnbounded = 1e60;
// A row whose q is this much smaller than its p does not feel y.
constexpr double kNoSlope = 1e-100;

// Rows are read wider by this share of their own terms: more than rounding can
// take away, so that a row seen to be missed is truly missed, and one that
// hardly feels y (q almost 0) cannot hide another.
constexpr double kRounding = 1e-15;

constexpr std::size_t kBound = static_cast<std::size_t>(-1);   // not a row: y >= 0, or y <= the next limit

std::string Digits(const double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.9g", value);
  return text;
}

[[noreturn]] void Refuse(const std::string& field, const std::string& value,
                         const std::string& bound) {
  throw std::invalid_argument(field + " = " + value + " must be " + bound);
}

std::string At(const char* field, const std::size_t i) {
  return std::string(field) + "[" + std::to_string(i) + "]";
}

void CheckSize(const char* field, const std::size_t size, const std::size_t wanted) {
  if (size != wanted) {
    Refuse(std::string(field) + ".size()", std::to_string(size), std::to_string(wanted));
  }
}

void CheckRows(const TimeLawProblem& problem) {
  const std::vector<std::uint32_t>& first = problem.first_row;
  if (first.front() != 0) Refuse("first_row[0]", std::to_string(first.front()), "0");
  for (std::size_t i = 1; i < first.size(); ++i) {
    if (first[i] < first[i - 1]) {
      Refuse(At("first_row", i), std::to_string(first[i]), ">= " + std::to_string(first[i - 1]));
    }
  }
  CheckSize("rows", problem.rows.size(), first.back());
  for (std::size_t r = 0; r < problem.rows.size(); ++r) {
    const LawRow& row = problem.rows[r];
    if (!(std::abs(row.a) <= kLargest)) Refuse(At("rows", r) + ".a", Digits(row.a), "within 1e30");
    if (!(std::abs(row.b) <= kLargest)) Refuse(At("rows", r) + ".b", Digits(row.b), "within 1e30");
    if (!(row.c >= 0.0 && row.c <= kLargest)) {
      Refuse(At("rows", r) + ".c", Digits(row.c), ">= 0 and within 1e30");
    }
  }
}

void CheckMoves(const TimeLawProblem& problem) {
  const std::vector<std::uint32_t>& ends = problem.move_ends;
  if (problem.look_ahead_moves && *problem.look_ahead_moves < 1) {
    Refuse("look_ahead_moves", std::to_string(*problem.look_ahead_moves), ">= 1");
  }
  if (ends.empty() && !problem.look_ahead_moves) return;
  if (ends.empty()) Refuse("move_ends.size()", "0", ">= 1 where look_ahead_moves is set");
  for (std::size_t m = 0; m < ends.size(); ++m) {
    const std::uint32_t before = m == 0 ? 0 : ends[m - 1];
    if (ends[m] <= before) {
      Refuse(At("move_ends", m), std::to_string(ends[m]), "> " + std::to_string(before));
    }
  }
  if (ends.back() != problem.length.size()) {
    Refuse(At("move_ends", ends.size() - 1), std::to_string(ends.back()),
           "the last node, " + std::to_string(problem.length.size()));
  }
}

void CheckProblem(const TimeLawProblem& problem) {
  const std::size_t n = problem.length.size();
  if (n == 0) Refuse("length.size()", "0", ">= 1");
  CheckSize("first_row", problem.first_row.size(), n + 1);
  CheckSize("x_max", problem.x_max.size(), n + 1);
  CheckSize("x_hold", problem.x_hold.size(), n + 1);
  for (std::size_t i = 0; i < n; ++i) {
    const double length = problem.length[i];
    if (!(length >= 1.0 / kLargest && length <= kLargest)) {
      Refuse(At("length", i), Digits(length), "> 0 and within 1e30");
    }
  }
  for (std::size_t i = 0; i <= n; ++i) {
    if (!(problem.x_max[i] >= 0.0)) Refuse(At("x_max", i), Digits(problem.x_max[i]), ">= 0");
  }
  CheckRows(problem);
  CheckMoves(problem);
}

// p x + q y <= c, and wall x <= c.
struct Line {
  double p = 0.0, q = 0.0, c = 0.0;
  double wall = 0.0;
};

// The rows of one interval.
struct Interval {
  const LawRow* rows = nullptr;
  std::size_t count = 0;
  double per_length = 0.0;      // 1 / (2 length)
  bool each_end = false;        // MeanRows::kEachEnd

  Line LineOf(const std::size_t r) const {
    const LawRow& row = rows[r];
    const double q = row.a * per_length;
    const double p = row.b - q;
    if (std::abs(q) <= kNoSlope * std::abs(p)) return {p, 0.0, row.c, p};
    if (each_end && p > 0.0 && q > 0.0) return {0.0, row.b, row.c, row.b};
    return {p, q, row.c, 0.0};
  }
};

Interval IntervalAt(const TimeLawProblem& problem, const std::size_t i) {
  return {problem.rows.data() + problem.first_row[i],
          problem.first_row[i + 1] - problem.first_row[i], 0.5 / problem.length[i],
          problem.mean_rows == MeanRows::kEachEnd};
}

// What an interval allows at one x: y between `low` and `high`, set by these rows.
struct Section {
  double low = 0.0, high = 0.0;
  std::size_t low_row = kBound, high_row = kBound;
  double wall = kUnbounded;          // largest x, whatever y is
  std::size_t wall_row = kBound;
};

// The section without what row r forbids.
Section CutBy(const Interval& interval, const std::size_t r, const double x, Section section) {
  const Line line = interval.LineOf(r);
  if (line.wall > 0.0 && line.c < line.wall * section.wall) {
    section.wall = line.c / line.wall;
    section.wall_row = r;
  }
  if (line.q == 0.0) return section;
  const double px = line.p * x;
  const double y = (line.c - px + kRounding * (line.c + std::abs(px))) / line.q;
  if (line.q > 0.0 && y < section.high) {
    section.high = y;
    section.high_row = r;
  } else if (line.q < 0.0 && y > section.low) {
    section.low = y;
    section.low_row = r;
  }
  return section;
}

// Most rows cut nothing off; the loop divides only where one may.
Section SectionAt(const Interval& interval, const double x, const double y_max) {
  Section section;
  section.high = y_max;
  for (std::size_t r = 0; r < interval.count; ++r) {
    const LawRow& row = interval.rows[r];
    const double q = row.a * interval.per_length, p = row.b - q, px = p * x;
    const double room = row.c - px + kRounding * (row.c + std::abs(px));
    const double end = q > 0.0 ? section.high : section.low;
    if (room < end * q || (interval.each_end && p > 0.0 && q > 0.0)) {
      section = CutBy(interval, r, x, section);
    }
  }
  return section;
}

// The largest x at a node from which the way can be run on, and what sets it.
struct Limit {
  double x = 0.0;
  Hold hold;
  bool to_rest = false;     // set by braking that ends at a standstill
  std::size_t brake_row = kBound;   // of the interval, bounds braking
};

// Two rows that leave no room for y beyond their meeting.
struct Meeting {
  std::size_t low_row = kBound, high_row = kBound;
};

// x at which they meet, if below `x`, else x itself.
double MeetingX(const Interval& interval, const Meeting& meeting, const double y_max, const double x) {
  const Line lower =
      meeting.low_row == kBound ? Line{0.0, -1.0, 0.0, 0.0} : interval.LineOf(meeting.low_row);
  const Line upper =
      meeting.high_row == kBound ? Line{0.0, 1.0, y_max, 0.0} : interval.LineOf(meeting.high_row);
  const double room = upper.q * lower.c - lower.q * upper.c;      // >= 0
  const double closing = upper.q * lower.p - lower.q * upper.p;
  const double meeting_x = room < closing * x ? room / closing : x;
  return meeting_x < x ? meeting_x : x;
}

Limit LimitAt(const double x, const Interval& interval, const Meeting& meeting, const Limit& next) {
  Limit limit;
  limit.x = x;
  limit.to_rest = meeting.high_row == kBound && next.to_rest;
  const std::size_t row = meeting.low_row != kBound ? meeting.low_row : meeting.high_row;
  limit.hold = limit.to_rest ? next.hold : interval.rows[row].hold;
  limit.brake_row = meeting.low_row;
  return limit;
}

// The cap of a node, or what the row that bounds braking on the next interval
// leaves of it here: along a way it is mostly the same row.
Limit FirstGuess(const TimeLawProblem& problem, const std::size_t i, const Limit& next) {
  const Interval interval = IntervalAt(problem, i);
  Limit limit;
  limit.x = problem.x_max[i] < kUnbounded ? problem.x_max[i] : kUnbounded;
  limit.hold = problem.x_hold[i];
  limit.to_rest = limit.x == 0.0;
  limit.brake_row = next.brake_row;
  if (!(next.brake_row < interval.count) || !(interval.LineOf(next.brake_row).q < 0.0)) return limit;
  const Meeting meeting{next.brake_row, kBound};
  const double x = MeetingX(interval, meeting, next.x, limit.x);
  return x < limit.x ? LimitAt(x, interval, meeting, next) : limit;
}

// One step of the backward pass: the largest x with a y in [0, next.x] under all
// rows. high - low is concave in x and not negative at 0: Newton's method from
// the right, which here means the meeting of the two rows that leave no room,
// reaches its largest zero after finitely many rows and never passes it.
Limit StepBack(const TimeLawProblem& problem, const std::size_t i, const Limit& next) {
  const Interval interval = IntervalAt(problem, i);
  Limit limit = FirstGuess(problem, i, next);
  while (true) {
    const Section section = SectionAt(interval, limit.x, next.x);
    if (section.wall < limit.x) {
      limit.x = section.wall;
      limit.hold = interval.rows[section.wall_row].hold;
      limit.to_rest = false;
      continue;
    }
    const Meeting meeting{section.low_row, section.high_row};
    const double x = section.low <= section.high ? limit.x
                                                 : MeetingX(interval, meeting, next.x, limit.x);
    if (!(x < limit.x)) return limit;
    limit = LimitAt(x, interval, meeting, next);
  }
}

std::vector<Limit> BackwardPass(const TimeLawProblem& problem) {
  const std::size_t n = problem.length.size();
  std::vector<Limit> limits(n + 1);
  limits[n].hold = problem.x_max[n] > 0.0 ? Hold{HeldBy::kStop, -1} : problem.x_hold[n];
  limits[n].to_rest = true;
  for (std::size_t i = n; i-- > 0;) limits[i] = StepBack(problem, i, limits[i + 1]);
  return limits;
}

// Lowers the limits on every move to what lets it stand still at the end of its
// look-ahead. A curve from there that has met the endless one stays on it.
void LowerToLookAhead(const TimeLawProblem& problem, std::vector<Limit>& limits) {
  const std::vector<Limit> endless = limits;
  const std::vector<std::uint32_t>& ends = problem.move_ends;
  const std::size_t ahead = static_cast<std::size_t>(*problem.look_ahead_moves) - 1;
  for (std::size_t m = 0; m < ends.size() && ahead < ends.size() - 1 - m; ++m) {
    const std::size_t stop = ends[m + ahead];
    const std::size_t first = m == 0 ? 0 : ends[m - 1] + 1;
    Limit limit;
    limit.hold.by = HeldBy::kLookAhead;
    limit.to_rest = true;
    limit.brake_row = endless[stop].brake_row;
    for (std::size_t i = stop; limit.x < endless[i].x;) {
      if (i <= ends[m]) limits[i] = limit;
      if (i-- == first) break;
      limit = StepBack(problem, i, limit);
    }
  }
}

// The forward pass: from each x the largest y. There is always one: x is no larger
// than what the backward pass found open with the same reading of the rows.
TimeLaw ForwardPass(const TimeLawProblem& problem, const std::vector<Limit>& limits) {
  const std::size_t n = problem.length.size();
  TimeLaw law;
  law.x.assign(n + 1, 0.0);
  law.held_by.resize(n);
  for (std::size_t i = 0; i < n; ++i) {
    const Interval interval = IntervalAt(problem, i);
    const Section section = SectionAt(interval, law.x[i], limits[i + 1].x);
    law.x[i + 1] = section.high > 0.0 ? section.high : 0.0;
    law.held_by[i] = section.high_row == kBound ? limits[i + 1].hold
                                                : interval.rows[section.high_row].hold;
    if (!(law.x[i + 1] < kUnbounded)) {
      Refuse(At("x_max", i + 1), Digits(problem.x_max[i + 1]), "finite where no row bounds x");
    }
    if (!(law.x[i] > 0.0 || law.x[i + 1] > 0.0)) {
      Refuse("x at both ends of " + At("length", i), "0",
             "> 0 at one of them: cut moves between stops into two intervals or more");
    }
    law.duration_s += IntervalTime(problem.length[i], law.x[i], law.x[i + 1]);
  }
  return law;
}

}  // namespace

TimeLaw SolveTimeLaw(const TimeLawProblem& problem) {
  CheckProblem(problem);
  std::vector<Limit> limits = BackwardPass(problem);
  if (problem.look_ahead_moves) LowerToLookAhead(problem, limits);
  TimeLaw law = ForwardPass(problem, limits);
  law.x_limit.reserve(limits.size());
  for (const Limit& limit : limits) law.x_limit.push_back(limit.x);
  return law;
}

double IntervalTime(const double length, const double x0, const double x1) {
  if (!(length > 0.0 && std::isfinite(length))) Refuse("length", Digits(length), "> 0 and finite");
  if (!(x0 >= 0.0)) Refuse("x0", Digits(x0), ">= 0");
  if (!(x1 >= 0.0)) Refuse("x1", Digits(x1), ">= 0");
  const double speeds = std::sqrt(x0) + std::sqrt(x1);
  if (!(speeds > 0.0)) Refuse("x0 + x1", Digits(x0 + x1), "> 0");
  return 2.0 * length / speeds;
}

}  // namespace aircut::kinematics
