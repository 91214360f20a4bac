#include <cmath>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

double Minutes(double time_s) { return time_s / 60.0; }

bool AreTimes(const kinematics::ThreeTimes& t) {
  return t.ideal_s > 0.0 && t.ideal_s <= t.modelled_s && t.modelled_s <= t.stop_each_s &&
         std::isfinite(t.stop_each_s);
}

}  // namespace

// A real control lies somewhere between the ideal one and one that stands still
// at every line: only what both ends agree on is shown.
CheckResult CheckCycleTime(const CheckInputs& in) {
  const kinematics::Motion& motion = in.run.motion;
  if (!motion.complete()) return NotFollowed(in.run);
  const kinematics::ThreeTimes& t = motion.times;
  if (!AreTimes(t)) return Unproven("The time of the motion is not known.", {"a path that the arm can follow"});
  const std::string band = fmt::format("{} as the control is modelled; {} if it were ideal, {} if it stood still "
                                       "at every line. A real control differs.",
                                       Clock(t.modelled_s), Clock(t.ideal_s), Clock(t.stop_each_s));
  CheckResult r;
  r.unit = "min";
  r.worst = Minutes(t.modelled_s);
  r.bound = Minutes(t.stop_each_s - t.modelled_s);
  r.why = band;
  if (!in.job.accept.cycle_time_min) {
    r.result = Result::kPass;
    r.why += " No limit was given.";
    r.assumed = true;
    return r;
  }
  const double limit_min = *in.job.accept.cycle_time_min;
  r.limit = limit_min;
  if (Minutes(t.stop_each_s) <= limit_min) {
    r.result = Result::kPass;
  } else if (Minutes(t.ideal_s) > limit_min) {
    r.result = Result::kFail;
    Finding f;
    f.text = fmt::format("The job takes {} even with an ideal control (limit {:g} min).", Clock(t.ideal_s), limit_min);
    f.value = Minutes(t.ideal_s);
    f.limit = limit_min;
    f.unit = "min";
    f.cause = "the feed, the stepover or the way of the path";
    r.findings = {f};
    r.why = f.text + " " + band;
  } else {
    r.result = Result::kUnproven;
    r.needs = {"the time of one run in the air on the real arm"};
  }
  return r;
}

}  // namespace aircut::verify
