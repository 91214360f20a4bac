#pragma once

#include <Eigen/Core>

#include "sim/tool_track.h"

namespace aircut::sim {

/// A body of the tool (shank, holder) over one sweep, looked at at evenly spaced instants
/// a quarter of a voxel of travel apart.
class BodyPass {
 public:
  BodyPass(const ToolTrack& track, int sweep, const BodyCylinder& body, double voxel_mm);

  /// @returns the least distance from a place in S to the body over all instants [mm], or
  /// something >= enough_mm where none is nearer than that.
  double Least(const Eigen::Vector3d& p_SQ, double enough_mm) const;

 private:
  struct Span {
    int first, last;
  };
  struct Sought {
    Eigen::Vector3d p_SQ;
    double speed_mm = 0.0;   // most that the body comes nearer from one instant to the next
  };
  double At(const Eigen::Vector3d& p_SQ, int instant) const;
  double Search(const Sought& sought, const Span& span, double least_mm) const;

  const ToolTrack& track_;
  std::size_t i_;
  const BodyCylinder& body_;
  Eigen::Vector3d travel_S_;
  double turn_ = 0.0;
  int steps_ = 1;
};

}  // namespace aircut::sim
