#pragma once

#include <cstdint>
#include <unordered_map>
#include <vector>

#include "kinematics/spin_lattice.h"

namespace aircut::kinematics {

/// A node that may not be used, in any count of turns.
struct ForbiddenNode {
  std::size_t line = 0;  ///< path index of the station
  int posture = 0, spin = 0, setting = 0;
};

/// Where the arm comes from and where it goes afterwards, by its joints.
struct LatticeEnds {
  JointVector q_before, q_after;
};

/// The best way over all stations, or how far one gets.
struct LatticeWay {
  bool complete = false;
  double cost = 0.0;                     ///< of the way, where it is complete
  std::vector<LatticeStation> stations;
  std::vector<LatticeNode> nodes;        ///< one per station
  std::vector<int> spin;                 ///< lattice steps, unwrapped: not reduced to one turn
  std::size_t furthest = 0;              ///< path index of the last station that any way reaches
  std::size_t broken = 0;                ///< of the first that none reaches, where it is not complete
};

/// Dynamic programming over the lattice: exact on it, over all runs and the joint
/// moves between them. Keeps the nodes of every station it has seen; deterministic.
class LatticeSearch {
 public:
  /// Keeps a reference.
  explicit LatticeSearch(const SpinLattice& lattice) : lattice_(lattice) {}

  /// The cheapest way over `stations`, in path order, the first one linked.
  LatticeWay Solve(const std::vector<LatticeStation>& stations, const LatticeEnds& ends,
                   const std::vector<ForbiddenNode>& forbidden);

 private:
  /// Nodes of a station. Those of one class (setting and posture, which are held
  /// over a run) and spin lie together.
  struct Layer {
    std::vector<LatticeNode> nodes;
    std::vector<double> cost;            // of standing there
    std::vector<std::uint32_t> first;    // by class and spin, one more at the end
  };
  /// Cheapest ways to the nodes of a station.
  struct Reached {
    std::vector<double> cost;            // infinite where there is none
    std::vector<std::int32_t> before;
  };
  const Layer& LayerAt(std::size_t line);
  Reached Begin(const Layer& layer, const JointVector& q_before) const;
  Reached GoOn(const Layer& from, const Reached& reached, const Layer& to, double travel_mm) const;
  Reached Link(const Layer& from, const Reached& reached, const Layer& to) const;
  std::size_t ClassOf(const LatticeNode& node) const;

  const SpinLattice& lattice_;
  std::unordered_map<std::size_t, Layer> layers_;
};

}  // namespace aircut::kinematics
