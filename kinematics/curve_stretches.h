#pragma once

#include <optional>
#include <vector>

#include "kinematics/branch_follower.h"
#include "kinematics/joint_rates.h"
#include "kinematics/piece_limits.h"
#include "kinematics/tool_curve.h"

namespace aircut::kinematics {

/// A place on a curve of the tool.
struct Station {
  double share = 0.0;                 ///< of the curve done, in [0, 1]
  JointVector q;                      ///< panel values [rad]
  std::optional<JointVector> rates;   ///< dq per unit of the curve's parameter; nothing: infinite
};

/// One short part of a curve.
struct Stretch {
  double share_from = 0.0, share_to = 0.0;
  double length = 0.0;      ///< in the curve's own parameter, mm or rad
  JointVector q_from, q_to;
  JointVector rates_from, rates_to;
  RateBounds bounds;
};

/// What stands in the way of a move.
enum class Obstruction { kNone, kNoSolution, kJump, kSingular };

struct CurveStretches {
  std::vector<Stretch> stretches;     ///< up to the obstruction
  Obstruction obstruction = Obstruction::kNone;
};

/// One posture on one curve.
struct CurveTask {
  const ArmModel& arm;
  const BranchFollower& follower;
  const ToolCurve& curve;
  int posture = 0;
};

/// @returns the joints at `share`, nearest to `q_near`, with their rates; nothing
/// where the posture does not reach the pose.
std::optional<Station> StationAt(const CurveTask& task, double share, const JointVector& q_near);

/// Limits that hold all over a stretch, in its parameter: half of each joint's
/// acceleration may go into the bend of its way. @param written_speed of the
/// parameter, may be infinite.
PieceLimits LimitsOn(const ArmModel& arm, const RateBounds& bounds, double written_speed);

/// Splits a curve between two of its places so that on each stretch the tool
/// turns at most 0.5 deg, no joint moves more than 1 deg, the tip travels at most
/// 100 mm and the joints leave their chord by at most 3e-5 rad, a slide by 0.0075 mm.
CurveStretches SplitCurve(const CurveTask& task, const Station& from, const Station& to);

}  // namespace aircut::kinematics
