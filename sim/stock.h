#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <vector>

#include "sim/brick_size.h"
#include "sim/mesh_index.h"

namespace aircut::sim {

/// remover value of a voxel that no sweep removed.
inline constexpr std::uint16_t kNotRemoved = 0xffff;

/// Lattice of voxel centres in S: centre (i, j, k) at origin + voxel * (i, j, k).
/// It is a cut-out of an endless lattice of bricks that hangs on the stock alone:
/// another cut-out has the same bricks to the last bit.
struct Lattice {
  Eigen::Vector3d anchor_S = Eigen::Vector3d::Zero();   ///< first centre of the endless lattice's brick (0, 0, 0)
  Eigen::Vector3i first = Eigen::Vector3i::Zero();      ///< place there of this one's brick (0, 0, 0)
  Eigen::Vector3d origin_S = Eigen::Vector3d::Zero();
  double voxel_mm = 0.0;
  Eigen::Vector3i bricks = Eigen::Vector3i::Zero();   ///< bricks along each axis
  /// First voxel centre of a brick.
  Eigen::Vector3d BrickCorner(const Eigen::Vector3i& at) const {
    return anchor_S + kBrickEdge * voxel_mm * (first + at).cast<double>();
  }
  Eigen::Vector3d Centre(int i, int j, int k) const {
    return origin_S + voxel_mm * Eigen::Vector3d(i, j, k);
  }
};

/// What a brick holds before the first sweep.
enum class BrickFill : std::uint8_t { kUntouched, kAir, kSolid, kMixed };

/// One touched brick: signed distance to the material (negative inside) as
/// rounded int16 in units of truncation / 32767, and per voxel the place in the
/// brick's own list of sweeps of the one that first removed it.
struct Brick {
  Brick() {}                                         // its arrays need no zeros
  Eigen::Vector3i at;                                ///< brick coordinates
  std::array<std::int16_t, kBrickVoxels> distance;
  std::array<std::uint16_t, kBrickVoxels> remover;
  std::vector<std::int32_t> sweeps;                  ///< in time order
};

/// The workpiece material: the solid it starts as (a closed mesh) and bricks of
/// signed distance where the tool came near. Bricks that were never touched
/// hold nothing: there the starting solid speaks.
struct Stock {
  std::shared_ptr<const MeshIndex> solid_S;
  Lattice lattice;
  std::vector<std::int32_t> brick_of;   ///< per lattice brick: index into bricks, or -1
  std::vector<Brick> bricks;

  double unit_mm() const { return kTruncation_voxel * lattice.voxel_mm / 32767.0; }
  /// Signed distance [mm] at a voxel centre, truncated; asks the starting
  /// solid where no brick was touched.
  double ValueAt(int i, int j, int k) const;
  /// Trilinear signed distance [mm] at a point of S, truncated.
  double DistanceAt(const Eigen::Vector3d& p_SQ) const;
};

}  // namespace aircut::sim
