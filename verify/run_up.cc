#include "verify/run_up.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/executed_track.h"
#include "verify/checks.h"

namespace aircut::verify {
namespace {

using sim::PathEvent;
using sim::PathEventKind;

bool HasMoments(const sim::Run& run) {
  return run.executed && !run.motion.tracks.empty() &&
         run.motion.tracks[0].path_index.size() == run.track.sweeps.size() + 1;
}

bool AccelerationIsAssumed(const sim::Job& job) {
  return std::any_of(job.cell.assumed.begin(), job.cell.assumed.end(), [](const sim::AssumedValue& a) {
    return a.key.find("acceleration") != std::string::npos;
  });
}

double Share(double from_rpm, double to_rpm) {
  if (from_rpm == 0.0 || (from_rpm > 0.0) != (to_rpm > 0.0)) return 1.0;
  const double from = std::abs(from_rpm), to = std::abs(to_rpm);
  return std::abs(to - from) / std::max(to, from);
}

// Dwells after event `order` and before the move to path line `index`.
double DwellUntil(const std::vector<PathEvent>& events, std::size_t order, int index) {
  double sum_s = 0.0;
  for (std::size_t i = order + 1; i < events.size() && events[i].before <= index; ++i) {
    if (events[i].kind == PathEventKind::kDwell) sum_s += events[i].value;
  }
  return sum_s;
}

class Clock {
 public:
  Clock(const CheckInputs& in, const std::vector<int>& index_of_sweep)
      : in_(in), index_of_sweep_(index_of_sweep),
        planned_(HasMoments(in.run) && !AccelerationIsAssumed(in.job)) {}

  // From event `order` until `sweep` begins.
  double Until(std::size_t order, std::size_t sweep) const {
    const PathEvent& event = in_.job.events[order];
    const int first = std::max(event.before, 1), last = index_of_sweep_[sweep];
    const double dwell_s = DwellUntil(in_.job.events, order, last);
    if (!planned_) return dwell_s + CutTime(first, last);
    // The plan holds every dwell behind line `first`; those before it are added.
    const double moves_s = in_.run.track.time_s[sweep] - TimeBeforeLine(first);
    return DwellUntil(in_.job.events, order, first) + std::max(moves_s, 0.0);
  }

 private:
  double CutTime(int first, int last) const {
    double sum_s = 0.0;
    for (int i = first; i < last; ++i) {
      const auto to = static_cast<std::size_t>(i);
      sum_s += sim::WrittenTime_s(in_.job.path[to - 1], in_.job.path[to]);
    }
    return sum_s;
  }

  // When the arm leaves the line before path line `index`.
  double TimeBeforeLine(int index) const {
    const auto& indices = in_.run.motion.tracks[0].path_index;
    const auto first = std::find_if(indices.begin(), indices.end(), [&](int i) { return i >= index; });
    const auto moment = static_cast<std::size_t>(first - indices.begin());
    return in_.run.track.time_s[moment > 0 ? moment - 1 : 0];
  }

