#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/job.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using kinematics::RadFromDeg;
using test::Replaced;
using test::TempFolder;
using test::TinyJob;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

std::string Joint(int number, const std::string& xyz, const std::string& axis, const std::string& rest) {
  const std::string n = std::to_string(number);
  return "  <joint name=\"j" + n + "\" " + rest + "<origin xyz=\"" + xyz + "\" rpy=\"0 0 0\"/><axis xyz=\"" + axis +
         "\"/><parent link=\"l" + std::to_string(number - 1) + "\"/><child link=\"l" + n + "\"/></joint>\n" +
         "  <link name=\"l" + n + "\"/>\n";
}

// The arm of the small cell as a robot description, in metres and radians.
std::string SmallArm() {
  const std::string turns = "type=\"revolute\"><limit lower=\"-1.5\" upper=\"2.5\" effort=\"1\" velocity=\"2\"/>";
  std::string text = "<robot name=\"small\">\n  <link name=\"l0\"/>\n";
  text += Joint(1, "0 0 0.5", "0 0 1", turns) + Joint(2, "0.15 0 0", "0 1 0", turns) + Joint(3, "0 0 0.7", "0 1 0", turns) +
          Joint(4, "-0.12 0 0", "0 0 1", turns) + Joint(5, "0 0 0.7", "0 1 0", turns) +
          Joint(6, "0 0 0", "0 0 1", "type=\"continuous\"><limit effort=\"1\" velocity=\"3\"/>");
  text += "  <joint name=\"end\" type=\"fixed\"><origin xyz=\"0 0 0.12\"/><parent link=\"l6\"/><child link=\"tool0\"/></joint>\n"
          "  <link name=\"tool0\"/>\n</robot>\n";
  return text;
}

constexpr const char* kJoints =
    "    - {range: [-170, 170], speed: 150, acceleration: 400, sign: 1, zero: 0}\n"
    "    - {range: [-100, 150], speed: 150, acceleration: 400, sign: 1, zero: 0}\n"
    "    - {range: [-160, 160], speed: 150, acceleration: 400, sign: 1, zero: 0}\n"
    "    - {range: [-190, 190], speed: 250, acceleration: 800, sign: 1, zero: 0}\n"
    "    - {range: [-120, 120], speed: 250, acceleration: 800, sign: 1, zero: 0}\n"
    "    - {range: [-350, 350], speed: 350, acceleration: 1200, sign: 1, zero: 0}\n";

constexpr const char* kSide =
    "    - {name: j1, sign: 1, zero: 0, acceleration: 400}\n"
    "    - {sign: -1, zero: 10, acceleration: 400}\n"
    "    - {range: [-60, 120], speed: 50, sign: 1, zero: 0, acceleration: 400}\n"
    "    - {sign: 1, zero: 0, acceleration: 800}\n"
    "    - {sign: 1, zero: 0, acceleration: 800}\n"
    "    - {range: [-350, 350], sign: 1, zero: 0}\n";

TinyJob Described(const std::string& side = kSide) {
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "{form: spherical_wrist, a1: 150, a2: -120, b: 0, c1: 500, c2: 700, c3: 700, c4: 120}",
              "{form: urdf, file: small.urdf, base: l0, flange: tool0}");
  tiny.Change("tiny.cell.yaml", kJoints, side);
  tiny.Change("tiny.cell.yaml", "home: [0, 25, 109, 0, 46, 0]", "home: [0, 0, 90, 0, 46, 0]");
  tiny.files["small.urdf"] = SmallArm();
  return tiny;
}

LoadedCellFile Load(const TinyJob& tiny) {
  const TempFolder folder;
  tiny.WriteTo(folder);
  return LoadCellFile((folder.path() / "tiny.cell.yaml").string(), {});
}

void ExpectFault(const TinyJob& tiny, const std::string& place, const std::string& words) {
  EXPECT_THAT([&] { Load(tiny); }, ThrowsMessage<InputError>(AllOf(HasSubstr(place), HasSubstr(words))));
}

