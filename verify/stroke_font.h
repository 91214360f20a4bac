#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

namespace aircut::verify {

/// Text as pen strokes, as on a hand-lettered drawing: one line of ink a stroke.
struct Lettering {
  std::vector<std::vector<Eigen::Vector2d>> strokes;   ///< x right, y up from the baseline
  double width = 0.0;                                  ///< from 0 to the end of the last letter
};

/// @param text UTF-8; letters, digits and punctuation of ASCII and ° ² ø; what
/// has no letter is drawn as an empty box.
/// @param capital height of a capital letter; everything scales with it.
Lettering Letter(const std::string& text, double capital);

}  // namespace aircut::verify
