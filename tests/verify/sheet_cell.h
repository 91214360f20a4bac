#pragma once

#include "kinematics/units.h"
#include "sim/job.h"

namespace aircut::verify::support {

inline constexpr double kDegree = kinematics::kPi / 180.0;

/// Lengths of the arm below, in mm.
inline constexpr kinematics::SphericalWristParameters kSheetArm{100, -50, 0, 400, 500, 600, 100};

/// Six joints that each go half a turn either way.
inline std::vector<kinematics::JointSpec> FreeJoints() {
  kinematics::JointSpec joint;
  joint.lower_rad = -180 * kDegree;
  joint.upper_rad = 180 * kDegree;
  joint.speed_rad_s = 90 * kDegree;
  joint.acceleration_rad_s2 = 200 * kDegree;
  return std::vector<kinematics::JointSpec>(6, joint);
}

inline std::shared_ptr<const kinematics::ArmModel> SheetArm(std::vector<kinematics::JointSpec> joints) {
  return std::make_shared<const kinematics::ArmModel>(
      kinematics::ArmModel::FromSphericalWrist(kSheetArm, std::move(joints)));
}

/// A cell with nothing said that can be left out: base 300 mm above the world,
/// spindle in line with the flange, one ball cutter of 6 mm with 40 mm stick-out
/// in a holder of 10 + 35 mm.
inline sim::LoadedCellFile BareCell() {
  sim::LoadedCellFile loaded;
  sim::Cell& cell = loaded.cell;
  cell.name = "bench";
  cell.arm_name = "small arm (invented)";
  cell.arm_form = "spherical_wrist";
  cell.arm = SheetArm(FreeJoints());
  cell.drives.resize(6);
  cell.home = kinematics::JointVector::Zero(6);
  cell.X_WB.translation() = Eigen::Vector3d(0, 0, 300);
  cell.X_FH = kinematics::MakePose(Eigen::AngleAxisd(kinematics::kPi, Eigen::Vector3d::UnitX()).toRotationMatrix(),
                                   {0, 0, 220});
  cell.spindle_min_rpm = 3000;
  cell.spindle_max_rpm = 24000;
  sim::CellCutter cutter;
  cutter.number = 1;
  cutter.cutter = sim::Cutter::Ball(6, 22);
  cutter.flutes = 2;
  cutter.shank_diameter_mm = 6;
  cutter.stick_out_mm = cutter.measured_stick_out_mm = 40;
  cutter.holder = {{40, 50, 14}, {50, 85, 20}};
  cell.cutters.emplace(1, cutter);
  return loaded;
}

}  // namespace aircut::verify::support
