#include "sim/tool_stress.h"

#include <cmath>

#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/outline_shapes.h"

namespace aircut::sim {
namespace {

using kinematics::kPi;

CellCutter Slender() {
  CellCutter cutter;
  cutter.cutter = Cutter::Of(FlatOutline({3, 10}));
  cutter.shank_diameter_mm = 6;
  return cutter;
}

// Bending stress of a round cantilever, 32 F L / (pi d^3) (handbook form): the fluted part
// as 0.8 of its diameter up to 10 mm, then the shank.
TEST(ToolStressTest, SteppedCantileverBreaksAtTheRunOutOfTheFlutes) {
  const ToolStress stress = StressOf(Slender(), {50, 0}, 1.0, 40.0);
  EXPECT_NEAR(stress.stress_mpa, 32 * 50 * 9 / (kPi * std::pow(2.4, 3)), 1e-6);
  EXPECT_NEAR(stress.at_mm, 10, 1e-9);
}

TEST(ToolStressTest, LongShankBreaksAtTheCollet) {
  CellCutter cutter = Slender();
  cutter.shank_diameter_mm = 3;
  const ToolStress stress = StressOf(cutter, {50, 0}, 0.0, 40.0);
  EXPECT_NEAR(stress.stress_mpa, 32 * 50 * 40 / (kPi * 27), 1e-6);
  EXPECT_NEAR(stress.at_mm, 40, 1e-9);
  // Twice the length, twice the stress: linear in the lever.
  EXPECT_NEAR(StressOf(cutter, {50, 0}, 0.0, 80.0).stress_mpa, 2 * stress.stress_mpa, 1e-6);
}

// A cone under a force at height h: F (z - h) / z^3 is largest at z = 1.5 h, if the cone is
// that long.
TEST(ToolStressTest, ConeBreaksAboveTheForce) {
  CellCutter cutter;
  cutter.cutter = Cutter::V(kPi / 2, 0.0, 12, 10);
  cutter.shank_diameter_mm = 12;
  const double h = 1, z = 1.5 * h, d = kFluteCore * 2 * z;
  const ToolStress stress = StressOf(cutter, {50, 0}, h, 12.0);
  EXPECT_NEAR(stress.stress_mpa, 32 * 50 * (z - h) / (kPi * d * d * d), 0.01 * stress.stress_mpa);
}

TEST(ToolStressTest, PullAddsToBending) {
  const double d = 2.4;
  const double pull = 4 * 100 / (kPi * d * d);
  EXPECT_NEAR(StressOf(Slender(), {50, 100}, 1.0, 40.0).stress_mpa - StressOf(Slender(), {50, 0}, 1.0, 40.0).stress_mpa, pull, 1e-6);
  EXPECT_EQ(StressOf(Slender(), {0, 0}, 1.0, 40.0).stress_mpa, 0);
}

}  // namespace
}  // namespace aircut::sim
