#include "sim/body_pass.h"

#include <algorithm>

#include "sim/sweep_binning.h"

namespace aircut::sim {

using Eigen::Vector3d;

BodyPass::BodyPass(const ToolTrack& track, int sweep, const BodyCylinder& body, double voxel_mm)
    : track_(track), i_(static_cast<std::size_t>(sweep)), body_(body) {
  travel_S_ = track.p_ST[i_ + 1] - track.p_ST[i_];
  turn_ = (track.axis_S[i_ + 1] - track.axis_S[i_]).norm();
  steps_ = 1 + static_cast<int>((travel_S_.norm() + turn_ * body.z1_mm) / (0.25 * voxel_mm));
}

// No instant is left out that could be nearer: in the body's eyes a place moves no
// faster than travel and turn together.
double BodyPass::Least(const Vector3d& p_SQ, double enough_mm) const {
  const double arm = std::max((p_SQ - track_.p_ST[i_]).norm(), (p_SQ - track_.p_ST[i_ + 1]).norm());
  const double speed = (travel_S_.norm() + 1.001 * turn_ * arm) / steps_;
  return Search({p_SQ, speed}, {0, steps_}, enough_mm);
}

double BodyPass::At(const Vector3d& p_SQ, int instant) const {
  const double t = static_cast<double>(instant) / steps_;
  const Vector3d axis = ((1.0 - t) * track_.axis_S[i_] + t * track_.axis_S[i_ + 1]).normalized();
  const Vector3d y = p_SQ - track_.p_ST[i_] - t * travel_S_;
  const double z = y.dot(axis);
  return DistanceToCylinder(body_, z, (y - z * axis).norm());
}

double BodyPass::Search(const Sought& sought, const Span& span, double least_mm) const {
  if (span.first > span.last) return least_mm;
  const int middle = (span.first + span.last) / 2;
  const double d = At(sought.p_SQ, middle);
  const double least = std::min(least_mm, d);
  const int reach = std::max(middle - span.first, span.last - middle);
  if (reach == 0 || d - sought.speed_mm * reach >= least) return least;
  return Search(sought, {middle + 1, span.last}, Search(sought, {span.first, middle - 1}, least));
}

}  // namespace aircut::sim
