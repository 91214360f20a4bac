#pragma once

#include <cstdint>
#include <limits>

#include "kinematics/time_law.h"

namespace aircut::kinematics {

inline const Hold kFeedHold{HeldBy::kFeed, -1};
inline const Hold kStopHold{HeldBy::kStop, -1};

/// A way to which intervals are added one by one.
class Way {
 public:
  Way() {
    problem_.first_row = {0};
    problem_.x_max = {std::numeric_limits<double>::infinity()};
    problem_.x_hold = {kFeedHold};
  }
  Way& Interval(const double length, const double x_max_at_end) {
    problem_.length.push_back(length);
    problem_.first_row.push_back(problem_.first_row.back());
    problem_.x_max.push_back(x_max_at_end);
    problem_.x_hold.push_back(x_max_at_end > 0.0 ? kFeedHold : kStopHold);
    return *this;
  }
  /// abs(a u + b x) <= c on the last interval.
  Way& Both(const double a, const double b, const double c, const int joint) {
    const Hold hold{HeldBy::kJointAcceleration, joint};
    problem_.rows.push_back({a, b, c, hold});
    problem_.rows.push_back({-a, -b, c, hold});
    problem_.first_row.back() = static_cast<std::uint32_t>(problem_.rows.size());
    return *this;
  }
  Way& EndMove() {
    problem_.move_ends.push_back(static_cast<std::uint32_t>(problem_.length.size()));
    return *this;
  }
  TimeLawProblem& problem() { return problem_; }
  TimeLaw Solve() const { return SolveTimeLaw(problem_); }

 private:
  TimeLawProblem problem_;
};

}  // namespace aircut::kinematics
