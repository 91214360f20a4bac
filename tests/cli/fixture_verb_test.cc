#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "tests/cli/run_program.h"

namespace aircut::test {
namespace {

using testing::AllOf;
using testing::HasSubstr;

const char kHeader[] = "px_mm,py_mm,pz_mm,dx,dy,dz,force_n,gx_mm,gy_mm,gz_mm,displacement_mm,stands_on\n";

std::string Table() {
  return std::string(kHeader) +
         "0,0,80,1,0,0,20,0,0,80,0.01,floor\n0,0,80,1,0,0,50,0,0,80,0.025,floor\n0,0,80,1,0,0,20,0,0,80,0.012,floor\n"
         "0,0,80,0,1,0,50,0,0,80,0.05,floor\n"
         "0,0,80,0,0,-1,50,0,0,80,10,floor\n";
}

Outcome Fixture(const TempFolder& folder, const std::string& table, const std::string& options = "") {
  return RunAircut("fixture " + folder.Write("push.csv", table).string() + " " + options);
}

// Oracle: 50 N move it 10 mm: 5 N/mm; 0.3 mm are used up by 1.5 N.
TEST(FixtureVerbTest, StiffnessAndForceThatUsesTheToleranceUpArePrinted) {
  const TempFolder folder;
  const Outcome outcome = Fixture(folder, Table());
  EXPECT_EQ(outcome.code, 0) << outcome.err;
  EXPECT_THAT(outcome.out, AllOf(HasSubstr("z           5 N/mm; 1.5 N use up 0.3 mm of depth"),
                                 HasSubstr("hysteresis   0.002 mm"), HasSubstr("1000 N/mm loading, not read letting go"),
                                 HasSubstr("Pushed across from z = 80 to 80 mm")));
}

TEST(FixtureVerbTest, JsonHoldsTheSameNumbers) {
  const TempFolder folder;
  const Outcome outcome = Fixture(folder, Table(), "--json --depth-tolerance 0.2");
  ASSERT_EQ(outcome.code, 0) << outcome.err;
  const auto page = nlohmann::json::parse(outcome.out);
  EXPECT_EQ(page["model"], "per_direction");
  EXPECT_EQ(page["lines"][0]["along"], "z");
  EXPECT_NEAR(page["lines"][0]["n_per_mm"], 5.0, 1e-9);
  EXPECT_NEAR(page["lines"][0]["force_at_tolerance_n"], 1.0, 1e-9);
  EXPECT_EQ(page["pushes"].size(), 3u);
}

TEST(FixtureVerbTest, LineThatIsMissingIsNamed) {
  const TempFolder folder;
  const Outcome outcome = Fixture(folder, std::string(kHeader) + "0,0,80,1,0,0,50,0,0,80,0.02,floor\n"
                                                                 "0,0,80,0,0,-1,50,0,0,80,0.1,table\n");
  EXPECT_EQ(outcome.code, 0) << outcome.err;
  EXPECT_THAT(outcome.out, AllOf(HasSubstr("y    not told: push along it"), HasSubstr("(floor, table)")));
}

TEST(FixtureVerbTest, BadTestsAreRefusedInOneSentence) {
  const TempFolder folder;
  const Outcome one = Fixture(folder, std::string(kHeader) + "0,0,80,1,0,0,50,0,0,80,0.02,floor\n");
  EXPECT_EQ(one.code, 2);
  EXPECT_EQ(one.out, "");
  EXPECT_THAT(one.err, AllOf(HasSubstr("push.csv:2: every push goes along x"), HasSubstr("push once along each")));
  const Outcome unit = Fixture(folder, "px_mm,py_mm,pz_mm,dx,dy,dz,force,gx_mm,gy_mm,gz_mm,displacement_mm,stands_on\n");
  EXPECT_EQ(unit.code, 2);
  EXPECT_THAT(unit.err, HasSubstr("column force is not known, did you mean force_n?"));
  EXPECT_EQ(Fixture(folder, Table(), "--depth-tolerance -1").code, 2);
  EXPECT_EQ(RunAircut("fixture missing.csv").code, 2);
  EXPECT_EQ(RunAircut("fixture").code, 2);
  EXPECT_THAT(RunAircut("fixture --help").out, HasSubstr("aircut fixture push.csv"));
}

}  // namespace
}  // namespace aircut::test
