#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/job.h"
#include "sim/job_parts.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using kinematics::RadFromDeg;
using test::TempFolder;
using test::Replaced;
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

TinyJob With(const std::string& lines) {
  return TinyJob().Change("tiny.job.yaml", "stock: {mesh: block.ply}\n", "stock: {mesh: block.ply}\n" + lines);
}

TinyJob WithStock(const std::string& stock) {
  return TinyJob().Change("tiny.job.yaml", "stock: {mesh: block.ply}", "stock: {mesh: block.ply, " + stock + "}");
}

// Reads the map `path` of a job whose units are inches and degrees.
PathRules Rules(const std::string& path, const std::string& format = "iso6983") {
  YamlFile file;
  file.label = "a.yaml";
  const YamlNode root = ParseYaml("a.yaml", "units: {length: in, angle: deg, feed: in/min}\npath: " + path + "\n");
  const YamlMap top = YamlValue(file, root, "").Map({"units", "path"});
  ReadUnits(top);
  const YamlMap map = top.At("path", "").Map({"file", "format", "feed", "spindle_rpm", "tool", "at", "rotary",
                                              "work_offsets", "length_offsets", "modal", "ignore_words"});
  return ReadPathRules(map, format);
}

void ExpectRuleFault(const std::string& path, const std::string& place, const std::string& words) {
  EXPECT_THAT([&] { Rules(path); }, ThrowsMessage<InputError>(AllOf(HasSubstr(place), HasSubstr(words))));
}

// Oracle: what the text says, converted by definition.
TEST(JobPartsYamlTest, PathRulesAreReadWhole) {
  const PathRules rules = Rules(
      "{feed: 30, spindle_rpm: 9000, tool: 4, rotary: {order: [C, A], turns: work}, "
      "work_offsets: {54: {position: [1, 0, 0], rotation: {axis: [0, 0, 1], angle: 90}}, "
      "55: {position: [0, 2, 0], rotation: {axis: [0, 0, 1], angle: 0}}}, length_offsets: {1: 2, 12: 3}, "
      "modal: G21 G90 G17 G94, ignore_words: [M8, M9]}");
  EXPECT_NEAR(*rules.defaults.feed_mm_s, 30 * 25.4 / 60, kTight);
  EXPECT_EQ(rules.defaults.spindle_rpm, 9000);
  EXPECT_EQ(rules.defaults.tool, 4);
  ASSERT_TRUE(rules.rotary.has_value());
  EXPECT_EQ(rules.rotary->order, "CA");
  EXPECT_EQ(rules.rotary->turns, RotaryRule::Turns::kWork);
  ASSERT_EQ(rules.work_offsets.size(), 2u);
  EXPECT_NEAR((rules.work_offsets.at(54) * Eigen::Vector3d(1, 0, 0) - Eigen::Vector3d(25.4, 1, 0)).norm(), 0, kTight);
  EXPECT_NEAR(rules.work_offsets.at(55).translation().y(), 50.8, kTight);
  EXPECT_NEAR(rules.length_offsets_mm.at(1), 50.8, kTight);
  EXPECT_NEAR(rules.length_offsets_mm.at(12), 76.2, kTight);
  EXPECT_EQ(rules.modal, "G21 G90 G17 G94");
  EXPECT_EQ(rules.ignore_words, (std::vector<std::string>{"M8", "M9"}));
  EXPECT_EQ(Rules("{rotary: {order: B, turns: tool}}").rotary->order, "B");
  const PathRules vector = Rules("{rotary: {vector: ijk}}");
  EXPECT_EQ(vector.rotary->order, "");
}

TEST(JobPartsYamlTest, PathRuleFaultsAreNamed) {
  ExpectRuleFault("{rotary: {order: [C, X], turns: tool}}", "a.yaml:2: path.rotary.order = CX", "letters out of A, B, C");
  ExpectRuleFault("{rotary: {order: CC, turns: tool}}", "path.rotary.order = CC", "each once");
  ExpectRuleFault("{rotary: {order: CA}}", "path.rotary.turns is missing", "tool");
  ExpectRuleFault("{rotary: {vector: ijk, order: CA}}", "path.rotary.order", "does not go with vector");
  ExpectRuleFault("{work_offsets: {53: {position: [0, 0, 0], rotation: {axis: [0, 0, 1], angle: 0}}}}", "path.work_offsets.53",
                  "whole number from 54 to 59");
  ExpectRuleFault("{length_offsets: {1: long}}", "path.length_offsets.1 = long", "must be a number");
  ExpectRuleFault("{length_offsets: {1: \"1,5\"}}", "path.length_offsets.1 = 1,5", "");
  EXPECT_THAT([] { Rules("{modal: G21}", "pose_table"); }, ThrowsMessage<InputError>(HasSubstr("path.modal goes with format iso6983 only")));
  EXPECT_THAT([] { Rules("{tool: 1, ignore_words: [M8]}", "pose_table"); },
              ThrowsMessage<InputError>(HasSubstr("path.ignore_words does not go with a pose_table")));
}

