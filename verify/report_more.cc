#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "kinematics/external_axes.h"
#include "verify/cause_words.h"
#include "verify/hold_words.h"
#include "verify/report_json_parts.h"
#include "verify/waivers.h"

// Parts of report.json beyond checks and findings: times, defaults, waivers, words.
namespace aircut::verify {
namespace {

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

// Time of the cuts by what kept them from going faster, longest first.
Json HeldJson(const kinematics::MotionTrack& track) {
  std::map<std::string, double> by_words;
  for (std::size_t m = 1; m < track.size() && m < track.held_by.size(); ++m) {
    if (track.phase[m] != kinematics::Phase::kCut) continue;
    by_words[WordsFor(track.held_by[m])] += track.time_s[m] - track.time_s[m - 1];
  }
  std::vector<std::pair<double, std::string>> rows;
  for (const auto& [words, time_s] : by_words) {
    if (time_s > 0.0) rows.emplace_back(-time_s, words);
  }
  std::sort(rows.begin(), rows.end());
  Json held = Json::array();
  for (const auto& [time_s, words] : rows) held.push_back({{"by", words}, {"time_s", Finite(-time_s)}});
  return held;
}

const char* AlongWords(sim::DepthAlong along) {
  switch (along) {
    case sim::DepthAlong::kStockNormal: return "along the normal of the uncarved face";
    case sim::DepthAlong::kAxis: return "along the tool axis";
    case sim::DepthAlong::kFixed: return "along the direction that the job states";
  }
  return "";
}

// What was asked for and could not be written, or not whole.
Json CopiesJson(const sim::Run& run) {
  Json notes = Json::array();
  for (const sim::PathCopyFile& copy : run.path_copies) {
    if (!copy.why_not.empty()) notes.push_back({{"file", copy.file}, {"note", "was not written: " + copy.why_not}});
    for (const std::string& what : copy.left_out) {
      notes.push_back({{"file", copy.file}, {"note", fmt::format("leaves out {}: its format has no word for it", what)}});
    }
  }
  return notes;
}

const char* StateWord(WaiverOutcome::State state) {
  switch (state) {
    case WaiverOutcome::State::kCounts: return "counts";
    case WaiverOutcome::State::kExpired: return "expired";
    case WaiverOutcome::State::kIdle: break;
  }
  return "idle";
}

ReportedFinding AsReported(const Finding& f) {
  ReportedFinding r{f.check, f.text, f.line, std::nullopt, std::isfinite(f.value) ? f.value : 0.0,
                    std::isfinite(f.limit) ? f.limit : 0.0};
  if (f.at_S && f.at_S->allFinite()) r.at_mm = std::array<double, 3>{f.at_S->x(), f.at_S->y(), f.at_S->z()};
  return r;
}

}  // namespace

const char* SinceWord(Since since) {
  switch (since) {
    case Since::kNew: return "new";
    case Since::kGrown: return "grown";
    case Since::kUnchanged: break;
  }
  return "unchanged";
}

FindingMarks MarksOf(const ReportContext& context) {
  if (context.baseline == nullptr) return {};
  std::vector<ReportedFinding> now;
  for (const CheckResult& check : context.checks) {
    for (const Finding& finding : check.findings) now.push_back(AsReported(finding));
  }
  return MarkFindings(context.baseline->run.findings, now);
}

void AddBaseline(const ReportContext& context, Json* report) {
  (*report)["baseline"] = nullptr;
  if (context.baseline == nullptr) return;
  const FindingMarks marks = MarksOf(context);
  for (std::size_t i = 0; i < marks.since.size(); ++i) (*report)["findings"][i]["since"] = SinceWord(marks.since[i]);
  Json gone = Json::array();
  for (const ReportedFinding& f : marks.gone) gone.push_back({{"check", f.check}, {"text", f.text}});
  (*report)["baseline"] = {{"folder", context.baseline->folder}, {"verdict", context.baseline->run.verdict}, {"gone", std::move(gone)}};
}

std::vector<int> FindingNumbers(const std::vector<CheckResult>& checks) {
  std::vector<std::size_t> first(checks.size(), 0);
  std::size_t next = 1;
  for (const Result result : {Result::kFail, Result::kUnproven, Result::kPass}) {
    for (std::size_t c = 0; c < checks.size(); ++c) {
      if (checks[c].result != result) continue;
      first[c] = next;
      next += checks[c].findings.size();
    }
  }
  std::vector<int> numbers;
  for (std::size_t c = 0; c < checks.size(); ++c) {
    for (std::size_t f = 0; f < checks[c].findings.size(); ++f) numbers.push_back(static_cast<int>(first[c] + f));
  }
  return numbers;
}

Json TimesJson(const ReportContext& context) {
  const kinematics::Motion& motion = context.run.motion;
  if (!motion.complete()) return nullptr;
  const kinematics::MotionTrack& track = motion.tracks.front();
  const Spent spent = TimesOf(track);
  return {{"ideal_s", Finite(motion.times.ideal_s)},
          {"modelled_s", Finite(motion.times.modelled_s)},
          {"stop_each_s", Finite(motion.times.stop_each_s)},
          {"cutting_s", Finite(spent.cut_s)},
          {"rapid_s", Finite(spent.rapid_s)},
          {"way_s", Finite(spent.way_s)},
          {"below_feed_s", Finite(motion.cut_below_feed_s)},
          {"moments", track.size()},
          {"held", HeldJson(track)}};
}

// A default that was used, in the words of the page.
class DefaultsList {
 public:
  explicit DefaultsList(const std::vector<CheckResult>& checks) : checks_(checks) {}
  void Add(const sim::Limit& limit, const char* what, const char* unit) {
    if (!limit.given) list_.push_back({{"what", what}, {"value", Finite(limit.value)}, {"unit", unit}});
  }
  // Only where the check came to hold something against it.
  void AddOf(const char* check, const sim::Limit& limit, const char* what, const char* unit) {
    if (LimitOf(check)) Add(limit, what, unit);
  }
  // A limit that no key of the job sets.
  void AddFixed(const char* check, const char* what) {
    const CheckResult* found = LimitOf(check);
    if (found != nullptr) Add({*found->limit, false}, what, found->unit.c_str());
  }
  Json Take() { return std::move(list_); }

