#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "kinematics/joint.h"
#include "sim/cell.h"
#include "sim/yaml_reader.h"

namespace aircut::sim {

/// What a robot description says of a joint that moves.
struct DescribedJoint {
  std::string name;
  std::optional<std::pair<double, double>> range_rad;   ///< of the model's angle; nothing: it turns without end
  std::optional<double> speed_rad_s;
};

struct JointTable {
  std::vector<kinematics::JointSpec> joints;
  std::vector<JointDrive> drives;        ///< one per joint
  std::vector<AssumedValue> assumed;     ///< for what no joint states
};

/// Reads `arm.joints`. Sign and zero are never guessed; a missing acceleration is
/// process data, so the slow end of a printed band stands for it.
/// @param described empty, or one entry a joint: range and speed may then be left
/// out where it has them. @throws InputError.
JointTable ReadJoints(const YamlValue& value, const std::vector<DescribedJoint>& described);

}  // namespace aircut::sim
