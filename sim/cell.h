#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/motion_planner.h"
#include "sim/collision_world.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// A key that was read and understood but that no computation uses yet.
struct UnusedKey {
  std::string file;
  int line = 0;
  std::string key;      ///< dotted path, e.g. "arm.payload.limit_kg"
};

/// A file that took part in the run.
struct InputFile {
  std::string role;     ///< "job", "cell", "path", "stock", "design", ...
  std::string file;     ///< as written in its parent, relative to the job's folder
  std::string sha256;
  std::int64_t bytes = 0;
};

struct LinkBody {
  int link = 0;                 ///< from 1; 0 = base
  std::vector<Shape> shapes;    ///< in the link frame [mm]
};

struct NamedBody {
  std::string name;
  std::vector<Shape> shapes;
};

/// A cutter as the cell describes it, with its stack up to the collet nut.
struct CellCutter {
  int number = 0;
  Cutter cutter;
  int flutes = 0;
  double shank_diameter_mm = 0;
  double stick_out_mm = 0;                 ///< tip end to H
  double measured_stick_out_mm = 0;        ///< = stick_out where not measured
  bool measured = false;
  bool right_handed = true;
  double rpm_limit = 0;                    ///< 0 = not stated
  double control_height_mm = 0;            ///< control point above the tip end, along the axis
  std::vector<BodyCylinder> holder;        ///< above H, in T (z0 >= stick_out)
};

/// The cell: checked, in mm and rad. Frames as in kinematics/frame.h.
struct Cell {
  std::string name;
  std::string arm_name;
  std::shared_ptr<const kinematics::ArmModel> arm;
  kinematics::Pose X_WB = kinematics::Pose::Identity();
  kinematics::Pose X_FH = kinematics::Pose::Identity();
  std::vector<LinkBody> links;
  std::vector<BodyCylinder> housing_H;      ///< about the z axis of H
  std::vector<Shape> housing_shapes_H;      ///< the same, for clash
  kinematics::JointVector home;
  kinematics::ControllerRules controller;
  double spindle_min_rpm = 0, spindle_max_rpm = 0;
  std::map<int, CellCutter> cutters;
  kinematics::Pose X_WS = kinematics::Pose::Identity();   ///< believed: as the controller holds it
  std::vector<Eigen::Vector3d> touched_W;                 ///< points touched on the real piece
  std::vector<Shape> fixture_S;
  std::vector<NamedBody> obstacles_W;
  std::optional<double> floor_z_mm;
};

}  // namespace aircut::sim
