#include "sim/urdf.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <string_view>
#include <utility>

#include <tinyxml2.h>

#include "sim/nearest_word.h"
#include "sim/urdf_tree.h"

namespace aircut::sim {
namespace {

using kinematics::Pose;
using tinyxml2::XMLAttribute;
using tinyxml2::XMLElement;

constexpr double kMm_m = 1000.0;
constexpr std::string_view kSpace = " \t\r\n";
// Shorter axes have no direction that their digits could tell.
constexpr double kShortestAxis = 1e-6;

// One joint element and what may be read from it.
class JointReader {
 public:
  JointReader(const UrdfTree& tree, const UrdfTreeJoint& joint) : tree_(tree), joint_(joint) {
    const std::vector<std::string> known = {"origin",   "parent", "child",
                                            "axis",     "limit",  "mimic",
                                            "dynamics", "calibration", "safety_controller"};
    std::vector<std::string> seen;
    for (const XMLElement* e = joint.element->FirstChildElement(); e != nullptr;
         e = e->NextSiblingElement()) {
      const std::string name = e->Name();
      if (std::find(known.begin(), known.end(), name) == known.end()) {
        Fail(*e, Shown(name) + " is not known" + DidYouMean(name, known) +
                     ": mend the word or take it out");
      }
      if (std::find(seen.begin(), seen.end(), name) != seen.end()) {
        Fail(*e, name + " must be there once: take one of them out");
      }
      seen.push_back(name);
    }
  }

  std::string Type() const {
    const char* type = joint_.element->Attribute("type");
    const std::string name = type == nullptr ? "" : type;
    if (name == "fixed" || name == "revolute" || name == "continuous") return name;
    Fail(*joint_.element, "type = '" + Shown(name) +
                              "' must be fixed, revolute or continuous between base and flange: "
                              "choose another base or flange link, or mend the type");
  }

  /// Pose of the joint in its parent link [mm].
  Pose Origin() const {
    const XMLElement* origin = Element("origin", {"xyz", "rpy"});
    if (origin == nullptr) return Pose::Identity();
    const Eigen::Vector3d p_mm = kMm_m * Vector(*origin, "xyz");
    const Eigen::Vector3d rpy = Vector(*origin, "rpy");
    const Eigen::AngleAxisd roll(rpy.x(), Eigen::Vector3d::UnitX());
    const Eigen::AngleAxisd pitch(rpy.y(), Eigen::Vector3d::UnitY());
    const Eigen::AngleAxisd yaw(rpy.z(), Eigen::Vector3d::UnitZ());
    return kinematics::MakePose((yaw * pitch * roll).toRotationMatrix(), p_mm);
  }

  Eigen::Vector3d Axis() const {
    const XMLElement* axis = Element("axis", {"xyz"});
    if (axis == nullptr) return Eigen::Vector3d::UnitX();
    if (axis->Attribute("xyz") == nullptr) {
      Fail(*axis, "axis.xyz is missing: write the direction of the axis");
    }
    const Eigen::Vector3d along = Vector(*axis, "xyz");
    if (!(along.norm() >= kShortestAxis)) {
      Fail(*axis, "axis.xyz = '" + Shown(axis->Attribute("xyz")) +
                      "' must have a length: write the direction of the axis");
    }
    return along.normalized();
  }

  std::optional<UrdfRange> Range() const {
    const XMLElement* limit = Limit();
    const XMLElement* soft =
        Element("safety_controller", {"soft_lower_limit", "soft_upper_limit", "k_position",
                                      "k_velocity"});
    if (Type() == "continuous") {
      for (const char* end : {"lower", "upper"}) {
        if (limit == nullptr || limit->Attribute(end) == nullptr) continue;
        Fail(*limit, std::string("limit.") + end +
                         " must not be there for a continuous joint: take it out or write the "
                         "type revolute");
      }
      return std::nullopt;
    }
    UrdfRange range{Required(*limit, "lower"), Required(*limit, "upper")};
    if (soft != nullptr && soft->Attribute("soft_lower_limit") != nullptr) {
      range.lower_rad = std::max(range.lower_rad, Required(*soft, "soft_lower_limit"));
    }
    if (soft != nullptr && soft->Attribute("soft_upper_limit") != nullptr) {
      range.upper_rad = std::min(range.upper_rad, Required(*soft, "soft_upper_limit"));
    }
    if (!(range.upper_rad > range.lower_rad)) {
      Fail(*limit, "limit.upper = " + std::to_string(range.upper_rad) + " must be > lower = " +
                       std::to_string(range.lower_rad) + " rad: swap or mend the ends");
    }
    return range;
  }

  std::optional<double> Speed_rad_s() const {
    const XMLElement* limit = Limit();
    if (limit == nullptr) return std::nullopt;
    const double speed_rad_s = Required(*limit, "velocity");
    if (!(speed_rad_s > 0.0)) {
      Fail(*limit, "limit.velocity = '" + Shown(limit->Attribute("velocity")) +
                       "' must be > 0 rad/s: write the top speed of the joint");
    }
    return speed_rad_s;
  }

  struct Mimicry {
    std::optional<kinematics::JointFollow> follows;
    double offset_rad = 0.0;
  };
  /// @param earlier the moving joints of the chain so far.
  Mimicry Mimic(const std::vector<UrdfJoint>& earlier) const;

 private:
  [[noreturn]] void Fail(const XMLElement& at, const std::string& text) const {
    tree_.Fail(at.GetLineNum(), "joint '" + Shown(joint_.name) + "'." + text);
  }

