#pragma once

#include <functional>
#include <vector>

#include "kinematics/branch_follower.h"
#include "kinematics/path_targets.h"

namespace aircut::kinematics {

/// How a path line was reached from the line before.
enum class LineState {
  kFollowed,
  kNoSolution,     ///< the posture does not reach the pose
  kJump,           ///< a straight move on which the posture ends or jumps
  kPostureChange   ///< a straight move on which the posture or a turn changes
};

/// One posture and one count of turns per path line.
struct PostureChoice {
  std::vector<JointVector> q;      ///< panel values [rad]; not meaningful at kNoSolution
  std::vector<int> posture;        ///< posture id
  std::vector<LineState> state;
};

/// One posture on lines [begin, end).
struct PostureRun {
  std::size_t begin = 0, end = 0;
  int posture = 0;
};

/// Follows one posture line by line from `q_first`, near which the first line's
/// joints are. Ranges are not looked at. @returns one entry per line of the run.
PostureChoice FollowPosture(const PathTargets& targets, const BranchFollower& follower,
                            const PostureRun& run, const JointVector& q_first);

/// Follows the posture that is nearest to `q_start` at the first line over all
/// lines. @returns nothing where that one is not followed everywhere inside the
/// joint ranges.
std::optional<PostureChoice> HoldPosture(const PathTargets& targets, const ArmModel& arm,
                                         const BranchFollower& follower, const JointVector& q_start);

/// Keeps the choice at the first lines and holds its posture over all that follow; a
/// line at which it ends is kNoSolution, kJump or kPostureChange as in FollowPosture.
PostureChoice GoOnFrom(const KeptChoice& kept, const PathTargets& targets,
                       const BranchFollower& follower);

/// Chooses the posture for every path line.
/// 1. One posture and one count of turns for the whole path, where there is one
///    that follows every line inside the joint ranges: the one with the largest
///    smallest joint-range margin; of equals the least joint travel, then the
///    lowest id.
/// 2. Otherwise one per run (a rapid and the cuts after it): the choice with the
///    fewest faulty lines (not reached, jumped, outside a range, and under
///    straight rapids each change between runs), of these the fewest without a
///    solution, then joints the least outside their ranges, then the fewest
///    changes, then the least travel between runs; by dynamic programming.
/// @param progress called now and then with the fraction done; may be empty.
PostureChoice ChoosePostures(const PathTargets& targets, const ArmModel& arm,
                             const BranchFollower& follower,
                             const std::function<void(double)>& progress);

}  // namespace aircut::kinematics
