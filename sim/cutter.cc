#include "sim/cutter.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>

namespace aircut::sim {
namespace {

constexpr double kPi = 3.14159265358979323846;

// Written so that NaN fails too.
void Require(bool holds, const char* field, double value, const char* bound) {
  if (holds) return;
  throw std::invalid_argument(std::string(field) + " = " + std::to_string(value) + " must be " +
                              bound);
}

// Distance to balls strung on the z axis; rho = distance from that axis.
double StringDistance(const BallString& s, double rho, double z) {
  const double length = s.z1_mm - s.z0_mm;
  const double rise = length > 0.0 ? (s.r1_mm - s.r0_mm) / length : 0.0;
  const double along = z - s.z0_mm + rho * rise / std::sqrt(1.0 - rise * rise);
  const double u = along < 0.0 ? 0.0 : (along > length ? length : along);
  return std::hypot(rho, z - s.z0_mm - u) - s.r0_mm - rise * u;
}

// Radius at height z: of all balls of the string the one that is widest there.
double StringRadius(const BallString& s, double z) {
  const double length = s.z1_mm - s.z0_mm;
  const double rise = length > 0.0 ? (s.r1_mm - s.r0_mm) / length : 0.0;
  const double up = z - s.z0_mm;
  const double u = std::clamp((up + rise * s.r0_mm) / (1.0 - rise * rise), 0.0, length);
  const double r = s.r0_mm + rise * u;
  return std::sqrt(std::max(0.0, r * r - (up - u) * (up - u)));
}

}  // namespace

Cutter Cutter::Ball(double diameter_mm, double flute_length_mm) {
  Require(diameter_mm > 0.0 && std::isfinite(diameter_mm), "diameter", diameter_mm, "> 0 mm");
  const double r = diameter_mm / 2.0;
  Require(flute_length_mm >= r && std::isfinite(flute_length_mm), "flute_length", flute_length_mm,
          "at least half the diameter, in mm");
  Cutter c;
  c.shape_ = CutterShape::kBall;
  c.radius_mm_ = r;
  c.flute_length_mm_ = flute_length_mm;
  // The uppermost ball ends at the top of the flutes, so that the string never
  // cuts where the flutes do not; between its centre and its top it is narrower.
  const double top_centre = flute_length_mm - r > r ? flute_length_mm - r : r;
  c.strings_ = {{r, r, top_centre, r}};
  c.exact_height_mm_ = top_centre;
  c.sharp_apex_mm_ = 0.0;
  return c;
}

Cutter Cutter::V(double angle_rad, double tip_radius_mm, double diameter_mm,
                 double flute_length_mm) {
  Require(angle_rad > 0.0 && angle_rad < kPi, "angle", angle_rad, "between 0 and 180 degrees");
  Require(diameter_mm > 0.0 && std::isfinite(diameter_mm), "diameter", diameter_mm, "> 0 mm");
  const double r_body = diameter_mm / 2.0;
  Require(tip_radius_mm >= 0.0 && tip_radius_mm < r_body, "tip_radius", tip_radius_mm,
          "at least 0 and below half the diameter, in mm");
  const double sin_half = std::sin(angle_rad / 2.0);
  const double z_top = tip_radius_mm + (r_body - tip_radius_mm) / sin_half;
  Require(flute_length_mm >= z_top - r_body * sin_half && std::isfinite(flute_length_mm),
          "flute_length", flute_length_mm, "at least the height of the cone, in mm");
  Cutter c;
  c.shape_ = CutterShape::kV;
  c.radius_mm_ = r_body;
  c.flute_length_mm_ = flute_length_mm;
  // Balls that touch the cone from inside: centre s above the tip rounding's
  // centre, radius tip + s sin(half angle). The last one has the body's radius
  // and touches the cone a little below the full diameter.
  c.strings_ = {{tip_radius_mm, tip_radius_mm, z_top, r_body}};
  const double top_centre = flute_length_mm - r_body;
  if (top_centre > z_top) c.strings_.push_back({z_top, r_body, top_centre, r_body});
  c.exact_height_mm_ = z_top - r_body * sin_half;
  c.sharp_apex_mm_ = tip_radius_mm - tip_radius_mm / sin_half;
  return c;
}

double Cutter::SignedDistance(const Eigen::Vector3d& p_TQ) const {
  const double rho = std::hypot(p_TQ.x(), p_TQ.y());
  double least = StringDistance(strings_.front(), rho, p_TQ.z());
  for (const BallString& s : strings_) {
    const double d = StringDistance(s, rho, p_TQ.z());
    least = d < least ? d : least;
  }
  return least;
}

double Cutter::RadiusAt(double z_mm) const {
  double most = 0.0;
  for (const BallString& s : strings_) most = std::max(most, StringRadius(s, z_mm));
  return most;
}

}  // namespace aircut::sim
