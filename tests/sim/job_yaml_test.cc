#include <cmath>
#include <iterator>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/check_ids.h"
#include "sim/file_hash.h"
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

constexpr double kTight = 1e-12;

Job Load(const TinyJob& tiny) {
  const TempFolder folder;
  return LoadJob(tiny.WriteTo(folder), {});
}

void ExpectFault(const TinyJob& tiny, const std::string& place, const std::string& words) {
  EXPECT_THAT([&] { Load(tiny); }, ThrowsMessage<InputError>(AllOf(HasSubstr(place), HasSubstr(words))));
}

TinyJob Cell(const std::string& from, const std::string& to) { return TinyJob().Change("tiny.cell.yaml", from, to); }
TinyJob JobFile(const std::string& from, const std::string& to) { return TinyJob().Change("tiny.job.yaml", from, to); }

// Oracle: what the files say, converted by definition.
TEST(JobYamlTest, SmallJobIsReadAndConverted) {
  const Job job = Load(TinyJob());
  EXPECT_EQ(job.name, "one groove");
  EXPECT_EQ(job.cell.arm->joint_count(), 6);
  EXPECT_NEAR(job.cell.arm->joints()[1].lower_rad, RadFromDeg(-100), kTight);
  EXPECT_NEAR(job.cell.arm->joints()[5].speed_rad_s, RadFromDeg(350), kTight);
  EXPECT_NEAR(job.cell.home[2], RadFromDeg(109), kTight);
  EXPECT_NEAR((job.cell.X_WS.translation() - Eigen::Vector3d(1000, -20, 250)).norm(), 0, kTight);
  EXPECT_EQ(job.cell.links.size(), 7u);
  EXPECT_EQ(job.cell.touched_W.size(), 6u);
  EXPECT_EQ(job.cell.touched_W[3], Eigen::Vector3d(1020, -20, 260));
  EXPECT_EQ(job.cell.fixture_S.size(), 1u);
  EXPECT_EQ(job.cell.floor_z_mm, 0.0);
  ASSERT_EQ(job.cell.cutters.size(), 2u);
  const CellCutter& cutter = job.cell.cutters.at(1);
  EXPECT_EQ(cutter.cutter.radius_mm(), 3.0);
  ASSERT_EQ(cutter.holder.size(), 1u);
  EXPECT_EQ(cutter.holder[0].z0_mm, 40.0);
  EXPECT_EQ(cutter.holder[0].z1_mm, 70.0);
  EXPECT_TRUE(cutter.measured);
  EXPECT_EQ(job.path.size(), 45u);
  EXPECT_EQ(job.path[2].line, 4);
  EXPECT_DOUBLE_EQ(job.path[2].feed_mm_s, 5.0);
  EXPECT_EQ(job.design.depth_below_stock_mm, 1.0);
  EXPECT_EQ(job.spin_toward_S, Eigen::Vector3d(-1, 0, 0));
  EXPECT_TRUE(job.accept.depth_mm.given);
  EXPECT_FALSE(job.accept.region_mm2.given);
  EXPECT_NEAR(job.accept.piece_mm.value, 0.2 / 3, kTight);
  EXPECT_EQ(job.resolution_mm, 0.25);
  EXPECT_TRUE(job.require_given);
}

// Oracle: the hash of the bytes that the test wrote.
TEST(JobYamlTest, EveryFileIsListedWithItsHash) {
  const Job job = Load(TinyJob());
  ASSERT_EQ(job.inputs.size(), 5u);
  const std::pair<const char*, const char*> expected[] = {{"job", "tiny.job.yaml"},
                                                          {"cell", "tiny.cell.yaml"},
                                                          {"touched points", "touched.csv"},
                                                          {"path", "groove.csv"},
                                                          {"stock", "block.ply"}};
  const TinyJob tiny;
  for (std::size_t i = 0; i < 5; ++i) {
    EXPECT_EQ(job.inputs[i].role, expected[i].first);
    EXPECT_EQ(job.inputs[i].file, expected[i].second);
    const std::string& bytes = tiny.files.at(expected[i].second);
    EXPECT_EQ(job.inputs[i].sha256, Sha256OfText(bytes));
    EXPECT_EQ(job.inputs[i].bytes, static_cast<std::int64_t>(bytes.size()));
  }
}

