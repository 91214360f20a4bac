#pragma once

#include <vector>

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// @param e panel values of the external axes only, in their order: rad, or mm
/// for a slide. All empty for an arm without external axes.
/// @returns X_BA: the foot of the six joints in B, as the axes on the tool side
/// carry it; identity with none.
Pose FootPose(const ArmModel& arm, const JointVector& e);

/// @returns what the axes of one side have done, one pose an axis, from the floor
/// outwards: where B has been carried by the first, by the first two, ..
std::vector<Pose> SidePoses(const ArmModel& arm, const JointVector& e, ExternalSide side);

/// @returns the motion in B that the axes on the work side give to everything
/// that stands on them: X_BS(e) = TableMotion(e) * X_BS(0).
Pose TableMotion(const ArmModel& arm, const JointVector& e);

/// @returns X_AS: the workpiece as seen from the foot of the six joints.
/// @param X_BS workpiece in B with all external axes at model value 0.
Pose WorkInFoot(const ArmModel& arm, const Pose& X_BS, const JointVector& e);

/// @returns the external part of the panel values of a whole arm; size
/// arm.externals().size().
JointVector ExternalPart(const ArmModel& arm, const JointVector& q);

/// @param joint from 0, of the whole arm. @returns true where its values are mm.
bool IsSlide(const ArmModel& arm, int joint);
/// @returns the same for every joint.
std::vector<bool> SlidesOf(const ArmModel& arm);

}  // namespace aircut::kinematics
