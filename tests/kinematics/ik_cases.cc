#include "tests/kinematics/ik_cases.h"

#include <yaml-cpp/yaml.h>

#include "tests/support/published_arms.h"

namespace aircut::kinematics {

namespace {

Pose PoseOf(const YAML::Node& node) {
  const auto p_m = node["translation"].as<std::vector<double>>();
  const auto xyzw = node["quaternion"].as<std::vector<double>>();
  const Eigen::Quaterniond turn(xyzw[3], xyzw[0], xyzw[1], xyzw[2]);
  return MakePose(turn.normalized().toRotationMatrix(),
                  Eigen::Vector3d(p_m[0], p_m[1], p_m[2]) * support::kMm_m);
}

}  // namespace

std::vector<IkCase> LoadIkCases(const std::string& arm) {
  std::vector<IkCase> cases;
  for (const YAML::Node& node : YAML::LoadFile(AIRCUT_TEST_DATA "/ik_cases.yaml")["cases"]) {
    if (node["arm"].as<std::string>() != arm) continue;
    IkCase one;
    one.id = node["id"].as<int>();
    one.arm = arm;
    one.q = support::PanelFromDeg(node["joints"].as<std::vector<double>>());
    one.X_BF = PoseOf(node["pose"]);
    for (const YAML::Node& solution : node["solutions"]) {
      one.solutions.push_back(support::PanelFromDeg(solution.as<std::vector<double>>()));
    }
    cases.push_back(one);
  }
  return cases;
}

}  // namespace aircut::kinematics
