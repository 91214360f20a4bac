#include "verify/finding.h"

#include <cmath>

namespace aircut::verify {

const char* WordFor(Result result) {
  switch (result) {
    case Result::kPass: return "pass";
    case Result::kFail: return "fail";
    case Result::kUnproven: break;
  }
  return "unproven";
}

Result Decide(double worst, double bound, double limit, Sense sense) {
  // Written so that NaN falls through to unproven; a bound below zero is no bound.
  if (!(bound >= 0.0) || std::isnan(worst) || std::isnan(limit)) return Result::kUnproven;
  const double sign = sense == Sense::kAtMost ? 1.0 : -1.0;
  if (sign * worst - bound > sign * limit) return Result::kFail;
  const bool finite = std::isfinite(worst) && std::isfinite(bound) && std::isfinite(limit);
  if (finite && sign * worst + bound <= sign * limit) return Result::kPass;
  return Result::kUnproven;
}

}  // namespace aircut::verify
