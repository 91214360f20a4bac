#include "sim/urdf.h"

#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"
#include "sim/input_error.h"
#include "tests/support/pose_near.h"
#include "tests/support/sample_arm.h"

namespace aircut::sim {
namespace {

using kinematics::MakePose;
using kinematics::Pose;
using support::PoseNear;
using testing::AllOf;
using testing::HasSubstr;
using testing::StartsWith;

constexpr double kExact_mm = 1e-9;   // rounding of a few products at a reach of metres
constexpr double kExact_rad = 1e-14;

std::filesystem::path WriteText(const std::string& text) {
  const std::string name = testing::UnitTest::GetInstance()->current_test_info()->name();
  const auto file = std::filesystem::temp_directory_path() / ("aircut_urdf_" + name + ".urdf");
  std::ofstream(file, std::ios::binary) << text;
  return file;
}

UrdfChain Read(const std::string& text) { return ReadUrdf(WriteText(text), "base", "flange"); }

std::string Refusal(const std::string& text) {
  const std::filesystem::path file = WriteText(text);
  try {
    ReadUrdf(file, "base", "flange");
  } catch (const InputError& error) {
    const std::string message = error.what();
    EXPECT_THAT(message, StartsWith(file.string() + ":"));
    return message.substr(file.string().size());
  }
  return "accepted";
}

// Two moving joints and a fixed flange; every line of a joint can be changed.
//   line 1 robot, 2..4 links, 5 joint turn ... 9 end, 10 joint lift ... 15 end, 16 tip
std::string TwoJoints(const std::string& from = "", const std::string& to = "") {
  std::string text =
      "<robot name=\"two\">\n"
      "  <link name=\"base\"/><link name=\"column\"/>\n"
      "  <link name=\"arm\"/>\n"
      "  <link name=\"flange\"/>\n"
      "  <joint name=\"turn\" type=\"revolute\">\n"
      "    <parent link=\"base\"/><child link=\"column\"/>\n"
      "    <origin xyz=\"0 0 0.5\"/><axis xyz=\"0 0 1\"/>\n"
      "    <limit lower=\"-3\" upper=\"2.5\" velocity=\"1.5\" effort=\"0\"/>\n"
      "  </joint>\n"
      "  <joint name=\"lift\" type=\"revolute\">\n"
      "    <parent link=\"column\"/><child link=\"arm\"/>\n"
      "    <origin xyz=\"0.25 0 0\" rpy=\"0 0 0\"/>\n"
      "    <axis xyz=\"0 2 0\"/>\n"
      "    <limit lower=\"-1\" upper=\"1\" velocity=\"2\" effort=\"0\"/>\n"
      "  </joint>\n"
      "  <joint name=\"tip\" type=\"fixed\">\n"
      "    <parent link=\"arm\"/><child link=\"flange\"/><origin xyz=\"1 0 0\"/>\n"
      "  </joint>\n"
      "</robot>\n";
  if (from.empty()) return text;
  const std::size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

kinematics::ArmModel ModelOf(const UrdfChain& chain) {
  std::vector<kinematics::ChainJoint> joints;
  for (const UrdfJoint& joint : chain.joints) joints.push_back(joint.chain);
  return kinematics::ArmModel::FromChain(
      joints, support::PlainJoints(static_cast<int>(joints.size())));
}

// Oracle: the file, read by eye: a column 500 mm high, a shoulder 250 mm beside its axis,
// an arm 1000 mm long.
TEST(UrdfTest, TwoJointsReadAsTheyAreWritten) {
  const UrdfChain chain = Read(TwoJoints());
  ASSERT_EQ(chain.joints.size(), 2u);
  EXPECT_EQ(chain.joints[0].name, "turn");
  EXPECT_EQ(chain.joints[0].line, 5);
  EXPECT_EQ(chain.joints[1].line, 10);
  EXPECT_EQ(chain.joints[0].range->lower_rad, -3.0);
  EXPECT_EQ(chain.joints[0].range->upper_rad, 2.5);
  EXPECT_EQ(chain.joints[0].speed_rad_s, 1.5);
  EXPECT_FALSE(chain.joints[0].follows);
  EXPECT_EQ(chain.joints[1].chain.axis, Eigen::Vector3d::UnitY());   // of length 1
  const Eigen::Matrix3d level = Eigen::Matrix3d::Identity();
  const kinematics::ArmModel arm = ModelOf(chain);
  EXPECT_THAT(kinematics::FlangePose(arm, kinematics::JointVector::Zero(2)),
              PoseNear(MakePose(level, {1250, 0, 500}), kExact_mm, kExact_rad));
  kinematics::JointVector q(2);
  q << kinematics::kPi / 2, -kinematics::kPi / 6;   // to +y, and up by 30 deg
  EXPECT_LT((kinematics::FlangePose(arm, q).translation() -
             Eigen::Vector3d(0, 250 + 1000 * std::cos(kinematics::kPi / 6), 1000))
                .norm(),
            kExact_mm);
}

// Oracle: the definition written out for quarter turns. Roll about x first, then pitch about
// the fixed y, then yaw about the fixed z: x goes to -z by pitch 90 deg, which yaw keeps.
TEST(UrdfTest, AnglesTurnAboutFixedAxesInTheOrderRollPitchYaw) {
  const std::string quarter = "1.5707963267948966";
  const auto rotation = [&](const std::string& rpy) {
    return Eigen::Matrix3d(Read(TwoJoints("rpy=\"0 0 0\"", "rpy=\"" + rpy + "\""))
                               .joints[1]
                               .chain.before.linear());
  };
  Eigen::Matrix3d expected;
  expected << 1, 0, 0, 0, 0, -1, 0, 1, 0;   // roll: y to z
  EXPECT_LT((rotation(quarter + " 0 0") - expected).norm(), kExact_rad);
  expected << 0, 0, 1, 0, 1, 0, -1, 0, 0;   // pitch: z to x
  EXPECT_LT((rotation("0 " + quarter + " 0") - expected).norm(), kExact_rad);
  expected << 0, -1, 0, 1, 0, 0, 0, 0, 1;   // yaw: x to y
  EXPECT_LT((rotation("0 0 " + quarter) - expected).norm(), kExact_rad);
  // Roll, then yaw: y -> z -> z; x -> x -> y; z -> -y -> x.
  expected.col(0) = Eigen::Vector3d::UnitY();
  expected.col(1) = Eigen::Vector3d::UnitZ();
  expected.col(2) = Eigen::Vector3d::UnitX();
  EXPECT_LT((rotation(quarter + " 0 " + quarter) - expected).norm(), kExact_rad);
  // Roll, then pitch: x -> x -> -z; y -> z -> x; z -> -y -> -y.
  expected.col(0) = -Eigen::Vector3d::UnitZ();
  expected.col(1) = Eigen::Vector3d::UnitX();
  expected.col(2) = -Eigen::Vector3d::UnitY();
  EXPECT_LT((rotation(quarter + " " + quarter + " 0") - expected).norm(), kExact_rad);
}

// Oracle: the sum of the lengths along the way.
TEST(UrdfTest, FixedJointsAreFoldedIntoTheirNeighbours) {
  const UrdfChain chain = Read(
      "<robot name=\"r\"><link name=\"floor\"/><link name=\"base\"/><link name=\"a\"/>\n"
      "<link name=\"b\"/><link name=\"c\"/><link name=\"d\"/><link name=\"flange\"/>\n"
      "<joint name=\"j0\" type=\"floating\"><parent link=\"floor\"/><child link=\"base\"/></joint>\n"
      "<joint name=\"j1\" type=\"fixed\"><parent link=\"base\"/><child link=\"a\"/>"
      "<origin xyz=\"0.001 0 0\"/></joint>\n"
      "<joint name=\"j2\" type=\"fixed\"><parent link=\"a\"/><child link=\"b\"/>"
      "<origin xyz=\"0 0.002 0\"/></joint>\n"
      "<joint name=\"j3\" type=\"continuous\"><parent link=\"b\"/><child link=\"c\"/>"
      "<origin xyz=\"0 0 0.004\"/></joint>\n"
      "<joint name=\"j4\" type=\"fixed\"><parent link=\"c\"/><child link=\"d\"/>"
      "<origin xyz=\"0.008 0 0\"/></joint>\n"
      "<joint name=\"j5\" type=\"fixed\"><parent link=\"d\"/><child link=\"flange\"/>"
      "<origin xyz=\"0 0 0.016\"/></joint></robot>");
  ASSERT_EQ(chain.joints.size(), 1u);
  const UrdfJoint& joint = chain.joints[0];
  EXPECT_LT((joint.chain.before.translation() - Eigen::Vector3d(1, 2, 4)).norm(), kExact_mm);
  EXPECT_LT((joint.chain.after.translation() - Eigen::Vector3d(8, 0, 16)).norm(), kExact_mm);
  EXPECT_EQ(joint.chain.axis, Eigen::Vector3d::UnitX());   // left out
  EXPECT_FALSE(joint.range);
  EXPECT_FALSE(joint.speed_rad_s);
}

// What an expander, an exporter or a viewer adds beside the chain does no harm.
TEST(UrdfTest, WhatIsBesideTheChainIsLeftAlone) {
  const std::string more =
      "<material name=\"grey\"/><transmission name=\"t\"><type>simple</type></transmission>\n"
      "<link name=\"finger\"/><joint name=\"grip\" type=\"prismatic\">"
      "<parent link=\"flange\"/><child link=\"finger\"/><axis xyz=\"0 0 0\"/></joint></robot>";
  EXPECT_EQ(Read("\xEF\xBB\xBF<?xml version=\"1.0\"?><!-- a note -->\n" +
                 TwoJoints("</robot>", more))
                .joints.size(),
            2u);
  EXPECT_EQ(Read(TwoJoints("<axis xyz=\"0 2 0\"/>",
                           "<axis xyz=\"0 +2e0 \n -0.0\"/><dynamics damping=\"1\"/>"
                           "<calibration rising=\"0\"/>"))
                .joints[1]
                .chain.axis,
            Eigen::Vector3d::UnitY());
}

// Oracle: the specification: a soft limit inside the hard one ends the motion there.
TEST(UrdfTest, SoftLimitsNarrowTheRange) {
  const auto range = [](const std::string& soft) {
    return *Read(TwoJoints("<axis xyz=\"0 2 0\"/>", "<axis xyz=\"0 2 0\"/><safety_controller " +
                                                       soft + " k_velocity=\"1\"/>"))
                .joints[1]
                .range;
  };
  EXPECT_EQ(range("soft_lower_limit=\"-0.5\" soft_upper_limit=\"0.75\"").lower_rad, -0.5);
  EXPECT_EQ(range("soft_lower_limit=\"-0.5\" soft_upper_limit=\"0.75\"").upper_rad, 0.75);
  EXPECT_EQ(range("soft_lower_limit=\"-5\"").lower_rad, -1.0);
  EXPECT_EQ(range("soft_lower_limit=\"-5\"").upper_rad, 1.0);
}

// Oracle: the specification: value = multiplier * other + offset.
TEST(UrdfTest, MimicBecomesAFollowedJoint) {
  const auto lift = [](const std::string& mimic) {
    return Read(TwoJoints("<axis xyz=\"0 2 0\"/>", "<axis xyz=\"0 2 0\"/>" + mimic)).joints[1];
  };
  const UrdfJoint plain = lift("<mimic joint=\"turn\"/>");
  ASSERT_TRUE(plain.follows);
  EXPECT_EQ(plain.follows->joint, 0);
  EXPECT_EQ(plain.follows->ratio, 1.0);
  EXPECT_EQ(plain.follow_offset_rad, 0.0);
  const UrdfJoint geared = lift("<mimic joint=\"turn\" multiplier=\"-0.5\" offset=\"0.25\"/>");
  EXPECT_EQ(geared.follows->ratio, -0.5);
  EXPECT_EQ(geared.follow_offset_rad, 0.25);
}

// c = 2 b + 0.5 and b = -3 a + 0.25 give c = -6 a + 1.
TEST(UrdfTest, MimicOfAMimicGoesOnToTheDrivenJoint) {
  std::string text = TwoJoints("<axis xyz=\"0 2 0\"/>",
                               "<mimic joint=\"turn\" multiplier=\"-3\" offset=\"0.25\"/>");
  const std::string tip = "type=\"fixed\">";
  text.replace(text.find(tip), tip.size(),
               "type=\"continuous\"><mimic joint=\"lift\" multiplier=\"2\" offset=\"0.5\"/>");
  const UrdfJoint last = Read(text).joints.at(2);
  ASSERT_TRUE(last.follows);
  EXPECT_EQ(last.follows->joint, 0);
  EXPECT_EQ(last.follows->ratio, -6.0);
  EXPECT_EQ(last.follow_offset_rad, 1.0);
}

struct BadUrdf {
  const char* from;
  const char* to;
  const char* message;   // after the file's name
};

// Oracle: the sentence that the user must see, with the line counted by hand.
TEST(UrdfTest, EachFaultIsNamedWithItsLine) {
  const BadUrdf cases[] = {
      {"type=\"revolute\">\n    <parent link=\"column\"", "type=\"prismatic\">\n    <parent link=\"column\"",
       ":10: joint 'lift'.type = 'prismatic' must be fixed, revolute or continuous"},
      {"type=\"fixed\"", "type=\"planar\"", ":16: joint 'tip'.type = 'planar' must be"},
      {"type=\"fixed\"", "type=\"floating\"", ":16: joint 'tip'.type = 'floating' must be"},
      {"type=\"fixed\"", "", ":16: joint 'tip'.type = '' must be"},
      {"0 2 0", "0 0 0", ":13: joint 'lift'.axis.xyz = '0 0 0' must have a length"},
      {"0 2 0", "0 nan 0", ":13: joint 'lift'.axis.xyz = '0 nan 0' must be three finite numbers"},
      {"0 2 0", "0 1", ":13: joint 'lift'.axis.xyz = '0 1' must be three finite numbers"},
      {"<axis xyz=\"0 2 0\"/>", "<axis/>", ":13: joint 'lift'.axis.xyz is missing"},
      {"0.25 0 0", "0,25 0 0", ":12: joint 'lift'.origin.xyz = '0,25 0 0' must be three finite"},
      {"0.25 0 0", "0.25 0 0 0", ":12: joint 'lift'.origin.xyz = '0.25 0 0 0' must be three"},
      {"0.25 0 0", "1e999 0 0", ":12: joint 'lift'.origin.xyz = '1e999 0 0' must be three"},
      {"0.25 0 0", "${reach} 0 0", ":12: joint 'lift'.origin.xyz = '${reach} 0 0' must be"},
      {"rpy=\"0 0 0\"", "rpyy=\"0 0 1\"", ":12: joint 'lift'.origin.rpyy is not known, did you mean rpy?"},
      {"rpy=\"0 0 0\"", "rpy=\"0 0 inf\"", ":12: joint 'lift'.origin.rpy = '0 0 inf' must be"},
      {"rpy=\"0 0 0\"", "rpy=\"0 0 0\" rpy=\"1 0 0\"", ":12: the text must be XML"},
      {"<origin xyz=\"0.25 0 0\" rpy=\"0 0 0\"/>", "<orgin xyz=\"0.25 0 0\"/>",
       ":12: joint 'lift'.orgin is not known"},
      {"<axis xyz=\"0 2 0\"/>", "<axis xyz=\"0 2 0\"/><axis xyz=\"1 0 0\"/>",
       ":13: joint 'lift'.axis must be there once"},
      {"lower=\"-1\" upper=\"1\"", "lower=\"1\" upper=\"-1\"",
       ":14: joint 'lift'.limit.upper = -1.000000 must be > lower"},
      {"lower=\"-1\" upper=\"1\"", "upper=\"1\"", ":14: joint 'lift'.limit.lower is missing"},
      {"lower=\"-1\" upper=\"1\"", "lower=\"-60deg\" upper=\"1\"",
       ":14: joint 'lift'.limit.lower = '-60deg' must be a finite number"},
      {"velocity=\"2\"", "velocity=\"0\"", ":14: joint 'lift'.limit.velocity = '0' must be > 0 rad/s"},
      {"velocity=\"2\"", "velocity=\"-2\"", ":14: joint 'lift'.limit.velocity = '-2' must be > 0"},
      {" velocity=\"2\"", "", ":14: joint 'lift'.limit.velocity is missing"},
      {"<limit lower=\"-1\" upper=\"1\" velocity=\"2\" effort=\"0\"/>", "",
       ":10: joint 'lift'.limit is missing"},
      {"type=\"revolute\">\n    <parent link=\"column\"", "type=\"continuous\">\n    <parent link=\"column\"",
       ":14: joint 'lift'.limit.lower must not be there for a continuous joint"},
      {"<axis xyz=\"0 2 0\"/>", "<mimic joint=\"tip\"/>",
       ":13: joint 'lift'.mimic.joint = 'tip' must be an earlier moving joint"},
      {"<axis xyz=\"0 2 0\"/>", "<mimic joint=\"lift\"/>",
       ":13: joint 'lift'.mimic.joint = 'lift' must be an earlier moving joint"},
      {"<axis xyz=\"0 2 0\"/>", "<mimic joint=\"turn\" multiplier=\"two\"/>",
       ":13: joint 'lift'.mimic.multiplier = 'two' must be a finite number"},
      {"<axis xyz=\"0 2 0\"/>", "<safety_controller soft_lower_limit=\"2\"/>",
       ":14: joint 'lift'.limit.upper = 1.000000 must be > lower = 2.000000"},
      {"<link name=\"flange\"/>", "<link name=\"flnge\"/>",
       ":17: joint 'tip'.child.link = 'flange' must be a link of this file"},
      {"<link name=\"flange\"/>", "<link name=\"arm\"/><link name=\"flange\"/>",
       ":4: link.name = 'arm' must be used once (line 3 has it too)"},
      {"<link name=\"flange\"/>", "<link/><link name=\"flange\"/>", ":4: link.name is missing"},
      {"name=\"lift\"", "name=\"turn\"", ":10: joint.name = 'turn' must be used once (line 5"},
      {"name=\"lift\"", "", ":10: joint.name is missing"},
      {"<child link=\"arm\"/>", "", ":10: joint 'lift'.child is missing"},
      {"<child link=\"arm\"/>", "<child/>", ":11: joint 'lift'.child.link is missing"},
      {"<child link=\"arm\"/>", "<child link=\"arm\"/><child link=\"flange\"/>",
       ":11: joint 'lift'.child must be there once"},
      {"<child link=\"arm\"/>", "<child link=\"flange\"/>",
       ":16: joint 'tip'.child = 'flange' must hang on one joint only (line 10 has it too)"},
      {"<parent link=\"base\"/>", "<parent link=\"flange\"/>", "closes a loop of links"},
      {"<parent link=\"base\"/>", "<parent link=\"column\"/>", ":5: joint 'turn' closes a loop"},
      {"<link name=\"flange\"/>", "<link name=\"flange\"/><link name=\"lost\"/>",
       ":1: links 'base' and 'lost' both hang on no joint"},
      {"<robot name=\"two\">", "<robot name=\"two\"><xacro:include filename=\"a\"/>",
       ":1: <xacro:include> must not be there"},
      {"<robot name=\"two\">", "<!DOCTYPE robot [<!ENTITY a \"b\">]><robot name=\"two\">",
       ":1: `<!DOCTYPE robot"},
      {"<robot name=\"two\">", "<model name=\"two\">", "the text must be XML"},
      {"</robot>", "</robot><robot/>", ":19: <robot> must not follow the end of <robot>"},
      {"  </joint>\n  <joint name=\"lift\"", "  <joint name=\"lift\"", "the text must be XML"},
  };
  for (const BadUrdf& bad : cases) {
    EXPECT_THAT(Refusal(TwoJoints(bad.from, bad.to)), HasSubstr(bad.message)) << bad.to;
  }
}

TEST(UrdfTest, BytesThatAreNoUrdfAreRefused) {
  EXPECT_THAT(Refusal(""), HasSubstr("the text must be XML"));
  EXPECT_THAT(Refusal("solid part\nfacet"), HasSubstr("must be XML"));
  EXPECT_THAT(Refusal("<!-- only a note -->"), HasSubstr("the outermost element = nothing"));
  EXPECT_THAT(Refusal("<html><body/></html>"), HasSubstr("the outermost element = <html>"));
  EXPECT_THAT(Refusal(TwoJoints() + std::string(1, '\0') + TwoJoints()),
              HasSubstr(":20: a zero byte"));
  std::string deep;
  for (int i = 0; i < 5000; ++i) deep += "<a>";
  EXPECT_THAT(Refusal("<robot>" + deep), HasSubstr("the text must be XML"));
  // Entities are not expanded, so ten lines of them stay ten lines.
  EXPECT_THAT(Refusal("<!DOCTYPE bomb [<!ENTITY a \"aa\"><!ENTITY b \"&a;&a;\">]>\n" + TwoJoints()),
              HasSubstr(":1: `<!DOCTYPE bomb"));
  EXPECT_THAT(Refusal("<robot>\n" + std::string((8 << 20) + 1, ' ') + "</robot>"),
              HasSubstr("bytes must be <= 8388608 bytes"));
}

TEST(UrdfTest, BaseAndFlangeMustBeThereAndInOrder) {
  const auto refusal = [](const std::string& base, const std::string& flange) -> std::string {
    try {
      ReadUrdf(WriteText(TwoJoints()), base, flange);
    } catch (const InputError& error) {
      return error.what();
    }
    return "accepted";
  };
  EXPECT_EQ(refusal("base", "flange"), "accepted");
  EXPECT_EQ(refusal("column", "arm"), "accepted");
  EXPECT_THAT(refusal("bse", "flange"),
              AllOf(HasSubstr(":1: link 'bse' must be a link of this file"), HasSubstr("base")));
  EXPECT_THAT(refusal("base", ""), HasSubstr("link '' must be a link"));
  EXPECT_THAT(refusal("flange", "base"), HasSubstr("link 'flange' must carry link 'base'"));
  EXPECT_THAT(refusal("base", "base"), HasSubstr("there are 0 moving joints, must be 1 to 8"));
  EXPECT_THAT(refusal("arm", "flange"), HasSubstr("there are 0 moving joints"));
  EXPECT_THROW(ReadUrdf("/no/such/file.urdf", "base", "flange"), InputError);
}

TEST(UrdfTest, NineMovingJointsAreTooMany) {
  std::string text = "<robot name=\"n\"><link name=\"base\"/>\n";
  std::string parent = "base";
  for (int i = 1; i <= 9; ++i) {
    const std::string child = i == 9 ? "flange" : "l" + std::to_string(i);
    text += "<link name=\"" + child + "\"/><joint name=\"j" + std::to_string(i) +
            "\" type=\"continuous\"><parent link=\"" + parent + "\"/><child link=\"" + child +
            "\"/></joint>\n";
    parent = child;
  }
  EXPECT_THAT(Refusal(text + "</robot>"), HasSubstr(":10: between link 'base' and link 'flange' "
                                                    "there are 9 moving joints"));
}

}  // namespace
}  // namespace aircut::sim
