// No pass by omission (design, section 1): for every hazard check, a job that
// leaves it out of `require:` and fails it exits 1; one that leaves it out and
// passes it exits 3 and names it. The faults are made in the files, so each is
// its own oracle.
#include <functional>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using testing::HasSubstr;

struct Hazard {
  std::string id;
  std::function<void(TinyJob&)> fault;   // makes this check fail
};

void PrintTo(const Hazard& hazard, std::ostream* out) { *out << hazard.id; }

std::function<void(TinyJob&)> Change(const std::string& file, const std::string& from, const std::string& to) {
  return [=](TinyJob& tiny) { tiny.Change(file, from, to); };
}

const char kJob[] = "tiny.job.yaml";
const char kCell[] = "tiny.cell.yaml";
const char kPath[] = "groove.csv";
const char kFirstCut[] = "\n10,20,19,0,0,1,300,12000,cut\n";

const std::vector<Hazard>& Hazards() {
  static const std::vector<Hazard> hazards = {
      // The path lies a metre off the stock.
      {"inputs", Change(kJob, "path: {file: groove.csv, format: pose_table, tool: 1}",
                        "path: {file: groove.csv, format: pose_table, tool: 1, at: {position: [0, 400, 0], "
                        "rotation: {axis: [0, 0, 1], angle: 0}}}")},
      {"events", Change(kCell, "run_up_s: 0.1", "run_up_s: 60")},
      {"reach", Change(kCell, "in_world: {position: [1000, -20, 250]", "in_world: {position: [2000, -20, 250]")},
      // Joint 1 keeps less than the margin that is asked for.
      {"joint-range", Change(kJob, "joint_margin_deg: 5", "joint_margin_deg: 80")},
      {"joint-speed", Change(kPath, "\n30,20,19,0,0,1,600,12000,cut\n", "\n30,20,19,0,0,1,600000,12000,cut\n")},
      // In the middle of a cut, lifted off the block, the tool leans over, which joint 5
      // can follow in another posture only.
      {"posture-change", [](TinyJob& tiny) {
         tiny.Change(kCell, "range: [-120, 120]", "range: [45, 120]");
         tiny.Change(kPath, "\n30,20,19,0,0,1,600,12000,cut\n",
                     "\n30,20,19,-0.7071067811865476,0,0.7071067811865476,600,12000,cut\n");
         std::string& path = tiny.files.at(kPath);
         for (std::size_t at = path.find(",20,19,"); at != std::string::npos; at = path.find(",20,19,", at)) {
           path.replace(at, 7, ",20,49,");
         }
       }},
      {"clash", Change(kCell, "min: [1800, -1000, 0], max: [1850, 1000, 2000]",
                       "min: [600, -1000, 0], max: [650, 1000, 2000]")},
      {"rapid-contact", Change(kPath, kFirstCut, "\n10,20,19,0,0,1,300,12000,rapid\n")},
      {"stopped-contact", Change(kPath, "\n30,20,19,0,0,1,600,12000,cut\n", "\n30,20,19,0,0,1,600,0,cut\n")},
      // At one place the groove is 6 mm deep and the holder comes down on the block.
      {"body-contact", [](TinyJob& tiny) {
         tiny.Change(kCell, "flute_length: 22, shank_diameter: 6, stick_out: 40, holder: [{diameter: 28",
                     "flute_length: 3, shank_diameter: 6, stick_out: 3.5, holder: [{diameter: 28");
         tiny.Change(kCell, "measured: {stick_out: 40}", "measured: {stick_out: 3.5}");
         tiny.Change(kPath, "\n30,20,19,0,0,1,600,12000,cut\n", "\n30,20,14,0,0,1,600,12000,cut\n");
         tiny.Change(kJob, "resolution_mm: 0.25", "resolution_mm: 1");   // deep overlaps take their time
       }},
      {"gouge", Change(kJob, "depth_below_stock: 1.0", "depth_below_stock: 0.5")},
      {"clamp-zone", Change(kCell, "  clamps: none\n",
                            "  clamps: [{at: [30, 30, 20], direction: [0, 0, -1], force_n: 500, friction: 0.3, "
                            "box: {min: [25, 24, 20], max: [35, 40, 24]}}]\n")},
      // 19 mm stay under the cut.
      {"break-through", Change(kJob, "accept: {", "accept: {wall_mm: 19.5, ")},
  };
  return hazards;
}

class OmissionTest : public testing::TestWithParam<Hazard> {};

void LeaveOut(const std::string& id, TinyJob& tiny) {
  std::string& job = tiny.files.at(kJob);
  const std::size_t list = job.find("require: [");
  const std::string front = "[" + id + ", ", later = ", " + id;
  const std::size_t first = job.find(front, list), other = job.find(later, list);
  if (first != std::string::npos) {
    job.erase(first + 1, front.size() - 1);
  } else {
    job.erase(other, later.size());
  }
}

TEST_P(OmissionTest, LeftOutAndPassedIsUnprovenAndNamed) {
  const TempFolder folder;
  TinyJob tiny;
  LeaveOut(GetParam().id, tiny);
  const Outcome outcome = RunAircut("dryrun " + tiny.WriteTo(folder) + " --quiet");
  EXPECT_EQ(outcome.code, 3) << outcome.out << outcome.err;
  EXPECT_THAT(outcome.out, HasSubstr("leaves out 1 hazard check (" + GetParam().id + ")"));
}

TEST_P(OmissionTest, LeftOutAndFailedFailsTheJob) {
  const TempFolder folder;
  TinyJob tiny;
  GetParam().fault(tiny);
  LeaveOut(GetParam().id, tiny);
  const Outcome outcome = RunAircut("dryrun " + tiny.WriteTo(folder) + " --quiet");
  EXPECT_EQ(outcome.code, 1) << outcome.out << outcome.err;
  EXPECT_THAT(outcome.out, HasSubstr("  fail      " + GetParam().id)) << outcome.out;
}

INSTANTIATE_TEST_SUITE_P(Hazards, OmissionTest, testing::ValuesIn(Hazards()), [](const auto& one) {
  std::string name = one.param.id;
  for (char& c : name) c = c == '-' ? '_' : c;
  return name;
});

}  // namespace
}  // namespace aircut::test