  const CheckInputs& in_;
  const std::vector<int>& index_of_sweep_;
  bool planned_;
};

// Sweeps in the material with the path line that they lead to, in order.
struct Contact {
  int index = 0;
  std::size_t sweep = 0;
};

std::vector<Contact> ContactsOf(const sim::Run& run, const std::vector<int>& index_of_sweep,
                                bool (*counts)(const sim::Run&, std::size_t)) {
  std::vector<Contact> contacts;
  for (std::size_t i = 0; i < index_of_sweep.size(); ++i) {
    if (index_of_sweep[i] >= 0 && counts(run, i)) contacts.push_back({index_of_sweep[i], i});
  }
  return contacts;
}

// Within its numerical error the sweep may have the cutter in the material.
bool MayBeInMaterial(const sim::Run& run, std::size_t sweep) {
  const sim::SweepContact& c = run.cut.contact.sweeps[sweep];
  return c.removed_units > 0 || c.bite_mm + c.bite_bound_mm > kContact_mm;
}

// The first contact on the way to path lines [from, until).
std::optional<std::size_t> FirstOf(const std::vector<Contact>& contacts, int from, int until) {
  const auto contact = std::lower_bound(contacts.begin(), contacts.end(), from,
                                        [](const Contact& c, int index) { return c.index < index; });
  if (contact == contacts.end() || contact->index >= until) return std::nullopt;
  return contact->sweep;
}

// An order that changes the speed of the spindle.
struct SpeedOrder {
  std::size_t event = 0;
  double from_rpm = 0.0, to_rpm = 0.0;
};

// A cutter is put in with the spindle standing still, so the next order is a
// start, whatever speed was ordered before.
std::vector<SpeedOrder> SpeedOrdersOf(const std::vector<PathEvent>& events) {
  std::vector<SpeedOrder> orders;
  double rpm = 0.0;
  for (std::size_t i = 0; i < events.size(); ++i) {
    if (events[i].kind == PathEventKind::kTool) rpm = 0.0;
    if (events[i].kind != PathEventKind::kSpindle || events[i].value == rpm) continue;
    orders.push_back({i, std::exchange(rpm, events[i].value), events[i].value});
  }
  return orders;
}

}  // namespace

bool IsInMaterial(const sim::Run& run, std::size_t sweep) {
  const sim::SweepContact& c = run.cut.contact.sweeps[sweep];
  return c.removed_units > 0 || c.bite_mm > kContact_mm;
}

std::vector<int> PathIndexOfSweeps(const CheckInputs& in) {
  const std::vector<sim::SweepInfo>& sweeps = in.run.track.sweeps;
  std::vector<int> indices(sweeps.size(), -1);
  if (HasMoments(in.run)) {
    const kinematics::MotionTrack& motion = in.run.motion.tracks[0];
    for (std::size_t i = 0; i < sweeps.size(); ++i) indices[i] = motion.path_index[i + 1];
    return indices;
  }
  // The written path: lines come in order, each sweep names its own.
  std::size_t index = 0;
  for (std::size_t i = 0; i < sweeps.size(); ++i) {
    if (sweeps[i].line == 0) continue;
    std::size_t next = index;
    while (next < in.job.path.size() && in.job.path[next].line != sweeps[i].line) ++next;
    if (next == in.job.path.size()) continue;
    indices[i] = static_cast<int>(next);
    index = next + (next + 1 < in.job.path.size() && in.job.path[next + 1].line == sweeps[i].line ? 1 : 0);
  }
  return indices;
}

std::vector<RunUp> RunUpsOf(const CheckInputs& in) {
  const std::vector<int> index_of_sweep = PathIndexOfSweeps(in);
  const std::vector<Contact> possible = ContactsOf(in.run, index_of_sweep, MayBeInMaterial);
  const std::vector<Contact> sure = ContactsOf(in.run, index_of_sweep, IsInMaterial);
  const Clock clock(in, index_of_sweep);
  const std::vector<SpeedOrder> orders = SpeedOrdersOf(in.job.events);
  std::vector<RunUp> run_ups;
  for (std::size_t i = 0; i < orders.size(); ++i) {
    const SpeedOrder& order = orders[i];
    if (order.to_rpm == 0.0) continue;
    const PathEvent& event = in.job.events[order.event];
    const int until = i + 1 == orders.size() ? static_cast<int>(in.job.path.size())
                                             : in.job.events[orders[i + 1].event].before;
    const auto first = FirstOf(possible, event.before, until), touch = FirstOf(sure, event.before, until);
    if (!first) continue;
    RunUp run_up{event.line, order.from_rpm, order.to_rpm, Share(order.from_rpm, order.to_rpm),
                 clock.Until(order.event, *first), *first, std::nullopt};
    if (touch) run_up.sure_s = clock.Until(order.event, *touch);
    run_ups.push_back(run_up);
  }
  return run_ups;
}

}  // namespace aircut::verify
