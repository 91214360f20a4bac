#include "verify/safety_distance.h"

#include <gtest/gtest.h>

namespace aircut::verify {
namespace {

using Kind = sim::ProtectiveDevice::Kind;

constexpr double kTol_mm = 1e-9;

sim::ProtectiveDevice Curtain(double response_s, double resolution_mm) {
  return {Kind::kLightCurtain, "curtain", response_s, resolution_mm, 0, 0.0};
}

double DistanceOf(const sim::ProtectiveDevice& device, double stop_s) { return SafetyDistanceOf(device, stop_s).distance_mm; }

// Oracle: external-checks SAF-02 (ISO 13855:2010; a maker's manual works the same numbers).
TEST(SafetyDistanceTest, CurtainBeyondHalfAMetreIsReckonedWithTheSlowerSpeed) {
  const SafetyDistance s = SafetyDistanceOf(Curtain(0.03, 14), 0.29);
  EXPECT_NEAR(s.time_s, 0.32, 1e-12);
  EXPECT_EQ(s.speed_mm_s, 1600);
  EXPECT_NEAR(s.distance_mm, 512, kTol_mm);
}

// Oracle: SAF-03: 540 with the fast speed, 432 with the slow one, so 500.
TEST(SafetyDistanceTest, SlowerSpeedNeverGivesLessThanHalfAMetre) { EXPECT_NEAR(DistanceOf(Curtain(0, 14), 0.27), 500, kTol_mm); }

// Oracle: SAF-04 and SAF-05, worked on makers' pages: 330 mm; 220.4 mm.
TEST(SafetyDistanceTest, CurtainNearTheHazardIsReckonedWithTheFastSpeed) {
  EXPECT_NEAR(DistanceOf(Curtain(0.0, 14), 0.165), 330, kTol_mm);
  EXPECT_NEAR(DistanceOf(Curtain(0.0, 14), 0.1102), 220.4, kTol_mm);
}

// Oracle: SAF-06: C = 8 (30 - 14) = 128; 528 > 500, 448 with the slow speed, so 500. A finer
// field than 14 mm has no negative C.
TEST(SafetyDistanceTest, CoarserFieldSeesAHandLater) {
  const SafetyDistance s = SafetyDistanceOf(Curtain(0.0, 30), 0.2);
  EXPECT_NEAR(s.intrusion_mm, 128, kTol_mm);
  EXPECT_NEAR(s.distance_mm, 500, kTol_mm);
  EXPECT_EQ(SafetyDistanceOf(Curtain(0.0, 10), 0.2).intrusion_mm, 0);
}

// ISO 13855, from memory: never nearer than 100 mm.
TEST(SafetyDistanceTest, NeverNearerThanAHand) { EXPECT_NEAR(DistanceOf(Curtain(0.0, 14), 0.02), 100, kTol_mm); }

// Oracle: SAF-07: 1600 * 0.3 + 850 = 1330; a single beam 1680. On both sides of 40 mm.
TEST(SafetyDistanceTest, BeamsAndCoarseFieldsSeeABodyOnly) {
  const auto beams = [](int count) { return sim::ProtectiveDevice{Kind::kBeams, "beams", 0.0, 0.0, count, 0.0}; };
  EXPECT_NEAR(DistanceOf(beams(3), 0.3), 1330, kTol_mm);
  EXPECT_NEAR(DistanceOf(beams(1), 0.3), 1680, kTol_mm);
  EXPECT_NEAR(DistanceOf(Curtain(0, 41), 0.3), 1330, kTol_mm);
  EXPECT_NEAR(DistanceOf(Curtain(0, 40), 0.3), 1600 * 0.3 + 8 * 26, kTol_mm);
}

// Oracle: SAF-08.
TEST(SafetyDistanceTest, ScannerLowOverTheFloorStandsFarther) {
  const auto scanner = [](double height_mm) { return sim::ProtectiveDevice{Kind::kScanner, "scanner", 0.0, 70, 0, height_mm}; };
  EXPECT_NEAR(SafetyDistanceOf(scanner(300), 0.3).intrusion_mm, 1080, kTol_mm);
  EXPECT_NEAR(DistanceOf(scanner(300), 0.3), 1560, kTol_mm);
  EXPECT_NEAR(SafetyDistanceOf(scanner(1000), 0.3).intrusion_mm, 850, kTol_mm);
  EXPECT_NEAR(DistanceOf(scanner(1000), 0.3), 1330, kTol_mm);
}

// Oracle: SAF-09.
TEST(SafetyDistanceTest, BeamsStandAtTheHeightsOfTheStandard) {
  const auto heights = [](int count) { return SafetyDistanceOf({Kind::kBeams, "beams", 0.0, 0.0, count, 0.0}, 0.3).beam_heights_mm; };
  EXPECT_EQ(heights(4), (std::vector<double>{300, 600, 900, 1200}));
  EXPECT_EQ(heights(3), (std::vector<double>{300, 700, 1100}));
  EXPECT_EQ(heights(2), (std::vector<double>{400, 900}));
  EXPECT_TRUE(heights(1).empty());
}

// Oracle: SAF-14, pi D n and m v^2 / 2, within 1e-6.
TEST(SafetyDistanceTest, EdgeSpeedAndEnergyOfAFragment) {
  EXPECT_NEAR(RimSpeed_m_s(25, 18000), 23.561945, 1e-6);
  EXPECT_NEAR(FragmentEnergy_j(5, RimSpeed_m_s(25, 18000)), 1.387914, 1e-6);
}

}  // namespace
}  // namespace aircut::verify