// Oracle: by hand. A program whose path zero lies at (5, 0, 0) with its length offset
// of 42 for a cutter that sticks out 40: 2 mm above the points as written.
TEST(JobPartsYamlTest, ProgramIsReadUnderTheRulesOfTheJob) {
  TinyJob tiny = TinyJob().Change("tiny.job.yaml", "{file: groove.csv, format: pose_table, tool: 1}",
                                  "{file: groove.nc, format: iso6983, modal: G21 G90 G17 G94, length_offsets: {1: 42}, "
                                  "work_offsets: {54: {position: [5, 0, 0], rotation: {axis: [0, 0, 1], angle: 0}}}, "
                                  "ignore_words: [Q]}");
  tiny.files["groove.nc"] =
      "T1 M06\nS12000 M03\nG04 P3\nG54 G43 H1\nG00 X10 Y20 Z60\nQ3\nG01 Z17 F300\nG04 P0.5\nX50\nG00 Z60\nM30\n";
  const Job job = Load(tiny);
  EXPECT_EQ(job.path_format, "iso6983");
  ASSERT_EQ(job.path.size(), 4u);
  EXPECT_NEAR((job.path[1].p_ST - Eigen::Vector3d(15, 20, 19)).norm(), 0, kTight);
  EXPECT_EQ(job.path[1].line, 7);
  EXPECT_NEAR(job.path[1].feed_mm_s, 5, kTight);
  EXPECT_EQ(job.path[0].dwell_s, 0);
  EXPECT_EQ(job.path[1].dwell_s, 0.5);
  EXPECT_EQ(job.path[2].spindle_rpm, 12000);
  ASSERT_FALSE(job.events.empty());
  EXPECT_EQ(job.events.back().kind, PathEventKind::kEnd);
  EXPECT_EQ(job.events.back().before, 4);
  ExpectFault(TinyJob(tiny).Change("tiny.job.yaml", "length_offsets: {1: 42}, ", ""), "groove.nc:4", "path.length_offsets.1");
  ExpectFault(With("ignore_words: [M8]\n"), "ignore_words belongs to the path", "path.ignore_words");
}

TEST(JobPartsYamlTest, RunsAreRead) {
  EXPECT_EQ(Load(TinyJob()).runs.how, RunsAs::How::kUnsaid);
  EXPECT_EQ(Load(With("runs: {as: joint_path}\n")).runs.how, RunsAs::How::kJointPath);
  const Job posed = Load(With("runs: {as: poses, start_posture: [0, 25, 109, 0, 46, 10]}\n"));
  EXPECT_EQ(posed.runs.how, RunsAs::How::kPoses);
  ASSERT_TRUE(posed.runs.start_posture.has_value());
  EXPECT_NEAR((*posed.runs.start_posture)[5], RadFromDeg(10), kTight);
  TinyJob logged = With("runs: {as: poses, read_back: log.csv}\n");
  logged.files["log.csv"] = "q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg\n0,25,109,0,46,0\n1,25,109,0,46,0\n";
  const Job job = Load(logged);
  ASSERT_EQ(job.runs.read_back.size(), 2u);
  EXPECT_EQ(job.runs.read_back[1].line, 3);
  EXPECT_NEAR(job.runs.read_back[1].q[0], RadFromDeg(1), kTight);
  EXPECT_EQ(job.inputs[3].role, "read-back");
  logged.files["log.csv"] = "q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg\n0,0.4,1.9,0,0.8,0\n";
  ExpectFault(logged, "log.csv:2", "look like radians");
  logged.files["log.csv"] = "q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg\n";
  ExpectFault(logged, "log.csv:1", "the log is empty");
  ExpectFault(With("runs: {as: joint_path, start_posture: [0, 25, 109, 0, 46, 10]}\n"), "runs.start_posture", "poses only");
  ExpectFault(With("runs: {as: poses, start_posture: [0, 25, 175, 0, 46, 10]}\n"), "runs.start_posture", "outside its range");
}

