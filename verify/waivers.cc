#include "verify/waivers.h"

#include <algorithm>

namespace aircut::verify {
namespace {

using State = WaiverOutcome::State;

State StateOf(const sim::Waiver& waiver, const std::vector<CheckResult>& checks, const std::string& today) {
  const auto check = std::find_if(checks.begin(), checks.end(), [&](const CheckResult& c) { return c.id == waiver.check; });
  if (check == checks.end() || check->result == Result::kPass) return State::kIdle;
  // Clash and contact are refused when the file is read; this must hold for any caller.
  const bool in_time = !today.empty() && !(waiver.until < sim::Day{today});
  return in_time && sim::CanBeWaived(waiver.check) ? State::kCounts : State::kExpired;
}

}  // namespace

std::vector<WaiverOutcome> JudgeWaivers(const std::vector<sim::Waiver>& waivers, const std::vector<CheckResult>& checks,
                                        const std::string& today) {
  std::vector<WaiverOutcome> outcomes;
  for (const sim::Waiver& waiver : waivers) outcomes.push_back({waiver, StateOf(waiver, checks, today)});
  return outcomes;
}

void MarkWaived(const std::vector<WaiverOutcome>& outcomes, std::vector<CheckResult>* checks) {
  for (CheckResult& check : *checks) {
    check.waived = std::any_of(outcomes.begin(), outcomes.end(), [&](const WaiverOutcome& o) {
      return o.state == State::kCounts && o.waiver.check == check.id;
    });
  }
}

}  // namespace aircut::verify
