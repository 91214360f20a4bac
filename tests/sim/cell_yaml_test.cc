#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/job.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using kinematics::RadFromDeg;
using test::TempFolder;
using test::TinyJob;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

constexpr double kTight = 1e-12;
constexpr const char* kCell = "tiny.cell.yaml";

LoadedCellFile Load(const TinyJob& tiny) {
  const TempFolder folder;
  tiny.WriteTo(folder);
  return LoadCellFile((folder.path() / kCell).string(), {});
}

TinyJob With(const std::string& from, const std::string& to) { return TinyJob().Change(kCell, from, to); }

void ExpectFault(const TinyJob& tiny, const std::string& place, const std::string& words) {
  EXPECT_THAT([&] { Load(tiny); }, ThrowsMessage<InputError>(AllOf(HasSubstr(place), HasSubstr(words))));
}

constexpr const char* kFirstJoint = "{range: [-170, 170], speed: 150, acceleration: 400, sign: 1, zero: 0}";
constexpr const char* kReadouts =
    "q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg,x_mm,y_mm,z_mm,qw,qx,qy,qz\n"
    "10.00,20.00,30.00,0.00,40.00,0.00,1000.0,0.0,500.0,1.0000,0.0000,0.0000,0.0000\n"
    "# a pose farther out\n"
    "-10.00,20.00,30.00,0.00,40.00,90.00,900.5,0.0,500.0,0.7071,0.7071,0.0000,0.0000\n"
    "0.00,0.00,90.00,0.00,45.00,0.00,800.0,0.0,400.0,0.0000,0.0000,1.0000,0.0000\n";

TinyJob WithReadouts(const std::string& table) {
  TinyJob tiny = With("  payload: {limit_kg: 20, tool_kg: 4}\n", "  readouts: readouts.csv\n");
  tiny.files["readouts.csv"] = table;
  return tiny;
}

// Oracle: what the file says, converted by definition.
TEST(CellYamlTest, ArmIsReadWhole) {
  TinyJob tiny = With("  payload: {limit_kg: 20, tool_kg: 4}\n",
                      "  source: drawn for this test\n  repeatability_mm: 0.06\n"
                      "  accuracy: {mm: 0.8, over_mm: 500, source: \"measured\"}\n"
                      "  payload: {limit_kg: 120, tool_kg: 14, centre_in_flange: [0, 10, 160]}\n");
  tiny.Change(kCell, kFirstJoint,
              "{range: [-170, 170], speed: 150, acceleration: 400, sign: 1, zero: 0, stiffness_nm_rad: 2.4e6, "
              "lost_motion_arcmin: 0.9}");
  const LoadedCellFile loaded = Load(tiny);
  const Cell& cell = loaded.cell;
  EXPECT_EQ(cell.arm_form, "spherical_wrist");
  EXPECT_EQ(cell.arm_source, "drawn for this test");
  EXPECT_EQ(cell.repeatability_mm, 0.06);
  ASSERT_TRUE(cell.accuracy.has_value());
  EXPECT_EQ(cell.accuracy->error_mm, 0.8);
  EXPECT_EQ(cell.accuracy->over_mm, 500);
  EXPECT_EQ(cell.accuracy->source, "measured");
  ASSERT_TRUE(cell.payload.has_value());
  EXPECT_EQ(cell.payload->limit_kg, 120);
  EXPECT_EQ(cell.payload->tool_kg, 14);
  EXPECT_EQ(*cell.payload->centre_F, Eigen::Vector3d(0, 10, 160));
  ASSERT_EQ(cell.drives.size(), 6u);
  EXPECT_EQ(cell.drives[0].stiffness_nm_rad, 2.4e6);
  EXPECT_NEAR(*cell.drives[0].lost_motion_rad, RadFromDeg(0.015), kTight);
  EXPECT_FALSE(cell.drives[1].stiffness_nm_rad.has_value());
  EXPECT_TRUE(cell.assumed.empty());
}

