#pragma once

#include <filesystem>
#include <vector>

#include "sim/cell.h"
#include "sim/job.h"

namespace aircut::sim {

/// Tables that a cell or a job names, design.md section 5. All are CSV whose
/// header names the columns with their units (see CsvRows); angles come out in
/// rad, lengths in mm. Each throws InputError with file, line, column, value and
/// mend for a fault in the table.

/// Read-outs of the controller: `q1_deg..qN_deg` (or `_rad`; `_mm` or `_in` for a
/// slide) as the panel shows them, `x_mm,y_mm,z_mm` (or `_in`) and `qw,qx,qy,qz` of F in B; at least three
/// rows. The digits written say how far each number may be off: half a unit of
/// the last digit, the coarsest number of the table counts.
/// @param slides one per joint: true where its values are lengths; so below.
ReadoutTable ReadReadouts(const std::filesystem::path& file, const std::vector<bool>& slides);

/// Joint values logged on the arm, columns as of the read-outs; one row or more.
std::vector<RunsAs::LogRow> ReadJointLog(const std::filesystem::path& file, const std::vector<bool>& slides);

/// Points of a frame fit: `name,x_mm,y_mm,z_mm` in S and `wx_mm,wy_mm,wz_mm` in
/// W (or `_in`); three or more that do not lie on a line.
std::vector<FitPoint> ReadFitPoints(const std::filesystem::path& file);

/// Push test on the fixture: `px,py,pz,dx,dy,dz,force_n,gx,gy,gz,displacement_mm,
/// stands_on`: place pushed, direction, force, place of the dial, what it showed
/// and what it stands on. Places are mm in S unless named `_in`.
std::vector<PushRow> ReadPushTest(const std::filesystem::path& file);

/// Drift test: `time_min,x_mm,y_mm,z_mm` (or `_in`), how far the tip stood from where it
/// was cold, in W, by rising time since the arm began to move; two rows or more.
std::vector<DriftRow> ReadDriftTest(const std::filesystem::path& file);

/// Points touched on the real piece, and the lines they stand in.
struct TouchedPoints {
  std::vector<Eigen::Vector3d> p_W;
  std::vector<int> lines;
};
/// `x_mm,y_mm,z_mm` (or `_in`) in W.
TouchedPoints ReadTouched(const std::filesystem::path& file);

/// @returns half a unit of the last digit of `number` as written, e.g. 0.005 for
/// `1.25` and 0.05 for `12.5e0`; 0.5 for a whole number.
double HalfLastDigit(std::string_view number);

}  // namespace aircut::sim