TEST(JobYamlTest, UnknownKeysSuggestTheNearest) {
  ExpectFault(Cell("  payload:", "  repeatabilty_mm: 1\n  payload:"), "tiny.cell.yaml:24: arm.repeatabilty_mm",
              "did you mean repeatability_mm?");
  ExpectFault(Cell("limit_kg", "limt_kg"), "tiny.cell.yaml:24: arm.payload.limt_kg", "did you mean limit_kg?");
  ExpectFault(Cell("ball, diameter: 6,", "ball, diametre: 6,"), "cutters.1.diametre", "did you mean diameter?");
  ExpectFault(JobFile("resolution_mm", "resolution"), "resolution is not a known key", "did you mean resolution_mm?");
  ExpectFault(JobFile("depth_mm: 0.2", "deepness: 0.2"), "tiny.job.yaml:10: accept.deepness", "not a known key");
  ExpectFault(JobFile("spin: {rule: fixed, ", "spin: {rule: fixed, sideways: 1, "), "spin.sideways", "not a known key");
}

TEST(JobYamlTest, UnitsAreRequiredInBothFiles) {
  ExpectFault(Cell("units: {length: mm, angle: deg}\n", ""), "tiny.cell.yaml:1: units is missing", "length: mm");
  ExpectFault(JobFile("units: {length: mm, angle: deg, feed: mm/min}\n", ""), "tiny.job.yaml:1: units is missing", "");
  ExpectFault(Cell("units: {length: mm, angle: deg}", "units: {angle: deg}"), "tiny.cell.yaml:3: units.length is missing", "");
  ExpectFault(Cell("units: {length: mm, angle: deg}", "units: {length: cm, angle: deg}"), "units.length = cm", "mm or in");
  ExpectFault(JobFile("units: {length: mm, angle: deg, feed: mm/min}\n", "units: {length: mm, angle: deg}\n")
                  .Change("tiny.job.yaml", "pose_table, tool: 1", "pose_table, tool: 1, feed: 600"),
              "path.feed", "units.feed is missing");
}

// Oracle: the same cell written in inches and radians is the same cell. The
// file of touched points names its own unit.
TEST(JobYamlTest, InchesAndRadiansGiveTheSameCutter) {
  TinyJob tiny = JobFile("units: {length: mm, angle: deg, feed: mm/min}", "units: {length: in, angle: rad, feed: in/min}");
  tiny.Change("tiny.job.yaml", "depth_below_stock: 1.0", "depth_below_stock: 0.04");
  tiny.Change("tiny.job.yaml", "pose_table, tool: 1", "pose_table, tool: 1, feed: 30");
  tiny.files["groove.csv"] = "x_mm,y_mm,z_mm,i,j,k,spindle_rpm\n10,20,19,0,0,1,9000\n";
  const Job job = Load(tiny);
  EXPECT_NEAR(*job.design.depth_below_stock_mm, 0.04 * 25.4, kTight);
  EXPECT_NEAR(job.path[0].feed_mm_s, 30 * 25.4 / 60, kTight);
  EXPECT_EQ(job.path[0].p_ST, Eigen::Vector3d(10, 20, 19));
  EXPECT_EQ(job.accept.depth_mm.value, 0.2);   // its name carries its unit
  EXPECT_NEAR(job.stock_S->box().sizes().x(), 60 * 25.4, 1e-9);
}

