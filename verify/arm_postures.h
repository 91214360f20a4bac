#pragma once

#include <string>

#include "kinematics/arm_model.h"

namespace aircut::verify {

/// @returns how the postures of the arm are come by, a few words without full
/// stop: in closed form, or by search, with the share of poses at which this
/// search found one. For a searched arm it tries 500 poses of postures spread
/// over the joint ranges, about a tenth of a second.
std::string PosturesText(const kinematics::ArmModel& arm);

}  // namespace aircut::verify