// A joint without acceleration: the slow end of the printed band, and it is told.
TEST(CellYamlTest, MissingAccelerationIsAssumedAtTheSlowEnd) {
  const Cell cell = Load(With(kFirstJoint, "{range: [-170, 170], speed: 150, sign: 1, zero: 0}")).cell;
  EXPECT_NEAR(cell.arm->joints()[0].acceleration_rad_s2, RadFromDeg(100), kTight);
  EXPECT_NEAR(cell.arm->joints()[1].acceleration_rad_s2, RadFromDeg(400), kTight);
  ASSERT_EQ(cell.assumed.size(), 1u);
  EXPECT_EQ(cell.assumed[0].key, "arm.joints[1].acceleration");
  EXPECT_EQ(cell.assumed[0].value, 100);
  EXPECT_EQ(cell.assumed[0].low, 100);
  EXPECT_EQ(cell.assumed[0].high, 800);
  EXPECT_EQ(cell.assumed[0].unit, "deg/s2");
  EXPECT_THAT(cell.assumed[0].source, HasSubstr("from memory"));
}

TEST(CellYamlTest, JointsMayShareARange) {
  const std::string third = "{range: [-160, 160], speed: 150, acceleration: 400, sign: 1, zero: 0";
  const Cell cell = Load(With(third + "}", third + ", follows: {joint: 2, ratio: -1}, "
                                           "sum_range: {with: 2, ratio: 0.5, range: [-20, 175]}}")).cell;
  const kinematics::JointSpec& joint = cell.arm->joints()[2];
  ASSERT_TRUE(joint.sum_limit.has_value());
  EXPECT_EQ(joint.sum_limit->joint, 1);
  EXPECT_EQ(joint.sum_limit->ratio, 0.5);
  EXPECT_NEAR(joint.sum_limit->lower_rad, RadFromDeg(-20), kTight);
  EXPECT_NEAR(joint.sum_limit->upper_rad, RadFromDeg(175), kTight);
  EXPECT_EQ(joint.follows->joint, 1);
  ExpectFault(With(third + "}", third + ", sum_range: {with: 3, ratio: 1, range: [0, 1]}}"), "sum_range.with = 3", "earlier joint");
  ExpectFault(With(third + "}", third + ", sum_range: {with: 1, ratio: 1, range: [5, 1]}}"), "sum_range.range", "swap");
  ExpectFault(With(kFirstJoint, "{name: a, range: [-170, 170], speed: 150, sign: 1, zero: 0}"), "arm.joints[1].name", "urdf only");
  ExpectFault(With(kFirstJoint, "{range: [-170, 170], speed: 150, zero: 0}"), "arm.joints[1].sign is missing", "1 if the panel");
  ExpectFault(With(kFirstJoint, "{range: [-170, 170], speed: 150, sign: 0, zero: 0}"), "arm.joints[1].sign = 0", "1 or -1");
}

// Oracle: the modified rows of an arm are its standard ones moved by one link.
TEST(CellYamlTest, ModifiedAndStandardRowsDescribeOneArm) {
  const std::string form = "{form: spherical_wrist, a1: 150, a2: -120, b: 0, c1: 500, c2: 700, c3: 700, c4: 120}";
  const Cell standard = Load(With(form,
      "{form: dh_standard, rows: [{a: 150, alpha: -90, d: 500, theta_offset: 0}, {a: 700, alpha: 0, d: 0, theta_offset: -90},"
      " {a: 120, alpha: -90, d: 0, theta_offset: 0}, {a: 0, alpha: 90, d: 700, theta_offset: 0},"
      " {a: 0, alpha: -90, d: 0, theta_offset: 0}, {a: 0, alpha: 0, d: 120, theta_offset: 180}]}")).cell;
  const Cell modified = Load(With(form,
      "{form: dh_modified, rows: [{a: 0, alpha: 0, d: 500, theta_offset: 0}, {a: 150, alpha: -90, d: 0, theta_offset: -90},"
      " {a: 700, alpha: 0, d: 0, theta_offset: 0}, {a: 120, alpha: -90, d: 700, theta_offset: 0},"
      " {a: 0, alpha: 90, d: 0, theta_offset: 0}, {a: 0, alpha: -90, d: 120, theta_offset: 180}]}")).cell;
  EXPECT_EQ(modified.arm_form, "dh_modified");
  const auto reach = [](const Cell& cell) {
    kinematics::Pose X = kinematics::Pose::Identity();
    for (int i = 0; i < 6; ++i) {
      const kinematics::ChainJoint& joint = cell.arm->chain()[static_cast<std::size_t>(i)];
      const double theta = 0.3 * (i + 1);
      X = X * joint.before * Eigen::AngleAxisd(theta, joint.axis) * joint.after;
    }
    return X;
  };
  EXPECT_LE((reach(standard).matrix() - reach(modified).matrix()).norm(), 1e-9);
}

