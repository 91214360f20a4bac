#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

// Oracle: 14 kg of 120 kg; 14 kg * 9.80665 m/s2 * 0.130 m = 17.8 N m.
TEST(PayloadCheckTest, WithinTheLimitPassesWithMarginAndMoment) {
  const CheckResult r = Check(MakeRun(), CheckPayload);
  EXPECT_EQ(r.result, Result::kPass);
  EXPECT_THAT(r.why, HasSubstr("106 kg to spare"));
  EXPECT_THAT(r.why, HasSubstr("18 N m"));
  EXPECT_THAT(r.why, HasSubstr("load diagram"));
}

TEST(PayloadCheckTest, EitherSideOfTheLimit) {
  MadeRun made = MakeRun();
  made.job.cell.payload->tool_kg = 120.0;
  EXPECT_EQ(Check(made, CheckPayload).result, Result::kPass);
  made.job.cell.payload->tool_kg = 120.5;
  const CheckResult r = Check(made, CheckPayload);
  ASSERT_EQ(r.result, Result::kFail);
  ASSERT_EQ(r.findings.size(), 1u);
  EXPECT_THAT(r.findings[0].text, HasSubstr("0.5 kg too much"));
}

TEST(PayloadCheckTest, MissingPayloadOrCentreIsUnproven) {
  MadeRun made = MakeRun();
  made.job.cell.payload->centre_F.reset();
  CheckResult r = Check(made, CheckPayload);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("centre_in_flange"));
  made.job.cell.payload->tool_kg = 121.0;   // too heavy is known without it
  EXPECT_EQ(Check(made, CheckPayload).result, Result::kFail);
  made.job.cell.payload.reset();
  r = Check(made, CheckPayload);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.needs.at(0), HasSubstr("arm.payload"));
}

TEST(PayloadCheckTest, NotANumberNeverPasses) {
  MadeRun made = MakeRun();
  made.job.cell.payload->tool_kg = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(Check(made, CheckPayload).result, Result::kUnproven);
}

}  // namespace
}  // namespace aircut::verify