  // The element of this name, its attributes all known; or none.
  const XMLElement* Element(const char* name, const std::vector<std::string>& known) const {
    const XMLElement* element = joint_.element->FirstChildElement(name);
    if (element == nullptr) return nullptr;
    for (const XMLAttribute* a = element->FirstAttribute(); a != nullptr; a = a->Next()) {
      if (std::find(known.begin(), known.end(), a->Name()) != known.end()) continue;
      Fail(*element, std::string(name) + "." + Shown(a->Name()) + " is not known" +
                         DidYouMean(a->Name(), known) + ": mend the word or take it out");
    }
    return element;
  }

  const XMLElement* Limit() const {
    const XMLElement* limit = Element("limit", {"lower", "upper", "velocity", "effort"});
    if (limit == nullptr && Type() == "revolute") {
      Fail(*joint_.element, "limit is missing: write lower, upper (rad) and velocity (rad/s)");
    }
    return limit;
  }

  // Exactly so many numbers.
  template <std::size_t kCount>
  std::array<double, kCount> Numbers(const XMLElement& element, const char* name) const {
    const char* written = element.Attribute(name);
    const std::string path = std::string(element.Name()) + "." + name;
    if (written == nullptr) Fail(element, path + " is missing: write it");
    std::array<double, kCount> values{};
    std::string_view rest = written;
    std::size_t count = 0;
    while (true) {
      const std::size_t start = rest.find_first_not_of(kSpace);
      if (start == std::string_view::npos) break;
      rest.remove_prefix(start);
      const std::string_view word = rest.substr(0, rest.find_first_of(kSpace));
      rest.remove_prefix(word.size());
      double value = 0.0;
      const bool plus = word.size() > 1 && word[0] == '+' && word[1] != '-';
      const std::string_view digits = plus ? word.substr(1) : word;
      const auto [end, error] =
          std::from_chars(digits.data(), digits.data() + digits.size(), value);
      const bool read = error == std::errc() && end == digits.data() + digits.size() &&
                        std::isfinite(value);
      if (!read || count == kCount) break;
      values[count++] = value;
      if (rest.find_first_not_of(kSpace) == std::string_view::npos && count == kCount) {
        return values;
      }
    }
    Fail(element, path + " = '" + Shown(written) + "' must be " +
                      (kCount == 1 ? "a finite number" : "three finite numbers") +
                      " with a decimal point: mend it");
  }

  double Required(const XMLElement& element, const char* name) const {
    return Numbers<1>(element, name)[0];
  }
  double Optional(const XMLElement& element, const char* name, const double otherwise) const {
    return element.Attribute(name) == nullptr ? otherwise : Required(element, name);
  }
  // Three numbers, zero where they are left out.
  Eigen::Vector3d Vector(const XMLElement& element, const char* name) const {
    if (element.Attribute(name) == nullptr) return Eigen::Vector3d::Zero();
    const std::array<double, 3> v = Numbers<3>(element, name);
    return {v[0], v[1], v[2]};
  }

  const UrdfTree& tree_;
  const UrdfTreeJoint& joint_;
};

JointReader::Mimicry JointReader::Mimic(const std::vector<UrdfJoint>& earlier) const {
  const XMLElement* mimic = Element("mimic", {"joint", "multiplier", "offset"});
  if (mimic == nullptr) return {};
  const std::string name = mimic->Attribute("joint") == nullptr ? "" : mimic->Attribute("joint");
  const auto driver = std::find_if(earlier.begin(), earlier.end(),
                                   [&](const UrdfJoint& j) { return j.name == name; });
  if (driver == earlier.end()) {
    Fail(*mimic, "mimic.joint = '" + Shown(name) +
                     "' must be an earlier moving joint between base and flange: describe this "
                     "arm with Denavit-Hartenberg rows and `follows`");
  }
  const double ratio = Optional(*mimic, "multiplier", 1.0);
  const double offset_rad = Optional(*mimic, "offset", 0.0);
  if (!driver->follows) {
    return {kinematics::JointFollow{static_cast<int>(driver - earlier.begin()), ratio}, offset_rad};
  }
  // The driver has no drive of its own either: go on to the one that has.
  return {kinematics::JointFollow{driver->follows->joint, ratio * driver->follows->ratio},
          offset_rad + ratio * driver->follow_offset_rad};
}

}  // namespace

UrdfChain ReadUrdf(const std::filesystem::path& file, const std::string& base_link,
                   const std::string& flange_link) {
  const UrdfTree tree(file);
  UrdfChain chain;
  Pose X_last = Pose::Identity();   // from the last moving joint's frame, or the base
  int last_line = 1;
  for (const UrdfTreeJoint& element : tree.Chain(base_link, flange_link)) {
    const JointReader reader(tree, element);
    X_last = X_last * reader.Origin();
    if (reader.Type() == "fixed") continue;
    UrdfJoint joint;
    joint.name = element.name;
    joint.line = last_line = element.element->GetLineNum();
    joint.chain.before = X_last;
    joint.chain.axis = reader.Axis();
    joint.range = reader.Range();
    joint.speed_rad_s = reader.Speed_rad_s();
    const JointReader::Mimicry mimicry = reader.Mimic(chain.joints);
    joint.follows = mimicry.follows;
    joint.follow_offset_rad = mimicry.offset_rad;
    chain.joints.push_back(std::move(joint));
    X_last = Pose::Identity();
  }
  const std::size_t count = chain.joints.size();
  if (count < 1 || count > static_cast<std::size_t>(kinematics::kMaxJoints)) {
    tree.Fail(last_line, "between link '" + Shown(base_link) + "' and link '" +
                             Shown(flange_link) + "' there are " + std::to_string(count) +
                             " moving joints, must be 1 to " +
                             std::to_string(kinematics::kMaxJoints) +
                             ": choose other base and flange links");
  }
  chain.joints.back().chain.after = X_last;
  return chain;
}

}  // namespace aircut::sim
