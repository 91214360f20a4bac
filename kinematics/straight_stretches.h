#pragma once

#include <optional>
#include <vector>

#include "kinematics/branch_follower.h"
#include "kinematics/joint_rates.h"
#include "kinematics/straight_move.h"

namespace aircut::kinematics {

/// A place on a straight move.
struct Station {
  double share = 0.0;                 ///< of the move done, in [0, 1]
  JointVector q;                      ///< panel values [rad]
  std::optional<JointVector> rates;   ///< dq per unit of the move's parameter; nothing: infinite
};

/// One short part of a straight move.
struct Stretch {
  double share_to = 0.0;
  double length = 0.0;      ///< in the move's own parameter, mm or rad
  JointVector q_to;
  JointVector rates_from, rates_to;
  RateBounds bounds;
};

/// What stands in the way of a straight move.
enum class Obstruction { kNone, kNoSolution, kJump, kSingular };

struct StraightStretches {
  std::vector<Stretch> stretches;     ///< up to the obstruction
  Obstruction obstruction = Obstruction::kNone;
};

/// One posture on one straight move.
struct StraightTask {
  const ArmModel& arm;
  const BranchFollower& follower;
  const StraightMove& move;   ///< not a rest
  int posture = 0;
};

/// Splits a straight move so that on each stretch the tool turns at most 0.5
/// deg, no joint moves more than 1 deg, the tip travels at most 100 mm and the
/// joints leave their chord by at most 4e-5 rad.
StraightStretches SplitStraightMove(const StraightTask& task, const Station& from,
                                    const Station& to);

}  // namespace aircut::kinematics
