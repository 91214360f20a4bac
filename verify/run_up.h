#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "verify/check.h"

namespace aircut::verify {

/// The spindle is told to start, to turn round or to change its speed, and the
/// cutter is in the material before it is told again.
struct RunUp {
  int line = 0;               ///< of the order
  double from_rpm = 0.0, to_rpm = 0.0;
  double share = 1.0;         ///< of the time that a start from rest takes
  double available_s = 0.0;   ///< least time between the order and the first contact that may be
  std::size_t sweep = 0;      ///< of that contact
  std::optional<double> sure_s;   ///< time to the first contact that is sure
};

/// Every such order of the program with a possible contact after it, in file order; after
/// a cutter is put in, an order for whatever speed is a start from rest. Where
/// an acceleration is assumed the motion may be faster than planned, so only
/// dwells and the written feed of cuts count as time.
std::vector<RunUp> RunUpsOf(const CheckInputs& in);

/// True if the sweep has the cutter in the material.
bool IsInMaterial(const sim::Run& run, std::size_t sweep);

/// Index of the path line that each sweep leads to; -1 for the way there and back.
std::vector<int> PathIndexOfSweeps(const CheckInputs& in);

}  // namespace aircut::verify
