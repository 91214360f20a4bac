#pragma once

#include <functional>
#include <vector>

#include <Eigen/Core>

namespace aircut::tools {

/// Heights [mm] over a square lattice in the xy plane of S.
struct HeightField {
  double low_mm = 0.0;     ///< x and y of the first node
  double step_mm = 0.0;    ///< > 0
  int count = 0;           ///< nodes along each side
  std::vector<double> z_mm;

  double At(int i, int j) const { return z_mm[static_cast<std::size_t>(j) * count + i]; }
  double& At(int i, int j) { return z_mm[static_cast<std::size_t>(j) * count + i]; }
  double Place(int i) const { return low_mm + step_mm * i; }
};

/// @returns the field of `height(x, y)` on a lattice from -half to +half.
HeightField Sample(double half_mm, double step_mm,
                   const std::function<double(double, double)>& height);

/// @returns the lowest centre height of a ball of `radius_mm` over (x, y) that
/// leaves every node at or under the ball: its surface rests on the field.
/// Error against a field without gaps: below step^2 / (4 radius).
double RestingHeight(const HeightField& field, double radius_mm, double x_mm, double y_mm);

/// @returns the surface that a ball of `radius_mm` leaves when it goes
/// everywhere over the field without cutting into it: no inside radius of the
/// result is below the ball's (closing of the material by a ball).
HeightField ClosedByBall(const HeightField& field, double radius_mm);

}  // namespace aircut::tools
