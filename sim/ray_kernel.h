#pragma once

#include <cstdint>

namespace aircut::sim {

/// Rays that are clipped together.
inline constexpr int kRayLanes = 16;

/// Rays near each other and what of each is gone from the top down. Plain arrays: the
/// kernels are built for several instruction sets and share no inline code. Lengths in
/// mm, places relative to an origin that rays and moves share.
struct RayLanes {
  alignas(64) double x[kRayLanes], y[kRayLanes], z[kRayLanes];      ///< the rays' zeros
  alignas(64) double dx[kRayLanes], dy[kRayLanes], dz[kRayLanes];   ///< unit, up
  alignas(64) double lo[kRayLanes], hi[kRayLanes];                  ///< the stretch looked at
  alignas(64) double top[kRayLanes];          ///< out: end of what is gone from hi on down
  alignas(64) std::int64_t best[kRayLanes];   ///< out: the sweep that reached there first, kNoSweep = none
  /// Out: lowest end of any part that does not begin at hi; where that lies below `top`
  /// the ray has a hollow, or one that opens into what is gone.
  alignas(64) double loose[kRayLanes];
};
inline constexpr std::int64_t kNoSweep = INT64_MAX;

/// A ball moved on a straight line from a to a + v.
struct CapsuleMove {
  double a[3], v[3];
  double vv, inv_vv;   ///< v^2 and its inverse, 0 where the ball stands still
  double r2;           ///< radius^2
  std::int64_t sweep;
};

/// Takes the named moves off all rays.
struct RayKernel {
  void (*clip)(RayLanes& rays, const CapsuleMove* moves, const std::uint32_t* which, int count);
  const char* instruction_set;
};

/// Parts of a ray nearer than this are joined: thinner slivers are rounding.
inline constexpr double kJoined_mm = 1e-7;

/// The widest kernel that this processor runs. Values are the same to the last bit for
/// every instruction set.
const RayKernel& ChooseRayKernel();
/// All that this processor runs, the plain one first (for tests).
int RayKernelCount();
const RayKernel& RayKernelAt(int index);

}  // namespace aircut::sim