 private:
  const CheckResult* LimitOf(const std::string& id) const {
    const auto found = std::find_if(checks_.begin(), checks_.end(), [&](const CheckResult& c) { return c.id == id; });
    return found != checks_.end() && found->limit ? &*found : nullptr;
  }

  const std::vector<CheckResult>& checks_;
  Json list_ = Json::array();
};

void AddPremiseDefaults(const sim::AcceptLimits& accept, DefaultsList* list) {
  list->Add(accept.piece_mm, "piece located", "mm");
  list->Add(accept.arm_model_mm, "arm model", "mm");
  list->Add(accept.arm_model_deg, "arm model", "deg");
  list->Add(accept.frame_mm, "frame fit", "mm");
  list->Add(accept.confidence, "confidence of the frame fit", "");
  list->Add(accept.tool_mm, "tool measured", "mm");
}

void AddLoadDefaults(const sim::AcceptLimits& accept, DefaultsList* list) {
  list->AddOf("spindle-load", accept.spindle_percent, "spindle's power", "%");
  list->AddOf("deflection", accept.deflection_mm, "deflection", "mm");
  list->AddOf("lost-motion", accept.lost_motion_mm, "lost motion", "mm");
  list->AddOf("holding", accept.holding_factor, "holding, times the pull", "");
  list->AddFixed("shaking", "frequencies apart from a mode");
}

Json DefaultsJson(const ReportContext& context) {
  const sim::AcceptLimits& accept = context.job.accept;
  DefaultsList list(context.checks);
  list.Add(accept.depth_mm, "depth", "mm");
  list.Add(accept.gouge_mm, "gouge", "mm");
  list.Add(accept.leftover_mm, "leftover", "mm");
  list.Add(accept.region_mm2, "smallest region", "mm²");
  list.Add(accept.clearance_mm, "clearance", "mm");
  list.Add(accept.tool_clearance_mm, "clearance near the tool", "mm");
  list.Add(accept.joint_margin_deg, "joint margin", "deg");
  const auto slides = context.job.cell.arm ? kinematics::SlidesOf(*context.job.cell.arm) : std::vector<bool>();
  if (std::find(slides.begin(), slides.end(), true) != slides.end()) list.Add(accept.slide_margin_mm, "slide margin", "mm");
  if (context.job.cell.hose != sim::Declared::kNone) list.Add(accept.wrist_twist_deg, "twist of the hose", "deg");
  list.AddFixed("wrist-winding", "joints of the wrist from their ends");
  list.Add(accept.scallop_mm, "ridges between passes", "mm");
  list.Add(accept.corner_mm, "corner rounding", "mm");
  list.Add(accept.plunge_diameters, "depth of a plunge", "cutter diameters");
  list.Add(accept.ramp_deg, "ramp without cutting centre", "deg");
  AddPremiseDefaults(accept, &list);
  AddLoadDefaults(accept, &list);
  list.Add(accept.clamp_mm, "clamp zone", "mm");
  list.Add({context.resolution_mm, context.job.resolution_given}, "voxels", "mm");
  list.Add({context.job.air_pass.raise_mm, context.job.air_pass.raise_given}, "slow air pass raised by", "mm");
  list.Add({context.job.restarts.back_mm, context.job.restarts.back_given}, "tool drawn back by", "mm");
  return list.Take();
}

Json WaiversJson(const ReportContext& context) {
  Json waivers = Json::array();
  for (const WaiverOutcome& o : JudgeWaivers(context.job.waivers, context.checks, context.date)) {
    waivers.push_back({{"check", o.waiver.check}, {"who", o.waiver.who}, {"why", o.waiver.why},
                       {"until", o.waiver.until.iso}, {"state", StateWord(o.state)}});
  }
  return waivers;
}

void AddPageKeys(const ReportContext& context, Json* report) {
  const sim::Job& job = context.job;
  Json& r = *report;
  r["headline"] = context.verdict.headline;
  r["mend_first"] = context.verdict.mend_first;
  r["job"] = {{"name", job.name}, {"cell", job.cell.name}, {"path_file", job.path_file}};
  const Deviation& deviation = context.deviation;
  r["depth"] = {{"along", AlongWords(job.depth_along)},
                {"tolerance_mm", Finite(job.accept.depth_mm.value)},
                {"places", deviation.carve_samples},
                {"unknown_places", deviation.unknown_samples},
                {"unseen_share", Finite(deviation.unseen_share)},
                {"p95_bound_mm", Finite(deviation.bound_of_p95_mm)},
                {"cause", deviation.cause ? Json(CauseText(*deviation.cause, job)) : Json(nullptr)},
                {"cause_places", deviation.cause ? Json(deviation.cause->places) : Json(nullptr)}};
  r["times"] = TimesJson(context);
  r["first_cut"] = FirstCutJson(context);
  r["defaults"] = DefaultsJson(context);
  r["waivers"] = WaiversJson(context);
  r["path_copies"] = CopiesJson(context.run);
}

}  // namespace aircut::verify
