#pragma once

#include <variant>

#include "sim/depth_rays.h"
#include "sim/profile_sweep.h"

namespace aircut::sim {

/// One part of a cutter on its way, as rays are cut by it.
using PartSweep = std::variant<StringSweep, ProfileSweep>;

/// What of a profile's sweep may be missed on a ray where its axis turns.
inline constexpr double kRaySlack_mm = 2e-4;

/// The part of a ray between lo_mm and hi_mm that a sweep removes; empty when lo > hi.
LinePart ClipRay(const PartSweep& part, const DepthRay& ray, double lo_mm, double hi_mm);

/// Places around a line, in S [mm]: all of top +- half_1 +- half_2 + s * down, s in [0, 1].
struct RayBox {
  Eigen::Vector3d top = Eigen::Vector3d::Zero();
  Eigen::Vector3d down = Eigen::Vector3d::Zero();
  Eigen::Vector3d half_1 = Eigen::Vector3d::Zero(), half_2 = Eigen::Vector3d::Zero();
};

/// The stretch of a ray from top_mm down to lo_mm.
RayBox BoxOf(const DepthRay& ray, double lo_mm, double top_mm);

/// Whether a sweep may remove something in a box: false only where it surely does not.
bool MayReach(const PartSweep& part, const RayBox& box);

/// Whether a sweep can remove nothing in a box but with the lowest ball of a string.
bool OnlyLowestBall(const PartSweep& part, const RayBox& box);

/// How far along box.down [mm] below which nothing is sure, or a negative number:
/// above that the tool, half-way, fills the box with room to spare for every
/// rounding and slack of ClipRay.
double FilledDepth(const PartSweep& part, const RayBox& box);

}  // namespace aircut::sim
