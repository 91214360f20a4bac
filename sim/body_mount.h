#pragma once

#include "kinematics/frame.h"

namespace aircut::sim {

/// What carries a body.
///   kWorld  nothing: frame W
///   kLink   a link of the arm, from 1, or its foot (0), which a track carries:
///           frame L of the link, the foot's is B as the tool side carries it
///   kWork   what the work stands on: B as the axes on the work side carry it
struct BodyMount {
  enum class On { kWorld, kLink, kWork } on = On::kWorld;
  int link = 0;                                          ///< for kLink
  kinematics::Pose X_MA = kinematics::Pose::Identity();  ///< body in its carrier's frame
  int tool = 0;  ///< the body is there only while this cutter is in the spindle; 0 = always
};

}  // namespace aircut::sim
