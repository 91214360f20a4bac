#include <cmath>
#include <fstream>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/json_schema.h"
#include "tests/support/made_report.h"

namespace aircut::verify {
namespace {

using nlohmann::json;
using support::MadeReport;
using support::MakeReport;
using testing::IsEmpty;
using testing::Not;

support::JsonSchema Schema() {
  std::ifstream file(AIRCUT_SCENES "/../verify/report.schema.json");
  return support::JsonSchema(json::parse(file));
}

json Report(const MadeReport& made) {
  const OutputFile html{"report.html", std::string(64, 'a'), 10};
  return json::parse(ReportJson(made.Context(), {html}));
}

// Oracle: the schema, which is written by hand from the design.
TEST(ReportJsonTest, AgreesWithItsSchema) {
  EXPECT_THAT(Schema().Faults(Report(MakeReport())), IsEmpty());
}

// Oracle: a run that could not be finished still has every key.
TEST(ReportJsonTest, AnEmptyRunAgreesWithTheSchema) {
  MadeReport made;
  const json report = json::parse(ReportJson(made.Context()));
  EXPECT_THAT(Schema().Faults(report), IsEmpty());
  EXPECT_TRUE(report["cycle_time_s"].is_null());
}

// With everything that a run may tell of what displaces the tool.
MadeReport WithLayers() {
  MadeReport made = MakeReport();
  made.job.cell.arm_fit = sim::ArmFit{"poses.csv", 43, std::vector<double>(6, 1e6), 0.216, 0.35};
  sim::LayerShift corner{sim::ErrorLayer::kCornerRounding, {}};
  const Eigen::Vector3f none = Eigen::Vector3f::Zero();
  corner.of_sweep.assign(made.run.track.sweeps.size(), {none, none, none});
  made.run.execution.corner_rounding = corner;
  made.run.execution.recuts = {{sim::ErrorLayer::kCornerRounding, 0.1, 0.12}};
  return made;
}

// Oracle: numbers put in come out, under the keys of the schema.
TEST(ReportJsonTest, LayersAndTheArmsTestAreTold) {
  const json report = Report(WithLayers());
  EXPECT_THAT(Schema().Faults(report), IsEmpty());
  EXPECT_EQ(report["layers"].back()["layer"], "corner-rounding");
  EXPECT_EQ(report["execution"]["arm_test"]["poses"], 43);
  EXPECT_EQ(report["execution"]["arm_test"]["band"], 0.35);
  EXPECT_EQ(report["execution"]["recuts"][0]["recut_mm"], 0.12);
  EXPECT_TRUE(Report(MakeReport())["execution"]["arm_test"].is_null());
}

// Oracle: taking any key away, anywhere, must be noticed, or "required" has a hole.
TEST(ReportJsonTest, SchemaNoticesEveryMissingKey) {
  const json report = Report(WithLayers());
  const json flat = report.flatten();
  int removed = 0;
  const auto try_without = [&](const json::json_pointer& object) {
    for (const auto& [key, value] : report[object].items()) {
      if (object.to_string() == "/run/stages") continue;   // any stage may be missing
      json cut = report;
      cut[object].erase(key);
      EXPECT_THAT(Schema().Faults(cut), Not(IsEmpty())) << object.to_string() << "/" << key;
      ++removed;
    }
  };
  for (const char* object : {"", "/checks/0", "/findings/0", "/deviation", "/inputs/0", "/program", "/run",
                             "/outputs/0", "/cannot_see/0", "/job", "/depth", "/times", "/first_cut",
                             "/first_cut/from_run/0", "/defaults/0", "/layers/0", "/execution", "/execution/recuts/0",
                             "/execution/arm_test"}) {
    try_without(json::json_pointer(object));
  }
  EXPECT_GT(removed, 50);
}

// Oracle: one wrong value each.
TEST(ReportJsonTest, SchemaNoticesWrongValues) {
  const json report = Report(MakeReport());
  const auto faults_with = [&](const char* where, const json& value) {
    json changed = report;
    changed[json::json_pointer(where)] = value;
    return Schema().Faults(changed);
  };
  EXPECT_THAT(faults_with("/verdict", "probably"), Not(IsEmpty()));
  EXPECT_THAT(faults_with("/extra", 1), Not(IsEmpty()));
  EXPECT_THAT(faults_with("/checks/0/extra", 1), Not(IsEmpty()));
  EXPECT_THAT(faults_with("/checks/0/worst", "2.0"), Not(IsEmpty()));
  EXPECT_THAT(faults_with("/checks/0/bound", -0.1), Not(IsEmpty()));
  EXPECT_THAT(faults_with("/checks/0/findings", 1.5), Not(IsEmpty()));
  EXPECT_THAT(faults_with("/findings/0/at_mm", json::array({1, 2})), Not(IsEmpty()));
  EXPECT_THAT(faults_with("/findings/0/at_mm", json::array({1, 2, 3, 4})), Not(IsEmpty()));
  EXPECT_THAT(faults_with("/deviation/within_tolerance", 1.01), Not(IsEmpty()));
  EXPECT_THAT(faults_with("/inputs/0/sha256", "abc"), Not(IsEmpty()));
  EXPECT_THAT(faults_with("/run/threads", 0), Not(IsEmpty()));
}

// Oracle: the design, "non-finite numbers are null".
TEST(ReportJsonTest, NumbersThatAreNotFiniteAreNull) {
  MadeReport made = MakeReport();
  const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
  made.checks[0].worst = inf;
  made.checks[0].bound = nan;
  made.checks[4].findings[0].value = -inf;
  made.checks[4].findings[0].at_S = Eigen::Vector3d(0, nan, 0);
  made.deviation.p95_mm = nan;
  made.run.cut.removed_mm3 = nan;
  const json report = Report(made);
  EXPECT_TRUE(report["checks"][0]["worst"].is_null());
  EXPECT_TRUE(report["checks"][0]["bound"].is_null());
  EXPECT_TRUE(report["checks"][0]["margin"].is_null());
  EXPECT_TRUE(report["findings"][0]["value"].is_null());
  EXPECT_TRUE(report["findings"][0]["at_mm"].is_null());
  EXPECT_TRUE(report["deviation"]["p95_mm"].is_null());
  EXPECT_TRUE(report["removed_mm3"].is_null());
  EXPECT_THAT(Schema().Faults(report), IsEmpty());
}

// Oracle: depths that were never measured are not zero.
TEST(ReportJsonTest, DeviationWithoutAnAnswerIsNull) {
  MadeReport made = MakeReport();
  made.deviation.unknown_samples = made.deviation.carve_samples;
  EXPECT_TRUE(Report(made)["deviation"]["max_gouge_mm"].is_null());
}

// Oracle: the sense of the limit, by hand: 7.04 deg against at least 5 deg
// leaves +2.04; 2.063 mm against at most 0.3 mm leaves -1.763.
TEST(ReportJsonTest, MarginIsPositiveInsideTheLimit) {
  const json report = Report(MakeReport());
  EXPECT_NEAR(report["checks"][2]["margin"].get<double>(), 2.04, 1e-12);
  EXPECT_NEAR(report["checks"][4]["margin"].get<double>(), -1.763, 1e-12);
}

// Oracle: a path that stops half-way has no cycle time.
TEST(ReportJsonTest, BrokenMotionHasNoCycleTime) {
  MadeReport made = MakeReport();
  EXPECT_NEAR(Report(made)["cycle_time_s"].get<double>(), 1420.0, 1e-9);
  made.run.motion.faults.emplace_back();
  EXPECT_TRUE(Report(made)["cycle_time_s"].is_null());
}

// Oracle: bytes that are not UTF-8 (RFC 3629) in a name must not cost the report.
TEST(ReportJsonTest, NameThatIsNotUtf8IsStillJson) {
  MadeReport made = MakeReport();
  made.job.inputs[0].file = "r\xffse.yaml";
  EXPECT_THAT(Schema().Faults(Report(made)), IsEmpty());
}

}  // namespace
}  // namespace aircut::verify
