#pragma once

#include <Eigen/Core>

namespace aircut::sim {

/// Plane of a circular move: `first` and `second` are the indices of the axes in
/// it, `third` the one square to it, right-handed: X Y Z, Z X Y or Y Z X.
/// A counterclockwise turn, seen from the far end of the third axis, takes the
/// first axis to the second.
struct ArcPlane {
  int first = 0, second = 1, third = 2;
};
inline constexpr ArcPlane kPlaneXy{0, 1, 2}, kPlaneZx{2, 0, 1}, kPlaneYz{1, 2, 0};

enum class ArcTurn { kClockwise, kCounterclockwise };

/// What a circular move joins [mm].
struct ArcEnds {
  Eigen::Vector3d start = Eigen::Vector3d::Zero();
  Eigen::Vector3d end = Eigen::Vector3d::Zero();
  ArcPlane plane;
  ArcTurn turn = ArcTurn::kCounterclockwise;
};

/// A circular or helical move. Where the radii of both ends differ a little, the
/// radius goes evenly from one to the other.
struct Arc {
  ArcEnds ends;
  Eigen::Vector2d centre = Eigen::Vector2d::Zero();   ///< along first and second [mm]
  double start_radius_mm = 0.0, end_radius_mm = 0.0;
  double start_angle_rad = 0.0;                       ///< from the first axis to the second
  double sweep_rad = 0.0;                             ///< + counterclockwise, at most one turn
};

/// The radii of both ends may differ by this much [mm] or by this share.
inline constexpr double kArcRadiusGap_mm = 0.01;
inline constexpr double kArcRadiusShare = 0.001;
/// Ends this close are one point: a full circle [mm].
inline constexpr double kArcSamePoint_mm = 1e-6;
/// Ends that are not one point and lie closer than this [mm] along the circle are
/// refused: rounding decides there between nothing and a full turn.
inline constexpr double kArcUnclearGap_mm = 0.002;

/// @param offset  from the start to the centre, along first and second [mm].
/// @returns the move about that centre; a full circle if start and end agree in the plane.
/// @throws PathFault if the radius is zero, the radii of both ends disagree, or
/// it is not clear whether a full turn is meant.
Arc ArcAboutCentre(const ArcEnds& ends, const Eigen::Vector2d& offset);

/// @param radius_mm  > 0: the way round of at most half a turn; < 0: the longer one.
/// @throws PathFault if both ends agree in the plane or lie further apart than
/// the diameter.
Arc ArcWithRadius(const ArcEnds& ends, double radius_mm);

/// @returns how many chords hold the arc within kArcSag_mm and kArcStep_rad, >= 1.
int ChordCount(const Arc& arc);

/// @returns the end of chord `i` of `count`, 1 <= i <= count [mm]; the last is the
/// end as written.
Eigen::Vector3d ChordEnd(const Arc& arc, int i, int count);

/// @returns the length along the arc [mm], its rise along the third axis included.
double ArcLength(const Arc& arc);

}  // namespace aircut::sim
