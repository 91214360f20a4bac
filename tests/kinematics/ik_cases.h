#pragma once

#include <string>
#include <vector>

#include "kinematics/frame.h"
#include "kinematics/joint.h"

namespace aircut::kinematics {

/// One case of tests/data/ik_cases.yaml (source and licence are written there).
struct IkCase {
  int id = 0;
  std::string arm;  ///< arm_a or arm_b, the first two sets of row KIN-15
  JointVector q;
  Pose X_BF = Pose::Identity();
  std::vector<JointVector> solutions;
};

/// @returns the cases of one arm. @throws std::runtime_error if the file cannot be read.
std::vector<IkCase> LoadIkCases(const std::string& arm);

}  // namespace aircut::kinematics
