#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/process_band.h"
#include "verify/run_up.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using sim::PathEvent;
using sim::PathEventKind;

// Nearer than this to the piece nobody should have a hand in the collet.
constexpr double kToolChange_mm = 20.0;   // common practice, no source

Finding FaultAt(int line, const std::string& text, const std::string& cause) {
  Finding f;
  f.line = line;
  f.text = text;
  f.cause = cause;
  f.value = 1.0;
  f.unit = "faults";
  return f;
}

bool IsCommanded(const sim::Job& job) { return job.cell.switched == sim::SpindleSwitch::kByPath; }

bool HasRecord(const sim::Run& run) {
  const std::size_t sweeps = run.track.sweeps.size();
  return sweeps > 0 && run.cut.contact.sweeps.size() == sweeps && run.track.time_s.size() == sweeps + 1;
}

// What the program has ordered so far.
struct ProgramState {
  double rpm = 0.0;
  int tool = 0;
  bool has_tool = false;
};

// Cutters are changed with the spindle stopped and clear of the piece.
class ToolChanges {
 public:
  explicit ToolChanges(const CheckInputs& in) : in_(in) {}

  void Look(const PathEvent& event, const ProgramState& state, std::vector<Finding>* faults) const {
    // A program's M06 puts a cutter in; in the other formats the first tool word
    // may only say which one is there.
    const bool is_first = !state.has_tool && in_.job.path_format == "iso6983";
    const bool is_change = state.has_tool && static_cast<int>(event.value) != state.tool;
    if (!is_first && !is_change) return;
    if (IsCommanded(in_.job) && state.rpm != 0.0) {
      faults->push_back(FaultAt(event.line,
                                fmt::format("{}: cutter {} is put in while the spindle turns at {} rpm.",
                                            Lines(event.line, event.line), static_cast<int>(event.value),
                                            Count(std::llround(std::abs(state.rpm)))),
                                "the order that stops the spindle is missing before the change"));
    }
    if (is_change && event.before > 0) LookAtPlace(event, faults);
  }

 private:
  void LookAtPlace(const PathEvent& event, std::vector<Finding>* faults) const {
    if (!in_.job.tool_change.empty() || in_.job.stock_S == nullptr) return;
    const kinematics::PathLine& line = in_.job.path[static_cast<std::size_t>(event.before) - 1];
    const double room_mm = in_.job.stock_S->SignedDistance(line.p_ST);
    if (room_mm >= kToolChange_mm) return;
    Finding f = FaultAt(event.line,
                        fmt::format("{}: the cutter is changed {} from the piece (least {}).",
                                    Lines(event.line, event.line), Millimetres(room_mm), Millimetres(kToolChange_mm)),
                        "the retract before the change is missing or too low; or give `tool_change` in the job");
    f.at_S = line.p_ST;
    faults->push_back(f);
  }

  const CheckInputs& in_;
};

// A stop of the program leaves the cutter where it is.
void LookAtStop(const CheckInputs& in, const PathEvent& event, const std::vector<int>& index_of_sweep,
                std::vector<Finding>* faults) {
  if (event.before < 1) return;
  for (std::size_t i = index_of_sweep.size(); i-- > 0;) {
    if (index_of_sweep[i] < 0 || index_of_sweep[i] >= event.before) continue;
    if (!IsInMaterial(in.run, i)) return;
    Finding f = FaultAt(event.line,
                        fmt::format("{}: the program stops with the cutter in the material.",
                                    Lines(event.line, event.line)),
                        "the retract before the stop is missing");
    f.at_S = in.run.track.p_ST[i + 1];
    f.time_s = TimeOfSweep(in.run, i);
    return faults->push_back(f);
  }
}

