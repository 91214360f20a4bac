#include "sim/contact_record.h"

#include <cmath>

#include <gtest/gtest.h>

#include "sim/swept_cut.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kPi = 3.14159265358979323846;
constexpr double kSector = 2.0 * kPi / kArcSectors;

GridCut Cut(const ToolTrack& track, double voxel_mm = 0.2) {
  CutOptions options;
  options.voxel_mm = voxel_mm;
  return CutGrid(Block(60, 40, 10), track, options);
}

// The bit of the sector that holds an angle from the feed direction, anticlockwise.
bool Meets(const SweepContact& c, double angle_rad) {
  const double turn = std::fmod(angle_rad + 2.0 * kPi, 2.0 * kPi);
  return (c.arc >> static_cast<int>(turn / kSector) & 1u) != 0;
}

// Engaged arc of a slot, 180 degrees; of a plunge, all round; of a side cut of
// radial depth a_e: acos(1 - a_e / r) (handbook form, from memory).
TEST(ContactRecordTest, ArcOfASlotIsHalfATurn) {
  const GridCut cut = Cut(UprightTrack(Cutter::Ball(8, 20), {{-35, 0.03, -4}, {-20, 0.03, -4}, {20, 0.03, -4}}));
  const SweepContact& slot = cut.contact.sweeps[1];
  EXPECT_NEAR(EngagedArc_rad(slot), kPi, 2.01 * kSector);
  EXPECT_TRUE(Meets(slot, 0.3));
  EXPECT_TRUE(Meets(slot, -1.2));
  EXPECT_FALSE(Meets(slot, kPi));
}

TEST(ContactRecordTest, ArcOfAPlungeIsTheWholeTurn) {
  const GridCut cut = Cut(UprightTrack(Cutter::Ball(8, 20), {{0.07, 0.03, 5}, {0.07, 0.03, -3}}));
  EXPECT_NEAR(EngagedArc_rad(cut.contact.sweeps[0]), 2.0 * kPi, 1e-12);
}

TEST(ContactRecordTest, ArcOfASideCutIsThatOfItsRadialDepth) {
  // The block ends at y = 20; the cylinder of the ball's string reaches 2 mm in.
  const double radius = 4.0, radial_depth = 2.0;
  const double y = 20.0 + radius - radial_depth;
  const GridCut cut = Cut(UprightTrack(Cutter::Ball(8, 30), {{-40, y, -15}, {0, y, -15}, {40, y, -15}}));
  const SweepContact& right = cut.contact.sweeps[1];   // going +x, the material is on the right
  // From straight to the right (-90 degrees) forward by acos(1 - a_e / r) = 60 degrees.
  const double arc = std::acos(1.0 - radial_depth / radius);
  EXPECT_NEAR(EngagedArc_rad(right), arc, 1.01 * kSector);
  EXPECT_TRUE(Meets(right, -0.5 * kPi + 0.1));
  EXPECT_TRUE(Meets(right, -0.5 * kPi + arc - 0.15));
  EXPECT_FALSE(Meets(right, 0.1));
  const GridCut back = Cut(UprightTrack(Cutter::Ball(8, 30), {{40, y, -15}, {0, y, -15}, {-40, y, -15}}));
  EXPECT_TRUE(Meets(back.contact.sweeps[1], 0.5 * kPi - 0.1));   // now on the left
  EXPECT_FALSE(Meets(back.contact.sweeps[1], -0.5 * kPi + 0.1));
}

TEST(ContactRecordTest, DepthsAndMiddleOfASlot) {
  const GridCut cut = Cut(UprightTrack(Cutter::Ball(8, 20), {{-10, 0.03, -3}, {14, 0.03, -3}}), 0.1);
  const SweepContact& c = cut.contact.sweeps[0];
  EXPECT_NEAR(c.axial_low_mm, 0.0, 0.1);
  EXPECT_NEAR(c.axial_mm, 3.0, 0.1);
  EXPECT_NEAR(c.radial_mm, std::sqrt(16.0 - 1.0), 0.1);
  const Vector3d middle = cut.contact.MiddleOf(c);
  EXPECT_NEAR(middle.x(), 2.0, 0.02);
  EXPECT_NEAR(middle.y(), 0.03, 0.02);
  // Centroid of the circle's segment of height 3 below the face, away from the ends:
  // chord^3 / (12 A) from the centre, A = r^2 acos(1 - d/r) - (r - d) sqrt(2 r d - d^2).
  const double area = 16.0 * std::acos(0.25) - std::sqrt(15.0);
  const double deep = std::pow(2.0 * std::sqrt(15.0), 3) / (12.0 * area) - 1.0;
  EXPECT_NEAR(middle.z(), -deep, 0.05);
  EXPECT_THROW(cut.contact.MiddleOf(SweepContact{}), std::invalid_argument);
}

TEST(ContactRecordTest, FirstAndLastTouch) {
  const GridCut cut = Cut(UprightTrack(
      Cutter::Ball(8, 20), {{-40, 0, 10}, {-10, 0, 10}, {-10, 0, -1}, {10, 0, -1}, {10, 0, 10}, {40, 0, 10}}));
  const TouchedSpan span = TouchedSweeps(cut.contact);
  EXPECT_EQ(span.first, 1u);
  EXPECT_EQ(span.last, 2u);
  EXPECT_TRUE(TouchedSweeps(Cut(UprightTrack(Cutter::Ball(8, 20), {{0, 0, 9}, {5, 0, 9}})).contact).empty());
}

}  // namespace
}  // namespace aircut::sim
