#pragma once

#include <string>
#include <vector>

#include "verify/report.h"

namespace aircut::verify {

/// A text file of the report folder.
struct SideFile {
  std::string name;
  std::string text;
};

/// Every name that SideFiles may give.
const std::vector<std::string>& SideFileNames();

/// What a run writes beside the report itself: slow_air_pass.csv and, where the arm
/// runs joint paths, slow_air_pass_joints.csv, unless the pass surely touches
/// something or is too fast; restarts.csv; the copies of the path that the job asks
/// for. Only what this run has.
std::vector<SideFile> SideFiles(const ReportContext& context);

/// @returns the moments of a track as a table: time, joints as the panel shows
/// them, with all their digits, line.
std::string JointTable(const kinematics::MotionTrack& track);

/// @returns restarts and withdrawals, one a row: line, posture, joints at the line
/// and drawn back, result in words. An empty place is not known.
std::string RestartsCsv(const sim::Run& run);

}  // namespace aircut::verify
