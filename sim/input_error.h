#pragma once

#include <stdexcept>
#include <string>

namespace aircut::sim {

/// A fault in what the user gave. The message is complete: place, field,
/// value, bound and the mend, e.g.
/// `cell.yaml:14: cutters.1.diameter = -3 must be > 0 mm: write the cutting diameter of the bit`.
class InputError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

}  // namespace aircut::sim