// Oracle: three ways to write one rotation; the middle one is the definition by
// elementary turns, about moving axes in order z, y, x.
TEST(JobYamlTest, RotationFormsAgree) {
  const auto rotation = [](const std::string& form) -> Eigen::Matrix3d {
    return Load(Cell("in_world: {position: [1000, -20, 250], rotation: {axis: [0, 0, 1], angle: 0}}",
                     "in_world: {position: [1000, -20, 250], rotation: " + form + "}")
                    .Change("tiny.cell.yaml", "  touched: touched.csv\n", ""))
        .cell.X_WS.linear();
  };
  const auto turn = [](double deg, const Eigen::Vector3d& axis) -> Eigen::Matrix3d {
    return Eigen::AngleAxisd(RadFromDeg(deg), axis).toRotationMatrix();
  };
  const Eigen::Vector3d x = Eigen::Vector3d::UnitX(), y = Eigen::Vector3d::UnitY(), z = Eigen::Vector3d::UnitZ();
  const Eigen::Matrix3d expected = turn(10, z) * turn(20, y) * turn(30, x);
  EXPECT_LE((rotation("{angles: [10, 20, 30], order: zyx, about: moving}") - expected).norm(), kTight);
  EXPECT_LE((rotation("{angles: [30, 20, 10], order: xyz, about: fixed}") - expected).norm(), kTight);
  const Eigen::Quaterniond q(expected);
  EXPECT_LE((rotation("{quaternion: {w: " + std::to_string(q.w()) + ", x: " + std::to_string(q.x()) +
                      ", y: " + std::to_string(q.y()) + ", z: " + std::to_string(q.z()) + "}}") -
             expected).norm(), 4e-6);   // six digits were written
  EXPECT_LE((rotation("{axis: [0, 0, 2], angle: 90}") - turn(90, z)).norm(), kTight);
}

// Oracle: published matrices: X-Y-Z fixed angles and Z-Y-Z Euler angles, Craig,
// Introduction to Robotics, eqs. 2.64 and 2.72 (from memory); the former is also
// what a robot description calls roll, pitch, yaw.
TEST(JobYamlTest, AnglesMeanWhatTextbooksMean) {
  const auto rotation = [](const std::string& form) -> Eigen::Matrix3d {
    return Load(Cell("in_world: {position: [1000, -20, 250], rotation: {axis: [0, 0, 1], angle: 0}}",
                     "in_world: {position: [1000, -20, 250], rotation: " + form + "}")
                    .Change("tiny.cell.yaml", "  touched: touched.csv\n", ""))
        .cell.X_WS.linear();
  };
  const double c1 = std::cos(RadFromDeg(35)), s1 = std::sin(RadFromDeg(35)), c2 = std::cos(RadFromDeg(-50)),
               s2 = std::sin(RadFromDeg(-50)), c3 = std::cos(RadFromDeg(110)), s3 = std::sin(RadFromDeg(110));
  // gamma = 110 about x, then beta = -50 about y, then alpha = 35 about z, all fixed.
  Eigen::Matrix3d fixed_xyz;
  fixed_xyz << c1 * c2, c1 * s2 * s3 - s1 * c3, c1 * s2 * c3 + s1 * s3,   //
      s1 * c2, s1 * s2 * s3 + c1 * c3, s1 * s2 * c3 - c1 * s3,           //
      -s2, c2 * s3, c2 * c3;
  EXPECT_LE((rotation("{angles: [110, -50, 35], order: xyz, about: fixed}") - fixed_xyz).norm(), kTight);
  Eigen::Matrix3d euler_zyz;
  euler_zyz << c1 * c2 * c3 - s1 * s3, -c1 * c2 * s3 - s1 * c3, c1 * s2,   //
      s1 * c2 * c3 + c1 * s3, -s1 * c2 * s3 + c1 * c3, s1 * s2,           //
      -s2 * c3, s2 * s3, c2;
  EXPECT_LE((rotation("{angles: [35, -50, 110], order: zyz, about: moving}") - euler_zyz).norm(), kTight);
}

