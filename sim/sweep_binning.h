#pragma once

#include <cstdint>
#include <vector>

#include <Eigen/Geometry>

#include "sim/tool_track.h"

namespace aircut::sim {

/// Cells of equal size, a block cut out of an endless lattice of them: place
/// (i, j, k) is centred at zero_centre + pitch * (i, j, k), the block's cell
/// (0, 0, 0) is at place `first`.
struct CellGrid {
  Eigen::Vector3d zero_centre_S = Eigen::Vector3d::Zero();
  Eigen::Vector3i first = Eigen::Vector3i::Zero();
  double pitch_mm = 0.0;
  Eigen::Vector3i count = Eigen::Vector3i::Zero();
  std::int64_t size() const {
    return std::int64_t{count.x()} * count.y() * count.z();
  }
  std::int64_t IndexOf(const Eigen::Vector3i& at) const {
    return at.x() + std::int64_t{count.x()} * (at.y() + std::int64_t{count.y()} * at.z());
  }
  Eigen::Vector3i At(std::int64_t index) const;
  Eigen::Vector3d Centre(const Eigen::Vector3i& at) const {
    return zero_centre_S + pitch_mm * (first + at).cast<double>();
  }
};

/// Which part of the tool is binned.
enum class ToolPart { kCutting, kBodies };

/// For every cell the sweeps that can reach it, in time order.
struct SweepBins {
  std::vector<std::int64_t> begin;        ///< per cell + 1: first entry in `sweeps`
  std::vector<std::int32_t> sweeps;
  std::int64_t CountOf(std::int64_t cell) const {
    return begin[static_cast<std::size_t>(cell) + 1] - begin[static_cast<std::size_t>(cell)];
  }
};

struct BinRequest {
  const ToolTrack* track = nullptr;
  CellGrid grid;
  double reach_mm = 0.0;               ///< a sweep nearer than this to a cell's centre belongs to it
  ToolPart part = ToolPart::kCutting;
  int first_sweep = 0;                 ///< those before are left out
  const std::vector<std::uint8_t>* wanted = nullptr;   ///< per cell, 0 = leave out; null = all
  int threads = 1;
};

/// Conservative: never leaves out a sweep that comes within reach of a centre.
SweepBins BinSweeps(const BinRequest& request);

/// Cells whose box the sweeps' boxes overlap: a cheap superset, 1 = touched.
std::vector<std::uint8_t> CellsNearSweeps(const BinRequest& request);

/// Signed distance [mm] to a body from a place given by its height above the tip
/// and its distance from the axis; negative inside.
double DistanceToCylinder(const BodyCylinder& body, double z_mm, double rho_mm);

/// Box of the tool part over one sweep, in S; empty when the tool has no such part.
Eigen::AlignedBox3d SweepBox(const ToolTrack& track, int sweep, ToolPart part);

}  // namespace aircut::sim
