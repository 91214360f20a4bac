#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sim/cell.h"

namespace aircut::sim {

/// One pose of a deflection test: a force on a point of the tool, and how far that point went.
struct ArmPush {
  int line = 0;                                        ///< in its table
  kinematics::JointVector q;                           ///< panel values [rad], [mm] for a slide
  Eigen::Vector3d force_B = Eigen::Vector3d::Zero();   ///< [N]
  Eigen::Vector3d shift_B = Eigen::Vector3d::Zero();   ///< [mm]
};

/// Reads `q1_deg..qN_deg` (or `_rad`) as the panel shows them, the force as `fx_n,fy_n,fz_n`
/// in B or as `mass_kg` of what was hung there, and `dx_mm,dy_mm,dz_mm` (or `_m`, `_in`) in B.
/// @throws InputError.
std::vector<ArmPush> ReadArmPushes(const std::filesystem::path& file, const Cell& cell);

/// Joint stiffness by plain least squares over the joints' compliances, in which the deflection
/// is linear. Every fifth pose is then held out, five times over, and told from the others:
/// the band is what 95 % of the poses, each held out once, are missed by, in parts of their own
/// deflection. Never less than kLeastArmBand.
/// @param label how messages name the table. @param p_FQ the point pushed and measured [mm].
/// @throws InputError for fewer than ten poses, poses that do not load every joint, a joint that
/// gives against its load, or held-out poses that the others do not tell.
ArmFit FitArmStiffness(const std::string& label, const std::vector<ArmPush>& pushes,
                       const kinematics::ArmModel& arm, const Eigen::Vector3d& p_FQ);

/// A test takes force gauge and dial to a few per cent each (common practice, no source), and a
/// model of springs in the joints alone leaves 5 % of the deflection (domain notes R7).
inline constexpr double kLeastArmBand = 0.1;

}  // namespace aircut::sim
