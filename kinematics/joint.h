#pragma once

#include <optional>

#include <Eigen/Core>

namespace aircut::kinematics {

/// Largest number of joints of an arm together with its external axes.
inline constexpr int kMaxJoints = 8;

/// Joint values, rates or accelerations: dynamic size (5 to 8), no heap.
/// Always in the convention of the controller's panel (see JointSpec), in rad.
using JointVector = Eigen::Matrix<double, Eigen::Dynamic, 1, Eigen::ColMajor, kMaxJoints, 1>;

/// Geometric Jacobian, 6 x n: rows vx vy vz [mm/s per rad/s], wx wy wz [rad/s per rad/s].
using Jacobian = Eigen::Matrix<double, 6, Eigen::Dynamic, Eigen::ColMajor, 6, kMaxJoints>;

/// Coupling of a joint to an earlier one (a parallel-bar forearm).
struct JointFollow {
  int joint = 0;       ///< index (from 0) of the joint that drives
  double ratio = 0.0;  ///< model angle changes by ratio * panel value of `joint`
};

/// A range that a joint shares with an earlier one: lower <= panel value of this
/// joint + ratio * panel value of `joint` <= upper.
struct SumLimit {
  int joint = 0;           ///< index (from 0) of the earlier joint
  double ratio = 1.0;
  double lower_rad = 0.0;
  double upper_rad = 0.0;  ///< > lower
};

/// One joint as its controller shows it.
/// model angle = sign * panel + zero (+ ratio * panel value of the followed joint).
struct JointSpec {
  double lower_rad = 0.0;  ///< panel value, lower end of the range
  double upper_rad = 0.0;  ///< panel value, upper end of the range, > lower
  double speed_rad_s = 0.0;             ///< largest rate, > 0
  double acceleration_rad_s2 = 0.0;     ///< largest acceleration, > 0
  double sign = 1.0;                    ///< +1 or -1
  double zero_rad = 0.0;
  std::optional<JointFollow> follows;
  std::optional<SumLimit> sum_limit;
};

}  // namespace aircut::kinematics
