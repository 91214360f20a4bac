#pragma once

#include <string>
#include <vector>

#include "sim/job.h"

namespace aircut::verify {

/// What the job leaves to a person at the cell, one sentence each, to be signed
/// before the first cut: no file shows it and no check can.
std::vector<std::string> LinesToSign(const sim::Job& job);

}  // namespace aircut::verify
