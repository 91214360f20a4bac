#include "sim/path_copy.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using kinematics::MoveKind;
using test::TempFolder;
using test::TinyJob;

// A job whose path leans, turns, waits and changes speed, with both cutters that
// can be computed; its spin differs from line to line.
std::string PathText() {
  return "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,tool,move,dwell_s\n"
         "10,20,60,0,0,1,0,0,1,rapid,0\n"
         "10,20,23,0,0.6,0.8,0,12000,1,rapid,3.5\n"
         "10,20,19.123456789,0,0.6,0.8,300,12000,1,cut,0\n"
         "50,20,19,0.28,0,0.96,612.7,9000.5,1,cut,0.25\n"
         "50,20,60,0,0,1,0,9000.5,1,rapid,0\n"
         "40,10,60,0,0,1,0,0,3,rapid,0\n"
         "40,10,21,0,0,1,400,15000,3,cut,0\n";
}

TinyJob Scene() {
  TinyJob files;
  files.files["groove.csv"] = PathText();
  files.Change("tiny.job.yaml", "tool: 1}", "}");
  files.Change("tiny.cell.yaml", "  2: {shape: flat",
               "  3: {shape: ball, diameter: 8, flutes: 2, flute_length: 20, shank_diameter: 8, stick_out: 45, "
               "holder: none, control_point: ball_centre, hand: right}\n  2: {shape: flat");
  files.Change("tiny.job.yaml", "resolution_mm", "write: [joint_path, pose_table, iso6983, cutter_location]\nresolution_mm");
  return files;
}

// Orientations with the lines' own axes and a spin of their own.
std::vector<Eigen::Matrix3d> Turns(const Job& job) {
  std::vector<Eigen::Matrix3d> turns;
  for (std::size_t i = 0; i < job.path.size(); ++i) {
    const Eigen::Matrix3d R = kinematics::RotationFromAxis(job.path[i].axis_S, Eigen::Vector3d(-1, 0.2, 0.1));
    turns.push_back(R * Eigen::AngleAxisd(0.4 * static_cast<double>(i) - 1.0, Eigen::Vector3d::UnitZ()));
  }
  return turns;
}

struct Case {
  std::string format, file, keys;
};
const Case kCases[] = {{"pose_table", "path.csv", ""},
                       {"iso6983", "path.iso", ", rotary: {order: [C, B, A], turns: tool}"},
                       {"cutter_location", "path.cl", ", second_vector: tool_x"}};

Job ReadCopy(const TempFolder& folder, TinyJob files, const Case& c, const std::string& text) {
  files.Change("tiny.job.yaml", "path: {file: groove.csv, format: pose_table, }",
               "path: {file: " + c.file + ", format: " + c.format + c.keys + "}");
  files.Change("tiny.job.yaml", "spin: {rule: fixed, toward: [-1, 0, 0]}", "spin: {rule: as_written}");
  files.files[c.file] = text;
  return LoadJob(files.WriteTo(folder, c.format + "/"), {});
}

void ExpectSamePath(const Job& got, const Job& meant, const std::vector<Eigen::Matrix3d>& turns) {
  ASSERT_EQ(got.path.size(), meant.path.size());
  for (std::size_t i = 0; i < meant.path.size(); ++i) {
    const kinematics::PathLine &a = got.path[i], &b = meant.path[i];
    EXPECT_LE((a.p_ST - b.p_ST).norm(), 1e-11) << i;   // the control point lies at most 4 mm off
    ASSERT_TRUE(a.R_ST) << i;
    EXPECT_LE((*a.R_ST - turns[i]).cwiseAbs().maxCoeff(), 1e-12) << i;
    EXPECT_LE((a.axis_S - b.axis_S).norm(), 1e-12) << i;
    EXPECT_EQ(a.move, b.move) << i;
    if (b.move == MoveKind::kCut) {
      EXPECT_NEAR(a.feed_mm_s, b.feed_mm_s, 1e-14 * b.feed_mm_s) << i;
    }
    EXPECT_EQ(a.spindle_rpm, b.spindle_rpm) << i;
    EXPECT_EQ(a.tool, b.tool) << i;
    EXPECT_EQ(a.dwell_s, b.dwell_s) << i;
  }
}

