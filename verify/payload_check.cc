#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {

// The load diagram of an arm is no input: with the centre of mass known its
// moment about the flange is printed, to be held against the diagram.
CheckResult CheckPayload(const CheckInputs& in) {
  if (!in.job.cell.payload) {
    return Unproven("What the arm carries was not said.",
                    {"`arm.payload`: limit_kg, tool_kg (spindle, holder, bracket and hoses "
                     "weighed together) and centre_in_flange"});
  }
  const sim::Payload& payload = *in.job.cell.payload;
  CheckResult r = Measured({payload.tool_kg, 0.0, payload.limit_kg, Sense::kAtMost, "kg"});
  r.why = fmt::format("The flange carries {:g} kg of {:g} kg", payload.tool_kg, payload.limit_kg);
  if (r.result == Result::kFail) {
    r.why += fmt::format(": {:g} kg too much.", payload.tool_kg - payload.limit_kg);
    Finding f;
    f.text = r.why;
    f.value = payload.tool_kg;
    f.limit = payload.limit_kg;
    f.unit = "kg";
    f.cause = "the tool is too heavy for this arm, or `arm.payload` is wrong";
    r.findings = {f};
    return r;
  }
  if (r.result == Result::kUnproven || !payload.centre_F) {
    r.result = Result::kUnproven;
    r.why += "; without its centre of mass the moment on the wrist is not known.";
    r.needs = {"`arm.payload.centre_in_flange`: the centre of mass of all that the flange carries"};
    return r;
  }
  constexpr double kGravity_m_s2 = 9.80665;   // standard value
  const double moment_nm = payload.tool_kg * kGravity_m_s2 * payload.centre_F->norm() / 1000.0;
  r.why += fmt::format(", {:g} kg to spare; at most {:.0f} N m about the flange, to be held against "
                       "the arm's load diagram.", payload.limit_kg - payload.tool_kg, moment_nm);
  return r;
}

}  // namespace aircut::verify
