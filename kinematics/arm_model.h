#pragma once

#include <string>
#include <vector>

#include "kinematics/frame.h"
#include "kinematics/joint.h"

namespace aircut::kinematics {

/// One row of a standard Denavit-Hartenberg table:
/// A = Rz(theta + theta_offset) Tz(d) Tx(a) Rx(alpha).
struct DhRow {
  double a_mm = 0.0;
  double alpha_rad = 0.0;
  double d_mm = 0.0;
  double theta_offset_rad = 0.0;
};

/// One row of a modified (Craig) Denavit-Hartenberg table:
/// A = Rx(alpha) Tx(a) Rz(theta + theta_offset) Tz(d), where a and alpha belong to
/// the link before the joint.
struct ModifiedDhRow {
  double a_mm = 0.0;
  double alpha_rad = 0.0;
  double d_mm = 0.0;
  double theta_offset_rad = 0.0;
};

/// Six-axis arm with an ortho-parallel base and a spherical wrist.
/// Source: Brandstoetter, Angerer, Hofbaur, Austrian Robotics Workshop 2014.
/// With all model angles zero the arm points straight up and every link frame
/// has the orientation of B; joint axes are z, y, y, z, y, z.
struct SphericalWristParameters {
  double a1_mm = 0, a2_mm = 0, b_mm = 0, c1_mm = 0, c2_mm = 0, c3_mm = 0, c4_mm = 0;
};

/// One revolute joint of the chain: X_(Li-1)(Li) = before * Rot(axis, theta) * after.
struct ChainJoint {
  Pose before = Pose::Identity();
  Eigen::Vector3d axis = Eigen::Vector3d::UnitZ();
  Pose after = Pose::Identity();
};

enum class ExternalKind { kTurn, kSlide };
enum class ExternalSide { kTool, kWork };

/// A joint outside the arm proper: a track under its foot (tool side), a
/// turntable or a slide under the work (work side). At model value 0 foot and
/// work stand where base and workpiece frames say. Axes on the same side are
/// listed from the floor outwards.
struct ExternalAxis {
  std::string name;
  ExternalSide side = ExternalSide::kTool;
  ExternalKind kind = ExternalKind::kSlide;
  Eigen::Vector3d p_B = Eigen::Vector3d::Zero();            ///< a point of the axis of a turn [mm]
  Eigen::Vector3d direction_B = Eigen::Vector3d::UnitX();   ///< unit
};

/// Serial chain of revolute joints, B to F. Immutable; checked when made.
/// The last link frame is F. Link i (from 1) moves with frame Li.
/// External axes may be added; their values follow those of the chain in every
/// JointVector (rad, or mm for a slide), their limits in `joints()`. The foot of
/// the chain is frame A, which a track carries: X_BF = X_BA * X_AF.
class ArmModel {
 public:
  /// @param rows one row per joint, 1 to kMaxJoints; @param joints same count.
  /// @throws std::invalid_argument naming the joint, field, value and bound.
  static ArmModel FromDhStandard(const std::vector<DhRow>& rows, std::vector<JointSpec> joints);

  /// @param rows one row per joint, 1 to kMaxJoints; @param joints same count.
  /// F is the frame after the last row. @throws std::invalid_argument as above.
  static ArmModel FromDhModified(const std::vector<ModifiedDhRow>& rows,
                                 std::vector<JointSpec> joints);

  /// @param chain one entry per joint, 1 to kMaxJoints, rigid poses and unit
  /// axes; @param joints same count. @throws std::invalid_argument as above.
  static ArmModel FromChain(std::vector<ChainJoint> chain, std::vector<JointSpec> joints);

  /// @param joints exactly 6. @throws std::invalid_argument as above.
  static ArmModel FromSphericalWrist(const SphericalWristParameters& parameters,
                                     std::vector<JointSpec> joints);

  /// @returns this arm with external axes. @param axes at most kMaxJoints with
  /// the chain; @param joints one per axis, without follows and sum limits.
  /// @throws std::invalid_argument as above.
  ArmModel WithExternals(std::vector<ExternalAxis> axes, std::vector<JointSpec> joints) const;

  /// Joints of the chain and external axes together.
  int joint_count() const { return static_cast<int>(joints_.size()); }
  const std::vector<JointSpec>& joints() const { return joints_; }
  /// The joints of the arm proper, foot to flange.
  const std::vector<ChainJoint>& chain() const { return chain_; }
  const std::vector<ExternalAxis>& externals() const { return externals_; }

  /// @returns model angles [rad] for panel values `q` [rad].
  JointVector ModelAngles(const JointVector& q) const;
  /// @returns panel values [rad] for model angles `theta` [rad]; not wrapped.
  JointVector PanelValues(const JointVector& theta) const;

  /// @returns true if every panel value lies inside its range, and every sum of
  /// a sum limit inside its own, both narrowed by `margin_rad`.
  bool InRange(const JointVector& q, double margin_rad = 0.0) const;

 private:
  ArmModel(std::vector<ChainJoint> chain, std::vector<JointSpec> joints);

  std::vector<ChainJoint> chain_;
  std::vector<JointSpec> joints_;
  std::vector<ExternalAxis> externals_;
};

}  // namespace aircut::kinematics
