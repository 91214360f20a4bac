#include "sim/cutter.h"

#include <cmath>
#include <limits>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/outline_split.h"
#include "tests/support/outline_reference.h"

namespace aircut::sim {
namespace {

using testing::HasSubstr;
using testing::ThrowsMessage;

constexpr double kTol_mm = 1e-12;
constexpr double kPi = 3.14159265358979323846;

// GEO-07 (external-checks.md, clamp to segment): capsule with axis (0,0,0)-(0,0,10),
// radius 2: two quarter circles and a line between them.
TEST(CutterTest, CapsuleOfGeo07) {
  const Cutter capsule = Cutter::Of(ListedOutline({{{2, 2}, Eigen::Vector2d(0, 2)}, {{2, 12}, {}}, {{0, 14}, Eigen::Vector2d(0, 12)}}));
  const Eigen::Vector3d lift(0, 0, 2);
  EXPECT_NEAR(capsule.SignedDistance(Eigen::Vector3d(3, 4, 5) + lift), 3.0, kTol_mm);
  EXPECT_NEAR(capsule.SignedDistance(Eigen::Vector3d(3, 0, 14) + lift), 3.0, kTol_mm);   // sqrt(9 + 16) - 2
  EXPECT_NEAR(capsule.SignedDistance(Eigen::Vector3d(0.5, 0, 5) + lift), -1.5, kTol_mm);
}

// GEO-08: torus R 5, r 1. Its outer half on a disc is the lower corner of a bull
// nose of radius 6; (8, 0, 4) lies above it, (3, 4, 0) is the middle of the tube,
// which the solid disc does not change.
TEST(CutterTest, BullNoseHasTheTorusOfGeo08AsItsCorner) {
  const Cutter bull = Cutter::Of(ListedOutline({{{5, 0}, {}}, {{6, 1}, Eigen::Vector2d(5, 1)}, {{5, 2}, Eigen::Vector2d(5, 1)}}));
  const Eigen::Vector3d lift(0, 0, 1);
  EXPECT_NEAR(bull.SignedDistance(Eigen::Vector3d(8, 0, 4) + lift), 4.0, kTol_mm);
  EXPECT_NEAR(bull.SignedDistance(Eigen::Vector3d(8, 0, -4) + lift), 4.0, kTol_mm);
  EXPECT_NEAR(bull.SignedDistance(Eigen::Vector3d(3, 4, 0) + lift), -1.0, kTol_mm);
}

// GEO-09: rounded cone r 3 to 1 over 10; its flank touches both balls. Upside down
// it is a tapered ball cutter of tip 1.
TEST(CutterTest, TaperedBallIsTheRoundedConeOfGeo09) {
  const double sine = 0.2, cosine = std::sqrt(1 - sine * sine);
  const Eigen::Vector2d low(cosine, 1 - sine), high(3 * cosine, 11 - 3 * sine);
  const Cutter cone = Cutter::Of(ListedOutline({{low, Eigen::Vector2d(0, 1)}, {high, {}}, {{0, 14}, Eigen::Vector2d(0, 11)}}));
  const auto at = [&](double x, double z) { return cone.SignedDistance({x, 0, 11 - z}); };
  EXPECT_NEAR(at(5, 4), 2.6989795, 1e-7);
  EXPECT_NEAR(at(0, -5), 2.0, kTol_mm);
  EXPECT_NEAR(at(0, 13), 2.0, kTol_mm);
}

// GEO-10: cylinder of radius 2 and half height 3.
TEST(CutterTest, FlatIsTheCylinderOfGeo10) {
  const Cutter flat = Cutter::Of(FlatOutline({4.0, 6.0}));
  EXPECT_NEAR(flat.SignedDistance({5, 0, 9}), 4.2426407, 1e-7);
  EXPECT_NEAR(flat.SignedDistance({0, 0, 4}), -2.0, kTol_mm);
}

// Oracle: the drawing itself (tests/support/outline_reference.h). Outside the
// distance is exact; inside it has the right sign and is nowhere nothing but at
// the surface, as a skin left in a hole would be.
TEST(CutterTest, EveryCutterIsItsOutline) {
  std::mt19937_64 rng(11);
  std::uniform_real_distribution<double> across(0.0, 8.0), up(-4.0, 24.0);
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    const OutlineReference drawn(named.cutter.outline());
    for (int n = 0; n < 4000; ++n) {
      const double r = across(rng), z = up(rng);
      const double exact = static_cast<double>(drawn.SignedDistance(r, z)), ours = named.cutter.SignedDistance({r, 0, z});
      if (exact > 0.0) {
        EXPECT_NEAR(ours, exact, kHollowSag_mm + 1e-9) << named.name << " " << r << " " << z;
      } else {
        EXPECT_GE(ours, exact - kHollowSag_mm - 1e-9) << named.name << " " << r << " " << z;
        EXPECT_LE(ours, 0.3 * exact + 1e-9) << named.name << " " << r << " " << z;
      }
    }
  }
}

// A convex outline is one solid, whose distance is exact inside too.
TEST(CutterTest, ConvexCuttersAreExactInside) {
  std::mt19937_64 rng(13);
  std::uniform_real_distribution<double> across(0.0, 3.0), up(0.0, 12.0);
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    if (named.name != "flat" && named.name != "bull nose" && named.name != "v with a flat tip") continue;
    ASSERT_EQ(named.cutter.profiles().size(), 1u);
    const OutlineReference drawn(named.cutter.outline());
    for (int n = 0; n < 2000; ++n) {
      const double r = across(rng), z = up(rng);
      const double exact = static_cast<double>(drawn.SignedDistance(r, z));
      if (exact < 0.0) {
        EXPECT_NEAR(named.cutter.SignedDistance({r, 0, z}), exact, 1e-9) << named.name << " " << r << " " << z;
      }
    }
  }
}

