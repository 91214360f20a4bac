#pragma once

#include "tests/support/tiny_job.h"

namespace aircut::test {

/// Entries of arm.external for the tiny cell: a track under its arm, along y, and a
/// turntable under its work.
inline constexpr const char* kTrack =
    "    - {name: track, side: tool, kind: slide, along: [0, 1, 0], range: [-500, 2500], speed: 800, "
    "acceleration: 1500, "
    "sign: -1, zero: 50}\n";
inline constexpr const char* kTable =
    "    - {name: table, side: work, kind: turn, along: [0, 0, 1], through: [1030, 0, 0], range: [-180, "
    "180], speed: 60, "
    "acceleration: 120, sign: 1, zero: 0}\n";

/// The tiny job with these axes; `home` are their panel values there.
inline TinyJob ExternalJob(const std::string& axes, const std::string& home) {
  TinyJob tiny;
  tiny.Change("tiny.cell.yaml", "  links:\n", "  external:\n" + axes + "  links:\n");
  tiny.Change("tiny.cell.yaml", "  home: [0, 25, 109, 0, 46, 0]",
              "  home: [0, 25, 109, 0, 46, 0" + (home.empty() ? "" : ", " + home) + "]");
  return tiny;
}

}  // namespace aircut::test