TEST(JobPartsYamlTest, ToolChangeMovesAreRead) {
  const Job job = Load(With("tool_change: {joints: [[0, 0, 90, 0, 0, 0], [1, 2, 3, 4, 5, 6]]}\n"));
  ASSERT_EQ(job.tool_change.size(), 2u);
  EXPECT_NEAR(job.tool_change[1][5], RadFromDeg(6), kTight);
}

TEST(JobPartsYamlTest, ScanIsReadOrSaidNotToBeOne) {
  EXPECT_EQ(Load(TinyJob()).scan.said, Declared::kUnsaid);
  EXPECT_EQ(Load(WithStock("scan: none")).scan.said, Declared::kNone);
  const StockScan scan =
      Load(WithStock("scan: {one_sided: true, seen_from: [0, 0, 2], thickness: {mm: 32, measured_at: [[0, 0], [120, 40]]}}")).scan;
  EXPECT_EQ(scan.said, Declared::kGiven);
  EXPECT_TRUE(scan.one_sided);
  EXPECT_EQ(*scan.seen_from_S, Eigen::Vector3d(0, 0, 1));
  EXPECT_EQ(scan.thickness_mm, 32);
  EXPECT_EQ(scan.thickness_at, (std::vector<Eigen::Vector2d>{{0, 0}, {120, 40}}));
  ExpectFault(WithStock("scan: {one_sided: true}"), "stock.scan.seen_from is missing", "direction");
  ExpectFault(WithStock("scan: {one_sided: maybe}"), "stock.scan.one_sided = maybe", "true or false");
  ExpectFault(WithStock("scan: {one_sided: false, thickness: {mm: 32, measured_at: []}}"), "measured_at is empty", "where");
}

// The block of the tiny job without walls and floor: its top, as a scan shows it.
TinyJob OpenBlock(const std::string& scan) {
  TinyJob tiny = WithStock(scan);
  std::string& ply = tiny.files["block.ply"];
  for (const char* face : {"4 0 3 2 1\n", "4 0 1 5 4\n", "4 1 2 6 5\n", "4 2 3 7 6\n", "4 3 0 4 7\n"}) ply = Replaced(ply, face, "");
  ply = Replaced(ply, "face 6", "face 1");
  return tiny;
}

// Oracle: the closed block of 60 x 40 x 20 mm.
TEST(JobPartsYamlTest, OpenScanBecomesABodyByThicknessOrBackingPlane) {
  const std::string one_sided = "scan: {one_sided: true, seen_from: [0, 0, 1], ";
  for (const char* back : {"thickness: {mm: 20, measured_at: [[30, 20]]}}", "backing_plane: {through: [7, 7, 0]}}"}) {
    const Job job = Load(OpenBlock(one_sided + back));
    const MeshReport report = Inspect(job.stock_S->mesh());
    EXPECT_TRUE(report.closed);
    EXPECT_NEAR(report.volume_mm3, 60.0 * 40.0 * 20.0, 1e-6);
    ASSERT_TRUE(job.stock_faces.back.has_value());
    EXPECT_EQ(job.stock_faces.origin.size(), job.stock_S->mesh().triangles.size());
    EXPECT_FALSE(job.stock_faces.ends_at_rim);
    EXPECT_NEAR(job.stock_S->SignedDistance({30, 20, 3}), -3.0, 1e-9);
  }
  EXPECT_TRUE(Load(OpenBlock(one_sided + "beside: air, thickness: {mm: 20, measured_at: [[30, 20]]}}")).stock_faces.ends_at_rim);
  EXPECT_TRUE(Load(TinyJob()).stock_faces.origin.empty());
  EXPECT_FALSE(Load(TinyJob()).stock_faces.back.has_value());
}

TEST(JobPartsYamlTest, OpenMeshThatIsNoScanOrHasNoBackIsRefused) {
  ExpectFault(OpenBlock("scan: none"), "stock.mesh = block.ply is not closed: 4 edges", "write stock.scan with one_sided: true");
  const std::string one_sided = "scan: {one_sided: true, seen_from: [0, 0, 1]";
  ExpectFault(OpenBlock(one_sided + "}"), "nothing says how thick the piece is", "stock.scan.thickness");
  ExpectFault(OpenBlock(one_sided + ", thickness: {mm: 5, measured_at: [[0, 0]]}, backing_plane: {through: [0, 0, 0]}}"),
              "backing_plane and thickness both say where the back is", "write the one that was measured");
  ExpectFault(OpenBlock(one_sided + ", backing_plane: {through: [0, 0, 21]}}"), "reaches 1 mm behind stock.scan.backing_plane", "mend");
  ExpectFault(OpenBlock(one_sided + ", backing_plane: {through: [0, 0, 0], normal: [0, 0, -1]}}"), "must point towards the scanner", "turn it round");
  ExpectFault(OpenBlock("scan: {one_sided: true, seen_from: [0, 0, -1], thickness: {mm: 5, measured_at: [[0, 0]]}}"),
              "looks away from its scanner", "stock.scan.seen_from");
  ExpectFault(OpenBlock(one_sided + ", beside: water}"), "stock.scan.beside = water", "");
}

