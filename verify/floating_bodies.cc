#include "verify/floating_bodies.h"

#include <algorithm>
#include <limits>

#include <fmt/format.h>

#include "sim/carrier_line.h"
#include "sim/collision_world.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// A link's housing begins at its joint; common practice, no source.
constexpr double kFloats_mm = 300.0;
constexpr double kPoint_mm = 1e-3;

// Distance of a body from a place in its own frame.
double DistanceFrom(const sim::LinkBody& body, const Eigen::Vector3d& p_L) {
  const sim::CollisionWorld world({{"body", body.shapes}, {"joint", {sim::CapsuleShape{p_L, p_L, kPoint_mm}}}});
  return world.Distance(0, kinematics::Pose::Identity(), 1, kinematics::Pose::Identity()).distance_mm;
}

}  // namespace

std::vector<std::string> FloatingBodies(const sim::Cell& cell) {
  std::vector<std::string> floating;
  if (!cell.arm) return floating;
  const sim::CarrierLine line(*cell.arm);
  const int last = static_cast<int>(cell.arm->chain().size());
  for (const sim::LinkBody& body : cell.links) {
    if (body.link < 1 || body.link > last || body.shapes.empty()) continue;
    const int carrier = line.foot() + body.link;
    double nearest_mm = DistanceFrom(body, line.joints()[static_cast<std::size_t>(carrier - 1)].p_behind);
    if (body.link < last) {
      nearest_mm = std::min(nearest_mm, DistanceFrom(body, line.joints()[static_cast<std::size_t>(carrier)].p_before));
    } else {
      nearest_mm = std::min(nearest_mm, DistanceFrom(body, Eigen::Vector3d::Zero()));
    }
    if (nearest_mm > kFloats_mm) {
      floating.push_back(fmt::format("link {} lies {} off its joints", body.link, Millimetres(nearest_mm)));
    }
  }
  return floating;
}

}  // namespace aircut::verify
