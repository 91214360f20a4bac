#pragma once

#include <optional>
#include <vector>

#include "kinematics/frame.h"
#include "sim/cell.h"

namespace aircut::sim {

/// Whether points settle a frame at all.
enum class FitState {
  kSettled,
  kTooFew,     ///< fewer than three points
  kOnALine     ///< in one place or on one line: the turn about it is open
};

/// A point that the others contradict.
struct FitOutlier {
  int point = 0;             ///< index into the points
  double off_mm = 0.0;       ///< distance from where the others' fit expects it
  double fle_mm = 0.0;       ///< error of one point as the others alone show it
};

/// A fit with one length factor set free.
struct FitScaleGuess {
  double factor = 1.0;       ///< lengths found in W over lengths written in S
  double fle_mm = 0.0;       ///< error of one point that is left with it
};

/// Rigid fit of frame S to points found in W, and what it is worth.
/// FRE: what is left at the fitted points; FLE: error of finding one point;
/// TRE: error at a place that was not used. FRE says nothing of TRE by itself
/// (Fitzpatrick, SPIE 7261, 2009).
struct FrameFit {
  FitState state = FitState::kTooFew;
  int points = 0;
  kinematics::Pose X_WS = kinematics::Pose::Identity();   ///< identity unless settled
  std::vector<Eigen::Vector3d> residual_W;   ///< per point: found minus fitted [mm]
  double fre_mm = 0.0;                       ///< rms of the residuals
  /// FRE * sqrt(N / (N - 2)), 3D rms. Source: Fitzpatrick, West, Maurer, IEEE TMI
  /// 17(5) 1998, eq. 10.
  double fle_mm = 0.0;
  std::optional<FitOutlier> outlier;         ///< from five points on, or four in space
  FitScaleGuess scale;
  Eigen::Vector3d middle_S = Eigen::Vector3d::Zero();
  Eigen::Matrix3d axes_S = Eigen::Matrix3d::Identity();   ///< principal axes, in columns
  Eigen::Vector3d spread_mm2 = Eigen::Vector3d::Zero();   ///< mean squared distance from each axis
};

/// @param points finite; the order does not matter.
FrameFit FitFrame(const std::vector<FitPoint>& points);

/// @returns TRE / FLE at p_S: sqrt((1 + 1/3 sum d_k^2 / f_k^2) / N), d_k and f_k the
/// distances of the place and (rms) of the points from principal axis k.
/// Source: Fitzpatrick, West, Maurer, IEEE TMI 17(5) 1998, eq. 46.
/// @param fit settled.
double TargetErrorFactor(const FrameFit& fit, const Eigen::Vector3d& p_S);

/// Range that holds the real FLE with 90 %: too low with 5 %, too high with 5 %.
/// The sum of squared residuals over FLE^2 / 3 is chi-square with 3N - 6 degrees
/// of freedom where the errors of the points are alike, independent and normal.
struct FleRange {
  double low_mm = 0.0, high_mm = 0.0;
};
/// @param fit settled.
FleRange RangeOfFle(const FrameFit& fit);

}  // namespace aircut::sim
