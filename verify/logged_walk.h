#pragma once

#include <string>
#include <vector>

#include "kinematics/motion.h"
#include "sim/job.h"

namespace aircut::verify {

/// The computed joints from the first path line to the last.
struct PlannedJoints {
  std::vector<kinematics::JointVector> q;   ///< panel values [rad], straight between
  std::vector<int> line;                    ///< path line on the way to each; same size
};

/// @returns the moments of the main track from the one that ends the move to the
/// first path line up to the one that ends the move to the last; empty if there
/// is no such moment.
PlannedJoints PlannedAlongPath(const kinematics::Motion& motion);

/// How far a log of joint values follows the computed motion.
struct LoggedWalk {
  enum class End {
    kWhole,   ///< from the first line to the last
    kShort,   ///< it lies on the motion but does not cover all of it
    kLeft     ///< a row lies off the motion
  } end = End::kShort;
  int rows_used = 0;          ///< rows that lie along the path
  double worst_rad = 0.0;     ///< largest distance of one joint of a used row from the motion
  std::string gap;            ///< kShort: what is missing, in words
  int log_line = 0;           ///< kLeft: of the row, in its table
  int line = 0;               ///< kLeft: path line where it should have been
  int joint = 0;              ///< kLeft: from 0, the joint farthest off
  double logged_rad = 0.0, planned_rad = 0.0;   ///< kLeft: of that joint
};

/// Between two rows the joint farthest on its way may travel this many limits in
/// the computed motion; more is a gap in which another way could hide.
/// Engineering judgement: with 1 deg, 5 deg are 30 ms of the fastest wrist, or a
/// tenth of a second of a slow pass.
inline constexpr double kGapLimits = 5.0;

/// Walks a log along the motion, never back: every row must lie within `limit_rad`
/// of it in every joint. Rows before the first that lies at the first line, and
/// after the last line was reached, are left out (the way there and back).
/// Time plays no part. Cost grows with the sum of both lengths.
/// @param planned not empty.
LoggedWalk WalkLog(const PlannedJoints& planned, const std::vector<sim::RunsAs::LogRow>& log,
                   double limit_rad);

}  // namespace aircut::verify
