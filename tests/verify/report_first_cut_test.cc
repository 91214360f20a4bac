#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "tests/support/made_report.h"
#include "verify/report_json_parts.h"

namespace aircut::verify {
namespace {

using support::MadeReport;
using support::MakeReport;

// A slow air pass along the made motion, 50 mm up; the elbow goes faster than the tool.
void PutPass(MadeReport* made) {
  sim::AirPass pass;
  pass.raise_mm = 50;
  pass.motion.tracks = {support::MadeTrack(50)};
  pass.fastest_of = {{180.2, 0, 10}, {60, 1, 10}, {201.3, 2, 11}, {190, 3, 12}, {100, 4, 12}, {90, 5, 12}, {90, 6, 12}};
  pass.fastest = pass.fastest_of[2];
  pass.swept_W = Eigen::AlignedBox3d(Eigen::Vector3d(-900, -700, 0), Eigen::Vector3d(900, 800, 2100));
  made->run.air_pass = pass;
  CheckResult check = support::MadeCheck("slow-air-pass", Group::kQuality, Result::kPass);
  made->checks.push_back(check);
}

// The third sweep is the first to touch, 2 mm deep, on a piece that lies 1 mm higher than
// the frame says.
void PutContact(MadeReport* made) {
  made->job.cell.X_WS = kinematics::Pose(Eigen::Translation3d(1000, 0, 500));
  made->run.X_WS_actual = kinematics::Pose(Eigen::Translation3d(1000, 0, 501));
  made->run.track.time_s = {0, 1, 2, 3};
  made->run.track.p_ST = {{0, 0, 30}, {0, 0, 20}, {0, 0, 10}, {5, 6, -3}};
  made->run.track.sweeps.resize(3);
  made->run.track.sweeps[2].line = 812;
  made->run.cut.contact.sweeps.resize(3);
  made->run.cut.contact.sweeps[2].removed_units = 4;
}

std::string ToldOn(const Json& lines, const std::string& ask) {
  for (const Json& line : lines) {
    if (line["ask"].get<std::string>().rfind(ask, 0) == 0) return line["told"];
  }
  return "no such line";
}

// Oracle: SAF-01 and the pass: speeds rounded up, the elbow the faster of its two ends.
TEST(ReportFirstCutTest, SlowAirPassTellsToolAndElbowAgainstReducedSpeed) {
  MadeReport made = MakeReport();
  PutPass(&made);
  const Json cut = FirstCutJson(made.Context());
  EXPECT_EQ(cut["air_pass"]["elbow_mm_s"], 201.3);
  EXPECT_EQ(cut["air_pass"]["limit_mm_s"], 250.0);
  const std::string told = ToldOn(cut["from_run"], "Slow air pass");
  for (const char* words : {"of the tool 181\u00a0mm/s", "of the elbow 202\u00a0mm/s", "against 250\u00a0mm/s"}) {
    EXPECT_NE(told.find(words), std::string::npos) << words << " in " << told;
  }
  EXPECT_NE(ToldOn(cut["from_run"], "The space swept").find("(−900, −700, 0)\u00a0mm to (900, 800, 2,100)\u00a0mm"), std::string::npos);
}

// Oracle: by hand: what lies at z = -3 on a piece that lies 1 mm high stands at -2 in the
// frame that the controller holds; the check point is 50 mm above it.
TEST(ReportFirstCutTest, FirstContactStandsInTheFrameOfThePanel) {
  MadeReport made = MakeReport();
  PutPass(&made);
  PutContact(&made);
  const Json cut = FirstCutJson(made.Context());
  EXPECT_EQ(cut["first_contact"]["line"], 812);
  EXPECT_NEAR(cut["first_contact"]["work_frame_mm"][2].get<double>(), -2.0, 1e-9);
  EXPECT_NEAR(cut["first_contact"]["on_piece_mm"][2].get<double>(), -3.0, 1e-9);
  EXPECT_NEAR(cut["check_point"]["work_frame_mm"][2].get<double>(), 48.0, 1e-9);
  EXPECT_EQ(cut["check_point"]["gap_mm"], 50.0);
  EXPECT_NE(ToldOn(cut["from_run"], "First contact").find("height z −2.0\u00a0mm in the work frame"), std::string::npos);
}

// What the run does not know it does not fill in.
TEST(ReportFirstCutTest, FailedPassAndNoContactLeaveTheirLinesOpen) {
  MadeReport made = MakeReport();
  PutPass(&made);
  made.checks.back().result = Result::kFail;
  const Json cut = FirstCutJson(made.Context());
  EXPECT_TRUE(cut["air_pass"].is_null());
  EXPECT_TRUE(cut["first_contact"].is_null());
  EXPECT_TRUE(cut["check_point"].is_null());
  EXPECT_TRUE(cut["distances"].is_null());
  EXPECT_EQ(ToldOn(cut["from_run"], "The space swept"), "not known");
  EXPECT_NE(ToldOn(cut["from_run"], "First contact").find("meets no material"), std::string::npos);
}

}  // namespace
}  // namespace aircut::verify
