#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// Overlap of one sweep that a check forbids; 0 = none, or allowed there.
struct Overlap {
  double value_mm = 0.0, bound_mm = 0.0;
};
using Overlaps = std::vector<Overlap>;   // one per sweep

Result ResultOf(const Overlap& o) {
  return Decide(o.value_mm, o.bound_mm, kContact_mm, Sense::kAtMost);
}

// Sweeps that all offend, in one go or on lines that follow each other.
struct Stretch {
  std::size_t first = 0, last = 0, worst = 0;
};

bool Follows(const Stretch& before, std::size_t sweep, const sim::ToolTrack& track) {
  if (before.last + 1 == sweep) return true;
  const int line = track.sweeps[sweep].line, last = track.sweeps[before.last].line;
  return line > 0 && last > 0 && line >= last && line - last <= 1;
}

// A motion has many sweeps a line; lines that follow each other belong together.
std::vector<Stretch> OffendingStretches(const Overlaps& overlaps, const sim::ToolTrack& track) {
  std::vector<Stretch> stretches;
  for (std::size_t i = 0; i < overlaps.size(); ++i) {
    if (ResultOf(overlaps[i]) != Result::kFail) continue;
    if (stretches.empty() || !Follows(stretches.back(), i, track)) stretches.push_back({i, i, i});
    Stretch& s = stretches.back();
    s.last = i;
    if (overlaps[i].value_mm > overlaps[s.worst].value_mm) s.worst = i;
  }
  return stretches;
}

Finding FindingOf(const Stretch& stretch, const sim::Run& run, double value_mm) {
  Finding f;
  f.line = run.track.sweeps[stretch.first].line;
  const int last = run.track.sweeps[stretch.last].line;
  if (last > f.line && f.line > 0) f.lines = {f.line, last};
  f.time_s = TimeOfSweep(run, stretch.worst);
  f.at_S = run.track.p_ST[stretch.worst + 1];
  f.value = value_mm;
  f.limit = kContact_mm;
  f.unit = "mm";
  return f;
}

int LastLine(const Finding& f) { return f.lines.empty() ? f.line : f.lines[1]; }

// "at line 12, 0:41, (1.0, 2.0, 3.0) mm on the workpiece"
std::string WhereText(const Finding& f) {
  std::string text = f.line > 0 ? "at " + Lines(f.line, LastLine(f))
                                : std::string("on the way to or from the path");
  if (f.time_s) text += ", " + Clock(*f.time_s);
  return text + ", " + Place(*f.at_S) + " on the workpiece";
}

bool HasRecord(const sim::Run& run) {
  const std::size_t sweeps = run.track.sweeps.size();
  return sweeps > 0 && run.cut.contact.sweeps.size() == sweeps &&
         run.track.p_ST.size() == sweeps + 1;
}

CheckResult NoRecord() {
  return Unproven("No contact was recorded, so nothing can be said.", {"a tool path that moves"});
}

// The sweep that decides: the worst result, then the largest upper end.
std::size_t DecidingSweep(const Overlaps& overlaps) {
  std::size_t worst = 0;
  const auto high = [](const Overlap& o) { return o.value_mm + o.bound_mm; };
  for (std::size_t i = 1; i < overlaps.size(); ++i) {
    const Result a = ResultOf(overlaps[i]), b = ResultOf(overlaps[worst]);
    if (a > b || (a == b && high(overlaps[i]) > high(overlaps[worst]))) worst = i;
  }
  return worst;
}