// A block whose faces are spoilt is the same block, and what was spoilt is told.
TEST(JobPartsYamlTest, SmallDefectsOfAClosedStockAreSurvivedAndTold) {
  TinyJob tiny = WithStock("scan: none");
  std::string& ply = tiny.files["block.ply"];
  ply = Replaced(Replaced(ply, "face 6", "face 7"), "4 1 2 6 5\n", "4 5 6 2 1\n4 0 3 2 1\n");   // one turned, one twice
  const Job job = Load(tiny);
  EXPECT_EQ(job.stock_faces.defects.flipped, 2);      // two triangles a face
  EXPECT_EQ(job.stock_faces.defects.duplicate, 2);
  EXPECT_FALSE(job.stock_faces.back.has_value());
  EXPECT_NEAR(Inspect(job.stock_S->mesh()).volume_mm3, 48000.0, 1e-6);
  EXPECT_NEAR(job.stock_S->SignedDistance({30, 20, 3}), -3.0, 1e-9);
}

TEST(JobPartsYamlTest, MaterialTakesOneNumberOrThree) {
  const Job job = Load(With("material: {name: white oak, cutting_force_n_mm2: {tangential: 28, radial: 12, axial: 4}, "
                            "edge_force_n_mm: 3, band: 0.5, source: \"guess\"}\n"));
  ASSERT_TRUE(job.material.has_value());
  EXPECT_EQ(job.material->name, "white oak");
  EXPECT_EQ(job.material->cutting_force_n_mm2.radial, 12);
  EXPECT_EQ(job.material->cutting_force_n_mm2.axial, 4);
  EXPECT_EQ(job.material->edge_force_n_mm.tangential, 3);
  EXPECT_FALSE(job.material->edge_force_n_mm.radial.has_value());
  EXPECT_EQ(job.material->band, 0.5);
  EXPECT_EQ(job.material->source, "guess");
  ExpectFault(With("material: {name: oak, cutting_force_n_mm2: {radial: 1}}\n"), "material.cutting_force_n_mm2", "no tangential");
}

TEST(JobPartsYamlTest, AcceptedLimitsFollowTheDepthUntilGiven) {
  const AcceptLimits derived = Load(TinyJob()).accept;   // depth_mm: 0.2
  EXPECT_NEAR(derived.frame_mm.value, 0.2 / 3, kTight);
  EXPECT_NEAR(derived.tool_mm.value, 0.05, kTight);
  EXPECT_FALSE(derived.tool_mm.given);
  EXPECT_NEAR(derived.scallop_mm.value, 0.1, kTight);
  EXPECT_FALSE(derived.scallop_mm.given);
  const AcceptLimits given =
      Load(TinyJob().Change("tiny.job.yaml", "joint_margin_deg: 5}",
                            "joint_margin_deg: 5, piece_mm: 0.11, arm_model_mm: 0.12, arm_model_deg: 0.13, read_back_deg: 0.14, "
                            "frame_mm: 0.15, tool_mm: 0.16, wall_mm: 7, scallop_mm: 0.04, clamp_mm: 8, confidence: 0.9}")).accept;
  EXPECT_EQ(given.piece_mm.value, 0.11);
  EXPECT_EQ(given.arm_model_mm.value, 0.12);
  EXPECT_EQ(given.arm_model_deg.value, 0.13);
  EXPECT_EQ(given.read_back_deg.value, 0.14);
  EXPECT_EQ(given.frame_mm.value, 0.15);
  EXPECT_EQ(given.tool_mm.value, 0.16);
  EXPECT_EQ(given.wall_mm.value, 7);
  EXPECT_EQ(given.scallop_mm.value, 0.04);
  EXPECT_TRUE(given.scallop_mm.given);
  EXPECT_EQ(given.clamp_mm.value, 8);
  EXPECT_EQ(given.confidence.value, 0.9);
  EXPECT_TRUE(given.wall_mm.given && given.confidence.given && given.frame_mm.given);
}

}  // namespace
}  // namespace aircut::sim