TEST(JobYamlTest, RotationFaultsAreNamed) {
  const auto with = [](const std::string& form) {
    return Cell("in_world: {position: [1000, -20, 250], rotation: {axis: [0, 0, 1], angle: 0}}",
                "in_world: {position: [1000, -20, 250], rotation: " + form + "}");
  };
  ExpectFault(with("{quaternion: {w: 1, x: 0.01, y: 0, z: 0}}"), "workpiece.in_world.rotation.quaternion", "normalise");
  ExpectFault(with("{axis: [0, 0, 0], angle: 3}"), "rotation.axis", "no direction");
  ExpectFault(with("{angles: [1, 2, 3], order: zzy, about: moving}"), "rotation.order", "no two neighbours alike");
  ExpectFault(with("{angles: [1, 2, 3], order: zyx}"), "rotation.about is missing", "moving");
  ExpectFault(with("{axis: [0, 0, 1], angle: 3, order: zyx}"), "rotation.order", "goes with angles only");
  ExpectFault(with("{axis: [0, 0, 1], angle: .nan}"), "rotation.angle", "finite number");
}

// Oracle: a ball centre lies one radius above the tip, along the axis; the
// flanks of a 60 degree cutter with tip radius r meet r / sin(30 deg) - r = r
// below its tip end.
TEST(JobYamlTest, PathIsConvertedFromControlPointToTipEnd) {
  TinyJob ball = Cell("control_point: tip_end", "control_point: ball_centre");
  ball.files["groove.csv"] = "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm\n10,20,30,0.6,0,0.8,60,9000\n";
  EXPECT_NEAR((Load(ball).path[0].p_ST - Eigen::Vector3d(10 - 1.8, 20, 30 - 2.4)).norm(), 0, kTight);

  TinyJob v = Cell("shape: ball, diameter: 6,", "shape: v, angle: 60, tip_radius: 0.5, diameter: 6,");
  v.Change("tiny.cell.yaml", "control_point: tip_end", "control_point: sharp_apex");
  v.files["groove.csv"] = "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm\n10,20,30,0,0,1,60,9000\n";
  EXPECT_NEAR((Load(v).path[0].p_ST - Eigen::Vector3d(10, 20, 30 + 0.5)).norm(), 0, 1e-9);
}

// Oracle: X_SP by hand: a quarter turn about z, then a shift.
TEST(JobYamlTest, PathStockAndDesignMoveWithTheirAt) {
  const std::string at = ", at: {position: [100, 0, 5], rotation: {axis: [0, 0, 1], angle: 90}}";
  TinyJob tiny = JobFile("tool: 1}", "tool: 1" + at + "}");
  tiny.Change("tiny.job.yaml", "stock: {mesh: block.ply}", "stock: {mesh: block.ply" + at + "}");
  tiny.Change("tiny.job.yaml", "design: {depth_below_stock: 1.0}", "design: {mesh: block.ply" + at + "}");
  const Job job = Load(tiny);
  EXPECT_NEAR((job.path[0].p_ST - Eigen::Vector3d(100 - 20, 10, 65)).norm(), 0, 1e-9);
  EXPECT_NEAR((job.stock_S->box().min() - Eigen::Vector3d(60, 0, 5)).norm(), 0, 1e-9);
  EXPECT_NEAR((job.design.mesh_S->box().max() - Eigen::Vector3d(100, 60, 25)).norm(), 0, 1e-9);
}