// Independent path: the same arm from its seven lengths. Model angles are taken, so
// that panel signs and zeros do not matter.
TEST(UrdfArmYamlTest, DescriptionAndLengthsGiveOneArm) {
  const kinematics::ArmModel described = *Load(Described()).cell.arm;
  const kinematics::ArmModel lengths = *Load(TinyJob()).cell.arm;
  std::mt19937_64 rng(20240611);
  std::uniform_real_distribution<double> angle(-3, 3);
  for (int round = 0; round < 200; ++round) {
    kinematics::JointVector theta(6);
    for (int j = 0; j < 6; ++j) theta[j] = angle(rng);
    const kinematics::Pose a = kinematics::FlangePose(described, described.PanelValues(theta));
    const kinematics::Pose b = kinematics::FlangePose(lengths, lengths.PanelValues(theta));
    EXPECT_LE((a.matrix() - b.matrix()).norm(), 1e-9);
  }
}

// Oracle: model = sign * panel + zero, so -1.5 to 2.5 rad with sign -1 and zero
// 10 degrees is zero - 2.5 to zero + 1.5 on the panel.
TEST(UrdfArmYamlTest, RangeAndSpeedComeFromTheDescriptionAsThePanelShowsThem) {
  const LoadedCellFile loaded = Load(Described());
  const std::vector<kinematics::JointSpec>& joints = loaded.cell.arm->joints();
  EXPECT_NEAR(joints[0].lower_rad, -1.5, 1e-12);
  EXPECT_NEAR(joints[0].upper_rad, 2.5, 1e-12);
  EXPECT_NEAR(joints[1].lower_rad, RadFromDeg(10) - 2.5, 1e-12);
  EXPECT_NEAR(joints[1].upper_rad, RadFromDeg(10) + 1.5, 1e-12);
  EXPECT_NEAR(joints[1].speed_rad_s, 2, 1e-12);
  EXPECT_NEAR(joints[2].lower_rad, RadFromDeg(-60), 1e-12);
  EXPECT_NEAR(joints[2].speed_rad_s, RadFromDeg(50), 1e-12);
  EXPECT_NEAR(joints[5].upper_rad, RadFromDeg(350), 1e-12);
  EXPECT_NEAR(joints[5].speed_rad_s, 3, 1e-12);
  ASSERT_EQ(loaded.cell.assumed.size(), 1u);
  EXPECT_EQ(loaded.cell.assumed[0].key, "arm.joints[6].acceleration");
  EXPECT_EQ(loaded.cell.arm_form, "urdf");
  EXPECT_EQ(loaded.inputs[1].role, "arm description");
}

TEST(UrdfArmYamlTest, SideTableMustFitTheDescription) {
  const auto with = [](const std::string& from, const std::string& to) { return Described(Replaced(kSide, from, to)); };
  ExpectFault(with("name: j1", "name: j2"), "arm.joints[1].name = j2 is not joint j1", "in its order");
  ExpectFault(with("{name: j1, sign: 1, zero: 0", "{name: j1, zero: 0"), "arm.joints[1].sign is missing", "panel");
  ExpectFault(with("range: [-350, 350], ", ""), "arm.joints[6].range is missing", "lowest, highest");
  ExpectFault(with("range: [-60, 120]", "range: [-60, 150]"), "arm.joints[3].range", "must lie within the robot description's");
  ExpectFault(with("    - {range: [-350, 350], sign: 1, zero: 0}\n", ""), "arm.joints has 5 joints, must have 6", "one entry a joint");
  TinyJob mimic = Described();
  mimic.files["small.urdf"] = Replaced(SmallArm(), "<joint name=\"j3\" type=\"revolute\">",
                                       "<joint name=\"j3\" type=\"revolute\"><mimic joint=\"j2\" multiplier=\"-1\"/>");
  ExpectFault(mimic, "small.urdf:", "joint j3 mimics another");
  TinyJob missing = Described();
  missing.Drop("small.urdf");
  ExpectFault(missing, "arm.kinematics.file = small.urdf", "file not found");
  ExpectFault(Described().Change("tiny.cell.yaml", "flange: tool0", "flange: tool1"), "small.urdf", "tool1");
}

}  // namespace
}  // namespace aircut::sim
