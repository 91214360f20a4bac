#pragma once

#include <vector>

#include "kinematics/joint.h"
#include "sim/named_table.h"

namespace aircut::sim {

/// Columns of panel values, `q1_deg..qN_deg` (or `_rad`; `_mm` or `_in` for a slide), in
/// tables that hold one posture a row. Their numbers are 0 .. kMaxJoints - 1.
/// @param slides one per joint: true where its values are lengths; so below.

/// Those beyond the joints are known too, so that one too many is told.
std::vector<KnownColumn> JointColumns(const std::vector<bool>& slides);

/// @throws InputError for a joint that is missing or one too many, or for mixed units.
void RequireJoints(const NamedTable& table, const std::vector<bool>& slides);

/// @returns the panel values of the row: rad, mm for a slide.
kinematics::JointVector JointsIn(const NamedTable& table, int joint_count);

/// @returns the largest magnitude among the joints that turn [rad].
double LargestTurn(const kinematics::JointVector& q, const std::vector<bool>& slides);

/// A whole table of degrees that stays within one turn in radians was read in radians.
/// @param largest_rad of all rows. @throws InputError.
void RequireDegrees(const NamedTable& table, double largest_rad);

}  // namespace aircut::sim