// The written speed against the cutter's hand and both limits, once a cutter
// and speed.
void LookAtSpeeds(const sim::Job& job, std::vector<Finding>* faults) {
  std::set<std::pair<int, double>> seen;
  for (const kinematics::PathLine& line : job.path) {
    if (line.spindle_rpm == 0.0 || !seen.insert({line.tool, line.spindle_rpm}).second) continue;
    const auto found = job.cell.cutters.find(line.tool);
    if (found == job.cell.cutters.end()) continue;
    const sim::CellCutter& cutter = found->second;
    const double rpm = std::abs(line.spindle_rpm);
    const auto fault = [&](const std::string& what, const std::string& cause) {
      faults->push_back(FaultAt(line.line, fmt::format("From {} on {}.", Lines(line.line, line.line), what), cause));
    };
    if ((line.spindle_rpm > 0.0) != cutter.right_handed) {
      fault(fmt::format("the spindle turns {}, cutter {} cuts {}", line.spindle_rpm > 0.0 ? "clockwise" : "anticlockwise",
                        line.tool, cutter.right_handed ? "clockwise" : "anticlockwise"),
            "the direction word of the path, or `hand` of the cutter");
    }
    if (rpm < job.cell.spindle_min_rpm || rpm > job.cell.spindle_max_rpm) {
      fault(fmt::format("the spindle is asked for {} rpm, it turns from {} to {} rpm", Count(std::llround(rpm)),
                        Count(std::llround(job.cell.spindle_min_rpm)), Count(std::llround(job.cell.spindle_max_rpm))),
            "the speed of the path, or `spindle.speed_rpm`");
    }
    if (cutter.rpm_limit > 0.0 && rpm > cutter.rpm_limit) {
      fault(fmt::format("cutter {} turns at {} rpm, its limit is {} rpm", line.tool, Count(std::llround(rpm)),
                        Count(std::llround(cutter.rpm_limit))),
            "the speed of the path, or `rpm_limit` of the cutter");
    }
  }
}

// A program that uses coolant or air has it on whenever the cutter is in the material.
void LookAtCoolant(const CheckInputs& in, const std::vector<int>& index_of_sweep, std::vector<Finding>* faults) {
  std::vector<const PathEvent*> orders;
  for (const PathEvent& event : in.job.events) {
    if (event.kind == PathEventKind::kCoolant) orders.push_back(&event);
  }
  if (std::none_of(orders.begin(), orders.end(), [](const PathEvent* e) { return e->value != 0.0; })) return;
  std::size_t next = 0;
  bool is_on = false;
  for (std::size_t i = 0; i < index_of_sweep.size(); ++i) {
    if (index_of_sweep[i] < 0) continue;
    for (; next < orders.size() && orders[next]->before <= index_of_sweep[i]; ++next) is_on = orders[next]->value != 0.0;
    if (is_on || !IsInMaterial(in.run, i)) continue;
    const int line = in.run.track.sweeps[i].line;
    Finding f = FaultAt(line, fmt::format("At {} the cutter is in the material with the coolant off, which the "
                                          "program uses elsewhere.", Lines(line, line)),
                        "the order that turns the coolant on comes too late or the one that turns it off too early");
    f.at_S = in.run.track.p_ST[i + 1];
    f.time_s = TimeOfSweep(in.run, i);
    return faults->push_back(f);
  }
}

bool SpindleIsOrdered(const sim::Job& job) {
  return std::any_of(job.events.begin(), job.events.end(), [](const PathEvent& e) {
    return e.kind == PathEventKind::kSpindle && e.value != 0.0;
  });
}

std::vector<Finding> FaultsOf(const CheckInputs& in) {
  std::vector<Finding> faults;
  const std::vector<int> index_of_sweep = PathIndexOfSweeps(in);
  const ToolChanges changes(in);
  ProgramState state;
  for (const PathEvent& event : in.job.events) {
    if (event.kind == PathEventKind::kSpindle) state.rpm = event.value;
    if (event.kind == PathEventKind::kTool) {
      changes.Look(event, state, &faults);
      state.tool = static_cast<int>(event.value);
      state.has_tool = true;
    }
    if (event.kind == PathEventKind::kStop || event.kind == PathEventKind::kOptionalStop) {
      LookAtStop(in, event, index_of_sweep, &faults);
    }
  }
  LookAtSpeeds(in.job, &faults);
  LookAtCoolant(in, index_of_sweep, &faults);
  if (IsCommanded(in.job) && !SpindleIsOrdered(in.job)) {
    faults.push_back(FaultAt(0, "The path never starts the spindle.",
                             "an order that starts it is missing; or the spindle is switched by hand: write "
                             "`spindle.switched: outside`"));
  }
  return faults;
}

// The run-up with the least room, as a share of what it needs.
const RunUp* Tightest(const std::vector<RunUp>& run_ups) {
  const auto room = [](const RunUp& r) { return r.available_s / r.share; };
  const auto least = std::min_element(run_ups.begin(), run_ups.end(),
                                      [&](const RunUp& a, const RunUp& b) { return room(a) < room(b); });
  return least == run_ups.end() ? nullptr : &*least;
}

