#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "kinematics/external_axes.h"
#include "verify/assumed_values.h"
#include "verify/hold_words.h"
#include "verify/report_parts.h"
#include "verify/report_text.h"

// What people have to sign before the first cut, and what the run was made of.
namespace aircut::verify {
namespace {

std::string SignRow(const std::string& line, const std::string& told) {
  return fmt::format("<tr><td>{}</td><td>{}</td><td></td></tr>\n", line, told);
}

std::string WithoutPassText(const kinematics::Motion& motion) {
  if (!motion.complete()) return "not known: the path cannot be followed to its end";
  double fastest = 0;
  for (const double feed : motion.tracks.front().feed_mm_s) {
    if (!(feed <= fastest)) fastest = feed;
  }
  if (!std::isfinite(fastest)) return "not known";
  const std::string told = fmt::format("fastest tip speed of this job {}\u00a0mm/s", Number(std::ceil(fastest), 0));
  if (fastest <= sim::kReducedSpeed_mm_s) return told + "; other parts of the arm may move faster than the tip";
  return fmt::format("{}: set the speed override to {}\u00a0% or less; other parts of the arm may move faster "
                     "than the tip", told, Number(std::floor(100.0 * sim::kReducedSpeed_mm_s / fastest), 0));
}

const CheckResult* FindCheck(const ReportContext& context, const std::string& id) {
  for (const CheckResult& check : context.checks) {
    if (check.id == id) return &check;
  }
  return nullptr;
}

// The pass that this run planned, or how fast the job itself would be.
std::string SlowPassText(const ReportContext& context) {
  const CheckResult* check = FindCheck(context, "slow-air-pass");
  const bool planned = context.run.air_pass && context.run.air_pass->planned();
  if (!planned || check == nullptr || check->result == Result::kFail) return WithoutPassText(context.run.motion);
  const sim::AirPass& pass = *context.run.air_pass;
  return fmt::format(
      "<code>slow_air_pass.csv</code>, {}: raised by {}\u00a0mm along ({}, {}, {}) on the piece, {}, sweeps ({}, {}, {}) "
      "to ({}, {}, {})\u00a0mm in the world; it is the controller's own reduced-speed mode that enforces the speed",
      check->result == Result::kPass ? "nothing found to touch" : "not proven to be clear", Plain(pass.raise_mm),
      Number(pass.along_S.x(), 2), Number(pass.along_S.y(), 2), Number(pass.along_S.z(), 2),
      ClockText(pass.motion.tracks.front().time_s.back()), Number(pass.swept_W.min().x(), 0),
      Number(pass.swept_W.min().y(), 0), Number(pass.swept_W.min().z(), 0), Number(pass.swept_W.max().x(), 0),
      Number(pass.swept_W.max().y(), 0), Number(pass.swept_W.max().z(), 0));
}

std::string ContactText(const sim::Run& run, std::size_t sweep) {
  const Eigen::Vector3d& p = run.track.p_ST[sweep + 1];
  return fmt::format("line {}, {}, tip at ({}, {}, {}) mm on the piece",
                     Number(run.track.sweeps[sweep].line, 0), ClockText(run.track.time_s[sweep]), Number(p.x(), 1),
                     Number(p.y(), 1), Number(p.z(), 1));
}

std::string FirstContactText(const sim::Run& run) {
  const sim::TouchedSpan span = sim::TouchedSweeps(run.cut.contact);
  if (span.empty() || span.last >= run.track.sweeps.size()) return "the cutter meets no material in this run";
  return ContactText(run, span.first) + "; the last one at " + ContactText(run, span.last);
}

std::string CuttersText(const ReportContext& context) {
  std::string text;
  for (const sim::TrackTool& tool : context.run.track.tools) {
    const auto found = context.job.cell.cutters.find(tool.number);
    if (found == context.job.cell.cutters.end()) continue;
    const sim::CellCutter& cutter = found->second;
    std::string shape = cutter.cutter.outline().shape;
    std::replace(shape.begin(), shape.end(), '_', ' ');
    text += fmt::format("{}cutter {}: {}, diameter {}\u00a0mm, stick-out {}\u00a0mm ({})",
                        text.empty() ? "" : "; ", cutter.number, shape, Plain(2 * cutter.cutter.radius_mm()),
                        Plain(cutter.measured ? cutter.measured_stick_out_mm : cutter.stick_out_mm),
                        cutter.measured ? "measured" : "typed, not measured");
  }
  return text.empty() ? "–" : text;
}

std::string ProgramText(const sim::Job& job) {
  for (const sim::InputFile& input : job.inputs) {
    if (input.role == "path") {
      return fmt::format("<code>{}</code>, SHA-256 begins <code>{}</code>", Escaped(input.file),
                         Escaped(input.sha256.substr(0, 16)));
    }
  }
  return "–";
}

std::string PieceText(const sim::PieceLocation& location) {
  if (!location.given) return "no touched points given: not tied to the floor";
  return fmt::format("{} touched points; largest distance from the scan where the frame puts it {}\u00a0mm, "
                     "after fitting {}\u00a0mm",
                     location.points, Number(location.before_mm, 2), Number(location.residual_mm, 2));
}

// Time spent per kind of move.
struct Spent {
  double cut_s = 0, rapid_s = 0, way_s = 0;
};

Spent TimesOf(const kinematics::MotionTrack& track) {
  Spent spent;
  for (std::size_t i = 1; i < track.size(); ++i) {
    const double dt = track.time_s[i] - track.time_s[i - 1];
    switch (track.phase[i]) {
      case kinematics::Phase::kCut: spent.cut_s += dt; break;
      case kinematics::Phase::kRapid: spent.rapid_s += dt; break;
      case kinematics::Phase::kApproach:
      case kinematics::Phase::kReturn: spent.way_s += dt; break;
    }
  }
  return spent;
}

std::string InputTable(const sim::Job& job) {
  std::string html =
      "<table><thead><tr><th>what</th><th>file</th><th>bytes</th><th>SHA-256</th></tr></thead>\n";
  for (const sim::InputFile& input : job.inputs) {
    html += fmt::format("<tr><td>{}</td><td><code>{}</code></td><td class=\"nw\">{}</td><td><code>{}</code></td></tr>\n",
                        Escaped(input.role), Escaped(input.file), Number(static_cast<double>(input.bytes), 0),
                        Escaped(input.sha256));
  }
  return html + "</table>\n";
}

std::string UnusedText(const sim::Job& job) {
  if (job.unused_keys.empty()) return "";
  std::string html = "<h3>Read, not used yet</h3>\n<p class=\"note\">These keys were understood; no computation "
                     "uses them in this version.</p>\n<p class=\"note\">";
  for (std::size_t i = 0; i < job.unused_keys.size(); ++i) {
    const sim::UnusedKey& key = job.unused_keys[i];
    html += fmt::format("{}<code>{}:{} {}</code>", i > 0 ? " · " : "", Escaped(key.file), key.line,
                        Escaped(key.key));
  }
  return html + "</p>\n";
}

std::string DefaultsText(const ReportContext& context) {
  const sim::AcceptLimits& accept = context.job.accept;
  std::string text;
  const auto add = [&](const sim::Limit& limit, const char* name, const char* unit) {
    if (limit.given) return;
    text += fmt::format("{}{} {}{}", text.empty() ? "" : " · ", name, Plain(limit.value), UnitText(unit));
  };
  add(accept.depth_mm, "depth", "mm");
  add(accept.gouge_mm, "gouge", "mm");
  add(accept.leftover_mm, "leftover", "mm");
  add(accept.region_mm2, "smallest region", "mm²");
  add(accept.clearance_mm, "clearance", "mm");
  add(accept.joint_margin_deg, "joint margin", "deg");
  const auto slides =
      context.job.cell.arm ? kinematics::SlidesOf(*context.job.cell.arm) : std::vector<bool>();
  if (std::find(slides.begin(), slides.end(), true) != slides.end())
    add(accept.slide_margin_mm, "slide margin", "mm");
  add(accept.corner_mm, "corner rounding", "mm");
  add(accept.plunge_diameters, "depth of a plunge", "cutter diameters");
  add(accept.ramp_deg, "ramp without cutting centre", "deg");
  add(accept.piece_mm, "piece located", "mm");
  add(accept.arm_model_mm, "arm model", "mm");
  add(accept.arm_model_deg, "arm model", "deg");
  add(accept.frame_mm, "frame fit", "mm");
  add(accept.tool_mm, "tool measured", "mm");
  add(accept.clamp_mm, "clamp zone", "mm");
  add({context.resolution_mm, context.job.resolution_given}, "voxels", "mm");
  add({context.job.air_pass.raise_mm, context.job.air_pass.raise_given}, "slow air pass raised by", "mm");
  add({context.job.restarts.back_mm, context.job.restarts.back_given}, "tool drawn back by", "mm");
  if (text.empty()) return "";
  return fmt::format("<h3>Defaults used</h3>\n<p class=\"note\">Not stated by the job: {}.</p>\n", text);
}

std::string AssumedText(const ReportContext& context) {
  const std::vector<sim::AssumedValue> values = AssumedValues(context);
  if (values.empty()) return "";
  std::string html = "<h3>Assumed worst</h3>\n<p class=\"note\">Nobody stated these; the bad end of a band stands for "
                     "each: ";
  for (std::size_t i = 0; i < values.size(); ++i) {
    const sim::AssumedValue& a = values[i];
    html += fmt::format("{}<code>{}</code> {}{} (of {} to {}; {})", i > 0 ? " · " : "", Escaped(a.key), Plain(a.value),
                        UnitText(a.unit), Plain(a.low), Plain(a.high), Escaped(a.source));
  }
  return html + ".</p>\n";
}

// What was asked for and could not be written, or not whole.
std::string CopiesText(const sim::Run& run) {
  std::string items;
  for (const sim::PathCopyFile& copy : run.path_copies) {
    if (!copy.why_not.empty()) items += fmt::format("<li><code>{}</code> was not written: {}</li>\n", copy.file, Escaped(copy.why_not));
    for (const std::string& what : copy.left_out) {
      items += fmt::format("<li><code>{}</code> leaves out {}: its format has no word for it</li>\n", copy.file, Escaped(what));
    }
  }
  return items.empty() ? "" : "<h3>Copies of the path</h3>\n<ul class=\"note\">\n" + items + "</ul>\n";
}

}  // namespace

std::string FirstCutSection(const Page& page) {
  const ReportContext& context = page.context;
  std::string html =
      "<h2>Before the first cut</h2>\n"
      "<p class=\"note\">In this order: local codes and licensed practice, the site's rules, the makers' manuals, "
      "then this page. A dry run is evidence for some of the lines below; it is never permission to run, and "
      "stands for no guard, no stop and no slow air pass.</p>\n"
      "<table class=\"sign\"><thead><tr><th>line</th><th>from the dry run</th><th>name, date, signature</th></tr>"
      "</thead>\n";
  html += SignRow("Guards, interlocks and emergency stop tested today; nobody inside the fence", "–");
  html += SignRow("The program loaded is the file that was checked", ProgramText(context.job));
  html += SignRow("The bit in the collet: shape, diameter, stick-out, direction of turning", CuttersText(context));
  html += SignRow("The piece lies where the frame says: touched again just before the cut",
                  PieceText(context.run.location));
  html += SignRow("Work-holding: pushed by hand in three directions, clamps outside the path", "not computed yet");
  html += SignRow(fmt::format("Slow air pass, bit raised clear of the stock, tool at most {:.0f}\u00a0mm/s "
                              "(reduced speed of ISO 10218-1), hand on the stop", sim::kReducedSpeed_mm_s),
                  SlowPassText(context));
  html += SignRow("First contact seen at the right place", FirstContactText(context.run));
  html += SignRow("Dust extraction runs; no sparks, no heat left in the chips, extinguisher at hand, fire watch "
                  "after the cut", "–");
  for (const std::string& line : context.verdict.to_sign) html += SignRow(Escaped(line), "–");
  return html + "</table>\n";
}

std::string SourceSection(const Page& page) {
  const ReportContext& context = page.context;
  return "<h2>What was read</h2>\n" + InputTable(context.job) + UnusedText(context.job) + DefaultsText(context) +
         AssumedText(context) + CopiesText(context.run);
}

// Nobody outside knows how a control plans: the three times say what hangs on it.
std::string ThreeTimesTable(const kinematics::Motion& motion) {
  const kinematics::ThreeTimes& t = motion.times;
  return fmt::format(
      "<table><thead><tr><th>reading of the control</th><th>time</th></tr></thead>\n"
      "<tr><td>ideal: it knows the whole path and no cycle</td><td class=\"nw\">{}</td></tr>\n"
      "<tr><td>as the cell describes it</td><td class=\"nw\">{}</td></tr>\n"
      "<tr><td>it stands still at every line</td><td class=\"nw\">{}</td></tr></table>\n"
      "<p class=\"note\">A real control differs from all three: time one run in the air.</p>\n",
      ClockText(t.ideal_s), ClockText(t.modelled_s), ClockText(t.stop_each_s));
}

// Time of the cuts by what kept them from going faster, longest first.
std::string HeldTable(const kinematics::MotionTrack& track) {
  std::map<std::string, double> by_words;
  for (std::size_t m = 1; m < track.size() && m < track.held_by.size(); ++m) {
    if (track.phase[m] != kinematics::Phase::kCut) continue;
    by_words[WordsFor(track.held_by[m])] += track.time_s[m] - track.time_s[m - 1];
  }
  std::vector<std::pair<double, std::string>> rows;
  for (const auto& [words, time_s] : by_words) {
    if (time_s > 0.0) rows.emplace_back(-time_s, words);
  }
  if (rows.empty()) return "";
  std::sort(rows.begin(), rows.end());
  std::string html = "<table><thead><tr><th>what set the speed of the cuts</th><th>time</th></tr></thead>\n";
  for (const auto& [time_s, words] : rows) {
    html += fmt::format("<tr><td>{}</td><td class=\"nw\">{}</td></tr>\n", words, ClockText(-time_s));
  }
  return html + "</table>\n";
}

std::string TimeSection(const Page& page) {
  const kinematics::Motion& motion = page.context.run.motion;
  std::string html = "<h2>Over the job</h2>\n";
  if (!motion.complete()) {
    return html + "<p class=\"note\">No motion over time: the path cannot be followed to its end.</p>\n";
  }
  const kinematics::MotionTrack& track = motion.tracks.front();
  const Spent spent = TimesOf(track);
  html += StripChart(page);
  html += fmt::format(
      "<p class=\"note\">{} in all: {} cutting, {} in rapid moves, {} on the way from home and back. For {} of the "
      "cutting the feed is held below 90\u00a0% of what is written. The time law is the fastest under the written "
      "feed, joint speed and joint acceleration, as far as the control looks ahead; corners are rounded as the cell "
      "says. {} moments are in <code>moments.csv</code>, each with what held it.</p>\n",
      ClockText(track.time_s.back()), ClockText(spent.cut_s), ClockText(spent.rapid_s), ClockText(spent.way_s),
      ClockText(motion.cut_below_feed_s), Number(static_cast<double>(track.size()), 0));
  return html + ThreeTimesTable(motion) + HeldTable(track);
}

}  // namespace aircut::verify
