#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "verify/load_support.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// A mode is left alone by a frequency this far from it. Domain notes G9; modes of one arm
// move by up to 40 % along one path (R16 there), so a mode measured elsewhere says little.
constexpr double kApart_percent = 30.0;
// Harmonics looked at: those of the teeth, and the spindle's own turn, which shakes with
// every imbalance and run-out.
constexpr int kHarmonics = 5;

struct Forcing {
  double hz = 0;
  std::string what;
  const sim::SweepLoad* load = nullptr;
};

std::vector<Forcing> ForcingsOf(const CheckInputs& in) {
  std::vector<Forcing> forcings;
  std::set<std::pair<float, int>> seen;
  for (const sim::SweepLoad& load : in.run.load.sweeps) {
    const sim::CellCutter* cutter = CutterOf(in, load);
    if (cutter == nullptr || !seen.emplace(load.rpm, cutter->flutes).second) continue;
    const double turn_hz = load.rpm / 60.0;
    forcings.push_back({turn_hz, "the turn of the spindle", &load});
    for (int k = 1; k <= kHarmonics; ++k) {
      const std::string what = k == 1 ? std::string("the teeth") : fmt::format("harmonic {} of the teeth", k);
      forcings.push_back({k * cutter->flutes * turn_hz, what, &load});
    }
  }
  return forcings;
}

double Apart_percent(const Forcing& forcing, const sim::MeasuredMode& mode) {
  return 100.0 * std::abs(forcing.hz / mode.hz - 1.0);
}

struct Nearest {
  const Forcing* forcing = nullptr;
  const sim::MeasuredMode* mode = nullptr;
  double apart = 0;
};

Nearest NearestOf(const std::vector<Forcing>& forcings, const std::vector<sim::MeasuredMode>& modes) {
  Nearest nearest;
  for (const Forcing& forcing : forcings) {
    for (const sim::MeasuredMode& mode : modes) {
      const double apart = Apart_percent(forcing, mode);
      if (nearest.forcing == nullptr || apart < nearest.apart) nearest = {&forcing, &mode, apart};
    }
  }
  return nearest;
}

// A speed at which turn and teeth keep clear of every mode, the nearest to that of the cut.
std::optional<double> ClearSpeed(const CheckInputs& in, const sim::SweepLoad& load) {
  const int flutes = CutterOf(in, load)->flutes;
  const auto clear = [&](double rpm) {
    for (const sim::MeasuredMode& mode : in.job.cell.modes) {
      for (int k = 0; k <= kHarmonics; ++k) {
        const double hz = (k == 0 ? 1 : k * flutes) * rpm / 60.0;
        if (!(100.0 * std::abs(hz / mode.hz - 1.0) >= kApart_percent)) return false;
      }
    }
    return true;
  };
  constexpr double kStep_rpm = 100.0;
  const double low = std::max(in.job.cell.spindle_min_rpm, kStep_rpm), high = in.job.cell.spindle_max_rpm;
  for (double away = kStep_rpm; away <= high; away += kStep_rpm) {
    for (const double rpm : {load.rpm + away, load.rpm - away}) {
      const double limit = CutterOf(in, load)->rpm_limit;
      if (rpm >= low && rpm <= high && (limit == 0.0 || rpm <= limit) && clear(rpm)) return rpm;
    }
  }
  return std::nullopt;
}

}  // namespace

CheckResult CheckShaking(const CheckInputs& in) {
  if (auto none = NoLoad(in)) return *none;
  const std::vector<Forcing> forcings = ForcingsOf(in);
  if (forcings.empty()) return Unproven("No cutter of the cell cuts.", {"a path that cuts with a cutter of the cell"});
  const auto [lowest, highest] = std::minmax_element(forcings.begin(), forcings.end(),
                                                     [](const Forcing& a, const Forcing& b) { return a.hz < b.hz; });
  if (in.job.cell.modes.empty()) {
    return Unproven(fmt::format("Spindle and teeth shake at {:.0f} Hz and more; at which frequencies arm and fixture do was not "
                                "measured.", lowest->hz),
                    {"`arm.modes`: natural frequencies from a tap test with the tool over the work"});
  }
  const Nearest nearest = NearestOf(forcings, in.job.cell.modes);
  CheckResult r = Measured({nearest.apart, 0.0, kApart_percent, Sense::kAtLeast, "%"});
  r.assumed = true;
  r.why = fmt::format("Screening only: of what shakes from {:.0f} to {:.0f} Hz, {} at {:.0f} Hz comes nearest to a measured mode, "
                      "{:.3g} Hz ({}), {:.0f} % off. Chatter that feeds itself, and shaking by the path's own waves, are not "
                      "looked at.", lowest->hz, highest->hz, nearest.forcing->what, nearest.forcing->hz, nearest.mode->hz,
                      nearest.mode->by, nearest.apart);
  if (r.result != Result::kFail) return NeedsFollowing(r, in.run);
  Finding f = FindingAt(in, *nearest.forcing->load);
  f.value = nearest.apart;
  f.limit = kApart_percent;
  f.unit = "%";
  f.text = r.why;
  if (const auto rpm = ClearSpeed(in, *nearest.forcing->load)) {
    f.text += fmt::format(" {:.0f} rpm in place of {:.0f} keeps {:g} % from every measured mode.", *rpm,
                          nearest.forcing->load->rpm, kApart_percent);
  }
  f.cause = "the spindle's speed meets a natural frequency";
  r.findings = {f};
  return r;
}

}  // namespace aircut::verify