// "the order for 18,000 rpm"; where it stands belongs into a finding.
std::string OrderText(const RunUp& r) {
  return fmt::format("the order for {} rpm", Count(std::llround(std::abs(r.to_rpm))));
}

std::string RunUpText(const CheckInputs& in, const RunUp& r, const std::string& order) {
  const int line = in.run.track.sweeps[r.sweep].line;
  return fmt::format("Between {} and the first contact at {} pass at least {:.1f} s", order, Lines(line, line),
                     r.available_s);
}

Finding RunUpFinding(const CheckInputs& in, const RunUp& r, double needed_s) {
  Finding f = FaultAt(in.run.track.sweeps[r.sweep].line, RunUpText(in, r, OrderText(r) + " at " + Lines(r.line, r.line)) +
                          fmt::format("; the spindle takes {:.1f} s.", needed_s),
                      "a dwell after the spindle's start is missing or too short");
  f.value = r.available_s;
  f.limit = needed_s;
  f.unit = "s";
  f.at_S = in.run.track.p_ST[r.sweep + 1];
  f.time_s = TimeOfSweep(in.run, r.sweep);
  return f;
}

CheckResult DecideRunUp(const CheckInputs& in, const RunUp& r) {
  const bool is_stated = in.job.cell.run_up_s.has_value();
  const double needed_s = r.share * (is_stated ? *in.job.cell.run_up_s : kRunUpBand.high);
  const double least_s = r.share * (is_stated ? *in.job.cell.run_up_s : kRunUpBand.low);
  CheckResult result = Measured({r.available_s, 1e-6, needed_s, Sense::kAtLeast, "s"});
  result.assumed = !is_stated;
  const std::string assumed =
      is_stated ? "" : fmt::format(" (assumed worst of {:g} to {:g} s, {})", kRunUpBand.low, kRunUpBand.high,
                                   kRunUpBand.source);
  result.why = "Orders come in their order. " + RunUpText(in, r, OrderText(r)) +
               fmt::format("; the spindle takes {:.1f} s{}.", needed_s, assumed);
  if (result.result == Result::kPass) return result;
  const bool is_sure = r.sure_s && Decide(*r.sure_s, 1e-6, least_s, Sense::kAtLeast) == Result::kFail;
  if (is_sure) {
    result.result = Result::kFail;
    result.findings = {RunUpFinding(in, r, least_s)};
    result.why = result.findings.front().text;
    result.where = Lines(result.findings.front().line, result.findings.front().line);
    return result;
  }
  result.result = Result::kUnproven;
  result.needs = {is_stated ? "a longer dwell after the spindle's start"
                            : fmt::format("`{}`, timed with a watch, or a dwell of {:g} s", kRunUpBand.key,
                                          kRunUpBand.high)};
  return result;
}

CheckResult FaultResult(const std::vector<Finding>& faults) {
  CheckResult r = Measured({static_cast<double>(faults.size()), 0.0, 0.0, Sense::kAtMost, "faults"});
  r.findings = faults;
  if (!faults.empty()) {
    r.why = faults.front().text;
    if (faults.front().line > 0) r.where = Lines(faults.front().line, faults.front().line);
  } else {
    r.why = "Spindle, cutter, dwell and coolant orders come in their order.";
  }
  TrimFindings(&r);
  return r;
}

}  // namespace

CheckResult CheckEvents(const CheckInputs& in) {
  if (in.job.path.empty() || !HasRecord(in.run)) {
    return Unproven("No contact was recorded, so the orders cannot be held against it.", {"a tool path that moves"});
  }
  const CheckResult order = FaultResult(FaultsOf(in));
  if (order.result == Result::kFail) return order;
  if (!IsCommanded(in.job)) {
    CheckResult r = order;
    r.why = "The spindle is switched outside the path: its start and run-up are lines to sign. " + r.why;
    return NeedsFollowing(r, in.run);
  }
  const std::vector<RunUp> run_ups = RunUpsOf(in);
  const RunUp* tightest = Tightest(run_ups);
  return NeedsFollowing(tightest == nullptr ? order : DecideRunUp(in, *tightest), in.run);
}

}  // namespace aircut::verify
