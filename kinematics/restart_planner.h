#pragma once

#include <optional>
#include <string>
#include <vector>

#include "kinematics/branch_follower.h"
#include "kinematics/motion_planner.h"
#include "kinematics/path_targets.h"

namespace aircut::kinematics {

/// A move beside the path: to the start of a cut, where a person resumes, or out
/// of a cut along the tool axis after a stop in it.
struct SideMove {
  std::string name;            ///< "restart at line 12", "withdrawal from line 40"
  int line = 0;                ///< of the cut line that is resumed, or stopped on
  int path_index = 0;
  int posture = 0;             ///< that of the motion there
  JointVector q_line;          ///< panel values at the start of the cut, or at the line [rad]
  JointVector q_back;          ///< the same drawn back; empty where it is not reached
  MotionTrack track;           ///< empty where there is a fault of reach
  std::size_t back_moment = 0; ///< of the track: the one that stands at q_back
  std::optional<PlanFault> fault;   ///< reach, a singular pose, or a range that is left
  JointMargin margin;          ///< of the joint that comes nearest to an end of its range
  int margin_joint = 0;        ///< from 0
};

/// Solves moves beside a motion, each in the posture, orientation and with the
/// cutter that the motion has there. Straight moves are followed to their ends.
class SidePlanner {
 public:
  /// @param request of the motion; @param motion complete, with R_ST_per_line;
  /// @param back_mm > 0, how far the tool is drawn back along its axis.
  /// Keeps a reference to the motion. @throws std::invalid_argument naming what
  /// does not fit.
  SidePlanner(const PlanRequest& request, const Motion& motion, double back_mm);
  SidePlanner(const SidePlanner&) = delete;
  SidePlanner& operator=(const SidePlanner&) = delete;

  /// From home by the approach joints to the drawn-back start of the cut that
  /// begins with line `path_index`, then straight down the tool axis to the start:
  /// where the arm is before that line, or the line itself where it is the first.
  SideMove Restart(std::size_t path_index) const;
  /// From the end of a line straight back along the tool axis.
  SideMove Withdrawal(std::size_t path_index) const;

 private:
  /// The pose of line `at`, with the cutter and in the posture of line `of`.
  struct Place {
    std::size_t of = 0, at = 0;
  };
  StraightMove Away(const Place& place) const;
  SideMove Solve(const Place& place, const StraightMove& away) const;
  void MeasureRoom(SideMove& move) const;

  const Motion& motion_;
  const double back_mm_;
  PlanRequest request_;        // the motion's, with its orientations as written
  PathTargets targets_;
  BranchFollower follower_;
  std::vector<std::size_t> last_moment_;   // of each path line in the main track
};

}  // namespace aircut::kinematics