void ExplainOpen(const CheckInputs& in, std::size_t sweep, const Overlap& o, CheckResult* r) {
  const int line = in.run.track.sweeps[sweep].line;
  r->why = o.value_mm == 0.0
               ? fmt::format("No contact was found, but at this resolution one of {} could be "
                             "missed: too coarse for the limit of {}.",
                             Millimetres(o.bound_mm), Millimetres(kContact_mm))
               : fmt::format("{} an overlap of {} is known only to {}: too coarse for the limit of "
                             "{}.", line > 0 ? "At " + Lines(line, line) : "On the way to or from the path",
                             Millimetres(o.value_mm), Millimetres(o.bound_mm),
                             Millimetres(kContact_mm));
  const double share = std::abs(kContact_mm - o.value_mm) / o.bound_mm;
  const bool settles = share > 0.0 && std::isfinite(share);
  r->needs = {settles ? fmt::format("`resolution_mm` at most {:.2g}",
                                    0.9 * share * in.run.cut.contact.voxel_mm)
                      : std::string("a finer `resolution_mm`")};
}

// Decides the worst sweep; `describe` turns a finding's worst sweep into words.
template <typename Describe>
CheckResult ContactResult(const CheckInputs& in, const Overlaps& overlaps,
                          const Describe& describe) {
  const std::size_t sweep = DecidingSweep(overlaps);
  const Overlap& worst = overlaps[sweep];
  CheckResult r =
      Measured({worst.value_mm, worst.bound_mm, kContact_mm, Sense::kAtMost, "mm"});
  r.assumed = true;
  if (r.result == Result::kUnproven) ExplainOpen(in, sweep, worst, &r);
  if (r.result != Result::kFail) return r;
  for (const Stretch& s : OffendingStretches(overlaps, in.run.track)) {
    Finding f = FindingOf(s, in.run, overlaps[s.worst].value_mm);
    describe(s.worst, &f);
    r.findings.push_back(f);
  }
  std::stable_sort(r.findings.begin(), r.findings.end(),
                   [](const Finding& a, const Finding& b) { return a.value > b.value; });
  r.worst = r.findings.front().value;
  r.why = r.findings.front().text;
  r.where = Lines(r.findings.front().line, LastLine(r.findings.front()));
  TrimFindings(&r);
  return r;
}

std::string SpindleWord(sim::SpindleState state) {
  switch (state) {
    case sim::SpindleState::kStopped: return "stopped";
    case sim::SpindleState::kTooSlow: return "turning slower than the spindle can";
    case sim::SpindleState::kTooFast: return "turning faster than spindle or cutter allow";
    case sim::SpindleState::kWrongWay: return "turning the wrong way";
    case sim::SpindleState::kRight: break;
  }
  return "turning as it should";
}

const sim::CellCutter* CutterOf(const sim::Job& job, const sim::TrackTool& tool) {
  const auto found = job.cell.cutters.find(tool.number);
  return found == job.cell.cutters.end() ? nullptr : &found->second;
}

// Which part of the stack a body of the tool is.
std::string BodyWord(const sim::Job& job, const sim::TrackTool& tool, int body) {
  if (body < 0 || body >= static_cast<int>(tool.bodies.size())) return "tool body";
  const sim::CellCutter* cutter = CutterOf(job, tool);
  if (cutter == nullptr) return "tool body";
  const sim::BodyCylinder& b = tool.bodies[body];
  constexpr double kSame_mm = 1e-6;
  for (const sim::BodyCylinder& h : cutter->holder) {
    if (std::abs(h.z0_mm - b.z0_mm) < kSame_mm && std::abs(h.radius_mm - b.radius_mm) < kSame_mm) {
      return "holder";
    }
  }
  return b.z0_mm < cutter->stick_out_mm - kSame_mm ? "shank" : "spindle housing";
}

std::set<int> ToolsUsed(const sim::Run& run) {
  std::set<int> used;
  for (const sim::SweepInfo& s : run.track.sweeps) {
    if (s.tool >= 0 && s.tool < static_cast<int>(run.track.tools.size())) used.insert(s.tool);
  }
  return used;
}

