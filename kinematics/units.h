#pragma once

namespace aircut::kinematics {

/// Conversions between the shop's units (files, panels, reports) and the
/// units used inside: mm, rad, s, N. Used at the edge only; inside, every
/// scalar carries its unit as a suffix (`depth_mm`, `feed_mm_s`, `angle_rad`).
inline constexpr double kPi = 3.14159265358979323846;

constexpr double RadFromDeg(double angle_deg) { return angle_deg * (kPi / 180.0); }
constexpr double DegFromRad(double angle_rad) { return angle_rad * (180.0 / kPi); }
constexpr double MmFromInch(double length_in) { return length_in * 25.4; }
constexpr double MmPerSecFromMmPerMin(double feed_mm_min) { return feed_mm_min / 60.0; }
constexpr double MmPerMinFromMmPerSec(double feed_mm_s) { return feed_mm_s * 60.0; }

}  // namespace aircut::kinematics
