#include "verify/blind_spots.h"

#include <algorithm>
#include <functional>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using support::MadeRun;
using support::MakeRun;

bool Sees(const MadeRun& made, const std::string& words) {
  const Deviation deviation = Measure(made.job, made.run);
  const std::vector<BlindSpot> spots =
      BlindSpotsOf(made.job, RunChecks({made.job, made.run, deviation}));
  return std::any_of(spots.begin(), spots.end(), [&](const BlindSpot& spot) {
    return !spot.test.empty() && spot.text.find(words) != std::string::npos;
  });
}

struct Missing {
  const char* words;
  std::function<void(sim::Job*)> take_away;
};

// Oracle: the list is computed from what is missing. With every second
// source given the spot is closed, with it taken away it is open.
TEST(BlindSpotsOfTest, EachPremiseOpensItsSpotOnlyWhenItsSourceIsTakenAway) {
  const std::vector<Missing> cases = {
      {"The arm is not the arm in the file", [](sim::Job* j) { j->cell.readouts.reset(); }},
      {"another posture or another way", [](sim::Job* j) { j->runs = {}; }},
      {"work frame was typed or poorly fitted", [](sim::Job* j) { j->cell.fit.clear(); }},
      {"typed, not measured", [](sim::Job* j) { j->cell.cutters.at(1).measured = false; }},
      {"typed, not measured",
       [](sim::Job* j) { j->cell.cutters.at(1).measured_diameter_mm.reset(); }},
      {"Hoses, cables", [](sim::Job* j) { j->cell.hose = sim::Declared::kUnsaid; }},
      {"The scan guesses under the cut", [](sim::Job* j) { j->scan = {}; }},
      {"more than it may", [](sim::Job* j) { j->cell.payload.reset(); }},
      {"switched on by hand",
       [](sim::Job* j) { j->cell.switched = sim::SpindleSwitch::kOutside; }}};
  for (const Missing& one : cases) {
    MadeRun made = MakeRun();
    EXPECT_FALSE(Sees(made, one.words)) << one.words;
    one.take_away(&made.job);
    EXPECT_TRUE(Sees(made, one.words)) << one.words;
  }
}

}  // namespace
}  // namespace aircut::verify
