#include <algorithm>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "verify/check.h"

namespace aircut::verify {
namespace {

using support::MadeRun;
using support::MakeRun;

// Oracle: the design, section 6, typed from the page.
const std::vector<std::string> kPremises = {"arm-model",     "joint-path",      "piece-located",
                                            "frame-fit",     "tool-measured",   "bodies-declared",
                                            "scan-support",  "payload"};
const std::vector<std::string> kHazards = {
    "inputs", "events",        "reach",           "joint-range",  "joint-speed", "posture-change",
    "clash",  "rapid-contact", "stopped-contact", "body-contact", "gouge",       "clamp-zone",
    "break-through"};
const std::vector<std::string> kQualities = {
    "depth",       "leftover",      "scallop",      "clearance",     "flute-length",
    "plunge",      "joint-acceleration", "feed-held", "corner-rounding", "singularity",
    "wrist-winding", "chip-load",   "spindle-load", "tool-strength", "deflection",
    "holding",     "lost-motion",   "shaking",      "depth-confidence", "cycle-time",
    "slow-air-pass"};
std::vector<std::string> IdsOf(Group group) {
  std::vector<std::string> ids;
  for (const CheckEntry& e : Catalogue()) {
    if (e.group == group) ids.push_back(e.id);
  }
  return ids;
}

TEST(CatalogueTest, HoldsTheIdsOfTheDesignInOrder) {
  EXPECT_EQ(IdsOf(Group::kPremise), kPremises);
  EXPECT_EQ(IdsOf(Group::kHazard), kHazards);
  EXPECT_EQ(IdsOf(Group::kQuality), kQualities);
}

TEST(CatalogueTest, EachIsComputedAndAsksAQuestion) {
  for (const CheckEntry& e : Catalogue()) {
    EXPECT_FALSE(e.asks.empty()) << e.id;
    EXPECT_TRUE(e.run) << e.id;
  }
}

std::vector<CheckResult> Results(const MadeRun& made) {
  const Deviation deviation = Measure(made.job, made.run);
  return RunChecks({made.job, made.run, deviation});
}

const CheckResult& Of(const std::vector<CheckResult>& results, const std::string& id) {
  return *std::find_if(results.begin(), results.end(),
                       [&](const CheckResult& r) { return r.id == id; });
}

// All of the made run's samples are cut by one sweep: there is no ridge to measure; and
// nobody says how true its arm is.
TEST(RunChecksTest, MadeRunPassesAllThatItsInputsSettle) {
  for (const CheckResult& r : Results(MakeRun())) {
    const bool settled = r.id != "scallop" && r.id != "depth-confidence";
    EXPECT_EQ(r.result, settled ? Result::kPass : Result::kUnproven) << r.id << ": " << r.why;
    EXPECT_FALSE(r.why.empty()) << r.id;
    EXPECT_EQ(r.worst && r.bound && (r.limit || r.id == "cycle-time"), r.id != "scallop") << r.id;
  }
}

// Oracle: the design, section 5, the default of `require:`.
TEST(RunChecksTest, WithoutRequireTheDefaultSetIsRequired) {
  for (const CheckResult& r : Results(MakeRun())) {
    const std::vector<std::string> quality = {"depth",     "leftover",   "flute-length",
                                              "chip-load", "deflection", "cycle-time"};
    const bool expected =
        r.group == Group::kPremise || r.group == Group::kHazard ||
        std::count(quality.begin(), quality.end(), r.id) > 0;
    EXPECT_EQ(r.required, expected) << r.id;
  }
}

// What the job names is what is marked as asked; hazard checks run all the same.
TEST(RunChecksTest, RequireMarksWhatItNamesAndNothingElse) {
  MadeRun made = MakeRun();
  made.job.require_given = true;
  made.job.require = {"depth", "events"};
  for (const CheckResult& r : Results(made)) {
    EXPECT_EQ(r.required, r.id == "depth" || r.id == "events") << r.id;
  }
}

TEST(RunChecksTest, FindingsCarryTheIdOfTheirCheck) {
  MadeRun made = MakeRun();
  for (sim::RayDepth& d : made.run.depths) d.top_mm = -2.0;
  for (const CheckResult& r : Results(made)) {
    for (const Finding& f : r.findings) EXPECT_EQ(f.check, r.id);
  }
  EXPECT_FALSE(Of(Results(made), "gouge").findings.empty());
}

}  // namespace
}  // namespace aircut::verify
