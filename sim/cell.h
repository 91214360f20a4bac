#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/motion_planner.h"
#include "sim/collision_world.h"
#include "sim/cutter_outline.h"
#include "sim/stopping.h"
#include "sim/tool_track.h"

namespace aircut::sim {

/// A file that took part in the run.
struct InputFile {
  std::string role;     ///< "job", "cell", "path", "stock", "design", ...
  std::string file;     ///< as written in its parent, relative to the job's folder
  std::string sha256;
  std::int64_t bytes = 0;
};

/// A process value that nobody stated: the bad end of a band stands for it.
struct AssumedValue {
  std::string key;      ///< dotted path, e.g. "arm.joints[2].acceleration"
  double value = 0;     ///< that was used
  double low = 0, high = 0;
  std::string unit;
  std::string source;
};

/// A pose of the real arm, as its panel showed it.
struct Readout {
  int line = 0;                     ///< in its table
  kinematics::JointVector q;        ///< panel values [rad], [mm] for a slide
  kinematics::Pose X_BF = kinematics::Pose::Identity();
};

/// Rows of read-outs with what their digits are worth.
struct ReadoutTable {
  std::vector<Readout> rows;
  double joint_rounding_rad = 0;    ///< half a unit of the last digit written
  double slide_rounding_mm = 0;     ///< the same of slides
  double position_rounding_mm = 0;
  double rotation_rounding = 0;     ///< of a quaternion's components
};

/// What moves a joint; empty = not stated.
struct JointDrive {
  std::optional<double> stiffness_nm_rad;
  std::optional<double> lost_motion_rad;
};

/// Joint stiffness of an arm found from measured deflections (sim/arm_deflection.h).
struct ArmFit {
  std::string file;                       ///< as written
  int poses = 0;
  std::vector<double> stiffness_nm_rad;   ///< one per joint of the chain
  double residual = 0;                    ///< of the deflection, over all poses
  /// Share by which the arm's deflection may be off, from poses that were held out of the fit.
  double band = 0;
};

/// Accuracy as stated for the arm: error over a distance.
struct StatedAccuracy {
  double error_mm = 0, over_mm = 0;
  std::string source;
};

struct Payload {
  double limit_kg = 0, tool_kg = 0;
  std::optional<Eigen::Vector3d> centre_F;   ///< centre of mass in the flange [mm]
};

enum class OverSpeed { kUnsaid, kSlows, kStops };

/// Stated for the controller beyond what planning takes.
struct ControllerNotes {
  OverSpeed over_speed = OverSpeed::kUnsaid;
};

/// A natural frequency of arm, spindle or fixture as somebody measured it.
struct MeasuredMode {
  double hz = 0;
  std::string by;               ///< how and where
};

enum class SpindleSwitch { kByPath, kOutside };

struct PowerPoint {
  double rpm = 0, power_w = 0;
};

/// A named point of a frame fit: where it is in S, and where the arm found it.
struct FitPoint {
  std::string name;
  int line = 0;
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();
  Eigen::Vector3d p_W = Eigen::Vector3d::Zero();
};

/// One row of a push test on the fixture.
struct PushRow {
  int line = 0;
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();           ///< where it was pushed [mm]
  Eigen::Vector3d direction_S = Eigen::Vector3d::Zero();   ///< unit
  double force_n = 0;                                      ///< >= 0; 0 = the dial before or after a push
  Eigen::Vector3d p_SG = Eigen::Vector3d::Zero();          ///< where the dial touches [mm]
  double displacement_mm = 0;                              ///< along the push
  std::string stands_on;                                   ///< what the dial stands on
};

/// Stiffness of the spindle at its nose H: across and along its axis [N/mm].
struct SpindleSpring {
  double radial_n_mm = 0, axial_n_mm = 0;
};

/// One row of a drift test: how far the tip stood from where it was cold, in W [mm].
struct DriftRow {
  int line = 0;
  double time_s = 0;            ///< since the arm began to move
  Eigen::Vector3d d_W = Eigen::Vector3d::Zero();
};

/// Whether a part of the cell was spoken of at all.
enum class Declared { kUnsaid, kNone, kGiven };

struct LinkBody {
  int link = 0;                 ///< from 1; 0 = base
  std::vector<Shape> shapes;    ///< in the link frame [mm]
};

struct NamedBody {
  std::string name;
  std::vector<Shape> shapes;
};

/// A plane that nothing of the arm may cross, in W.
struct RestrictedPlane {
  std::string name;
  Eigen::Vector3d p_W = Eigen::Vector3d::Zero();           ///< on the plane [mm]
  Eigen::Vector3d inwards_W = Eigen::Vector3d::UnitZ();    ///< unit, from the restricted space into the room
};

/// A clamp that holds the piece, in S.
struct Clamp {
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();           ///< where it presses [mm]
  Eigen::Vector3d direction_S = Eigen::Vector3d::Zero();   ///< unit, of the force on the piece
  double force_n = 0;
  double friction = 0;
  std::vector<Shape> body_S;      ///< empty: its body was not described
};

/// A cutter as the cell describes it, with its stack up to the collet nut.
struct CellCutter {
  int number = 0;
  Cutter cutter;
  int flutes = 0;
  double shank_diameter_mm = 0;
  double stick_out_mm = 0;                 ///< tip end to H
  double measured_stick_out_mm = 0;        ///< = stick_out where not measured
  bool measured = false;                   ///< the stick-out was
  std::optional<double> measured_diameter_mm;
  std::string measured_by;
  std::optional<double> modulus_gpa;
  std::optional<double> strength_mpa;      ///< at which it breaks in bending
  bool right_handed = true;
  std::optional<bool> centre_cutting;      ///< its edges reach the centre of its end; empty = not stated
  double rpm_limit = 0;                    ///< 0 = not stated
  /// Least and largest feed per tooth; empty = not stated.
  struct ChipLoad { double least_mm = 0, most_mm = 0; };
  std::optional<ChipLoad> chip_load;
  double control_height_mm = 0;            ///< control point above the tip end, along the axis
  Declared holder_said = Declared::kUnsaid;
  std::vector<BodyCylinder> holder;        ///< above H, in T (z0 >= stick_out)
};

/// The cell: checked, in mm and rad. Frames as in kinematics/frame.h.
struct Cell {
  std::string name;

