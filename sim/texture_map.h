#pragma once

#include <array>
#include <vector>

#include "sim/mesh.h"

namespace aircut::sim {

/// A surface with texture coordinates: u from the left of a picture to its right, v from its
/// lower edge up, 0 to 1 inside the picture.
struct TextureMap {
  Mesh mesh_S;
  std::vector<std::array<Eigen::Vector2d, 3>> uv;   ///< of the corners of each triangle

  /// Place in the picture of a point of a triangle.
  Eigen::Vector2d At(int triangle, const Eigen::Vector3d& p_S) const;
  /// Area in the picture, > 0 where the picture is seen from the surface's outside as it is
  /// and < 0 where it is mirrored.
  double AreaInPicture(int triangle) const;
};

/// How the picture is laid out over the surface, all of it by area on the surface.
struct TextureFit {
  double mirrored = 0.0;    ///< part on which the picture lies mirrored
  double flat = 0.0;        ///< part whose texture coordinates span no area
  double twice = 0.0;       ///< part that shares its places of the picture with another part
  double outside = 0.0;     ///< part beyond the edges of the picture
};

/// Places of the picture shared by two parts are found on a raster of kFoldRaster places a side.
TextureFit FitOf(const TextureMap& map);
inline constexpr int kFoldRaster = 512;

}  // namespace aircut::sim
