#pragma once

#include <string>

#include "kinematics/motion.h"

namespace aircut::verify {

/// @returns what keeps the arm from going faster, in a word or two: "feed",
/// "joint 4 speed", "look-ahead".
std::string WordsFor(const kinematics::Hold& hold);

}  // namespace aircut::verify
