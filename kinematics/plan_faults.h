#pragma once

#include <string>
#include <vector>

#include "kinematics/motion.h"
#include "kinematics/posture_choice.h"
#include "kinematics/curve_stretches.h"

namespace aircut::kinematics {

/// Faults of the joint vectors a request states (home, approach, retreat, tool
/// change): each joint outside its range or its sum limit. They carry line 0.
std::vector<PlanFault> FaultsOfStatedJoints(const PlanRequest& request);

/// Faults of the path lines under a choice of postures. Lines next to each other
/// with the same trouble share one fault, placed at the worst of them.
/// kOutOfReach: `value` mm beyond reach (0 where only this posture does not get
/// there, or where a search found nothing and the pose is not out of reach for
/// certain), `limit` the reach [mm]. kOutOfRange: `value` rad beyond, `limit` the
/// end of the range, of the joint or of the sum it carries, whichever is left
/// further [rad]; the text names the sum. kPostureBreak, kAtSingularity: `value` and `limit`
/// posture ids before and after.
std::vector<PlanFault> FaultsOfPath(const PathTargets& targets, const ArmModel& arm,
                                    const PostureChoice& choice);

/// Fault of a straight move whose ends were both reached.
/// @param i path index of its end; `obstruction` not kNone.
PlanFault FaultOfMove(const PathTargets& targets, const PostureChoice& choice, std::size_t i,
                      Obstruction obstruction);

/// Fault of a joint whose range is left between two lines.
PlanFault FaultOfMargin(const ArmModel& arm, int joint, const JointMargin& margin);

}  // namespace aircut::kinematics