// What must be described before "no body touches" means anything.
std::vector<std::string> MissingBodies(const CheckInputs& in) {
  std::vector<std::string> missing;
  for (const int t : ToolsUsed(in.run)) {
    const sim::TrackTool& tool = in.run.track.tools[t];
    const sim::CellCutter* cutter = CutterOf(in.job, tool);
    if (cutter == nullptr || (cutter->holder.empty() && cutter->holder_said != sim::Declared::kNone)) {
      missing.push_back(fmt::format("`cutters.{}.holder`", tool.number));
    }
  }
  const sim::Cell& cell = in.job.cell;
  if (cell.housing_H.empty() && cell.housing != sim::Declared::kNone) missing.push_back("`spindle.housing`");
  return missing;
}

Overlap BiteOf(const sim::SweepContact& c) { return {c.bite_mm, c.bite_bound_mm}; }

}  // namespace

CheckResult CheckRapidContact(const CheckInputs& in) {
  if (!HasRecord(in.run)) return NoRecord();
  Overlaps overlaps;
  std::int64_t rapids = 0;
  for (std::size_t i = 0; i < in.run.track.sweeps.size(); ++i) {
    // Without a path line the arm is on its way to or from the path.
    const bool rapid = in.run.track.sweeps[i].rapid || in.run.track.sweeps[i].line == 0;
    rapids += rapid ? 1 : 0;
    overlaps.push_back(rapid ? BiteOf(in.run.cut.contact.sweeps[i]) : Overlap{});
  }
  CheckResult result = ContactResult(in, overlaps, [](std::size_t, Finding* f) {
    f->text = fmt::format("The cutter would go {} deep into the material in a rapid {} (limit {}).",
                          Millimetres(f->value), WhereText(*f), Millimetres(f->limit));
    f->cause = f->line > 0 ? "the move is written as a rapid, or the retract before it is too low"
                           : "the way between home and the path runs through the piece";
  });
  if (result.result == Result::kPass) {
    result.why = fmt::format("No rapid, approach or return cuts deeper than {}.",
                             Millimetres(kContact_mm));
  }
  if (rapids == 0 && result.result == Result::kPass) {
    return Unproven("The motion has no rapid, no approach and no return to look at.",
                    {"a motion with its way there and back"});
  }
  return NeedsFollowing(result, in.run);
}

CheckResult CheckStoppedContact(const CheckInputs& in) {
  if (!HasRecord(in.run)) return NoRecord();
  Overlaps overlaps;
  for (std::size_t i = 0; i < in.run.track.sweeps.size(); ++i) {
    const bool wrong = in.run.track.sweeps[i].spindle != sim::SpindleState::kRight;
    overlaps.push_back(wrong ? BiteOf(in.run.cut.contact.sweeps[i]) : Overlap{});
  }
  CheckResult result = ContactResult(in, overlaps, [&](std::size_t worst, Finding* f) {
    const std::string state = SpindleWord(in.run.track.sweeps[worst].spindle);
    f->text = fmt::format("The cutter would be {} deep in the material with the spindle {} {}.",
                          Millimetres(f->value), state, WhereText(*f));
    f->cause = "the spindle speed written for these lines";
  });
  if (result.result == Result::kPass) {
    result.why = "Wherever the cutter is in the material the spindle turns as it should.";
  }
  return NeedsFollowing(result, in.run);
}

CheckResult CheckBodyContact(const CheckInputs& in) {
  if (!HasRecord(in.run)) return NoRecord();
  Overlaps overlaps;
  for (std::size_t i = 0; i < in.run.track.sweeps.size(); ++i) {
    const sim::SweepContact& c = in.run.cut.contact.sweeps[i];
    overlaps.push_back({c.body_bite_mm, c.body_bound_mm});
  }
  CheckResult result = ContactResult(in, overlaps, [&](std::size_t worst, Finding* f) {
    const int t = in.run.track.sweeps[worst].tool;
    const bool known = t >= 0 && t < static_cast<int>(in.run.track.tools.size());
    const std::string body =
        known ? BodyWord(in.job, in.run.track.tools[t], in.run.cut.contact.sweeps[worst].body)
              : std::string("tool body");
    f->text = fmt::format("The {} would push {} into the workpiece {}.", body,
                          Millimetres(f->value), WhereText(*f));
    f->cause = "the cutter sticks out too little for this place, or the tool leans the wrong way";
  });
  if (result.result != Result::kPass) return result;
  result.why = "Shank, holder and housing stay out of the material.";
  const std::vector<std::string> missing = MissingBodies(in);
  if (!missing.empty()) {
    return Unproven("Not every body above the cutter is described: " + List(missing) + ".", missing);
  }
  return NeedsFollowing(result, in.run);
}

