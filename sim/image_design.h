#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "kinematics/frame.h"
#include "sim/grey_image.h"
#include "sim/mesh_index.h"
#include "sim/texture_map.h"

namespace aircut::sim {

/// A relief as a grey picture on the uncut face. Projected: D has its origin in the picture's
/// lower left corner, x to the right, y up, z out of the picture towards who looks at it, and
/// the picture goes along -z onto the first face of the stock that it meets. With a map the
/// texture coordinates of its surface say where each place of the picture lies.
struct ImageDesign {
  GreyImage image;
  std::optional<GreyImage> mask;    ///< dark: must stay untouched
  kinematics::Pose X_SD = kinematics::Pose::Identity();
  double width_mm = 0.0, height_mm = 0.0;    ///< of the picture in D, > 0; 0 with a map
  std::shared_ptr<const TextureMap> map_S;   ///< null: projected
  double white_mm = 0.0, black_mm = 0.0;     ///< depth below the face

  /// Depth asked at a place of the picture, in parts of its width and height; 0 where masked.
  double DepthAt(double right, double up) const;
  /// Depth asked under a place of the face; nothing beside the picture, and with a map.
  std::optional<double> DepthUnder(const Eigen::Vector3d& p_S) const;
  /// Whether the mask keeps this place: darker than half.
  bool IsMasked(double right, double up) const;
};

/// A place of the picture on the face.
struct MappedPixel {
  double right = 0.0, up = 0.0;     ///< place in the picture, parts of width and height
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();        ///< on the face
  Eigen::Vector3d normal_S = Eigen::Vector3d::UnitZ();  ///< of the face there, outward, unit
  double cosine = 1.0;              ///< 1 / stretch: projected, between the normal and D's z; of a
                                    ///< map, how much longer one way than the map's mean it is
  double area_mm2 = 0.0;            ///< of the face that it stands for
  bool on_stock = false;
  bool folded = false;              ///< a second face looks the same way behind the first
};

/// Maps a raster of places, `spacing_mm` apart or less; those that miss the stock are left out. @param threads the result does not depend on it.
std::vector<MappedPixel> MapImage(const ImageDesign& design, const MeshIndex& stock_S, double spacing_mm, int threads);

/// How the picture lies on the piece.
struct ImageFit {
  double missed = 0.0;      ///< part of the picture that meets no stock
  double steep = 0.0;       ///< part of what meets it that is stretched more than kMostStretch
  double folded = 0.0;      ///< part of what meets it behind which the piece comes again; of a map,
                            ///< what lies in the picture where another part of the surface does
  double most_stretch = 1.0;
};
ImageFit FitOf(const ImageDesign& design, const MeshIndex& stock_S);

/// The surface of a map may lie this far off the stock's face, in or out: places farther off
/// miss the stock. Engineering judgement.
inline constexpr double kOffFace_mm = 1.0;

/// More than twice as long on the piece as in the picture: the face is 60 degrees off.
/// Engineering judgement.
inline constexpr double kMostStretch = 2.0;

}  // namespace aircut::sim
