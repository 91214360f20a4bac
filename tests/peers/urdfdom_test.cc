// Second opinion: URDF files against urdfdom, the reference reader of the format.
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <urdf_model/model.h>
#include <urdf_parser/urdf_parser.h>

#include "sim/urdf.h"
#include "tests/support/pose_near.h"
#include "tests/support/random_pose.h"

namespace aircut::sim {
namespace {

using kinematics::Pose;

// Rounding of a few products of metres; theirs goes through quaternions.
constexpr double kRounding_mm = 1e-9;
constexpr double kRounding_rad = 1e-12;
constexpr double kMm_m = 1000.0;

Pose FromTheirs(const urdf::Pose& pose) {
  const urdf::Rotation& r = pose.rotation;
  return kinematics::MakePose(
      Eigen::Quaterniond(r.w, r.x, r.y, r.z).normalized().toRotationMatrix(),
      kMm_m * Eigen::Vector3d(pose.position.x, pose.position.y, pose.position.z));
}

Eigen::Vector3d FromTheirs(const urdf::Vector3& v) { return {v.x, v.y, v.z}; }

std::string WriteText(const std::string& text) {
  const std::string name = testing::UnitTest::GetInstance()->current_test_info()->name();
  const auto file = std::filesystem::temp_directory_path() / ("aircut_peer_" + name + ".urdf");
  std::ofstream(file, std::ios::binary) << text;
  return file.string();
}

// The joints from `base` to `flange` as they read them.
std::vector<urdf::JointConstSharedPtr> TheirChain(const urdf::ModelInterface& model,
                                                  const std::string& base,
                                                  const std::string& flange) {
  std::vector<urdf::JointConstSharedPtr> chain;
  for (urdf::LinkConstSharedPtr link = model.getLink(flange); link && link->name != base;
       link = model.getLink(link->parent_joint->parent_link_name)) {
    chain.insert(chain.begin(), link->parent_joint);
  }
  return chain;
}

void ExpectSameJoint(const UrdfJoint& ours, const urdf::Joint& theirs, const Pose& X_before) {
  EXPECT_EQ(ours.name, theirs.name);
  EXPECT_THAT(ours.chain.before, support::PoseNear(X_before, kRounding_mm, kRounding_rad));
  EXPECT_LT((ours.chain.axis - FromTheirs(theirs.axis).normalized()).norm(), kRounding_rad);
  EXPECT_EQ(ours.range.has_value(), theirs.type == urdf::Joint::REVOLUTE);
  if (ours.range) {
    EXPECT_EQ(ours.range->lower_rad, theirs.limits->lower);
    EXPECT_EQ(ours.range->upper_rad, theirs.limits->upper);
  }
  EXPECT_EQ(ours.speed_rad_s.has_value(), theirs.limits != nullptr);
  if (ours.speed_rad_s && theirs.limits) {
    EXPECT_EQ(*ours.speed_rad_s, theirs.limits->velocity);
  }
  EXPECT_EQ(ours.follows.has_value(), theirs.mimic != nullptr);
}

// @returns the number of moving joints compared.
std::size_t ExpectSameChain(const std::string& text, const std::string& base,
                            const std::string& flange) {
  const std::string file = WriteText(text);
  const urdf::ModelInterfaceSharedPtr model = urdf::parseURDFFile(file);
  if (!model) {
    ADD_FAILURE() << "the reference reader refuses " << text;
    return 0;
  }
  const UrdfChain ours = ReadUrdf(file, base, flange);
  std::size_t n = 0;
  Pose X_before = Pose::Identity();
  for (const urdf::JointConstSharedPtr& joint : TheirChain(*model, base, flange)) {
    X_before = X_before * FromTheirs(joint->parent_to_joint_origin_transform);
    if (joint->type == urdf::Joint::FIXED) continue;
    if (n >= ours.joints.size()) break;
    ExpectSameJoint(ours.joints[n], *joint, X_before);
    if (joint->mimic && ours.joints[n].follows) {
      const kinematics::JointFollow& follows = *ours.joints[n].follows;
      EXPECT_EQ(ours.joints[static_cast<std::size_t>(follows.joint)].name,
                joint->mimic->joint_name);
      EXPECT_EQ(follows.ratio, joint->mimic->multiplier);
      EXPECT_EQ(ours.joints[n].follow_offset_rad, joint->mimic->offset);
    }
    X_before = Pose::Identity();
    ++n;
  }
  EXPECT_EQ(n, ours.joints.size());
  EXPECT_THAT(ours.joints.back().chain.after,
              support::PoseNear(X_before, kRounding_mm, kRounding_rad));
  return n;
}

std::string Numbers(std::mt19937_64& rng, const double largest) {
  std::ostringstream text;
  text.precision(17);
  const Eigen::Vector3d v = support::RandomVector(rng, largest);
  text << v.x() << " " << v.y() << "  " << v.z();
  return text.str();
}

// Attributes and elements that may be left out are, every now and then.
std::string RandomJoint(std::mt19937_64& rng, const std::string& type, const std::string& mimic) {
  const auto coin = [&] { return support::Draw(rng, -1, 1) < 0; };
  std::string text;
  if (coin() || coin()) {
    text += "<origin";
    if (coin() || coin()) text += " xyz=\"" + Numbers(rng, 1.2) + "\"";
    if (coin() || coin()) text += " rpy=\"" + Numbers(rng, 3.14) + "\"";
    text += "/>\n";
  }
  if (type == "fixed") return text;
  if (coin() || coin()) text += "<axis xyz=\"" + Numbers(rng, 1.0) + "\"/>\n";
  std::ostringstream limit;
  limit.precision(17);
  if (type == "revolute") {
    limit << "<limit lower=\"" << support::Draw(rng, -6, -0.1) << "\" upper=\""
          << support::Draw(rng, 0.1, 6) << "\" effort=\"10\" velocity=\""
          << support::Draw(rng, 0.1, 9) << "\"/>\n";
  } else if (coin()) {
    limit << "<limit effort=\"10\" velocity=\"" << support::Draw(rng, 0.1, 9) << "\"/>\n";
  }
  text += limit.str();
  if (!mimic.empty()) text += "<mimic joint=\"" + mimic + "\" multiplier=\"-0.5\" offset=\"0.1\"/>";
  return text;
}

// A chain l0 .. ln of at most eight moving joints with twigs on it, in shuffled order.
struct RandomFile {
  std::string text, flange;
};

RandomFile RandomTree(std::mt19937_64& rng) {
  std::vector<std::string> parts{"<link name=\"l0\"/>\n"};
  const int length = static_cast<int>(support::Draw(rng, 1, 13));
  int moving = 0;
  std::string driver;
  for (int i = 1; i <= length; ++i) {
    const std::string name = "l" + std::to_string(i), joint = "j" + std::to_string(i);
    const double draw = support::Draw(rng, 0, 3);
    std::string type = draw < 1 ? "fixed" : draw < 2 ? "continuous" : "revolute";
    if (i == length && moving == 0) type = "revolute";
    if (moving == kinematics::kMaxJoints) type = "fixed";
    const bool mimics = !driver.empty() && support::Draw(rng, 0, 5) < 1;
    if (type != "fixed") ++moving;
    parts.push_back("<link name=\"" + name + "\"/>\n");
    parts.push_back("<joint name=\"" + joint + "\" type=\"" + type + "\"><parent link=\"l" +
                    std::to_string(i - 1) + "\"/><child link=\"" + name + "\"/>" +
                    RandomJoint(rng, type, mimics ? driver : "") + "</joint>\n");
    if (type != "fixed" && !mimics) driver = joint;
    if (support::Draw(rng, 0, 2) < 1) continue;
    parts.push_back("<link name=\"t" + name + "\"/><joint name=\"t" + joint +
                    "\" type=\"floating\"><child link=\"t" + name + "\"/><parent link=\"" + name +
                    "\"/></joint>\n");
  }
  std::shuffle(parts.begin(), parts.end(), rng);
  std::string text = "<?xml version=\"1.0\"?>\n<robot name=\"random\">\n";
  for (const std::string& part : parts) text += part;
  return {text + "</robot>\n", "l" + std::to_string(length)};
}

TEST(UrdfdomTest, RandomTreesReadAlike) {
  std::mt19937_64 rng(20260301);
  std::size_t joints = 0;
  for (int trial = 0; trial < 200; ++trial) {
    const RandomFile file = RandomTree(rng);
    SCOPED_TRACE("trial " + std::to_string(trial) + "\n" + file.text);
    joints += ExpectSameChain(file.text, "l0", file.flange);
    if (testing::Test::HasFailure()) return;
  }
  EXPECT_GT(joints, 500u);
}

// Quarter turns, where two orders of the angles differ most and one of them is locked.
TEST(UrdfdomTest, QuarterTurnsReadAlike) {
  const std::string quarters[] = {"0", "1.5707963267948966", "-1.5707963267948966",
                                  "3.1415926535897931"};
  for (const std::string& roll : quarters) {
    for (const std::string& pitch : quarters) {
      for (const std::string& yaw : quarters) {
        const std::string text =
            "<robot name=\"r\"><link name=\"a\"/><link name=\"b\"/><joint name=\"j\" "
            "type=\"continuous\"><parent link=\"a\"/><child link=\"b\"/><origin xyz=\"1 2 3\" "
            "rpy=\"" + roll + " " + pitch + " " + yaw + "\"/><axis xyz=\"0 0 1\"/></joint></robot>";
        EXPECT_EQ(ExpectSameChain(text, "a", "b"), 1u) << roll << " " << pitch << " " << yaw;
      }
    }
  }
}

// A six-axis arm written by hand in the manner of published files: material, inertia,
// pictures, a fixed flange and tool, a chain that starts above the root.
TEST(UrdfdomTest, HandWrittenArmReadsAlike) {
  const std::string text = R"(<?xml version="1.0" ?>
<robot name="bench_arm">
  <material name="grey"><color rgba="0.5 0.5 0.5 1"/></material>
  <link name="world"/>
  <link name="base_link">
    <inertial><mass value="40"/><origin xyz="0 0 0.1" rpy="0 0 0"/>
      <inertia ixx="1" ixy="0" ixz="0" iyy="1" iyz="0" izz="1"/></inertial>
    <visual><origin xyz="0 0 0"/><geometry><box size="0.4 0.4 0.2"/></geometry></visual>
  </link>
  <link name="link_1"/><link name="link_2"/><link name="link_3"/>
  <link name="link_4"/><link name="link_5"/><link name="link_6"/>
  <link name="flange"/><link name="tool0"/>
  <joint name="mount" type="fixed">
    <parent link="world"/><child link="base_link"/><origin xyz="0 0 0.6" rpy="0 0 1.57"/>
  </joint>
  <joint name="joint_1" type="revolute">
    <origin xyz="0 0 0.45" rpy="0 0 0"/><axis xyz="0 0 1"/>
    <parent link="base_link"/><child link="link_1"/>
    <limit effort="0" lower="-2.967" upper="2.967" velocity="2.618"/>
  </joint>
  <joint name="joint_2" type="revolute">
    <origin xyz="0.15 0 0" rpy="0 0 0"/><axis xyz="0 1 0"/>
    <parent link="link_1"/><child link="link_2"/>
    <limit effort="0" lower="-1.5708" upper="2.618" velocity="2.7925"/>
  </joint>
  <joint name="joint_3" type="revolute">
    <origin xyz="0 0 0.6" rpy="0 0 0"/><axis xyz="0 -1 0"/>
    <parent link="link_2"/><child link="link_3"/>
    <limit effort="0" lower="-2.9671" upper="2.9671" velocity="2.967"/>
  </joint>
  <joint name="joint_4" type="revolute">
    <origin xyz="0 0 0.2" rpy="0 0 0"/><axis xyz="-1 0 0"/>
    <parent link="link_3"/><child link="link_4"/>
    <limit effort="0" lower="-3.3161" upper="3.3161" velocity="6.9813"/>
  </joint>
  <joint name="joint_5" type="revolute">
    <origin xyz="0.64 0 0" rpy="0 0 0"/><axis xyz="0 -1 0"/>
    <parent link="link_4"/><child link="link_5"/>
    <limit effort="0" lower="-2.4435" upper="2.4435" velocity="6.9813"/>
    <dynamics damping="0.5" friction="0.1"/>
  </joint>
  <joint name="joint_6" type="continuous">
    <origin xyz="0.1 0 0" rpy="0 0 0"/><axis xyz="-1 0 0"/>
    <parent link="link_5"/><child link="link_6"/>
    <limit effort="0" velocity="10.472"/>
  </joint>
  <joint name="joint_6-flange" type="fixed">
    <origin xyz="0 0 0" rpy="0 0 0"/><parent link="link_6"/><child link="flange"/>
  </joint>
  <joint name="flange-tool0" type="fixed">
    <origin xyz="0 0 0.01" rpy="3.1415926535 -1.570796327 0"/>
    <parent link="flange"/><child link="tool0"/>
  </joint>
</robot>
)";
  EXPECT_EQ(ExpectSameChain(text, "base_link", "tool0"), 6u);
  EXPECT_EQ(ExpectSameChain(text, "world", "flange"), 6u);
  EXPECT_EQ(ExpectSameChain(text, "link_2", "link_5"), 3u);
}

}  // namespace
}  // namespace aircut::sim