namespace {

// Deepest engagement of one cutter along its axis.
struct Engagement {
  double axial_mm = 0.0;
  std::size_t sweep = 0;
  bool any = false, any_nan = false;
};

Engagement DeepestOf(const sim::Run& run, int tool) {
  Engagement e;
  for (std::size_t i = 0; i < run.track.sweeps.size(); ++i) {
    const sim::SweepContact& c = run.cut.contact.sweeps[i];
    if (run.track.sweeps[i].tool != tool || c.removed_units <= 0) continue;
    e.any = true;
    e.any_nan = e.any_nan || std::isnan(c.axial_mm);
    if (c.axial_mm > e.axial_mm) {
      e.axial_mm = c.axial_mm;
      e.sweep = i;
    }
  }
  return e;
}

CheckResult FluteResult(const CheckInputs& in, int tool_index) {
  const sim::TrackTool& tool = in.run.track.tools[tool_index];
  const Engagement e = DeepestOf(in.run, tool_index);
  const double flute_mm = tool.cutter.flute_length_mm();
  // Removed points are voxel centres: the true highest one is less than a voxel off.
  const double bound_mm = in.run.cut.contact.voxel_mm;
  CheckResult r = Measured({e.any_nan ? std::nan("") : e.axial_mm, bound_mm, flute_mm,
                            Sense::kAtMost, "mm"});
  r.where = Lines(in.run.track.sweeps[e.sweep].line, in.run.track.sweeps[e.sweep].line);
  if (r.result == Result::kFail) {
    Finding f = FindingOf({e.sweep, e.sweep, e.sweep}, in.run, e.axial_mm);
    f.limit = flute_mm;
    f.text = fmt::format("Cutter {} would cut {} up its side, its flutes end at {}, {}.",
                         tool.number, Millimetres(e.axial_mm), Millimetres(flute_mm), WhereText(f));
    f.cause = "too deep a pass for this cutter, or a flute length typed too short";
    r.why = f.text;
    r.findings = {f};
  } else if (r.result == Result::kUnproven) {
    r.why = fmt::format("Cutter {} cuts {} up its side, as near to its flutes' end at {} as one "
                        "voxel.",
                        tool.number, Millimetres(e.axial_mm), Millimetres(flute_mm));
    r.needs = {"a finer `resolution_mm`"};
  } else {
    r.why = fmt::format("Cutter {} cuts at most {} up its side; its flutes end at {}.", tool.number,
                        Millimetres(e.axial_mm), Millimetres(flute_mm));
  }
  return r;
}

}  // namespace

CheckResult CheckFluteLength(const CheckInputs& in) {
  if (!HasRecord(in.run)) return NoRecord();
  std::optional<CheckResult> worst;
  std::vector<Finding> findings;
  for (const int t : ToolsUsed(in.run)) {
    if (!DeepestOf(in.run, t).any) continue;
    const CheckResult r = FluteResult(in, t);
    findings.insert(findings.end(), r.findings.begin(), r.findings.end());
    const auto margin = [](const CheckResult& c) { return *c.limit - *c.worst; };
    const bool worse = !worst || r.result > worst->result ||
                       (r.result == worst->result && margin(r) < margin(*worst));
    if (worse) worst = r;
  }
  if (!worst) return Unproven("No cutter removed any material.", {"a path that cuts"});
  worst->findings = findings;
  return NeedsFollowing(*worst, in.run);
}

}  // namespace aircut::verify
