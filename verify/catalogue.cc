#include <algorithm>
#include <array>
#include <string_view>

#include "sim/check_ids.h"
#include "verify/check.h"
#include "verify/checks.h"

namespace aircut::verify {
namespace {

// What a check asks, and how, for every id of sim/check_ids.h.
struct Asked {
  std::string_view id;
  const char* asks;
  CheckResult (*run)(const CheckInputs&);
};

constexpr std::array<Asked, 42> kAsked = {{
    {"arm-model", "Do read-outs of the arm agree with its model?", CheckArmModel},
    {"joint-path", "Is the motion checked the one the arm will run?", CheckJointPath},
    {"piece-located", "Does the piece lie where the file says?", CheckPieceLocated},
    {"frame-fit", "How well do the fitted frames fit?", CheckFrameFit},
    {"tool-measured", "Is the bit in the collet the bit in the file?", CheckToolMeasured},
    {"bodies-declared", "Is every body in the cell given, or said to be absent?", CheckBodiesDeclared},
    {"scan-support", "Does the scan hold under the cut?", CheckScanSupport},
    {"payload", "Does the arm carry its tool within its limit?", CheckPayload},
    {"inputs", "Do path, stock and design fit in place and scale?", CheckInputFiles},
    {"events", "Are spindle, tool, dwell and coolant in order?", CheckEvents},
    {"reach", "Does the arm reach every line?", CheckReach},
    {"joint-range", "Does every joint keep its margin?", CheckJointRange},
    {"joint-speed", "Does the written feed ask more than the joints can?", CheckJointSpeed},
    {"posture-change", "Does the arm keep its posture through a cut?", CheckPostureChange},
    {"clash", "Does anything touch that must not?", CheckClash},
    {"rapid-contact", "Does a rapid go through material?", CheckRapidContact},
    {"stopped-contact", "Does the spindle turn rightly in the material?", CheckStoppedContact},
    {"body-contact", "Does anything but the flutes touch the piece?", CheckBodyContact},
    {"gouge", "Is anything cut too deep?", CheckGouge},
    {"clamp-zone", "Does the cut keep away from the clamps?", CheckClampZone},
    {"break-through", "Does enough material stay under the cut?", CheckBreakThrough},
    {"depth", "Is the depth right over the carving?", CheckDepth},
    {"leftover", "Is anything left standing?", CheckLeftover},
    {"scallop", "How high are the ridges between passes?", CheckScallop},
    {"clearance", "Do bodies keep their distance?", CheckClearance},
    {"flute-length", "Do the flutes reach as high as the cut?", CheckFluteLength},
    {"plunge", "Are plunges within what the cutter bears?", CheckPlunge},
    {"joint-acceleration", "Does the feed ask too much acceleration?", CheckJointAcceleration},
    {"feed-held", "Is the feed held where the chip needs it?", CheckFeedHeld},
    {"corner-rounding", "How far does the controller cut corners?", CheckCornerRounding},
    {"singularity", "Does a singular pose cost speed or accuracy?", CheckSingularity},
    {"wrist-winding", "Does the wrist wind up?", CheckWristWinding},
    {"chip-load", "Does the chip stay in its range?", CheckChipLoad},
    {"spindle-load", "Does the spindle have the power?", CheckSpindleLoad},
    {"tool-strength", "Does the cutter bear the force?", CheckToolStrength},
    {"deflection", "How far do arm, fixture and cutter bend?", CheckDeflection},
    {"holding", "Do the clamps hold?", CheckHolding},
    {"lost-motion", "How much do reversals of the joints cost?", CheckLostMotion},
    {"shaking", "Does the cut shake the arm?", CheckShaking},
    {"depth-confidence", "How sure is the depth, all uncertainties included?", CheckDepthConfidence},
    {"cycle-time", "How long does the job take?", CheckCycleTime},
    {"slow-air-pass", "Can the raised, slow path be run first?", CheckSlowAirPass},
}};

// Required where a job names none, beside premises and hazard checks.
// Source: design, section 5.
constexpr std::array<std::string_view, 6> kDefaultQuality = {
    "depth", "leftover", "flute-length", "chip-load", "deflection", "cycle-time"};

Group GroupOf(sim::CheckGroup group) {
  switch (group) {
    case sim::CheckGroup::kPremise: return Group::kPremise;
    case sim::CheckGroup::kHazard: return Group::kHazard;
    case sim::CheckGroup::kQuality: break;
  }
  return Group::kQuality;
}

bool IsRequired(const sim::Job& job, const CheckEntry& entry) {
  if (job.require_given) {
    return std::find(job.require.begin(), job.require.end(), entry.id) != job.require.end();
  }
  if (entry.group != Group::kQuality) return true;
  return std::find(kDefaultQuality.begin(), kDefaultQuality.end(), entry.id) !=
         kDefaultQuality.end();
}

std::vector<CheckEntry> MakeCatalogue() {
  std::vector<CheckEntry> entries;
  for (const sim::CheckId& id : sim::kCheckIds) {
    const auto asked = std::find_if(kAsked.begin(), kAsked.end(),
                                    [&](const Asked& a) { return a.id == id.id; });
    CheckEntry entry;
    entry.id = std::string(id.id);
    entry.group = GroupOf(id.group);
    if (asked != kAsked.end()) {
      entry.asks = asked->asks;
      entry.run = asked->run;
    }
    entries.push_back(entry);
  }
  return entries;
}

}  // namespace

const std::vector<CheckEntry>& Catalogue() {
  static const std::vector<CheckEntry> entries = MakeCatalogue();   // immutable
  return entries;
}

std::vector<CheckResult> RunChecks(const CheckInputs& inputs) {
  std::vector<CheckResult> results;
  for (const CheckEntry& entry : Catalogue()) {
    CheckResult result = entry.run(inputs);
    result.id = entry.id;
    result.group = entry.group;
    result.required = IsRequired(inputs.job, entry);
    for (Finding& finding : result.findings) finding.check = entry.id;
    results.push_back(std::move(result));
  }
  return results;
}

}  // namespace aircut::verify