// Oracle: by hand; half a unit of the last digit written.
TEST(CellYamlTest, ReadoutsCarryPosesAndWhatTheirDigitsAreWorth) {
  const Cell cell = Load(WithReadouts(kReadouts)).cell;
  ASSERT_TRUE(cell.readouts.has_value());
  ASSERT_EQ(cell.readouts->rows.size(), 3u);
  const Readout& row = cell.readouts->rows[1];
  EXPECT_EQ(row.line, 4);
  EXPECT_NEAR(row.q[0], RadFromDeg(-10), kTight);
  EXPECT_NEAR(row.q[5], RadFromDeg(90), kTight);
  EXPECT_NEAR((row.X_BF.translation() - Eigen::Vector3d(900.5, 0, 500)).norm(), 0, kTight);
  const Eigen::Matrix3d quarter = Eigen::AngleAxisd(RadFromDeg(90), Eigen::Vector3d::UnitX()).toRotationMatrix();
  EXPECT_NEAR((row.X_BF.linear() - quarter).norm(), 0, kTight);
  EXPECT_NEAR(cell.readouts->joint_rounding_rad, RadFromDeg(0.005), kTight);
  EXPECT_NEAR(cell.readouts->position_rounding_mm, 0.05, kTight);
  EXPECT_NEAR(cell.readouts->rotation_rounding, 0.00005, kTight);
}

TEST(CellYamlTest, ReadoutsInInchesAndRadiansAreConverted) {
  const Cell cell = Load(WithReadouts("q1_rad,q2_rad,q3_rad,q4_rad,q5_rad,q6_rad,x_in,y_in,z_in,qw,qx,qy,qz\n"
                                      "0.100,0.2,0.3,0.4,0.5,0.6,10.00,0.00,1.00,1,0,0,0\n"
                                      "0.2,0.2,0.3,0.4,0.5,0.6,10.00,0.00,1.00,1,0,0,0\n"
                                      "0.3,0.2,0.3,0.4,0.5,0.6,10.00,0.00,1.00,1,0,0,0\n")).cell;
  EXPECT_EQ(cell.readouts->rows[0].q[0], 0.1);
  EXPECT_NEAR(cell.readouts->rows[0].X_BF.translation().x(), 254, kTight);
  EXPECT_NEAR(cell.readouts->joint_rounding_rad, 0.05, kTight);
  EXPECT_NEAR(cell.readouts->position_rounding_mm, 0.127, kTight);
  EXPECT_EQ(cell.readouts->rotation_rounding, 0.5);
}

TEST(CellYamlTest, ReadoutFaultsNameFileLineAndColumn) {
  const std::string head = "q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg,x_mm,y_mm,z_mm,qw,qx,qy,qz\n";
  const std::string row = "10,20,30,0,40,0,1000,0,500,1,0,0,0\n";
  const std::string radians = "0.17,0.34,1.57,0,0.7,0,1000,0,500,1,0,0,0\n";
  ExpectFault(WithReadouts(head + row + row), "readouts.csv:3", "has 2 read-outs, must have 3");
  ExpectFault(WithReadouts(head + radians + radians + radians), "readouts.csv:4", "look like radians");
  ExpectFault(WithReadouts(head + row + row + "10,20,30,0,40,0,1000,0,500,1,0.1,0,0\n"), "readouts.csv:4: quaternion", "must be 1");
  ExpectFault(WithReadouts(head + row + "10,20,30,0,40,0,1000,0,500,1,0,0\n"), "readouts.csv:3", "has 12 columns, must have 13");
  ExpectFault(WithReadouts(head + "10,x,30,0,40,0,1000,0,500,1,0,0,0\n"), "readouts.csv:2: q2_deg = x", "finite number");
  ExpectFault(WithReadouts("q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,x_mm,y_mm,z_mm,qw,qx,qy,qz\n"), "readouts.csv:1", "column q6_deg is missing");
  ExpectFault(WithReadouts("q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_rad,x_mm,y_mm,z_mm,qw,qx,qy,qz\n"), "readouts.csv:1", "q1_deg and q6_rad are in different units");
  ExpectFault(WithReadouts("q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg,q7_deg,x_mm,y_mm,z_mm,qw,qx,qy,qz\n"), "readouts.csv:1", "q7_deg is one joint too many");
  ExpectFault(WithReadouts("q1deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg,x_mm,y_mm,z_mm,qw,qx,qy,qz\n"), "readouts.csv:1: column q1deg is not known", "did you mean q1_deg?");
}

