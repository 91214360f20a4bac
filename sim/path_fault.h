#pragma once

#include <stdexcept>
#include <string>

namespace aircut::sim {

/// A fault in one statement of a path, as a sentence without its place. The
/// reader, which knows file and line, turns it into an InputError.
class PathFault : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

}  // namespace aircut::sim
