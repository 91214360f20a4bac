#pragma once

#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/piece_limits.h"

namespace aircut::kinematics {

/// A move on which every joint runs in step from `q_from` to `q_to`.
struct JointMove {
  JointVector q_from, q_to;   ///< panel values [rad]
  /// @param share of the move done, in [0, 1].
  JointVector At(double share) const { return q_from + share * (q_to - q_from); }
};

/// @returns the limits of the move with its share as parameter (length 1), or
/// length 0 where no joint moves.
PieceLimits LimitsOf(const ArmModel& arm, const JointMove& move);

/// Where to place moments so that the tip leaves the chord between two of them
/// by at most `sag_mm`, as seen from the work, and no joint moves more than 5 deg,
/// no slide more than 50 mm between them.
/// @param p_FT tip in the flange [mm]; @returns shares, increasing, the last is 1.
std::vector<double> SampleJointMove(const ArmModel& arm, const JointMove& move,
                                    const Eigen::Vector3d& p_FT, double sag_mm);

}  // namespace aircut::kinematics
