#include "sim/springs.h"

#include <algorithm>
#include <cmath>

#include "kinematics/units.h"

namespace aircut::sim {
namespace {

constexpr double kMpa_gpa = 1000.0;
constexpr int kSlices = 200;   // even: Simpson's rule, exact where the radius is constant

double RadiusAt(const CellCutter& cutter, double z_mm) {
  if (z_mm < cutter.cutter.flute_length_mm()) return kCoreShare * cutter.cutter.RadiusAt(z_mm);
  return 0.5 * cutter.shank_diameter_mm;
}

double SecondMoment_mm4(double radius_mm) { return kinematics::kPi * std::pow(radius_mm, 4) / 4.0; }

// Integral by Simpson's rule of what a slice at z adds, ends excluded by a hair so that a
// step in the radius falls on neither side by rounding.
template <typename Slice>
double Integral(double from_mm, double to_mm, const Slice& slice) {
  if (!(to_mm > from_mm)) return 0.0;
  const double hair_mm = 1e-9 * (to_mm - from_mm);
  const double start = from_mm + hair_mm, step = (to_mm - from_mm - 2 * hair_mm) / kSlices;
  double sum = 0.0;
  for (int i = 0; i <= kSlices; ++i) {
    const double weight = i == 0 || i == kSlices ? 1.0 : i % 2 == 1 ? 4.0 : 2.0;
    sum += weight * slice(start + i * step);
  }
  return sum * step / 3.0;
}

// Heights where the radius breaks: ends of the outline's pieces, the flutes' end, the nut.
std::vector<double> StepsAbove(const CellCutter& cutter, double height_mm) {
  std::vector<double> steps = {height_mm, cutter.cutter.flute_length_mm(), cutter.stick_out_mm};
  for (const OutlinePiece& piece : cutter.cutter.outline().pieces) steps.push_back(piece.to.y());
  steps.erase(std::remove_if(steps.begin(), steps.end(),
                             [&](double z) { return z < height_mm || z > cutter.stick_out_mm; }),
              steps.end());
  std::sort(steps.begin(), steps.end());
  return steps;
}

template <typename Slice>
double SumOfParts(const std::vector<double>& steps, const Slice& slice) {
  double sum = 0.0;
  for (std::size_t i = 1; i < steps.size(); ++i) sum += Integral(steps[i - 1], steps[i], slice);
  return sum;
}

}  // namespace

double CutterCompliance_mm_n(const CellCutter& cutter, double modulus_gpa, double height_mm) {
  const double E = kMpa_gpa * modulus_gpa;
  return SumOfParts(StepsAbove(cutter, height_mm), [&](double z) {
    const double arm_mm = z - height_mm;
    const double radius_mm = RadiusAt(cutter, z);
    return radius_mm > 0.0 ? arm_mm * arm_mm / (E * SecondMoment_mm4(radius_mm)) : 0.0;
  });
}

double CutterStretch_mm_n(const CellCutter& cutter, double modulus_gpa) {
  // Below its widest place a pointed cutter is short: left out.
  const double from_mm = std::min(cutter.cutter.radius_mm(), cutter.stick_out_mm);
  return SumOfParts(StepsAbove(cutter, from_mm), [&](double z) {
    const double radius_mm = RadiusAt(cutter, z);
    return radius_mm > 0.0 ? 1.0 / (kMpa_gpa * modulus_gpa * kinematics::kPi * radius_mm * radius_mm) : 0.0;
  });
}

double ArmBandOf(const Cell& cell) { return cell.arm_fit ? cell.arm_fit->band : kArmBand; }

std::optional<std::vector<double>> ArmStiffnessOf(const Cell& cell) {
  if (cell.arm_fit) return cell.arm_fit->stiffness_nm_rad;
  std::vector<double> stiffness;
  for (const JointDrive& drive : cell.drives) {
    if (!drive.stiffness_nm_rad) return std::nullopt;
    stiffness.push_back(*drive.stiffness_nm_rad);
  }
  if (stiffness.empty()) return std::nullopt;
  return stiffness;
}

std::optional<std::vector<double>> LostMotionOf(const Cell& cell) {
  std::vector<double> lost_rad;
  for (const JointDrive& drive : cell.drives) {
    if (!drive.lost_motion_rad) return std::nullopt;
    lost_rad.push_back(*drive.lost_motion_rad);
  }
  if (lost_rad.empty()) return std::nullopt;
  return lost_rad;
}

}  // namespace aircut::sim
