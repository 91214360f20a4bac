#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/dry_run.h"
#include "verify/deviation.h"
#include "verify/finding.h"

namespace aircut::verify {

/// All a check may look at. Checks are pure functions of it.
struct CheckInputs {
  const sim::Job& job;
  const sim::Run& run;
  const Deviation& deviation;
  int threads = 1;        ///< to use, >= 1; no result depends on it
};

/// A check of the catalogue: fixed id and group.
struct CheckEntry {
  std::string id;
  Group group;
  std::string asks;       ///< the question it answers, one short line
  std::function<CheckResult(const CheckInputs&)> run;
};

/// Every check of the design, in report order.
const std::vector<CheckEntry>& Catalogue();

/// Runs all of them; marks which are required by the job.
std::vector<CheckResult> RunChecks(const CheckInputs& inputs);

}  // namespace aircut::verify
