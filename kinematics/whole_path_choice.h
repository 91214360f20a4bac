#pragma once

#include <functional>
#include <vector>

#include "kinematics/posture_choice.h"
#include "kinematics/lattice_search.h"

namespace aircut::kinematics {

/// Spin, setting of the external axes and posture of every line, chosen over the
/// whole path.
struct WholePathChoice {
  bool complete = false;                 ///< every run is followed without a break
  std::vector<LineFreedom> freedom;      ///< one per line
  PostureChoice postures;                ///< with that freedom; only where complete
  std::size_t broken = 0;                ///< where not complete: path index of a line that is not reached
  std::vector<SplitAdvice> splits;       ///< where a run has no unbroken way
};

/// For SpinRule::kFree, and where external axes may be chosen. The cheapest way
/// through the lattice over all runs (lines joined by straight moves), the joint
/// moves between them and the ways in and out (LatticeSearch); then the spin evened
/// out within one lattice step as long as its cost does not rise, then followed
/// line by line. A line that fails becomes a station of its own or a forbidden
/// node, a station that the request's clearance callback refuses a forbidden one,
/// and the whole is chosen again, a few times.
WholePathChoice ChooseWholePath(const PathTargets& targets, const BranchFollower& follower,
                                const std::function<void(double)>& progress);

/// Where a run of lines cannot be followed in one posture: the line up to which
/// it can, and which of six shifts or turns of the work is the smallest that
/// helps. @param spins of the lattice, 1 where the spin is not free.
SplitAdvice AdviseSplit(const PathTargets& targets, const LatticeRun& run, int spins);

/// Lines joined by straight moves.
std::vector<LatticeRun> StraightRuns(const PathTargets& targets);

}  // namespace aircut::kinematics
