#pragma once

#include <filesystem>

#include "kinematics/motion_planner.h"

namespace aircut::sim {

/// Saves posture, joints and spin that a plan chose for every line, beside the lines
/// themselves. @throws std::filesystem::filesystem_error when the folder cannot be written.
void SaveChoice(const std::filesystem::path& folder, const kinematics::PlanRequest& request,
                const kinematics::Motion& motion);

/// @returns what was chosen for the lines before `line`, where they are as they were.
/// @throws InputError where nothing whole is kept in the folder, no path line lies
/// before `line`, the spin rule is another, a line before it was changed, or the arm
/// or the place of the work was.
kinematics::KeptChoice LoadChoice(const std::filesystem::path& folder,
                                  const kinematics::PlanRequest& request, int line);

}  // namespace aircut::sim
