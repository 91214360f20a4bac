#include "sim/force_laws.h"

#include <cmath>

#include <Eigen/Dense>

#include "kinematics/units.h"

namespace aircut::sim {

double KienzleLaw::Force_n_mm(double chip_mm) const { return kc11_n_mm2 * std::pow(chip_mm, 1.0 - mc); }

EdgeLine KienzleLaw::Line() const {
  constexpr int kChips = 101;
  Eigen::Matrix<double, kChips, 2> parts;
  for (int i = 0; i < kChips; ++i) {
    const double chip_mm = thin_mm * std::pow(thick_mm / thin_mm, i / (kChips - 1.0));
    parts.row(i) = Eigen::RowVector2d(chip_mm, 1.0) / Force_n_mm(chip_mm);
  }
  const Eigen::Vector2d found = parts.colPivHouseholderQr().solve(Eigen::VectorXd::Ones(kChips));
  const double off = (parts * found - Eigen::VectorXd::Ones(kChips)).lpNorm<Eigen::Infinity>();
  return {found[0], found[1], off};
}

double MerchantLaw::shear_angle_rad() const {
  return 0.25 * kinematics::kPi - 0.5 * (std::atan(friction) - rake_rad);
}

double MerchantLaw::cutting_n_mm2() const {
  const double tilt = std::atan(friction) - rake_rad, shear = shear_angle_rad();
  return shear_stress_n_mm2 * std::cos(tilt) / (std::sin(shear) * std::cos(shear + tilt));
}

double MerchantLaw::thrust_n_mm2() const { return cutting_n_mm2() * std::tan(std::atan(friction) - rake_rad); }

}  // namespace aircut::sim
