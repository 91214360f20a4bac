#include "sim/tool_stress.h"

#include <cmath>

#include "kinematics/units.h"

namespace aircut::sim {
namespace {

// Sections between the force and the top of the flutes: a cone is widest-spread where
// its diameter is 1.5 times that at the force, which these steps meet within a percent.
constexpr int kSections = 64;

struct Section {
  double z_mm = 0, diameter_mm = 0;
};

double Stress_mpa(const Section& s, const Eigen::Vector2d& force_n, double height_mm) {
  const double moment_nmm = force_n.x() * std::max(0.0, s.z_mm - height_mm);
  const double d = s.diameter_mm;
  return 32.0 * moment_nmm / (kinematics::kPi * d * d * d) + 4.0 * force_n.y() / (kinematics::kPi * d * d);
}

}  // namespace

ToolStress StressOf(const CellCutter& cutter, const Eigen::Vector2d& force_n, double height_mm, double stick_out_mm) {
  ToolStress worst;
  const auto look = [&](const Section& s) {
    const double stress = s.diameter_mm > 0.0 ? Stress_mpa(s, force_n, height_mm) : 0.0;
    if (stress > worst.stress_mpa) worst = {stress, s.z_mm, s.diameter_mm};
  };
  const double flutes_mm = std::min(cutter.cutter.flute_length_mm(), stick_out_mm);
  // At the force itself, where the section may be next to nothing, there is no bending yet.
  for (int i = 1; i <= kSections; ++i) {
    const double z = height_mm + (flutes_mm - height_mm) * i / kSections;
    if (flutes_mm > height_mm) look({z, kFluteCore * 2.0 * cutter.cutter.RadiusAt(std::min(z, flutes_mm - 1e-9))});
  }
  look({stick_out_mm, stick_out_mm > flutes_mm ? cutter.shank_diameter_mm
                                               : kFluteCore * 2.0 * cutter.cutter.radius_mm()});
  return worst;
}

}  // namespace aircut::sim
