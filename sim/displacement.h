#pragma once

#include <set>
#include <vector>

#include "kinematics/motion.h"
#include "sim/cutting_load.h"
#include "sim/execution.h"
#include "sim/job.h"

namespace aircut::sim {

/// Everything that moves the tool off its commanded place, per sweep of a track.
struct DisplacementTask {
  const Job& job;
  const kinematics::MotionTrack& motion;   ///< moment i + 1 ends sweep i
  const ToolTrack& track;                  ///< as commanded
  const CuttingLoad& load;
  kinematics::Pose X_WS_actual = kinematics::Pose::Identity();
  const std::set<ErrorLayer>& without;
  int threads = 2;
};

/// Layers that act, and those of which nothing is known though something should be: arm,
/// tool and fixture where a load is reckoned, lost motion always. A spring's layer is its
/// compliance at the sweep's posture times the force on the tool (for the fixture the piece
/// gives way by the opposite, which seen from the piece moves the tool alike); the mean of
/// a turn, since a tooth passes far above what arm and fixture can follow (domain notes
/// C8), but for the cutter at the bad end, where the peak counts. Gravity is in the arm's
/// layer as its difference from the mean over the cuts, where the payload is given. Lost
/// motion: every joint lies half of it behind its last way; its band leaves open from none
/// to all of that (domain notes C10). Drift: the measured one at that time.
struct Displacements {
  std::vector<LayerShift> layers;
  std::vector<MissingLayer> missing;
};
Displacements ComputeDisplacements(const DisplacementTask& task);

/// The sum of the layers at one end of their bands, per sweep [mm], in S.
/// @param but a layer that is left out.
std::vector<Eigen::Vector3d> SumOf(const std::vector<LayerShift>& layers, BandEnd end,
                                   std::optional<ErrorLayer> but = std::nullopt);

/// The track with every tool pose moved: a moment takes the larger shift of the two
/// sweeps that meet there, so that the end of a long cut is not drawn to the air beside it.
/// @param shift_S one per sweep.
ToolTrack Displaced(const ToolTrack& track, const std::vector<Eigen::Vector3d>& shift_S);

}  // namespace aircut::sim
