#pragma once

#include <cstdint>
#include <vector>

#include <benchmark/benchmark.h>
#include <kdl/chainiksolverpos_lma.hpp>

#include "tests/support/kdl_arm.h"

namespace aircut::support {

/// Times KDL's Levenberg-Marquardt solver, one random seed a pose as its users
/// would, and counts the poses it solves.
inline void TimeKdlLma(benchmark::State& state, const KDL::Chain& chain,
                       const std::vector<kinematics::Pose>& poses,
                       const std::vector<kinematics::JointVector>& seeds) {
  KDL::ChainIkSolverPos_LMA solver(chain);
  std::vector<KDL::Frame> frames;
  for (const kinematics::Pose& X_BF : poses) frames.push_back(KdlFrameOf(X_BF));
  std::int64_t solved = 0;
  for (auto _ : state) {
    for (std::size_t i = 0; i < frames.size(); ++i) {
      KDL::JntArray seed(6), found(6);
      seed.data = seeds[i];
      if (solver.CartToJnt(seed, frames[i], found) == 0) ++solved;
    }
  }
  const std::int64_t tried = state.iterations() * static_cast<std::int64_t>(poses.size());
  state.SetItemsProcessed(tried);
  state.counters["solved_share"] = static_cast<double>(solved) / static_cast<double>(tried);
}

}  // namespace aircut::support
