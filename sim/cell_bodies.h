#pragma once

#include "sim/body_kind.h"
#include "sim/clearance.h"
#include "sim/job.h"

namespace aircut::sim {

/// Bodies of the cell with what carries them, and the pairs that must stay apart.
struct CellBodies {
  std::vector<Body> bodies;
  std::vector<BodyKind> kinds;
  std::vector<BodyMount> mounts;
  std::vector<ClearancePair> pairs;   ///< each with the distance it must keep
};

/// Links, spindle housing, dust hood, holder and cutter of every tool the path
/// uses, hoses, fixture, clamps that have a body, obstacles, restricted planes, floor,
/// and the uncut piece (against links and housing; holder and cutter meet the piece in the
/// contact record). Neighbouring links and what is bolted together are no pair;
/// the floor carries the base. Pairs that the cell says cannot meet are left out. A hose must keep clear of what does not move with
/// the arm only. A track carries the arm's foot; a table carries fixture, clamps
/// and piece, which then must keep clear of what stands around them too.
/// @param X_WS_actual where the touched points put the piece. Where it differs
/// from the frame the controller holds, fixture and clamps are tried in both places.
CellBodies BodiesOf(const Job& job, const kinematics::Pose& X_WS_actual);

}  // namespace aircut::sim
