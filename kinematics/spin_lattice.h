#pragma once

#include <optional>
#include <vector>

#include "kinematics/branch_follower.h"
#include "kinematics/ortho_parallel.h"
#include "kinematics/path_targets.h"

namespace aircut::kinematics {

/// One way to stand at a station: a spin of the lattice and a setting of the
/// external axes, in one posture and one count of turns.
struct LatticeNode {
  int spin = 0;          ///< lattice index, 0 .. spins - 1
  int posture = 0;
  int setting = 0;       ///< index of SpinLattice::External
  JointVector q;         ///< panel values, inside the joint ranges
};

/// Lines [begin, end) that are joined by straight moves only.
struct LatticeRun {
  std::size_t begin = 0, end = 0;
};

/// A line at which the lattice has nodes.
struct LatticeStation {
  std::size_t line = 0;  ///< path index
  bool linked = false;   ///< a joint move leads there: the first line of a run
};

/// Nodes and costs of a layered graph of (station, spin, turns) in each posture and
/// at each setting of the external axes. Posture and setting are held over a run;
/// between runs, where the arm moves by its joints, both may change. Stations are
/// lines spaced so that the allowed change of spin is at least two steps of the
/// lattice from one to the next. Keeps references.
class SpinLattice {
 public:
  /// @param spins lattice points a turn; 1: the spin is not free. Free external
  /// axes are sampled evenly over their ranges, ends left out.
  SpinLattice(const PathTargets& targets, const BranchFollower& follower, int spins);

  int spins() const { return spins_; }
  double step_rad() const { return step_rad_; }
  /// Spin [rad] of a count of lattice steps. A request with kept lines has its lattice
  /// laid through the spin of the last of them.
  double SpinAt(int steps) const { return phase_rad_ + steps * step_rad_; }
  /// Settings of the external axes that are tried, >= 1.
  int settings() const { return static_cast<int>(external_.size()); }
  const JointVector& External(int setting) const { return external_[static_cast<std::size_t>(setting)]; }
  const PathTargets& targets() const { return targets_; }
  /// A searched arm has branches, but no lasting ids for them.
  bool postures_have_ids() const { return !follower_.searches(); }

  /// @param extra path indices that must be stations, rising.
  std::vector<LatticeStation> Stations(const LatticeRun& run, const std::vector<std::size_t>& extra) const;
  /// All nodes at a line, by setting, posture, spin; at the last kept line of the
  /// request the one that is kept.
  std::vector<LatticeNode> Nodes(std::size_t line) const;

  /// Cost of standing at a node, in the job's words: near an end of a range,
  /// near a singular place, soft along the tool.
  double NodeCost(const LatticeNode& node) const;
  /// Cost of going on to a node of the next station of a run: joint travel and
  /// spin travel; nothing where posture or setting change, the spin may not turn
  /// so far over `travel_mm`, or a joint would have to jump.
  std::optional<double> EdgeCost(const LatticeNode& from, const LatticeNode& to,
                                 double travel_mm) const;
  /// Cost of a joint move, as fast as the joints allow: its time.
  double LinkCost(const JointVector& q_from, const JointVector& q_to) const;

  /// Travel of the tip from one line to another along the path [mm].
  double Travel_mm(std::size_t from, std::size_t to) const;
  /// Lattice steps that the spin may change over a travel of the tip.
  int MostSteps(double travel_mm) const;
  /// Signed lattice steps from one spin to another, the short way round.
  int Steps(int from, int to) const;

 private:
  void AddCopies(const LatticeNode& node, std::vector<LatticeNode>& nodes) const;
  bool IsKept(const LatticeNode& node) const;
  double Singular(const JointVector& q) const;

  const PathTargets& targets_;
  const BranchFollower& follower_;
  const ArmModel& arm_;
  OrthoParallelGeometry geometry_;
  int spins_ = 1;
  double step_rad_ = 0.0;
  double phase_rad_ = 0.0;
  std::vector<JointVector> external_;    // per setting
  std::vector<double> travel_mm_;        // of the tip up to each line
};

}  // namespace aircut::kinematics