TEST(CellYamlTest, ControllerAndSpindleAreReadWhole) {
  TinyJob tiny = With("  rapid: straight\n", "  rapid: joint\n  look_ahead_moves: 3\n  over_speed: stops\n");
  tiny.Change(kCell, "  run_up_s: 0.1\n  switched: by_path\n",
              "  switched: outside\n  power_w: [[3000, 500], [12000, 2200]]\n  run_up_s: 3\n");
  const LoadedCellFile loaded = Load(tiny);
  const Cell& cell = loaded.cell;
  EXPECT_EQ(cell.controller.corner_distance_mm, 0.5);
  EXPECT_EQ(cell.controller.look_ahead_moves, 3);
  EXPECT_EQ(cell.controller_notes.over_speed, OverSpeed::kStops);
  EXPECT_EQ(cell.controller.rapid, kinematics::RapidRule::kJoint);
  EXPECT_EQ(cell.switched, SpindleSwitch::kOutside);
  EXPECT_EQ(cell.run_up_s, 3.0);
  ASSERT_EQ(cell.power.size(), 2u);
  EXPECT_EQ(cell.power[1].rpm, 12000);
  EXPECT_EQ(cell.power[1].power_w, 2200);
  EXPECT_EQ(cell.housing, Declared::kGiven);
  ExpectFault(With("  switched: by_path\n", "  switched: by_path\n  power_w: [[3000, 500], [2000, 600]]\n"),
              "spindle.power_w[2]", "by rising rpm");
  ExpectFault(With("{rule: blend, distance: 0.5}", "{rule: exact_stop, distance: 0.5}"), "controller.corner.distance", "blend only");
}

TEST(CellYamlTest, HousingThatIsNotSpokenOfIsUnsaid) {
  const std::string housing = "  housing: [{cylinder: {from: [0, 0, 0], to: [0, 0, 140], radius: 40}}]\n";
  EXPECT_EQ(Load(With(housing, "")).cell.housing, Declared::kUnsaid);
  EXPECT_EQ(Load(With(housing, "  housing: none\n")).cell.housing, Declared::kNone);
  ExpectFault(With(housing, "  housing: []\n"), "spindle.housing is empty", "write none");
}

// Oracle: the frame that made the points: a quarter turn about z and a shift.
TEST(CellYamlTest, FitTableGivesTheFrameWhereNoneIsTyped) {
  const std::string typed = "in_world: {position: [1000, -20, 250], rotation: {axis: [0, 0, 1], angle: 0}}";
  const std::string table =
      "name,x_mm,y_mm,z_mm,wx_mm,wy_mm,wz_mm\nA,0,0,0,100,200,300\nB,10,0,0,100,210,300\nC,0,20,0,80,200,300\n";
  TinyJob tiny = With(typed, "in_world: {fit: plate.csv}");
  tiny.files["plate.csv"] = table;
  const Cell fitted = Load(tiny).cell;
  EXPECT_FALSE(fitted.X_WS_typed);
  ASSERT_EQ(fitted.fit.size(), 3u);
  EXPECT_EQ(fitted.fit[2].name, "C");
  EXPECT_EQ(fitted.fit[2].line, 4);
  EXPECT_EQ(fitted.fit[2].p_S, Eigen::Vector3d(0, 20, 0));
  EXPECT_EQ(fitted.fit[2].p_W, Eigen::Vector3d(80, 200, 300));
  EXPECT_NEAR((fitted.X_WS * Eigen::Vector3d(10, 20, 5) - Eigen::Vector3d(80, 210, 305)).norm(), 0, 1e-9);

  TinyJob both = With(typed, "in_world: {position: [1, 2, 3], rotation: {axis: [0, 0, 1], angle: 0}, fit: plate.csv}");
  both.files["plate.csv"] = table;
  const Cell cell = Load(both).cell;
  EXPECT_TRUE(cell.X_WS_typed);
  EXPECT_EQ(cell.X_WS.translation(), Eigen::Vector3d(1, 2, 3));
  EXPECT_EQ(cell.fit.size(), 3u);

  tiny.files["plate.csv"] = "name,x_mm,y_mm,z_mm,wx_mm,wy_mm,wz_mm\nA,0,0,0,0,0,0\nB,10,0,0,10,0,0\nC,20,0,0,20,0,0\n";
  ExpectFault(tiny, "plate.csv:4", "do not lie on a line");
  tiny.files["plate.csv"] = "name,x_mm,y_mm,z_mm,wx_mm,wy_mm,wz_mm\nA,0,0,0,0,0,0\nB,10,0,0,10,0,0\n";
  ExpectFault(tiny, "plate.csv:3: the 2 points", "3 or more");
  tiny.files["plate.csv"] = table + "A,1,2,3,4,5,6\n";
  ExpectFault(tiny, "plate.csv:5: name = A stands in line 2 already", "keep one");
}

