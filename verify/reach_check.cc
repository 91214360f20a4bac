#include "kinematics/inverse_kinematics.h"
#include "verify/arm_postures.h"
#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/side_moves.h"
#include "verify/words.h"

namespace aircut::verify {

using kinematics::PlanFaultKind;

CheckResult CheckReach(const CheckInputs& in) {
  std::vector<Finding> findings =
      FaultFindings(in, {PlanFaultKind::kOutOfReach, PlanFaultKind::kAtSingularity});
  for (Finding& f : SideFaults(in, {PlanFaultKind::kOutOfReach, PlanFaultKind::kAtSingularity})) {
    findings.push_back(std::move(f));
  }
  if (!findings.empty()) {
    double beyond_mm = 0.0;
    for (Finding& f : findings) {
      f.unit = "mm";
      if (f.value > beyond_mm) beyond_mm = f.value;
    }
    CheckResult r = FailedBy(in, std::move(findings),
                             "the workpiece stands too far from the arm or too near to it, or the "
                             "tool leans where the wrist cannot follow");
    if (r.result == Result::kUnproven) return r;
    r.worst = beyond_mm;
    r.bound = 0.0;
    r.limit = 0.0;
    r.unit = "mm";
    return r;
  }
  if (!in.run.motion.complete()) return NotFollowed(in.run);
  CheckResult r = Measured({0.0, 0.0, 0.0, Sense::kAtMost, "mm"});
  r.why = "The arm reaches all " + Count(static_cast<std::int64_t>(in.job.path.size())) + " lines." + SideMovesText(in.run);
  if (in.job.cell.arm != nullptr && !kinematics::HasClosedForm(*in.job.cell.arm)) {
    r.why += " Its postures are " + PosturesText(*in.job.cell.arm) +
             "; each one used puts the tool where it must be.";
  }
  return r;
}

}  // namespace aircut::verify