TEST(JobYamlTest, ValuesOutOfBoundsNameFieldValueBoundAndMend) {
  ExpectFault(Cell("ball, diameter: 6,", "ball, diameter: -3,"), "cutters.1.diameter = -3 must be > 0", "mm: write the cutting diameter");
  ExpectFault(Cell("ball, diameter: 6,", "ball, "), "tiny.cell.yaml:36: cutters.1.diameter is missing", "write the cutting diameter");
  ExpectFault(Cell("ball, diameter: 6,", "ball, diameter: .nan,"), "cutters.1.diameter = .nan", "finite number");
  ExpectFault(Cell("ball, diameter: 6,", "ball, diameter: six,"), "cutters.1.diameter = six", "must be a number");
  ExpectFault(Cell("ball, diameter: 6,", "ball, diameter: [6],"), "cutters.1.diameter = a list", "must be a number");
  ExpectFault(Cell("ball, diameter: 6,", "ball, diameter: \"6\","), "cutters.1.diameter = 6", "without quotes");
  ExpectFault(Cell("flute_length: 22, shank_diameter: 6, stick_out: 40", "flute_length: 22, shank_diameter: 6, stick_out: 20"),
              "cutters.1.stick_out = 20 mm must be >= flute_length = 22 mm", "mend");
  ExpectFault(Cell("flutes: 2, flute_length: 22", "flutes: 2.5, flute_length: 22"), "cutters.1.flutes = 2.5", "whole number");
  ExpectFault(Cell("[-170, 170]", "[170, -170]"), "arm.joints[1].range", "swap or mend");
  ExpectFault(Cell("home: [0, 25, 109, 0, 46, 0]", "home: [0, 25, 109, 0, 46]"), "arm.home has 5 values, must have 6", "");
  ExpectFault(Cell("home: [0, 25, 109, 0, 46, 0]", "home: [0, 25, 175, 0, 46, 0]"), "arm.home", "outside its range");
  ExpectFault(Cell("cycle_s: 0.012", "cycle_s: 0"), "controller.cycle_s = 0", "must be >= 0.0001");
  ExpectFault(Cell("speed_rpm: [3000, 24000]", "speed_rpm: [24000, 3000]"), "spindle.speed_rpm", "swap");
  ExpectFault(JobFile("resolution_mm: 0.25", "resolution_mm: 0"), "resolution_mm = 0 must be > 0", "voxel");
  ExpectFault(JobFile("resolution_mm: 0.25", "resolution_mm: -1"), "resolution_mm = -1 must be > 0", "");
  ExpectFault(JobFile("depth_mm: 0.2", "depth_mm: 0"), "accept.depth_mm = 0 must be > 0", "");
}

TEST(JobYamlTest, FormsThatAreNotComputedSayWhatToUse) {
  ExpectFault(JobFile("{rule: fixed, toward: [-1, 0, 0]}", "{rule: free, toward: [1, 0, 0]}"), "spin.toward", "rule: fixed only");
  ExpectFault(JobFile("{rule: fixed, toward: [-1, 0, 0]}", "{rule: free, lattice: 4}"), "spin.lattice = 4", "36");
  ExpectFault(JobFile("{rule: fixed, toward: [-1, 0, 0]}", "{rule: free, most_per_mm: 0}"), "spin.most_per_mm = 0", "per mm");
  ExpectFault(JobFile("{rule: fixed, toward: [-1, 0, 0]}", "{rule: fixed, toward: [-1, 0, 0], lattice: 36}"), "spin.lattice", "rule: free only");
  ExpectFault(JobFile("{depth_below_stock: 1.0}", "{image: rose.png}"), "design.image = rose.png", "not found");
}

TEST(JobYamlTest, PathFaultsThatNeedTheCellNameTheLine) {
  ExpectFault(JobFile("tool: 1}", "tool: 9}"), "groove.csv:2: tool = 9 must be a cutter of the cell (1, 2)", "");
  ExpectFault(JobFile("toward: [-1, 0, 0]", "toward: [0, 0, 5]"), "groove.csv:2:", "lies along spin.toward");
  ExpectFault(JobFile("{rule: fixed, toward: [-1, 0, 0]}", "{rule: as_written}"), "spin.rule = as_written", "qw,qx,qy,qz");
}

TEST(JobYamlTest, ChecksToRequireMustExist) {
  ExpectFault(JobFile("gouge, clamp-zone", "gauge, clamp-zone"), "require[11] = gauge is not a check", "did you mean gouge?");
  ExpectFault(JobFile("gouge, clamp-zone", "gouge, gouge, clamp-zone"), "require[12] = gouge is named twice", "");
  ExpectFault(JobFile("[inputs, events, reach, joint-range, joint-speed, posture-change, clash, rapid-contact, stopped-contact, body-contact, gouge, clamp-zone, break-through, depth, leftover, flute-length, piece-located]", "[]"),
              "require is empty", "");
}

