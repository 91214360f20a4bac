#include "verify/lines_to_sign.h"

#include <cmath>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "verify/words.h"

namespace aircut::verify {
namespace {

void AddSpindle(const sim::Job& job, std::vector<std::string>* lines) {
  if (job.cell.switched != sim::SpindleSwitch::kOutside) return;
  std::set<std::pair<int, double>> said;
  for (const kinematics::PathLine& line : job.path) {
    if (line.spindle_rpm == 0.0 || !said.insert({line.tool, line.spindle_rpm}).second) continue;
    lines->push_back(fmt::format(
        "The spindle is switched by hand: cutter {} turns {} (seen from the spindle) at {} rpm and has run up before "
        "{}.", line.tool, line.spindle_rpm > 0.0 ? "clockwise" : "anticlockwise",
        Count(std::llround(std::abs(line.spindle_rpm))), Lines(line.line, line.line)));
  }
}

void AddStops(const sim::Job& job, std::vector<std::string>* lines) {
  constexpr std::size_t kMost = 10;
  std::vector<std::string> places;
  for (const sim::PathEvent& event : job.events) {
    const bool waits = event.kind == sim::PathEventKind::kStop || event.kind == sim::PathEventKind::kOptionalStop;
    if (waits) places.push_back(std::to_string(event.line));
  }
  if (places.empty()) return;
  lines->push_back(fmt::format("The program waits for a person at {} {}: who goes on looks that the cell is clear "
                               "first.", places.size() == 1 ? "line" : "lines", List(places, kMost)));
}

// The load diagram is no input: the weight is checked, the moment is not.
void AddPayload(const sim::Job& job, std::vector<std::string>* lines) {
  if (!job.cell.payload) return;
  lines->push_back("The moment of all that the flange carries lies within the arm's load diagram (see payload).");
}

void AddJointPath(const sim::Job& job, std::vector<std::string>* lines) {
  if (job.runs.how != sim::RunsAs::How::kJointPath) return;
  lines->push_back("The arm runs joint_path.csv of this report and nothing else; its SHA-256 stands in report.json.");
}

}  // namespace

std::vector<std::string> LinesToSign(const sim::Job& job) {
  std::vector<std::string> lines;
  AddSpindle(job, &lines);
  AddPayload(job, &lines);
  AddJointPath(job, &lines);
  AddStops(job, &lines);
  return lines;
}

}  // namespace aircut::verify
