#pragma once

namespace aircut::tools {

// The carving of scenes/transom, over the xy plane of S: x across the boat, y
// up the transom, z out of the face. All lengths in mm.

inline constexpr double kBoardLength_mm = 420.0;     ///< along x
inline constexpr double kBoardHeight_mm = 280.0;     ///< along y
inline constexpr double kBoardThickness_mm = 32.0;
inline constexpr double kRoseRim_mm = 81.8;          ///< radius at which the relief ends in the face
inline constexpr double kRoseDepth_mm = 3.8;         ///< depth of the ground below the face

/// @returns z of the uncarved face: bent about y (radius 1,400 mm) and crowned
/// a little the other way (radius 6,000 mm); 0 and level at the centre.
double FaceHeight(double x_mm, double y_mm);

/// @returns depth of the drawn rose below the face, >= 0: a sunk ground inside a
/// 45 degree rim, a raised ring, and a star of sixteen points, each a roof of two plane
/// facets that meet in a ridge. Inside corners are sharp: see ClosedByBall.
double RoseDepth(double x_mm, double y_mm);

}  // namespace aircut::tools