TEST(CellYamlTest, DriftTestAndSpindleSpringAreRead) {
  TinyJob tiny = With("  run_up_s: 0.1\n", "  run_up_s: 0.1\n  stiffness_n_per_mm: {radial: 8000, axial: 20000}\n");
  tiny.Change(kCell, "  payload:", "  drift_test: drift.csv\n  payload:");
  tiny.files["drift.csv"] = "time_min,x_in,y_in,z_in\n0,0,0,0\n30,1,0,-2\n";
  const Cell cell = Load(tiny).cell;
  EXPECT_EQ(cell.spindle_spring->radial_n_mm, 8000);
  EXPECT_EQ(cell.spindle_spring->axial_n_mm, 20000);
  ASSERT_EQ(cell.drift.size(), 2u);
  EXPECT_EQ(cell.drift[1].time_s, 1800);
  EXPECT_NEAR((cell.drift[1].d_W - Eigen::Vector3d(25.4, 0, -50.8)).norm(), 0, kTight);
  tiny.files["drift.csv"] = "time_min,x_mm,y_mm,z_mm\n0,0,0,0\n";
  ExpectFault(tiny, "drift.csv:2: the drift test has fewer than two rows", "cold and warm");
}

TEST(CellYamlTest, FixtureClampsAndPushTestAreRead) {
  TinyJob tiny = With("  clamps: none\n",
                      "  stiffness: {push_test: push.csv}\n"
                      "  clamps:\n"
                      "    - {at: [1, 2, 3], direction: [0, 0, -2], force_n: 900, friction: 0.35}\n"
                      "    - {at: [9, 2, 3], direction: [0, 0, -1], force_n: 800, friction: 0.3, box: {min: [0, 0, 0], max: [5, 6, 7]}}\n");
  tiny.files["push.csv"] =
      "px,py,pz,dx,dy,dz,force_n,gx_in,gy_in,gz_in,displacement_mm,stands_on\n1,2,3,0,0,-4,100,1,0,0,0.12,the floor\n"
      "1,2,3,2,0,0,100,1,0,0,0.05,the floor\n";
  const Cell cell = Load(tiny).cell;
  EXPECT_EQ(cell.fixture, Declared::kGiven);
  EXPECT_EQ(cell.clamps_said, Declared::kGiven);
  ASSERT_EQ(cell.clamps.size(), 2u);
  EXPECT_EQ(cell.clamps[0].p_S, Eigen::Vector3d(1, 2, 3));
  EXPECT_EQ(cell.clamps[0].direction_S, Eigen::Vector3d(0, 0, -1));
  EXPECT_EQ(cell.clamps[0].force_n, 900);
  EXPECT_EQ(cell.clamps[0].friction, 0.35);
  EXPECT_TRUE(cell.clamps[0].body_S.empty());
  ASSERT_EQ(cell.clamps[1].body_S.size(), 1u);
  EXPECT_EQ(std::get<BoxShape>(cell.clamps[1].body_S[0]).max, Eigen::Vector3d(5, 6, 7));
  ASSERT_EQ(cell.push_test.size(), 2u);
  EXPECT_EQ(cell.push_test[0].direction_S, Eigen::Vector3d(0, 0, -1));
  EXPECT_EQ(cell.push_test[0].force_n, 100);
  EXPECT_NEAR(cell.push_test[0].p_SG.x(), 25.4, kTight);
  EXPECT_EQ(cell.push_test[0].displacement_mm, 0.12);
  EXPECT_EQ(cell.push_test[0].stands_on, "the floor");
  tiny.files["push.csv"] = "px,py,pz,dx,dy,dz,force_n,gx,gy,gz,displacement_mm,stands_on\n1,2,3,0,0,0,100,1,0,0,0.12,floor\n";
  ExpectFault(tiny, "push.csv:2: dx,dy,dz", "no direction");
  const Cell typed = Load(With("fixture:\n", "fixture:\n  stiffness: {n_per_mm: [1000, 2000, 3000]}\n")).cell;
  EXPECT_EQ(*typed.fixture_n_per_mm, Eigen::Vector3d(1000, 2000, 3000));
  EXPECT_EQ(typed.clamps_said, Declared::kNone);
}

