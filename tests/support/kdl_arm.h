#pragma once

#include <vector>

#include <kdl/chain.hpp>

#include "kinematics/arm_model.h"

namespace aircut::support {

/// The chain of a standard table in Orocos KDL, in metres: its solvers weigh
/// lengths against radians.
inline KDL::Chain KdlChainOf(const std::vector<kinematics::DhRow>& rows) {
  KDL::Chain chain;
  for (const kinematics::DhRow& row : rows) {
    chain.addSegment(KDL::Segment(
        KDL::Joint(KDL::Joint::RotZ, 1.0, row.theta_offset_rad),
        KDL::Frame::DH(row.a_mm / 1000.0, row.alpha_rad, row.d_mm / 1000.0, row.theta_offset_rad)));
  }
  return chain;
}

/// @param X pose in mm. @returns the same in metres.
inline KDL::Frame KdlFrameOf(const kinematics::Pose& X) {
  const Eigen::Matrix3d R = X.linear();
  const Eigen::Vector3d p = X.translation() / 1000.0;
  return {KDL::Rotation(R(0, 0), R(0, 1), R(0, 2), R(1, 0), R(1, 1), R(1, 2), R(2, 0), R(2, 1), R(2, 2)),
          KDL::Vector(p.x(), p.y(), p.z())};
}

}  // namespace aircut::support
