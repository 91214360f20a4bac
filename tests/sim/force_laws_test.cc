// Oracles: printed forces (CUT-10, CUT-22), and properties of the laws themselves.

#include "sim/force_laws.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/force_coefficients.h"
#include "sim/job.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

constexpr KienzleLaw kSteel{2500, 0.26, 0.05, 0.5};   // 42CrMo4, CUT-09

// CUT-10: 42CrMo4, 2 mm wide, a chip of 0.1 mm: 909.85 N.
TEST(KienzleLawTest, PrintedForceComesOut) { EXPECT_NEAR(2 * kSteel.Force_n_mm(0.1), 909.85, 1e-2); }

// Looked at between the chips that the fit looks at.
TEST(KienzleLawTest, LineStaysWithinWhatItSays) {
  const EdgeLine line = kSteel.Line();
  EXPECT_GT(line.edge_n_mm, 0.0);
  double worst = 0.0;
  for (double chip = 0.05; chip <= 0.5; chip += 0.001) {
    const double law = kSteel.Force_n_mm(chip);
    worst = std::max(worst, std::abs(line.cutting_n_mm2 * chip + line.edge_n_mm - law) / law);
  }
  EXPECT_LE(worst, line.off + 1e-12);
  EXPECT_GE(worst, 0.95 * line.off);
  EXPECT_LT(line.off, 0.10);
}

TEST(KienzleLawTest, LineLiesAboveTheLawOutsideItsChips) {
  const EdgeLine line = kSteel.Line();
  for (const double chip : {1e-4, 1e-3, 0.02, 0.9, 3.0}) {
    EXPECT_GT(line.cutting_n_mm2 * chip + line.edge_n_mm, kSteel.Force_n_mm(chip)) << chip;
  }
}

TEST(KienzleLawTest, WithoutExponentTheLineIsTheLaw) {
  const EdgeLine line = KienzleLaw{800, 0.0, 0.01, 0.2}.Line();
  EXPECT_NEAR(line.cutting_n_mm2, 800, 1e-9);
  EXPECT_NEAR(line.edge_n_mm, 0.0, 1e-9);
  EXPECT_NEAR(line.off, 0.0, 1e-12);
}

// CUT-22: shear stress 400 N/mm2, width 2, chip 0.2 mm, rake 10 degrees, friction 0.5.
TEST(MerchantLawTest, PrintedOrthogonalCutComesOut) {
  const MerchantLaw law{400, 0.5, kinematics::RadFromDeg(10)};
  EXPECT_NEAR(kinematics::DegFromRad(law.shear_angle_rad()), 36.717, 1e-3);
  EXPECT_NEAR(2 * 0.2 * law.cutting_n_mm2(), 429.0, 0.05);
  EXPECT_NEAR(2 * 0.2 * law.thrust_n_mm2(), 127.6, 0.05);
  EXPECT_NEAR(2 * 0.2 * law.cutting_n_mm2(), 420, 0.025 * 420);   // the book's own digits
  EXPECT_NEAR(2 * 0.2 * law.thrust_n_mm2(), 125, 0.025 * 125);
}

// Merchant's angle is the one that shears with the least force: any other takes more.
TEST(MerchantLawTest, ShearAngleTakesTheLeastForce) {
  const MerchantLaw law{400, 0.7, 0.2};
  const double tilt = std::atan(0.7) - 0.2;
  const auto force = [&](double shear) { return 400 * std::cos(tilt) / (std::sin(shear) * std::cos(shear + tilt)); };
  EXPECT_NEAR(force(law.shear_angle_rad()), law.cutting_n_mm2(), 1e-9);
  for (const double off : {-0.05, 0.05}) EXPECT_GT(force(law.shear_angle_rad() + off), law.cutting_n_mm2());
}

test::TinyJob With(const std::string& material) {
  return test::TinyJob().Change("tiny.job.yaml", "resolution_mm", "material: {name: steel, " + material + "}\nresolution_mm");
}
Material Loaded(const std::string& material) {
  const test::TempFolder folder;
  return *LoadJob(With(material).WriteTo(folder), {}).material;
}

// CUT-10 again, through a job: what the load is reckoned with brackets the law over its chips.
TEST(ForceLawYamlTest, KienzleGivesCoefficientsWhoseBandHoldsTheLaw) {
  const Material m = Loaded("kienzle: {kc11_n_mm2: 2500, mc: 0.26, chip: [0.05, 0.5]}, band: 0.1");
  const ForceBand band = *ForceBandOf(m);
  for (const double chip : {0.05, 0.1, 0.3, 0.5}) {
    const double law = kSteel.Force_n_mm(chip);
    const auto at = [&](BandEnd end) { return band.at[end].cutting_n_mm2[0] * chip + band.at[end].edge_n_mm[0]; };
    EXPECT_GE(at(kMost), 1.1 * law) << chip;
    EXPECT_LE(at(kLeast), 0.9 * law) << chip;
    EXPECT_NEAR(at(kNominal) / law, 1.0, m.law_off + 1e-12) << chip;
  }
}

TEST(ForceLawYamlTest, OrthogonalCutGivesTangentialAndRadialParts) {
  const Material m = Loaded("orthogonal: {shear_stress_n_mm2: 400, friction: 0.5, rake: 10}, edge_force_n_mm: 12");
  EXPECT_NEAR(*m.cutting_force_n_mm2.tangential, 429.0 / 0.4, 0.2);   // CUT-22
  EXPECT_NEAR(*m.cutting_force_n_mm2.radial, 127.6 / 0.4, 0.2);
  EXPECT_EQ(m.edge_force_n_mm.tangential, 12);
  EXPECT_EQ(m.law_off, 0.0);
}

}  // namespace
}  // namespace aircut::sim