  std::string arm_name, arm_source;
  std::shared_ptr<const kinematics::ArmModel> arm;
  std::string arm_form;                       ///< of arm.kinematics, as written
  kinematics::Pose X_WB = kinematics::Pose::Identity();
  std::vector<JointDrive> drives;  ///< one per joint of the arm proper
  std::optional<ArmFit> arm_fit;   ///< in place of stated stiffness
  std::vector<LinkBody> links;
  kinematics::JointVector home;
  std::optional<ReadoutTable> readouts;
  std::optional<double> repeatability_mm;
  std::optional<StatedAccuracy> accuracy;
  std::optional<Payload> payload;
  std::vector<MeasuredMode> modes;
  std::vector<DriftRow> drift;                ///< by rising time; empty: no drift test

  kinematics::ControllerRules controller;
  ControllerNotes controller_notes;

  kinematics::Pose X_FH = kinematics::Pose::Identity();
  Declared housing = Declared::kUnsaid;
  std::vector<BodyCylinder> housing_H;        ///< about the z axis of H
  std::vector<Shape> housing_shapes_H;        ///< the same, for clash
  double spindle_min_rpm = 0, spindle_max_rpm = 0;
  std::vector<PowerPoint> power;              ///< by rising rpm
  std::optional<double> run_up_s;
  SpindleSwitch switched = SpindleSwitch::kByPath;
  std::optional<SpindleSpring> spindle_spring;

  std::map<int, CellCutter> cutters;

  kinematics::Pose X_WS = kinematics::Pose::Identity();   ///< believed: as the controller holds it
  bool X_WS_typed = true;                                 ///< false: it is the fit of `fit`
  std::vector<FitPoint> fit;                              ///< points that the frame was fitted to
  std::vector<Eigen::Vector3d> touched_W;                 ///< points touched on the real piece
  std::vector<int> touched_lines;                         ///< their lines in the table

  Declared fixture = Declared::kUnsaid;
  std::vector<Shape> fixture_S;
  Declared clamps_said = Declared::kUnsaid;
  std::vector<Clamp> clamps;
  std::vector<PushRow> push_test;
  std::optional<Eigen::Vector3d> fixture_n_per_mm;

  Declared hose = Declared::kUnsaid, dust_hood = Declared::kUnsaid, floor = Declared::kUnsaid,
           obstacles = Declared::kUnsaid;
  std::vector<LinkBody> hose_bodies;          ///< keep-clear bodies on links
  std::vector<Shape> dust_hood_H;             ///< moves with the spindle
  std::optional<double> floor_z_mm;
  std::vector<NamedBody> obstacles_W;
  std::vector<RestrictedPlane> restricted_W;
  /// Bodies of the arm, by name, that are bolted or guided so that they cannot meet.
  std::vector<std::pair<std::string, std::string>> never_meet;

  std::optional<Stopping> stopping;           ///< for least distances of protective devices

  std::vector<AssumedValue> assumed;
};

}  // namespace aircut::sim
