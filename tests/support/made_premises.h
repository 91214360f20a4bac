#pragma once

#include <memory>
#include <vector>

#include "kinematics/forward_kinematics.h"
#include "sim/job.h"
#include "tests/support/fit_points.h"
#include "tests/support/sample_arm.h"

namespace aircut::support {

/// Six points round the board of a made run, each found with an error of a few
/// hundredths of a millimetre. Numbers drawn once by hand.
inline std::vector<sim::FitPoint> MadeFit(const kinematics::Pose& X_WS) {
  std::vector<sim::FitPoint> points =
      FitPointsAt({{0, 0, 0}, {100, 0, 0}, {100, 100, 0}, {0, 100, 0}, {50, 0, -20}, {50, 100, -20}},
                  X_WS);
  const std::vector<Eigen::Vector3d> off = {{.010, -.004, .006}, {-.008, .007, -.003},
                                            {.003, .009, .005},  {-.006, -.005, .008},
                                            {.002, -.011, -.007}, {-.004, .006, -.009}};
  for (std::size_t i = 0; i < points.size(); ++i) points[i].p_W += off[i];
  return points;
}

/// Four poses far apart, shown with six digits behind the point.
inline sim::ReadoutTable MadeReadouts(const kinematics::ArmModel& arm) {
  sim::ReadoutTable table;
  for (const std::vector<double>& q_deg :
       {std::vector<double>{10, 20, 30, 40, 50, 60}, {-40, 5, 60, -70, -35, 20},
        {75, -30, -20, 15, 80, -110}, {-15, 40, -50, 110, 25, 35}}) {
    sim::Readout row;
    row.line = static_cast<int>(table.rows.size()) + 2;
    row.q = PanelFromDeg(q_deg);
    row.X_BF = kinematics::FlangePose(arm, row.q);
    table.rows.push_back(row);
  }
  table.joint_rounding_rad = kinematics::RadFromDeg(5e-7);
  table.position_rounding_mm = 5e-7;
  table.rotation_rounding = 5e-10;
  return table;
}

/// Gives every premise of a made job its second source.
inline void MakePremises(sim::Job* job) {
  sim::Cell& cell = job->cell;
  cell.arm = std::make_shared<const kinematics::ArmModel>(SampleArm());
  cell.readouts = MadeReadouts(*cell.arm);
  cell.payload = sim::Payload{120.0, 14.0, Eigen::Vector3d(0, 0, 130)};
  cell.links.clear();
  for (int link = 1; link <= 6; ++link) {
    cell.links.push_back({link, {sim::CapsuleShape{{0, 0, 0}, {0, 0, 100}, 80.0}}});
  }
  cell.housing = cell.fixture = cell.floor = sim::Declared::kGiven;
  cell.hose = cell.dust_hood = cell.obstacles = cell.clamps_said = sim::Declared::kNone;
  cell.fit = MadeFit(cell.X_WS);
  cell.X_WS_typed = false;
  for (auto& [number, cutter] : cell.cutters) {
    cutter.measured_diameter_mm = 2.0 * cutter.cutter.radius_mm();
    cutter.measured_by = "setter";
  }
  job->runs.how = sim::RunsAs::How::kJointPath;
  job->scan.said = sim::Declared::kNone;
}

}  // namespace aircut::support
