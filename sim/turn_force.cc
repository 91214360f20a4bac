#include "sim/turn_force.h"

#include <cmath>
#include <stdexcept>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kFullTurn = 6.28318530717958647692;

// Force and torque of one edge while it is in a sector.
struct Share {
  Vector3d force_n = Vector3d::Zero();
  double torque_nmm = 0;
};

Share OfSector(const SectorSums& s, const ForceCoefficients& f, const EngagedShare& share,
               const Eigen::Vector2d& middle, double turning) {
  const auto sum = [&](std::size_t direction, double chip, double edge) {
    return f.cutting_n_mm2[direction] * share.chip * chip + f.edge_n_mm[direction] * share.edge * edge;
  };
  // Radial: against the normal n. Axial: along the outline towards the tip, (n_z, -n_r).
  const double outwards = -sum(1, s.chip_r_mm2, s.edge_r_mm) + sum(2, s.chip_z_mm2, s.edge_z_mm);
  const double along = -sum(1, s.chip_z_mm2, s.edge_z_mm) - sum(2, s.chip_r_mm2, s.edge_r_mm);
  // A right-hand cutter runs clockwise as seen from the spindle: its cutting force points anticlockwise.
  const double around = turning * sum(0, s.chip_mm2, s.edge_mm);
  const double c = middle.x(), d = middle.y();
  return {{outwards * c - around * d, outwards * d + around * c, along},
          sum(0, s.chip_lever_mm3, s.edge_lever_mm2)};
}

// The sector in which the k-th tooth is when the first is in sector s.
std::size_t SectorOfTooth(std::size_t s, int k, int count) {
  const double step = static_cast<double>(k) * kArcSectors / count;
  return (s + static_cast<std::size_t>(std::lround(step))) % kArcSectors;
}

}  // namespace

TurnForce ForceOverTurn(const EdgeSums& edges, const ForceCoefficients& force, const Teeth& teeth,
                        const EngagedShare& share) {
  std::array<Share, kArcSectors> of_sector;
  TurnForce turn;
  for (std::size_t s = 0; s < kArcSectors; ++s) {
    if (!(edges.sector[s].edge_mm > 0.0)) continue;
    of_sector[s] = OfSector(edges.sector[s], force, share, edges.way[s], teeth.right_handed ? 1.0 : -1.0);
    turn.mean_n += of_sector[s].force_n;
    turn.mean_torque_nmm += of_sector[s].torque_nmm;
  }
  turn.mean_n *= static_cast<double>(teeth.count) / kArcSectors;
  turn.mean_torque_nmm *= static_cast<double>(teeth.count) / kArcSectors;
  double largest = -1.0;
  for (std::size_t s = 0; s < kArcSectors; ++s) {
    if (!(edges.sector[s].edge_mm > 0.0)) continue;
    Share all;
    for (int k = 0; k < teeth.count; ++k) {
      const Share& one = of_sector[SectorOfTooth(s, k, teeth.count)];
      all.force_n += one.force_n;
      all.torque_nmm += one.torque_nmm;
    }
    turn.peak_torque_nmm = all.torque_nmm > turn.peak_torque_nmm ? all.torque_nmm : turn.peak_torque_nmm;
    if (all.force_n.squaredNorm() > largest) {
      largest = all.force_n.squaredNorm();
      turn.peak_n = all.force_n;
    }
  }
  return turn;
}

PlainLoad LoadOf(const CutterOutline& outline, const Teeth& teeth, const PlainCut& cut,
                 const ForceCoefficients& force) {
  if (!(cut.feed_mm_s >= 0 && cut.rpm > 0 && cut.depth_mm > 0 && teeth.count > 0)) {
    throw std::invalid_argument("LoadOf: feed must be >= 0, rpm, depth and teeth > 0");
  }
  EdgeEngagement engaged;
  engaged.high_mm = cut.depth_mm;
  engaged.TakeArc(cut.from_rad, cut.to_rad);
  const double teeth_s = cut.rpm * teeth.count / 60.0;
  // Of a chip of one millimetre: without a feed there is still an edge that rubs.
  engaged.travel_mm = Vector3d(std::cos(cut.climb_rad), 0.0, std::sin(cut.climb_rad));
  const EdgeSums edges = SumEdges(outline, engaged);
  PlainLoad load;
  load.feed_per_tooth_mm = cut.feed_mm_s / teeth_s;
  load.force = ForceOverTurn(edges, force, teeth, {load.feed_per_tooth_mm, 1.0});
  load.chip_most_mm = load.feed_per_tooth_mm * edges.chip_most_mm;
  load.chip_mean_mm = load.feed_per_tooth_mm * edges.chip_mean_mm;
  load.removed_mm3_s = cut.feed_mm_s * edges.tooth_mm3;
  load.power_w = 1e-3 * load.force.mean_torque_nmm * cut.rpm * kFullTurn / 60.0;
  return load;
}

}  // namespace aircut::sim