TEST(JobYamlTest, StockMustBeAClosedMeshOfPlausibleSizeTurnedOutward) {
  ExpectFault(TinyJob().Change("block.ply", "4 3 0 4 7\n", "").Change("block.ply", "face 6", "face 5"),
              "stock.mesh = block.ply is not closed: 4 edges", "close the holes");
  TinyJob inside_out;
  inside_out.files["block.ply"] =
      "ply\nformat ascii 1.0\nelement vertex 4\nproperty double x\nproperty double y\nproperty double z\n"
      "element face 4\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n10 0 0\n0 20 0\n0 0 30\n"
      "3 0 1 2\n3 0 3 1\n3 0 2 3\n3 1 3 2\n";
  ExpectFault(inside_out, "stock.mesh = block.ply is inside out, its volume is -1000", "turn all faces round");
  TinyJob in_metres;
  in_metres.files["block.ply"] = Replaced(
      Replaced(inside_out.files["block.ply"], "10 0 0\n0 20 0\n0 0 30", "0.01 0 0\n0 0.02 0\n0 0 0.03"),
      "3 0 1 2\n3 0 3 1\n3 0 2 3\n3 1 3 2", "3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3");
  ExpectFault(in_metres, "stock.mesh = block.ply is 0.03 mm long", "metres");
}

TEST(JobYamlTest, FilesOutsideTheFolderAreRefusedUnlessAllowed) {
  const TempFolder folder;
  TinyJob tiny = JobFile("mesh: block.ply", "mesh: ../block.ply");
  const std::string job_file = tiny.WriteTo(folder, "scene/");
  folder.Write("block.ply", test::TinyStockPly());
  EXPECT_THAT([&] { LoadJob(job_file, {}); },
              ThrowsMessage<InputError>(AllOf(HasSubstr("stock.mesh = ../block.ply lies outside"), HasSubstr("--allow-outside"))));
  LoadOptions outside;
  outside.allow_outside = true;
  EXPECT_EQ(LoadJob(job_file, outside).inputs.back().file, "../block.ply");
}

TEST(JobYamlTest, LinksThatLeaveTheFolderAreFollowedBeforeTheyAreJudged) {
  const TempFolder folder;
  TinyJob tiny;
  const std::string job_file = tiny.WriteTo(folder, "scene/");
  folder.Write("block.ply", test::TinyStockPly());
  std::filesystem::remove(folder.path() / "scene/block.ply");
  std::filesystem::create_symlink(folder.path() / "block.ply", folder.path() / "scene/block.ply");
  EXPECT_THAT([&] { LoadJob(job_file, {}); }, ThrowsMessage<InputError>(HasSubstr("lies outside")));
}

// The cell of a scene may be shared by jobs one folder below it, no farther.
TEST(JobYamlTest, CellMaySitOneFolderUp) {
  const TempFolder folder;
  for (const auto& [up, is_allowed] : {std::pair<const char*, bool>{"../", true}, {"../../", false}}) {
    TinyJob tiny = JobFile("cell: tiny.cell.yaml", std::string("cell: ") + up + "tiny.cell.yaml");
    const std::string job_file = tiny.WriteTo(folder, "a/b/c/");
    const std::string above = (folder.path() / "a/b/c" / up).lexically_normal().string();
    std::filesystem::rename(folder.path() / "a/b/c/tiny.cell.yaml", above + "tiny.cell.yaml");
    std::filesystem::rename(folder.path() / "a/b/c/touched.csv", above + "touched.csv");
    if (is_allowed) {
      EXPECT_NO_THROW(LoadJob(job_file, {}));
    } else {
      EXPECT_THROW(LoadJob(job_file, {}), InputError);
    }
  }
}

