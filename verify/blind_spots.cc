#include "verify/blind_spots.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "verify/words.h"

namespace aircut::verify {
namespace {

const CheckResult* Find(const std::vector<CheckResult>& checks, const std::string& id) {
  const auto found = std::find_if(checks.begin(), checks.end(),
                                  [&](const CheckResult& c) { return c.id == id; });
  return found == checks.end() ? nullptr : &*found;
}

// A blind spot closes only when its check was settled.
bool Open(const std::vector<CheckResult>& checks, const std::string& id) {
  const CheckResult* check = Find(checks, id);
  return check == nullptr || check->result == Result::kUnproven;
}

std::vector<std::string> UnmeasuredCutters(const sim::Job& job) {
  std::set<int> used;
  for (const kinematics::PathLine& line : job.path) used.insert(line.tool);
  std::vector<std::string> numbers;
  for (const int number : used) {
    const auto found = job.cell.cutters.find(number);
    if (found == job.cell.cutters.end() || !found->second.measured ||
        !found->second.measured_diameter_mm) {
      numbers.push_back(std::to_string(number));
    }
  }
  return numbers;
}

void AddTool(const sim::Job& job, std::vector<BlindSpot>* spots) {
  const std::vector<std::string> typed = UnmeasuredCutters(job);
  if (typed.empty()) {
    spots->push_back({"The bit was changed or has slipped since it was measured.",
                      "Measure its stick-out again after the last tightening."});
    return;
  }
  spots->push_back({fmt::format("The bit in the collet is not the bit in the file: length or diameter "
                                "of cutter {} are typed, not measured.", List(typed)),
                    "Measure the stick-out with a setter and the diameter with a micrometer; a bit "
                    "1 mm longer cuts 1 mm deeper."});
}

void AddPiece(const std::vector<CheckResult>& checks, std::vector<BlindSpot>* spots) {
  const CheckResult* located = Find(checks, "piece-located");
  if (located == nullptr || located->result == Result::kUnproven) {
    spots->push_back({"The piece lies elsewhere than the file says: a wrong work frame moves path "
                      "and piece together and the depth stays perfect on paper.",
                      "With the spindle stopped, touch three points spread over the work and "
                      "compare the height that the panel shows with the file."});
    return;
  }
  if (!located->needs.empty()) {
    spots->push_back({"The piece is shifted in a way that the touched points do not settle.",
                      "Touch two edges that stand across each other as well."});
  }
  spots->push_back({"The piece moved since it was touched.",
                    "Touch two of the points again just before the cut."});
}

void AddProgram(const sim::Job& job, std::vector<BlindSpot>* spots) {
  const auto path = std::find_if(job.inputs.begin(), job.inputs.end(),
                                 [](const sim::InputFile& f) { return f.role == "path"; });
  const bool hashed = path != job.inputs.end() && !path->sha256.empty();
  spots->push_back({"The program was edited after this run, or another one is loaded.",
                    hashed ? fmt::format("Compare the SHA-256 of the loaded file with {}...{} ({}).",
                                         path->sha256.substr(0, 8),
                                         path->sha256.substr(path->sha256.size() > 4
                                                                 ? path->sha256.size() - 4 : 0),
                                         path->file)
                           : "Compare the loaded file with the one named in this report."});
}

// Spots that stay until a check of the catalogue is computed and settled.
struct UntilChecked {
  const char* check;
  const char* text;
  const char* test;
};

constexpr UntilChecked kUntilChecked[] = {
    {"joint-path", "The controller takes another posture or another way between lines than was "
                   "computed here.",
     "Log the joint values of a slow air pass and compare them with moments.csv."},
    {"arm-model", "The arm is not the arm in the file: link lengths, joint zeros or signs differ.",
     "Jog to three poses far apart and compare the panel's position with the model's."},
    {"frame-fit", "The work frame was typed or poorly fitted: where it was found is not where the "
                  "work is.",
     "Touch a mark on the piece that the frame was not made from, near the work, and compare it with "
     "the file."},
    {"payload", "The arm carries more than it may, or its load data are wrong: it sags, shakes or "
                "stops.",
     "Weigh the tool with holder, bracket and hoses, and compare it with the load data in the "
     "controller."},
    {"scan-support", "The scan guesses under the cut: holes that were filled, spikes, sides that it "
                     "never saw.",
     "Lay the scan beside the piece and touch the surface at three places along the cut."},
    {"bodies-declared", "Hoses, cables, a dust hood or a thing left in the cell get in the way.",
     "Walk round the cell with the list of bodies in this report; watch the cables in the slow "
     "air pass."},
    {"events", "Spindle, tool and coolant are switched in the wrong order, or the spindle has not "
               "run up at the first cut.",
     "Run the first lines in the air and listen for the spindle before the first plunge."},
    {"holding", "The fixture gives way, or the piece slips under the cutter.",
     "Push the piece by hand or with a spring scale in three directions with a dial on it."},
    {"deflection", "Arm, fixture and bit bend under the cutting force.",
     "Cut a short trial groove in scrap of the same material, held the same way, and measure its "
     "depth."},
    {"corner-rounding", "The controller rounds corners and looks ahead only so far.",
     "Run a small square in the air at full feed with a pen or a dial and measure its corners."},
    {"lost-motion", "Joints lose motion when they reverse.",
     "Draw a circle with a pen at the work's place and look for flats."},
    {"clamp-zone", "The cutter comes near clamps or screws that the cell does not describe as such.",
     "Mark the clamps on the piece and watch them in the slow air pass."},
    {"break-through", "The cut breaks through at a thin place.",
     "Measure the thickness with a caliper at the deepest places."},
    {"slow-air-pass", "Starting again in mid-path, or drawing back after a stop, was not looked at.",
     "After any stop draw back along the tool axis by hand and start from the first line."},
};

}  // namespace

std::vector<BlindSpot> BlindSpotsOf(const sim::Job& job, const std::vector<CheckResult>& checks) {
  std::vector<BlindSpot> spots;
  AddTool(job, &spots);
  AddPiece(checks, &spots);
  AddProgram(job, &spots);
  for (const UntilChecked& u : kUntilChecked) {
    if (Open(checks, u.check)) spots.push_back({u.text, u.test});
  }
  if (job.cell.switched == sim::SpindleSwitch::kOutside) {
    spots.push_back({"The spindle is switched on by hand: the path does not show whether it turns, how "
                     "fast and which way.",
                     "Before the first plunge see that it turns, read its speed and sign for it."});
  }
  spots.push_back({"How far the arm runs on after an emergency stop, and who stands there.",
                   "Measure the stop distance; local codes decide what follows from it."});
  return spots;
}

}  // namespace aircut::verify
