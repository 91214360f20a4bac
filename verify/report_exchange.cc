#include "verify/report_exchange.h"

#include <cmath>

#include <fmt/compile.h>
#include <fmt/format.h>

#include "kinematics/units.h"
#include "verify/hold_words.h"
#include "verify/report_json_parts.h"
#include "verify/report_text.h"
#include "verify/side_files.h"

namespace aircut::verify {
namespace {

// Readers of JUnit files ask for a day, known or not.
constexpr const char* kNoDay = "1970-01-01";

const char* LevelFor(Result result) {
  switch (result) {
    case Result::kFail: return "error";
    case Result::kUnproven: return "warning";
    case Result::kPass: break;
  }
  return "note";
}

// RFC 3986: everything but unreserved characters and the path separator.
std::string UriOf(const std::string& file) {
  std::string uri;
  for (const unsigned char c : file) {
    const bool plain = std::isalnum(c) || c == '-' || c == '.' || c == '_' || c == '~' || c == '/';
    uri += plain ? std::string(1, static_cast<char>(c)) : fmt::format("%{:02X}", c);
  }
  return uri;
}

Json RegionOf(const Finding& finding) {
  if (finding.lines.size() >= 2 && finding.lines.front() > 0) {
    return {{"startLine", finding.lines.front()}, {"endLine", finding.lines.back()}};
  }
  return {{"startLine", finding.line}};
}

Json ResultOf(const ReportContext& context, const CheckResult& check, const Finding& finding) {
  Json result = {{"ruleId", finding.check},
                 {"level", LevelFor(check.result)},
                 {"message", {{"text", finding.text}}}};
  if (finding.line > 0) {
    Json place = {{"artifactLocation", {{"uri", UriOf(context.job.path_file)}}},
                  {"region", RegionOf(finding)}};
    result["locations"] = Json::array({{{"physicalLocation", std::move(place)}}});
  }
  return result;
}

std::string JunitOutcome(const CheckResult& check) {
  const std::string why = Escaped(check.why);
  if (check.result == Result::kPass) return "";
  if (check.result == Result::kFail) return fmt::format("<failure message=\"{}\" type=\"fail\"/>", why);
  const bool counts = check.required || check.group == Group::kHazard;   // hazard checks never leave
  if (counts) return fmt::format("<error message=\"unproven: {}\" type=\"unproven\"/>", why);
  return fmt::format("<skipped message=\"unproven: {}\"/>", why);
}

const char* ContactWord(const sim::SweepContact& contact, const sim::SweepInfo& sweep) {
  if (contact.body >= 0) return "shank, holder or housing";
  if (!contact.cuts()) return "air";
  if (sweep.rapid || sweep.line == 0) return "cut in a rapid";
  return sweep.spindle == sim::SpindleState::kRight ? "cut" : "cut with the spindle not as it should";
}

// What happened on the way to a moment.
void AppendContact(const sim::Run& run, std::size_t moment, fmt::memory_buffer* text) {
  const auto out = std::back_inserter(*text);
  const sim::ContactRecord& record = run.cut.contact;
  const bool known = moment > 0 && record.sweeps.size() == run.track.sweeps.size() && moment <= record.sweeps.size();
  if (!known) {
    fmt::format_to(out, ",,,,,");
    return;
  }
  const sim::SweepContact& c = record.sweeps[moment - 1];
  const bool cuts = c.cuts();
  fmt::format_to(out, FMT_COMPILE(",{:.4f},{:.3f},{:.3f},{:.1f},\"{}\""), record.VolumeOf(c), cuts ? c.axial_mm : 0.0f,
                 cuts ? c.radial_mm : 0.0f, kinematics::DegFromRad(sim::EngagedArc_rad(c)),
                 ContactWord(c, run.track.sweeps[moment - 1]));
}

// Forces in S on the tool, of one turn's mean; at the bad end of the material's band where
// the name says so. Empty without a cut, or without coefficients.
void AppendLoad(const sim::Run& run, std::size_t moment, fmt::memory_buffer* text) {
  const auto out = std::back_inserter(*text);
  const sim::SweepLoad* load = moment > 0 ? run.load.Of(moment - 1) : nullptr;
  if (load == nullptr) {
    fmt::format_to(out, ",,,,,,\n");
    return;
  }
  fmt::format_to(out, FMT_COMPILE(",{:.4f}"), load->chip_most_mm);
  if (!run.load.force) {
    fmt::format_to(out, ",,,,,\n");
    return;
  }
  const Eigen::Vector3f& f = load->mean_S_n[sim::kNominal];
  fmt::format_to(out, FMT_COMPILE(",{:.2f},{:.2f},{:.2f},{:.2f},{:.1f}\n"), f.x(), f.y(), f.z(),
                 load->peak_S_n[sim::kMost].norm(), load->power_w[sim::kMost]);
}

void AppendRow(const kinematics::MotionTrack& track, std::size_t i, const std::vector<double>& units,
               fmt::memory_buffer* text) {
  const auto out = std::back_inserter(*text);
  fmt::format_to(out, FMT_COMPILE("{:.5f}"), track.time_s[i]);
  for (int j = 0; j < track.q[i].size(); ++j) {
    fmt::format_to(out, FMT_COMPILE(",{:.5f}"), track.q[i][j] * units[static_cast<std::size_t>(j)]);
  }
  const Eigen::Vector3d p = track.X_ST[i].translation(), axis = track.X_ST[i].linear().col(2);
  fmt::format_to(out, FMT_COMPILE(",{:.4f},{:.4f},{:.4f},{:.6f},{:.6f},{:.6f},{:.2f},{},{}"), p.x(), p.y(),
                 p.z(), axis.x(), axis.y(), axis.z(), track.feed_mm_s[i] * 60.0, track.line[i],
                 i < track.held_by.size() ? WordsFor(track.held_by[i]) : std::string());
}

}  // namespace

std::string FindingsSarif(const ReportContext& context) {
  Json rules = Json::array(), results = Json::array();
  const FindingMarks marks = MarksOf(context);
  for (const CheckResult& check : context.checks) {
    if (check.findings.empty()) continue;
    rules.push_back({{"id", check.id}});
    for (const Finding& finding : check.findings) {
      results.push_back(ResultOf(context, check, finding));
      if (results.size() > marks.since.size()) continue;
      const Since since = marks.since[results.size() - 1];
      results.back()["baselineState"] = since == Since::kGrown ? "updated" : SinceWord(since);
    }
  }
  Json driver = {{"name", "aircut"}, {"version", AIRCUT_VERSION}, {"rules", std::move(rules)}};
  Json run = {{"tool", {{"driver", std::move(driver)}}}, {"results", std::move(results)}};
  const Json sarif = {{"version", "2.1.0"}, {"runs", Json::array({std::move(run)})}};
  return sarif.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string ChecksJunit(const ReportContext& context) {
  int failures = 0, errors = 0, skipped = 0;
  std::string cases;
  for (const CheckResult& check : context.checks) {
    failures += check.result == Result::kFail;
    const bool counts = check.required || check.group == Group::kHazard;
    errors += check.result == Result::kUnproven && counts;
    skipped += check.result == Result::kUnproven && !counts;
    cases += fmt::format("  <testcase classname=\"aircut\" time=\"0\" name=\"{}\">{}</testcase>\n", Escaped(check.id),
                         JunitOutcome(check));
  }
  return fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      "<testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"{}\" skipped=\"{}\" time=\"0\" timestamp=\"{}T00:00:00\" "
      "hostname=\"localhost\">\n  <properties><property name=\"verdict\" value=\"{}\"/></properties>\n{}"
      "  <system-out/>\n  <system-err/>\n</testsuite>\n",
      Escaped(context.job.name), context.checks.size(), failures, errors, skipped, context.date.empty() ? kNoDay : context.date,
      WordFor(context.verdict.result), cases);
}

std::string MomentsCsv(const ReportContext& context) {
  const auto& tracks = context.run.motion.tracks;
  fmt::memory_buffer text;
  const int joints = !tracks.empty() && tracks[0].size() > 0 ? static_cast<int>(tracks[0].q[0].size()) : 0;
  fmt::format_to(std::back_inserter(text), "time_s");
  const kinematics::ArmModel* arm = context.job.cell.arm.get();
  const kinematics::JointVector ones = kinematics::JointVector::Ones(joints);
  std::vector<double> units;
  for (int j = 0; j < joints; ++j) units.push_back(InColumn(ones, j, arm));
  fmt::format_to(std::back_inserter(text), "{}", JointColumnNames("q", joints, arm));
  fmt::format_to(std::back_inserter(text), ",x_mm,y_mm,z_mm,i,j,k,feed_mm_min,line,held_by,"
                 "removed_mm3,axial_mm,radial_mm,arc_deg,contact,chip_mm,fx_n,fy_n,fz_n,peak_most_n,power_most_w\n");
  if (!tracks.empty()) {
    for (std::size_t i = 0; i < tracks[0].size(); ++i) {
      AppendRow(tracks[0], i, units, &text);
      AppendContact(context.run, i, &text);
      AppendLoad(context.run, i, &text);
    }
  }
  return fmt::to_string(text);
}

bool WritesJointPath(const ReportContext& context) {
  const bool asked = context.job.runs.how == sim::RunsAs::How::kJointPath ||
                     context.job.write.count(sim::PathCopy::kJointPath) > 0;
  return asked && context.run.motion.complete();
}

std::string JointPathCsv(const ReportContext& context) {
  return JointTable(context.run.motion.tracks.front(), context.job.cell.arm.get());
}

}  // namespace aircut::verify
