#pragma once

#include <cmath>
#include <limits>
#include <optional>

#include <Eigen/Core>

namespace aircut::sim {

/// What no path can mean; beyond it a value is a slip of unit or pen.
inline constexpr double kMaxPlace_mm = 1e6;
inline constexpr double kMaxFeed_mm_s = 1e5;
inline constexpr double kMaxSpeed_rpm = 1e6;
inline constexpr double kMaxDwell_s = 86'400.0;

/// Largest difference between 1 and the length of a written unit axis.
inline constexpr double kUnitLength_tolerance = 1e-6;

/// @returns `axis` at length 1; nothing unless its length is 1 within
/// kUnitLength_tolerance. An axis that is a unit to rounding keeps its bits, so
/// that a written path reads back to the same rows.
inline std::optional<Eigen::Vector3d> UnitAxis(const Eigen::Vector3d& axis) {
  const double length = axis.norm();
  if (!(std::abs(length - 1.0) <= kUnitLength_tolerance)) return std::nullopt;
  const bool is_unit = std::abs(length - 1.0) <= 4 * std::numeric_limits<double>::epsilon();
  return is_unit ? axis : Eigen::Vector3d(axis / length);
}

}  // namespace aircut::sim