TEST(JobYamlTest, HostileYamlIsRefusedQuickly) {
  std::string laughs = "aircut: job/1\na0: &a0 [x, x, x, x, x, x, x, x, x, x]\n";
  for (int i = 1; i < 30; ++i) {
    const std::string before = "*a" + std::to_string(i - 1);
    laughs += "a" + std::to_string(i) + ": &a" + std::to_string(i) + " [" + before;
    for (int k = 0; k < 9; ++k) laughs += ", " + before;
    laughs += "]\n";
  }
  TinyJob tiny;
  tiny.files["tiny.job.yaml"] = laughs;
  ExpectFault(tiny, "tiny.job.yaml:", "more than 100000 values");
  tiny.files["tiny.job.yaml"] = "a: " + std::string(300, '[') + std::string(300, ']');
  ExpectFault(tiny, "tiny.job.yaml:1", "nested deeper");
  tiny.files["tiny.job.yaml"] = "a: &self [*self]\n";
  ExpectFault(tiny, "tiny.job.yaml:1", "");
  tiny.files["tiny.job.yaml"] = std::string((8 << 20) + 1, '#');
  ExpectFault(tiny, "tiny.job.yaml", "must be <=");
}

// Whatever a few changed bytes do to the files: a job or one sentence.
TEST(JobYamlTest, ChangedBytesGiveAJobOrAnInputError) {
  const TempFolder folder;
  std::mt19937_64 rng(20240603);
  const std::string names[] = {"tiny.job.yaml", "tiny.cell.yaml", "groove.csv", "touched.csv"};
  const std::string scraps[] = {".nan", "1e999", "[]", "{}", "-1", "*a", "&a ", "\"", ":", "\n- ", "?", "|", "<<: ", "\t"};
  for (int round = 0; round < 600; ++round) {
    TinyJob tiny;
    std::string& text = tiny.files.at(names[rng() % 4]);
    const std::size_t at = rng() % text.size();
    if (round % 2 == 0) {
      text.insert(at, scraps[rng() % std::size(scraps)]);
    } else {
      text[at] = static_cast<char>(rng());
    }
    const std::string job_file = tiny.WriteTo(folder);
    try {
      EXPECT_FALSE(LoadJob(job_file, {}).path.empty());
    } catch (const InputError& error) {
      EXPECT_EQ(std::string(error.what()).find('\n'), std::string::npos) << error.what();
    }
  }
}

TEST(JobYamlTest, BrokenYamlNamesTheLine) {
  ExpectFault(JobFile("stock: {mesh: block.ply}", "stock: {mesh: block.ply"), "tiny.job.yaml:", "not valid YAML");
  ExpectFault(JobFile("name: one groove", "name: one groove\nname: two"), "tiny.job.yaml:3: key name is given twice", "");
  TinyJob tiny;
  tiny.files["tiny.job.yaml"] = "";
  ExpectFault(tiny, "tiny.job.yaml", "empty");
  tiny.files["tiny.job.yaml"] = "just a text\n";
  ExpectFault(tiny, "tiny.job.yaml:1", "must be a map");
  ExpectFault(JobFile("aircut: job/1", "aircut: job/2"), "aircut = job/2 must be job/1", "");
  ExpectFault(JobFile("cell: tiny.cell.yaml", "cell: tiny.job.yaml"), "must be cell/1", "");
}

// The ids are those of the design, each once, in the order of their groups.
TEST(CheckIdsTest, IdsDifferAndAreGroupedInReportOrder) {
  for (std::size_t i = 0; i < kCheckIds.size(); ++i) {
    for (std::size_t k = i + 1; k < kCheckIds.size(); ++k) {
      EXPECT_NE(kCheckIds[i].id, kCheckIds[k].id);
      EXPECT_LE(kCheckIds[i].group, kCheckIds[k].group);
    }
  }
}

}  // namespace
}  // namespace aircut::sim