// GEO-06: a cone of height 5 and radius 3, apex down: up to its middle an eighth
// of its volume, by counting points of a lattice.
TEST(CutterTest, ConeCutAtMidHeightHasTheVolumesOfGeo06) {
  const Cutter cone = Cutter::Of(ListedOutline({{{3, 5}, {}}}));
  std::int64_t low = 0, all = 0;
  const double step = 0.05;
  for (double x = -3 + step / 2; x < 3; x += step) {
    for (double y = -3 + step / 2; y < 3; y += step) {
      for (double z = step / 2; z < 5; z += step) {
        if (cone.SignedDistance({x, y, z}) > 0.0) continue;
        ++all;
        low += z < 2.5 ? 1 : 0;
      }
    }
  }
  EXPECT_NEAR(static_cast<double>(all) * step * step * step, 15.0 * kPi, 0.01 * 15.0 * kPi);
  EXPECT_NEAR(static_cast<double>(low) / static_cast<double>(all), 1.0 / 8.0, 0.01);
}

// Property: a distance field changes by at most the distance moved.
TEST(CutterTest, DistanceIsOneLipschitz) {
  std::mt19937_64 rng(5);
  std::uniform_real_distribution<double> c(-15.0, 25.0);
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    for (int n = 0; n < 2000; ++n) {
      const Eigen::Vector3d p(c(rng), c(rng), c(rng)), q(c(rng), c(rng), c(rng));
      EXPECT_LE(std::abs(named.cutter.SignedDistance(p) - named.cutter.SignedDistance(q)), (p - q).norm() + 1e-9) << named.name;
    }
  }
}

// Definition: the least outward radius, 0 for sharp tips and corners.
TEST(CutterTest, NoseRadiusIsTheLeastOfTheOutline) {
  const std::vector<std::pair<std::string, double>> expected = {
      {"ball", 3}, {"flat", 0}, {"bull nose", 1}, {"v", 0.2}, {"sharp v", 0}, {"v with a flat tip", 0}, {"tapered ball", 0.75}};
  for (const auto& [name, radius] : expected) {
    for (const NamedCutter& named : OneCutterOfEachKind()) {
      if (named.name == name) {
        EXPECT_NEAR(named.cutter.nose_radius_mm(), radius, 1e-9) << name;
      }
    }
  }
}

TEST(CutterTest, OnlyCuttersWithNecksNarrowUpwards) {
  for (const NamedCutter& named : OneCutterOfEachKind()) {
    const bool neck = named.name == "undercut" || named.name == "sphere on a neck";
    EXPECT_EQ(named.cutter.widens_upwards(), !neck) << named.name;
  }
}

TEST(CutterTest, BadSizesThrowNamingFieldAndValue) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THAT([] { Cutter::Ball(0.0, 10.0); }, ThrowsMessage<std::invalid_argument>(HasSubstr("diameter = 0")));
  EXPECT_THAT([&] { Cutter::Ball(nan, 10.0); }, ThrowsMessage<std::invalid_argument>(HasSubstr("diameter")));
  EXPECT_THAT([] { Cutter::Ball(6.0, 2.9); }, ThrowsMessage<std::invalid_argument>(HasSubstr("flute_length = 2.9")));
  EXPECT_THAT([] { Cutter::V(kPi, 0.1, 6.0, 10.0); }, ThrowsMessage<std::invalid_argument>(HasSubstr("angle")));
  EXPECT_THAT([] { Cutter::V(1.0, 3.0, 6.0, 10.0); }, ThrowsMessage<std::invalid_argument>(HasSubstr("tip_radius = 3")));
}

}  // namespace
}  // namespace aircut::sim
