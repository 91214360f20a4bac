#pragma once

#include <array>
#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "kinematics/tool_path.h"

namespace aircut::sim {

/// One target of a path file, as written: the control point, not yet the tip end.
/// An arc becomes many rows with the same line.
struct PoseRow {
  int line = 0;
  Eigen::Vector3d p_SQ = Eigen::Vector3d::Zero();       ///< control point [mm]
  Eigen::Vector3d axis_S = Eigen::Vector3d::UnitZ();    ///< unit, tip to spindle
  std::optional<Eigen::Matrix3d> R_ST;
  double feed_mm_s = 0.0;                 ///< > 0 for a cut
  std::optional<double> duration_s;       ///< written time of the move (inverse-time feed)
  double spindle_rpm = 0.0;               ///< + clockwise seen from the spindle, 0 = stopped
  int tool = 0;
  /// Length-offset value in force [mm]; the file's points then lie that far below
  /// the collet nut, whatever the cutter's stick-out. Nothing: they are control points.
  std::optional<double> length_offset_mm;
  kinematics::MoveKind move = kinematics::MoveKind::kCut;
};

enum class PathEventKind {
  kSpindle,        ///< value: signed rpm commanded, 0 = stop
  kTool,           ///< value: number of the cutter put in
  kToolLength,     ///< value: length of that cutter as the program states it [mm]
  kCutterShape,    ///< shape: the cutter that the program was made for
  kDwell,          ///< value: seconds, >= 0
  kCoolant,        ///< value: 1 on, 0 off
  kStop,           ///< the program waits for a person
  kOptionalStop,   ///< the same if a switch at the panel is set
  kEnd,            ///< end of the program
};

/// Something the program orders besides a move.
struct PathEvent {
  PathEventKind kind = PathEventKind::kStop;
  int line = 0;
  int before = 0;        ///< index of the row before which it happens; = row count after the last
  double value = 0.0;
  /// kCutterShape: diameter, corner radius, corner centre's radial and axial place,
  /// angle of the bottom [rad], angle of the side [rad], height; lengths in mm.
  /// Source: seven-parameter cutter of the ISO 4343 family.
  std::array<double, 7> shape{};
};

/// Values for what a path does not say itself; the job states them.
struct PathDefaults {
  std::optional<double> feed_mm_s, spindle_rpm;
  std::optional<int> tool;
};

/// How rotary words A, B, C (turns about X, Y, Z) or vector words give the axis.
struct RotaryRule {
  enum class Turns { kTool, kWork } turns = Turns::kTool;
  /// Letters from the base outwards, e.g. "CA": R = Rz(C) Rx(A). kTool: the axis
  /// is R z and points are in S. kWork: the work is turned by R under an upright
  /// tool, p_S = R^-1 p, axis = R^-1 z. Three letters give the whole orientation,
  /// R or R^-1. Empty: vector words I J K give the axis.
  std::string order;
};

/// What the last three of nine values of a cutter-location point say.
enum class SecondVector {
  kToolX      ///< where the tool's x points: with the axis, the whole orientation
};

/// What the job says about its path file.
struct PathRules {
  PathDefaults defaults;
  std::optional<SecondVector> second_vector;
  std::optional<RotaryRule> rotary;
  std::map<int, kinematics::Pose> work_offsets;   ///< 54..59: path zero in S
  std::map<int, double> length_offsets_mm;        ///< by H number
  std::string modal;                              ///< words in force at the start, e.g. "G21 G90 G17 G94"
  std::vector<std::string> ignore_words;          ///< words to pass over
};

/// Takes a path as it is read, in file order.
struct PathSink {
  std::function<void(const PoseRow&)> row;
  std::function<void(const PathEvent&)> event;
};

/// Largest distance between an arc and the chords that stand for it [mm], and the
/// largest turn of one chord [rad]. Source: design, section 4.
inline constexpr double kArcSag_mm = 0.001;
inline constexpr double kArcStep_rad = 0.5 * 3.14159265358979323846 / 180.0;

}  // namespace aircut::sim
