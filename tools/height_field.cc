#include "tools/height_field.h"

#include <algorithm>
#include <cmath>

namespace aircut::tools {

HeightField Sample(double half_mm, double step_mm,
                   const std::function<double(double, double)>& height) {
  HeightField field;
  field.low_mm = -half_mm;
  field.step_mm = step_mm;
  field.count = static_cast<int>(std::lround(2.0 * half_mm / step_mm)) + 1;
  field.z_mm.resize(static_cast<std::size_t>(field.count) * field.count);
  for (int j = 0; j < field.count; ++j)
    for (int i = 0; i < field.count; ++i)
      field.At(i, j) = height(field.Place(i), field.Place(j));
  return field;
}

double RestingHeight(const HeightField& field, double radius_mm, double x_mm, double y_mm) {
  const auto first = [&](double place) {
    return std::max(0, static_cast<int>(std::ceil((place - radius_mm - field.low_mm) / field.step_mm)));
  };
  const auto last = [&](double place) {
    return std::min(field.count - 1,
                    static_cast<int>(std::floor((place + radius_mm - field.low_mm) / field.step_mm)));
  };
  double best_mm = -1e9;
  for (int j = first(y_mm); j <= last(y_mm); ++j) {
    const double dy = field.Place(j) - y_mm;
    for (int i = first(x_mm); i <= last(x_mm); ++i) {
      const double dx = field.Place(i) - x_mm;
      const double left = radius_mm * radius_mm - dx * dx - dy * dy;
      if (left < 0.0) continue;
      best_mm = std::max(best_mm, field.At(i, j) + std::sqrt(left));
    }
  }
  return best_mm;
}

HeightField ClosedByBall(const HeightField& field, double radius_mm) {
  HeightField centres = field, closed = field;
  for (int j = 0; j < field.count; ++j)
    for (int i = 0; i < field.count; ++i)
      centres.At(i, j) = RestingHeight(field, radius_mm, field.Place(i), field.Place(j));
  // The underside of all balls is the upside of balls hung on the negated centres.
  HeightField hung = centres;
  for (double& z : hung.z_mm) z = -z;
  for (int j = 0; j < field.count; ++j)
    for (int i = 0; i < field.count; ++i)
      closed.At(i, j) = -RestingHeight(hung, radius_mm, field.Place(i), field.Place(j));
  return closed;
}

}  // namespace aircut::tools
