#pragma once

#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

#include "kinematics/branch_follower.h"
#include "kinematics/ortho_parallel.h"
#include "kinematics/path_targets.h"

namespace aircut::kinematics {

/// One way to stand at a station: a spin of the lattice in one posture and one
/// count of turns.
struct LatticeNode {
  int spin = 0;          ///< lattice index, 0 .. spins - 1
  JointVector q;         ///< panel values [rad], inside the joint ranges
};

/// Lines [begin, end) that are joined by straight moves only.
struct LatticeRun {
  std::size_t begin = 0, end = 0;
};

/// A node that may not be used.
struct ForbiddenNode {
  std::size_t line = 0;  ///< path index of the station
  int posture = 0;
  int spin = 0;
};

/// The best way through a run, or how far one gets.
struct LatticeWay {
  bool complete = false;
  int posture = -1;
  double cost = 0.0;                     ///< of the way, where it is complete
  std::vector<std::size_t> stations;     ///< path indices
  std::vector<int> spin;                 ///< lattice steps, unwrapped: not reduced to one turn
  std::vector<JointVector> q;            ///< one per station
  std::size_t furthest = 0;              ///< path index of the last station that any way reaches
};

/// Layered graph of (station, spin, turns) in each posture: a posture is held over
/// a run. Stations are lines spaced so that the allowed change of spin is at
/// least two steps of the lattice from one to the next. Keeps references.
class SpinLattice {
 public:
  /// @param spins lattice points a turn; 1: the spin is not free.
  SpinLattice(const PathTargets& targets, const BranchFollower& follower, int spins);

  double step_rad() const { return step_rad_; }
  /// @param extra path indices that must be stations, rising.
  std::vector<std::size_t> Stations(const LatticeRun& run, const std::vector<std::size_t>& extra) const;
  /// All nodes of one posture at a line.
  std::vector<LatticeNode> Nodes(std::size_t line, int posture) const;

  /// Cost of standing at a node, in the job's words: near an end of a range,
  /// near a singular place, soft along the tool.
  double NodeCost(const LatticeNode& node) const;
  /// Cost of going on to a node of the next station: joint travel and spin
  /// travel; nothing where the spin may not turn so far over `travel_mm`, or a
  /// joint would have to jump.
  std::optional<double> EdgeCost(const LatticeNode& from, const LatticeNode& to,
                                 double travel_mm) const;
  /// Cost of a joint move, as fast as the joints allow: its time.
  double LinkCost(const JointVector& q_from, const JointVector& q_to) const;

  /// The cheapest way over all postures, by dynamic programming; exact on the lattice.
  /// @param stations of the run; @param q_before where the arm comes from.
  LatticeWay Solve(const std::vector<std::size_t>& stations, const JointVector& q_before,
                   const std::vector<ForbiddenNode>& forbidden) const;

  /// Travel of the tip from one line to another along the path [mm].
  double Travel_mm(std::size_t from, std::size_t to) const;
  /// Signed lattice steps from one spin to another, the short way round.
  int Steps(int from, int to) const;

 private:
  struct Layer;
  LatticeWay SolvePosture(const std::vector<std::size_t>& stations, int posture,
                          const JointVector& q_before,
                          const std::vector<ForbiddenNode>& forbidden) const;
  void AddCopies(const JointVector& q, int spin, std::vector<LatticeNode>& nodes) const;
  double Singular(const JointVector& q) const;

  const PathTargets& targets_;
  const BranchFollower& follower_;
  const ArmModel& arm_;
  OrthoParallelGeometry geometry_;
  int spins_ = 1;
  double step_rad_ = 0.0;
  std::vector<double> travel_mm_;        // of the tip up to each line
};

}  // namespace aircut::kinematics
