#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "kinematics/arm_model.h"

namespace aircut::sim {

/// The range of a URDF joint.
struct UrdfRange {
  double lower_rad = 0.0;
  double upper_rad = 0.0;   ///< > lower
};

/// One moving joint of a chain.
struct UrdfJoint {
  std::string name;
  int line = 0;                          ///< of the joint in its file
  /// Fixed joints on the way are folded in; lengths in mm.
  kinematics::ChainJoint chain;
  std::optional<UrdfRange> range;        ///< nothing for a continuous joint
  std::optional<double> speed_rad_s;     ///< > 0; nothing for a continuous joint without limit
  /// `mimic`: this joint has no drive of its own, its angle is ratio * angle of the
  /// earlier joint + offset.
  std::optional<kinematics::JointFollow> follows;
  double follow_offset_rad = 0.0;
};

/// The moving joints between two links of a URDF file, 1 to kMaxJoints. Their
/// product at joint values q is the pose of the flange link in the base link:
/// the last joint's `after` ends in the flange link's frame.
struct UrdfChain {
  std::vector<UrdfJoint> joints;
};

/// Reads the chain of revolute and continuous joints from link `base_link` to link
/// `flange_link` of a URDF file (at most 8 MiB). The file must be one tree of links.
/// Convention of `origin`: metres, and `rpy` = turns about the fixed axes x, y, z of
/// the parent in this order, R = Rz(yaw) Ry(pitch) Rx(roll). `axis` is in the joint's
/// frame, (1, 0, 0) where it is left out. Ends of a `safety_controller` narrow the
/// range. What hangs beside the chain is not looked at beyond its place in the tree;
/// in the chain every element and attribute must be known.
/// Source: the URDF XML specification of its maintainers (joint element).
/// @throws InputError naming file, line, joint, value, bound and mend: file missing or
/// too large, faulty XML, a document type, not a `robot`, links that are missing,
/// named twice, in a loop or without a parent, joints of other types in the chain,
/// an axis of no length, numbers that are not finite, a range that is missing or
/// reversed, a speed that is missing or not > 0, a `mimic` of a joint that is not
/// earlier in the chain.
UrdfChain ReadUrdf(const std::filesystem::path& file, const std::string& base_link,
                   const std::string& flange_link);

}  // namespace aircut::sim
