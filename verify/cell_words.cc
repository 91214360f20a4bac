#include "verify/cell_words.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"

namespace aircut::verify {
namespace {

constexpr double kStraight_rad = 1e-6;   // below this a frame counts as not turned

// Takes zeros off behind the point, and the point with them.
std::string WithoutTail(std::string digits) {
  if (digits.find('.') == std::string::npos) return digits;
  digits.erase(digits.find_last_not_of('0') + 1);
  if (digits.back() == '.') digits.pop_back();
  return digits;
}

// The same turn is described by (axis, 180°) and (-axis, 180°).
Eigen::Vector3d FirstPositive(const Eigen::Vector3d& axis) {
  for (int i = 0; i < 3; ++i) {
    if (std::abs(axis[i]) > 1e-9) return axis[i] < 0 ? Eigen::Vector3d(-axis) : axis;
  }
  return axis;
}

}  // namespace

std::string Given(double value) {
  if (!std::isfinite(value)) return "unknown";
  std::string digits = WithoutTail(fmt::format("{:.3f}", std::abs(value)));
  for (std::size_t at = std::min(digits.find('.'), digits.size()); at > 3;) {
    at -= 3;
    digits.insert(at, ",");
  }
  return value < 0 && digits != "0" ? "-" + digits : digits;
}

std::string GivenMm(double length_mm) { return Given(length_mm) + " mm"; }

std::string GivenDegrees(double angle_rad) { return Given(kinematics::DegFromRad(angle_rad)) + "°"; }

std::string GivenTriple(const Eigen::Vector3d& p) {
  return fmt::format("({}, {}, {})", Given(p.x()), Given(p.y()), Given(p.z()));
}

std::string GivenPose(const kinematics::Pose& X_AB) {
  const std::string place = GivenTriple(X_AB.translation()) + " mm, ";
  const Eigen::AngleAxisd turn(X_AB.linear());
  if (!(std::abs(turn.angle()) > kStraight_rad)) return place + "not turned";
  const bool half = kinematics::kPi - turn.angle() < kStraight_rad;
  const Eigen::Vector3d axis = half ? FirstPositive(turn.axis()) : turn.axis();
  return place + fmt::format("turned {} about {}", GivenDegrees(turn.angle()), GivenTriple(axis));
}

}  // namespace aircut::verify
