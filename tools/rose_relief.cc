#include "tools/rose_relief.h"

#include <algorithm>
#include <cmath>

#include "kinematics/units.h"

namespace aircut::tools {
namespace {

constexpr double kBendRadius_mm = 1400.0;
constexpr double kCrownRadius_mm = 6000.0;

/// A point of the star: half as wide as `half_width` at the middle of the
/// rose, running out to nothing at `length`.
struct StarPoint {
  double length_mm, half_width_mm, slope;
};

constexpr StarPoint kCardinal{67.0, 13.0, 0.26};
constexpr StarPoint kOrdinal{56.0, 11.5, 0.26};
constexpr StarPoint kBetween{45.0, 8.5, 0.30};

const StarPoint& PointOf(int sixteenth) {
  if (sixteenth % 4 == 0) return kCardinal;
  return sixteenth % 2 == 0 ? kOrdinal : kBetween;
}

double RoofHeight(const StarPoint& point, double along_mm, double across_mm) {
  if (along_mm < 0.0) return 0.0;
  const double half_mm = point.half_width_mm * (1.0 - along_mm / point.length_mm);
  return point.slope * (half_mm - std::abs(across_mm));
}

double StarHeight(double x_mm, double y_mm) {
  double height_mm = 0.0;
  for (int k = 0; k < 16; ++k) {
    const double turn = k * kinematics::kPi / 8.0;
    const double c = std::cos(turn), s = std::sin(turn);
    height_mm = std::max(height_mm, RoofHeight(PointOf(k), c * x_mm + s * y_mm, c * y_mm - s * x_mm));
  }
  return height_mm;
}

}  // namespace

double FaceHeight(double x_mm, double y_mm) {
  return -x_mm * x_mm / (2.0 * kBendRadius_mm) - y_mm * y_mm / (2.0 * kCrownRadius_mm);
}

double RoseDepth(double x_mm, double y_mm) {
  const double r_mm = std::hypot(x_mm, y_mm);
  const double ground_mm = std::clamp(kRoseRim_mm - r_mm, 0.0, kRoseDepth_mm);
  const double ring_mm = 0.6 * (3.5 - std::abs(r_mm - 73.0));
  return std::max(0.0, ground_mm - std::max({0.0, ring_mm, StarHeight(x_mm, y_mm)}));
}

}  // namespace aircut::tools
