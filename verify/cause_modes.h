#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>

#include "sim/cutter.h"

namespace aircut::verify {

/// Set-up errors, each with the shape that it gives the deviation field.
enum class CauseKind {
  kFrameX, kFrameY, kFrameZ,   ///< the path is displaced on the piece [mm]
  kTurnX, kTurnY, kTurnZ,      ///< or turned, about the middle of the carving [rad]
  kToolLength,                 ///< the bit is longer than typed [mm]
  kToolRadius,                 ///< the cutter is larger than the path was made for, its tip held [mm]
  kVAngle,                     ///< the half angle of a V is wider than that [rad]
  kDepth,                      ///< the path was made deeper than the design, along the depth [mm]
  kScale,                      ///< the path is larger than the design, about the origin of S
  kMirrorX, kMirrorY,          ///< the path is the design mirrored in x or y; no size
  kUnits,                      ///< inches taken for millimetres or the reverse; no size
  kOtherCutter                 ///< the path was made for another cutter of the cell; no size
};

/// One place of the carving as the fit of causes needs it, in S.
struct FieldPlace {
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();
  Eigen::Vector3d up_S = Eigen::Vector3d::UnitZ();     ///< unit, of the depth
  /// `up` less the slope of the surface over it: a surface displaced by d is n . d higher
  /// along `up`. The slope is the mean of design and cut, exact to second order in d.
  Eigen::Vector3d n_S = Eigen::Vector3d::UnitZ();
  Eigen::Vector3d design_n_S = Eigen::Vector3d::UnitZ();   ///< the same with the design's slope alone: first order
  Eigen::Vector3d axis_S = Eigen::Vector3d::UnitZ();   ///< unit, of the tool that cut deepest
  double above_tip_mm = 0.0;                           ///< the place over that tool's tip, along its axis
  int tool = 0;                                        ///< index into `tools`
  double error_mm = 0.0;                               ///< + left standing
  double ceiling_mm = 0.0;                             ///< the most that can be left: the stock's top
  double rough_mm = 0.0;                               ///< rms of the error about its local plane
  double mirrored_x_mm = 0.0, mirrored_y_mm = 0.0;     ///< error of the mirrored design
  double weight = 0.0;                                 ///< area [mm^2]
  bool reached = true;                                 ///< some sweep cut here
};

/// What another cutter of the cell would leave if the same path led it.
struct OtherCutter {
  int number = 0;                      ///< in the cell
  std::vector<double> error_mm;        ///< per place of the field, + left standing; NaN: not known
};

/// The deviation field of the carving, for fitting causes.
struct CauseField {
  std::vector<FieldPlace> places;
  std::vector<OtherCutter> others;     ///< that were tried; may be empty
  std::vector<sim::Cutter> tools;
  Eigen::Vector3d middle_S = Eigen::Vector3d::Zero();  ///< weighted mean of the places
  std::optional<double> path_to_design;                ///< extent of the cuts over that of the carving
};

/// Causes whose size is fitted.
const std::vector<CauseKind>& FittedKinds();

/// Depth error that one unit of the cause makes at a place whose surface leans as `n_S`
/// says, in place of the place's own.
double ModeAt(CauseKind kind, const CauseField& field, const FieldPlace& place, const Eigen::Vector3d& n_S);

}  // namespace aircut::verify
