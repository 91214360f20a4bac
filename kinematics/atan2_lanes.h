#pragma once

#include <cmath>
#include <cstddef>

namespace aircut::kinematics {

/// atan2(y, x) of a whole row of values at once, in vector registers: the
/// angles of all branches of the inverse kinematics cost as much as a few
/// library calls. Error below 1e-15 rad; y = x = 0 gives 0 or pi as atan2 does for
/// x > 0. Polynomial: interpolation of (atan(z)/z - 1)/z^2 in z^2 at the 11
/// Chebyshev nodes of [0, tan(pi/8)^2], relative error 5e-18.
/// @param angle_rad may not overlap `y` or `x`.
template <std::size_t kCount>
void Atan2Lanes(const double (&y)[kCount], const double (&x)[kCount], double (&angle_rad)[kCount]) {
  constexpr double kTanEighth = 0.41421356237309503;  // tan(pi / 8)
  constexpr double kHalfPi = 1.5707963267948966, kQuarterPi = 0.78539816339744831;
  for (std::size_t i = 0; i < kCount; ++i) {
    // Ternaries, not std::min and std::max: those stop the loop from becoming vector code.
    const double ax = std::fabs(x[i]), ay = std::fabs(y[i]);
    const double large = ay > ax ? ay : ax;
    const double small = ay > ax ? ax : ay;
    const double above = kTanEighth * large;
    const double top = small > above ? small - large : small;
    const double bottom = small > above ? small + large : large;
    const double z = top / (bottom == 0.0 ? 1.0 : bottom);
    const double s = z * z;
    double sum = -0.019176885636589051899;
    sum = sum * s + 0.039231657085083686644;
    sum = sum * s - 0.050854496960392585335;
    sum = sum * s + 0.058581489047951238442;
    sum = sum * s - 0.066645114464602189808;
    sum = sum * s + 0.076921831907606508702;
    sum = sum * s - 0.090909045781210852;
    sum = sum * s + 0.11111111015256292406;
    sum = sum * s - 0.14285714284666542061;
    sum = sum * s + 0.19999999999995520674;
    sum = sum * s - 0.3333333333333333016;
    const double octant = z + z * (s * sum);
    const double quarter = small > above ? kQuarterPi + octant : octant;
    const double half = ay > ax ? kHalfPi - quarter : quarter;
    const double full = x[i] < 0.0 ? 2.0 * kHalfPi - half : half;
    angle_rad[i] = std::copysign(full, y[i]);
  }
}

}  // namespace aircut::kinematics
