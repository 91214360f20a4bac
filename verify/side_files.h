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
/// them, with all their digits, line. Columns `q1_deg`.., `q7_mm` for a slide.
/// @param arm null: no joint slides.
std::string JointTable(const kinematics::MotionTrack& track, const kinematics::ArmModel* arm);

/// @returns the names of the joint columns, each after a comma: ",q1_deg,q2_deg".
std::string JointColumnNames(const std::string& before, Eigen::Index joints, const kinematics::ArmModel* arm);

/// @returns a joint's value in the unit of its column. @param joint from 0.
double InColumn(const kinematics::JointVector& q, Eigen::Index joint, const kinematics::ArmModel* arm);

/// @returns restarts and withdrawals, one a row: line, posture, joints at the line
/// and drawn back, result in words. An empty place is not known.
std::string RestartsCsv(const sim::Run& run, const kinematics::ArmModel* arm);

}  // namespace aircut::verify
