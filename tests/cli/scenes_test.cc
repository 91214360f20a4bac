// The shipped scenes, run as their READMEs say.
#include <filesystem>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using testing::HasSubstr;

Outcome RunScene(const std::string& job, const TempFolder& folder) {
  return RunAircut(std::string("dryrun ") + AIRCUT_SCENES + "/" + job + " --quiet --out " +
                   (folder.path() / "report").string());
}

// Oracle: the generator lays the path on the design without gouging it and
// steps over by 0.6 mm; every premise that is asked for is given.
TEST(ScenesTest, TransomPasses) {
  const TempFolder folder;
  const Outcome outcome = RunScene("transom/job.yaml", folder);
  EXPECT_EQ(outcome.code, 0) << outcome.out << outcome.err;
  EXPECT_THAT(outcome.out, HasSubstr("events, clamp-zone and break-through"));
}

// Oracle: its touched points say that the piece stands 2 mm higher than the
// frame; so the cut is 2 mm too deep, and the report says so.
TEST(ScenesTest, TransomOnALowFrameFailsByTwoMillimetres) {
  const TempFolder folder;
  const Outcome outcome = RunScene("transom/transom_low_frame.job.yaml", folder);
  EXPECT_EQ(outcome.code, 1) << outcome.out << outcome.err;
  EXPECT_THAT(outcome.out, HasSubstr("gouge"));
  EXPECT_THAT(outcome.out, HasSubstr("2.0"));
  EXPECT_THAT(outcome.out, HasSubstr("below the touched piece"));
}

// The scan itself is not ours to ship; where it has been fetched, the engraving
// on it passes with `depth` required.
TEST(ScenesTest, EngravingOnTheScanPassesWhereTheScanIs) {
  const TempFolder folder;
  const Outcome outcome = RunScene("scan/job.yaml", folder);
  if (std::filesystem::exists(std::string(AIRCUT_SCENES) + "/scan/scan_240mm.ply")) {
    EXPECT_EQ(outcome.code, 0) << outcome.out << outcome.err;
  } else {
    EXPECT_EQ(outcome.code, 2);
    EXPECT_THAT(outcome.err, HasSubstr("scan/engraving.cell.yaml"));   // its points come with the scan
  }
}

}  // namespace
}  // namespace aircut::test
