#pragma once

#include <filesystem>
#include <vector>

namespace aircut::sim {

/// A grey picture: levels from 0 (black) to 1 (white), rows from the top down.
struct GreyImage {
  int width = 0, height = 0;       ///< pixels, >= 1
  std::vector<float> level;        ///< width * height

  /// Level between the middles of pixels, bilinear; outside the nearest one speaks.
  /// @param right, up  from the lower left corner, in parts of width and height.
  double At(double right, double up) const;
  float least() const;
  float most() const;
};

/// Reads a PNG file of grey levels, 1 to 16 bits, as stored: no gamma is applied.
/// @throws InputError naming the file: not a PNG, damaged, in colour, transparent, or
/// more than kMostPixels pixels (judged before memory is taken).
GreyImage ReadGreyPng(const std::filesystem::path& file);

inline constexpr double kMostPixels = 1e8;

}  // namespace aircut::sim