// Oracle: the job's own path. Each copy is declared in a job as its head says, read
// by that format's reader, and must give the same poses, spin included.
TEST(PathCopyTest, EveryFormatReadsBackToThePlannedPoses) {
  const TempFolder folder;
  const Job job = LoadJob(Scene().WriteTo(folder), {});
  ASSERT_EQ(job.write.size(), 4u);
  const std::vector<Eigen::Matrix3d> turns = Turns(job);
  const std::vector<PathCopyFile> files = WritePathCopies(job, turns);
  ASSERT_EQ(files.size(), 3u);   // the joint path is a table of moments
  for (std::size_t k = 0; k < files.size(); ++k) {
    SCOPED_TRACE(kCases[k].format);
    ASSERT_EQ(files[k].file, kCases[k].file);
    ASSERT_TRUE(files[k].why_not.empty()) << files[k].why_not;
    ExpectSamePath(ReadCopy(folder, Scene(), kCases[k], files[k].text), job, turns);
  }
}

// A path of program words, with a written time, coolant, a stop, and an order that
// only the job's defaults give.
TEST(PathCopyTest, APathOfWordsReadsBackThroughEveryFormat) {
  TinyJob files = Scene();
  files.files["groove.iso"] =
      "%\nG21 G90 G17 G94\nT1 M06\nG00 X10 Y20 Z60\nM08\nS12000 M03\nG04 P3\nG01 Z19 F300\nM00\nG93\n"
      "G01 X50 F30\nG94\nG00 Z60\nM09\nT3 M06\nG00 X10 Y20 Z60\nM05\nM30\n%\n";
  files.Change("tiny.job.yaml", "file: groove.csv, format: pose_table, }", "file: groove.iso, format: iso6983}");
  const TempFolder folder;
  const Job job = LoadJob(files.WriteTo(folder), {});
  ASSERT_TRUE(job.path[2].duration_s);
  const std::vector<Eigen::Matrix3d> turns = Turns(job);
  const std::vector<PathCopyFile> copies = WritePathCopies(job, turns);
  for (std::size_t k = 0; k < copies.size(); ++k) {
    SCOPED_TRACE(kCases[k].format);
    ASSERT_TRUE(copies[k].why_not.empty()) << copies[k].why_not;
    const Job back = ReadCopy(folder, Scene(), kCases[k], copies[k].text);
    ExpectSamePath(back, job, turns);
    if (k == 0) continue;
    ASSERT_TRUE(back.path[2].duration_s);
    EXPECT_NEAR(*back.path[2].duration_s, 2.0, 1e-14);
    const auto count = [](const Job& of, PathEventKind kind) {
      return std::count_if(of.events.begin(), of.events.end(), [&](const PathEvent& e) { return e.kind == kind; });
    };
    for (const PathEventKind kind : {PathEventKind::kCoolant, PathEventKind::kStop, PathEventKind::kTool}) {
      EXPECT_EQ(count(back, kind), count(job, kind));
    }
  }
  EXPECT_THAT(copies[0].left_out, testing::ElementsAre("coolant", "stops for a person"));
  EXPECT_TRUE(copies[1].left_out.empty() && copies[2].left_out.empty());
}

// A turn on the spot has no feed that words or columns could say.
TEST(PathCopyTest, WhatAFormatCannotSayIsToldInsteadOfWritten) {
  const TempFolder folder;
  Job job = LoadJob(Scene().WriteTo(folder), {});
  job.path[3].p_ST = job.path[2].p_ST;
  job.path[3].axis_S = job.path[2].axis_S;
  const std::vector<PathCopyFile> copies = WritePathCopies(job, Turns(job));
  EXPECT_FALSE(copies[0].text.empty());
  EXPECT_THAT(copies[1].why_not, testing::HasSubstr("degrees a minute"));
  EXPECT_TRUE(copies[1].text.empty());
  EXPECT_FALSE(copies[2].text.empty());
}

TEST(PathCopyTest, APathThatWasNotPlannedIsNotWritten) {
  const TempFolder folder;
  const Job job = LoadJob(Scene().WriteTo(folder), {});
  for (const PathCopyFile& copy : WritePathCopies(job, {})) {
    EXPECT_TRUE(copy.text.empty());
    EXPECT_THAT(copy.why_not, testing::HasSubstr("not planned"));
  }
  Job plain = job;
  plain.write.clear();
  EXPECT_TRUE(WritePathCopies(plain, Turns(job)).empty());
}

}  // namespace
}  // namespace aircut::sim