TEST(CellYamlTest, WhatIsSaidOfTheSurroundingsIsKept) {
  const std::string bodies = "bodies: {hose: none, dust_hood: none, floor: {z: 0}}\n";
  const std::string fixture = "fixture:\n  parts: [{box: {min: [-20, -20, -60], max: [80, 60, -1]}}]\n  clamps: none\n";
  const std::string fence = "obstacles: [{name: fence, box: {min: [1800, -1000, 0], max: [1850, 1000, 2000]}}]\n";
  const Cell plain = Load(TinyJob()).cell;
  EXPECT_EQ(plain.hose, Declared::kNone);
  EXPECT_EQ(plain.dust_hood, Declared::kNone);
  EXPECT_EQ(plain.floor, Declared::kGiven);
  EXPECT_EQ(plain.obstacles, Declared::kGiven);
  const Cell silent = Load(With(bodies, "").Change(kCell, fixture, "").Change(kCell, fence, "")).cell;
  for (const Declared said : {silent.hose, silent.dust_hood, silent.floor, silent.obstacles, silent.fixture, silent.clamps_said}) {
    EXPECT_EQ(said, Declared::kUnsaid);
  }
  const Cell none = Load(With(bodies, "bodies: {floor: none}\n").Change(kCell, fixture, "fixture: none\n")
                             .Change(kCell, fence, "obstacles: none\n")).cell;
  for (const Declared said : {none.floor, none.obstacles, none.fixture, none.clamps_said}) {
    EXPECT_EQ(said, Declared::kNone);
  }
  EXPECT_EQ(none.hose, Declared::kUnsaid);
  const Cell given = Load(With(bodies, "bodies: {hose: [{of: 3, capsule: {from: [0, 0, 0], to: [0, 0, 200], radius: 30}}], "
                                       "dust_hood: [{cylinder: {from: [0, 0, -10], to: [0, 0, 5], radius: 60}}]}\n")).cell;
  ASSERT_EQ(given.hose_bodies.size(), 1u);
  EXPECT_EQ(given.hose_bodies[0].link, 3);
  EXPECT_EQ(std::get<CapsuleShape>(given.hose_bodies[0].shapes[0]).radius_mm, 30);
  ASSERT_EQ(given.dust_hood_H.size(), 1u);
  EXPECT_EQ(given.dust_hood, Declared::kGiven);
}

TEST(CellYamlTest, CellAloneListsItsFilesAndKeys) {
  const LoadedCellFile loaded = Load(TinyJob());
  EXPECT_EQ(loaded.cell.name, "test bench (invented)");
  ASSERT_EQ(loaded.inputs.size(), 2u);
  EXPECT_EQ(loaded.inputs[0].role, "cell");
  EXPECT_EQ(loaded.inputs[0].file, kCell);
  EXPECT_EQ(loaded.inputs[1].file, "touched.csv");
  EXPECT_EQ(loaded.cell.touched_lines, (std::vector<int>{2, 3, 4, 5, 6, 7}));
}

TEST(CellYamlTest, KnownKeysAreTheSameWhateverTheirPlace) {
  const TempFolder folder;
  const std::string job = TinyJob().WriteTo(folder);
  const std::set<std::string> keys = KeysKnownWhenReading(job);
  for (const char* key : {"cell/1 arm.joints[].sum_range", "cell/1 cutters.N.holder[].diameter", "cell/1 units.length",
                          "cell/1 arm.links[].capsule.radius", "job/1 path.work_offsets", "job/1 accept.confidence"}) {
    EXPECT_TRUE(keys.count(key)) << key;
  }
  const std::set<std::string> of_cell = KeysKnownWhenReading((folder.path() / kCell).string());
  EXPECT_TRUE(of_cell.count("cell/1 arm.home"));
  EXPECT_FALSE(of_cell.count("job/1 path.file"));
}

}  // namespace
}  // namespace aircut::sim
