#include "sim/turn_force.h"

#include <cmath>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/outline_shapes.h"

// Ids are rows of the list of outside checks; the source stands beside each.
namespace aircut::sim {
namespace {

using kinematics::kPi;

constexpr double kExact = 1e-9;          // relative, closed forms in double
constexpr double kSectors = 2e-3;        // relative: sectors of 11.25 degrees, second harmonic

CutterOutline Flat(double diameter_mm) { return FlatOutline({diameter_mm, 60.0}); }

ForceCoefficients Tangential(double cutting, double edge = 0.0) { return {{cutting, 0, 0}, {edge, 0, 0}}; }

double Feed_mm_s(double mm_min) { return mm_min / 60.0; }

// Arc of a cut that is `width_mm` wide from the cutter's left side inwards.
PlainCut SideCut(double diameter_mm, double width_mm, double depth_mm) {
  PlainCut cut;
  cut.depth_mm = depth_mm;
  cut.from_rad = std::asin(1.0 - 2.0 * width_mm / diameter_mm);
  cut.to_rad = kPi / 2;
  return cut;
}

// CUT-01: diameter 125 mm at 350 rpm cuts at 137.4 m/min. Power is tangential force
// times cutting speed; the edge term alone makes both known.
TEST(TurnForceTest, PowerIsForceTimesCuttingSpeed) {
  PlainCut cut;
  cut.depth_mm = 2.0;
  cut.rpm = 350;
  const double edge = 3.0;
  const PlainLoad load = LoadOf(Flat(125), {1, true}, cut, Tangential(100, edge));
  const double mean_force_n = edge * cut.depth_mm * 0.5;   // engaged half of the turn
  EXPECT_NEAR(load.power_w / mean_force_n * 60.0, 137.4, 0.05);
}

// CUT-02, CUT-14, CUT-15, CUT-16: feed per tooth.
TEST(TurnForceTest, FeedPerToothFollowsTheCharts) {
  struct Row { double mm_min, rpm; int flutes; double expect_mm, within_mm; };
  constexpr double kInch = 25.4;
  const Row rows[] = {{500, 500, 10, 0.1, 1e-9},                       // maker's formulae for milling
                      {500 * kInch, 15000, 2, 0.017 * kInch, 0.0005 * kInch},   // cutter shop's page
                      {3600, 18000, 2, 0.1, 1e-9},                     // feeds page
                      {300 * kInch, 10000, 2, 0.015 * kInch, 1e-9},    // chip load chart
                      {300 * kInch, 15000, 2, 0.010 * kInch, 1e-9},
                      {300 * kInch, 19000, 2, 0.008 * kInch, 0.0005 * kInch},
                      {600 * kInch, 10000, 2, 0.030 * kInch, 1e-9}};
  for (const Row& row : rows) {
    PlainCut cut;
    cut.feed_mm_s = Feed_mm_s(row.mm_min);
    cut.rpm = row.rpm;
    cut.depth_mm = 1;
    EXPECT_NEAR(LoadOf(Flat(6), {row.flutes, true}, cut, {}).feed_per_tooth_mm, row.expect_mm, row.within_mm);
  }
}

// CUT-03: face milling, printed 101.91 rpm, 0.228 mm (cut off, not rounded) and 1.68 kW
// at an efficiency of 0.8; CUT-07: the formula.
TEST(TurnForceTest, FaceMillingPowerAsPrinted) {
  PlainCut cut = SideCut(250, 80, 2);
  cut.feed_mm_s = Feed_mm_s(280);
  cut.rpm = 101.91;
  EXPECT_NEAR(cut.rpm, 80e3 / (kPi * 250), 0.1);
  const PlainLoad load = LoadOf(Flat(250), {12, true}, cut, Tangential(1800));
  EXPECT_NEAR(load.feed_per_tooth_mm, 0.228, 0.001);
  EXPECT_NEAR(load.power_w / 0.8, 1680, 5);
  EXPECT_NEAR(load.power_w, 2.0 * 80 * 280 * 1800 / 60e6 * 1e3, kExact * 2000);
}

// CUT-04: turning, 4.65 kW: a full slot that removes as much metal a second.
TEST(TurnForceTest, PowerIsSpecificForceTimesRemovedVolume) {
  PlainCut cut;
  cut.depth_mm = 3.0;
  cut.rpm = 1000;
  cut.feed_mm_s = 0.2 * 120e3 / 60.0 / 10.0;      // f vc over a width of 10 mm
  EXPECT_NEAR(LoadOf(Flat(10), {1, true}, cut, Tangential(3100)).power_w / 0.8, 4650, 1);
}

// CUT-05, CUT-06: specific force falls with the chip's thickness. The chip and edge form
// cannot fit a power law; over one maker's rows it stays within a few percent of both.
TEST(TurnForceTest, ChipAndEdgeFormFollowsPrintedSpecificForces) {
  const double h[] = {0.1, 0.2, 0.3, 0.4, 0.6}, kc[] = {580, 480, 400, 350, 320};   // Al-Mg, printed
  double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, lx = 0, ly = 0, lxx = 0, lxy = 0;
  for (int i = 0; i < 5; ++i) {
    n += 1, sx += 1 / h[i], sy += kc[i], sxx += 1 / (h[i] * h[i]), sxy += kc[i] / h[i];   // kc = cutting + edge / h
    const double x = std::log(h[i]), y = std::log(kc[i]);
    lx += x, ly += y, lxx += x * x, lxy += x * y;
  }
  EXPECT_NEAR(-(n * lxy - lx * ly) / (n * lxx - lx * lx), 0.348, 0.01);
  const double edge = (n * sxy - sx * sy) / (n * sxx - sx * sx), cutting = (sy - edge * sx) / n;
  for (int i = 0; i < 5; ++i) {
    PlainCut cut;
    cut.depth_mm = 1;
    cut.rpm = 60;
    cut.feed_mm_s = h[i];
    // One tooth straight ahead: its force is that of the largest chip.
    cut.from_rad = 0, cut.to_rad = 2e-6;
    const PlainLoad load = LoadOf(Flat(10), {1, true}, cut, Tangential(cutting, edge));
    const double peak_n = load.force.peak_n.norm();
    const double share = 2e-6 / (2 * kPi / kArcSectors);
    EXPECT_NEAR(peak_n / share / h[i], kc[i], 0.10 * kc[i]) << "chip of " << h[i] << " mm";
  }
}

// CUT-11, CUT-12: thinning at a narrow cut. Thickest chip 2 sqrt(x (1 - x)), engaged
// 36.9 degrees; mean chip 2 x / arc.
TEST(TurnForceTest, RadialChipThinning) {
  struct Row { double width, mean; };
  for (const Row& row : {Row{0.1, 0.3107998}, Row{0.25, 0.4774648}, Row{0.5, 0.6366198}}) {
    PlainCut cut = SideCut(10, 10 * row.width, 2);
    cut.feed_mm_s = 1;
    cut.rpm = 60;
    const PlainLoad load = LoadOf(Flat(10), {1, true}, cut, {});
    EXPECT_NEAR(load.chip_mean_mm, row.mean, 1e-7);
    // The thickest is told at whole sectors, hence a little more.
    const double exact = 2 * std::sqrt(row.width * (1 - row.width));
    EXPECT_GE(load.chip_most_mm, exact - 1e-9);
    EXPECT_LE(load.chip_most_mm, exact + 2 * kPi / kArcSectors);
  }
  EXPECT_NEAR((kPi / 2 - SideCut(10, 1, 1).from_rad) * 180 / kPi, 36.9, 0.05);
}

// CUT-13: a ball of 6 mm cuts 3.3166 mm wide at 0.5 mm; its thickest chip is that of the
// lead angle there, its torque that of the volume.
TEST(TurnForceTest, BallThinsTheChipByItsLead) {
  PlainCut cut;
  cut.depth_mm = 0.5;
  cut.feed_mm_s = 1;
  cut.rpm = 60;
  const CutterOutline ball = BallOutline({6, 20});
  const PlainLoad load = LoadOf(ball, {1, true}, cut, Tangential(10));
  EXPECT_NEAR(load.chip_most_mm * 6, 3.3166248, 1e-7);
  // Half the lens: area of a segment of a circle of radius 3 that is 0.5 mm high.
  const double half_angle = std::acos(2.5 / 3.0);
  const double segment_mm2 = 9 * (half_angle - std::sin(2 * half_angle) / 2);
  EXPECT_NEAR(load.removed_mm3_s, segment_mm2, 1e-4 * segment_mm2);
  EXPECT_NEAR(load.power_w, 1e-3 * 10 * segment_mm2, 1e-4 * 1e-2 * segment_mm2);
}

// CUT-19, CUT-20, CUT-21: slab milling, energy u = u0 t^-m at the book's mean chip.
TEST(TurnForceTest, SlabMillingPowerAsInTheBook) {
  struct Row { double u0, m, chip, depth, width, mm_min, watt; };
  for (const Row& row : {Row{1400, 0.4, 0.043, 5, 20, 100, 821.5}, Row{1400, 0.4, 0.0018, 1, 20, 15, 87.698},
                         Row{1400, 0.28, 0.005, 5, 20, 25, 257.16}}) {
    PlainCut cut = SideCut(100, row.depth, row.width);
    cut.feed_mm_s = Feed_mm_s(row.mm_min);
    cut.rpm = 60;
    const PlainLoad load = LoadOf(FlatOutline({100, 60}), {8, true}, cut, Tangential(row.u0 * std::pow(row.chip, -row.m)));
    EXPECT_NEAR(load.power_w, row.watt, 0.01 * row.watt);
  }
}

// Mean forces of a full slot with straight teeth: along the feed N a (Kr c / 4 + Kre / pi)
// against it, across N a (Kt c / 4 + Kte / pi), along the axis N a (Ka c / pi + Kae / 2).
// Source: Altintas, Manufacturing Automation, section on milling forces (from memory).
TEST(TurnForceTest, SlotForcesHaveTheirClosedForm) {
  const ForceCoefficients k{{631, 99, 273}, {13, 10, 2}};   // Al 6082 of the domain notes, B4
  for (const int flutes : {1, 2, 3, 4}) {
    PlainCut cut;
    cut.depth_mm = 0.7;
    cut.rpm = 6000;
    cut.feed_mm_s = 0.05 * flutes * 100;
    const TurnForce force = LoadOf(Flat(3), {flutes, true}, cut, k).force;
    const double na = flutes * cut.depth_mm, c = 0.05;
    EXPECT_NEAR(force.mean_n.x(), -na * (99 * c / 4 + 10 / kPi), kSectors * na * 10);
    EXPECT_NEAR(force.mean_n.y(), na * (631 * c / 4 + 13 / kPi), kSectors * na * 20);
    EXPECT_NEAR(force.mean_n.z(), -na * (273 * c / kPi + 2 / 2.0), kSectors * na * 10);
  }
}

// Domain notes B4, calculated there: peak of a 3 mm ball with two flutes in a full slot.
TEST(TurnForceTest, PeakForcesLieInTheirKnownRange) {
  struct Row { ForceCoefficients k; double chip, depth, expect_n; };
  const ForceCoefficients board{{35, 18, 0}, {3, 2, 0}}, dense{{100, 50, 0}, {5, 4, 0}}, foam{{3, 1.5, 0}, {.3, .3, 0}};
  for (const Row& row : {Row{board, .08, .5, 6}, Row{board, .08, 1, 9}, Row{board, .08, 1.5, 13},
                         Row{dense, .08, .5, 12}, Row{dense, .08, 1, 20}, Row{dense, .08, 1.5, 27}}) {
    PlainCut cut;
    cut.depth_mm = row.depth;
    cut.rpm = 60;
    cut.feed_mm_s = 2 * row.chip;
    const double peak = LoadOf(BallOutline({3, 20}), {2, true}, cut, row.k).force.peak_n.norm();
    EXPECT_GT(peak, 0.6 * row.expect_n) << row.depth;
    EXPECT_LT(peak, 1.4 * row.expect_n) << row.depth;
  }
  PlainCut cut;
  cut.depth_mm = 1;
  cut.rpm = 60;
  cut.feed_mm_s = 0.3;
  const double peak = LoadOf(BallOutline({3, 20}), {2, true}, cut, foam).force.peak_n.norm();
  EXPECT_GT(peak, 0.5);
  EXPECT_LT(peak, 2.5);
}

TEST(TurnForceTest, WithoutFeedOnlyTheEdgeIsLeft) {
  PlainCut cut;
  cut.depth_mm = 2;
  cut.rpm = 6000;
  const PlainLoad still = LoadOf(Flat(6), {2, true}, cut, {{40, 20, 5}, {3, 2, 0}});
  const PlainLoad edge = LoadOf(Flat(6), {2, true}, cut, {{0, 0, 0}, {3, 2, 0}});
  EXPECT_GT(still.force.mean_n.norm(), 0);
  EXPECT_EQ(still.force.mean_n, edge.force.mean_n);
  EXPECT_EQ(still.chip_most_mm, 0);
}

TEST(TurnForceTest, LeftHandTurnsTheForceToTheOtherSide) {
  PlainCut cut;
  cut.depth_mm = 2;
  cut.rpm = 6000;
  cut.feed_mm_s = 20;
  const ForceCoefficients k{{40, 20, 5}, {3, 2, 0}};
  const TurnForce right = LoadOf(Flat(6), {2, true}, cut, k).force;
  const TurnForce left = LoadOf(Flat(6), {2, false}, cut, k).force;
  EXPECT_NEAR(right.mean_n.y(), -left.mean_n.y(), 1e-9);
  EXPECT_NEAR(right.mean_n.x(), left.mean_n.x(), 1e-9);
  EXPECT_NEAR(right.mean_torque_nmm, left.mean_torque_nmm, 1e-9);
}

// A plunge with a flat end: the chip is the travel, over the whole end; Kt times the volume.
TEST(TurnForceTest, PlungeCutsWithTheEnd) {
  PlainCut cut;
  cut.depth_mm = 1;
  cut.rpm = 60;
  cut.feed_mm_s = 0.2;
  cut.climb_rad = -kPi / 2;
  cut.from_rad = 0, cut.to_rad = 2 * kPi;
  const PlainLoad load = LoadOf(Flat(6), {1, true}, cut, {{50, 20, 0}, {0, 0, 0}});
  EXPECT_NEAR(load.removed_mm3_s, kPi * 9 * 0.2, 1e-9);
  EXPECT_NEAR(load.chip_most_mm, 0.2, 1e-12);
  EXPECT_NEAR(load.force.mean_n.z(), 20 * 3 * 0.2, 1e-9);      // against the plunge
  EXPECT_NEAR(load.power_w, 1e-3 * 50 * kPi * 9 * 0.2, 1e-9);
}

// Oracle: edges cut into ten thousand small elements, one angle after the other, by the
// definition; cone, corner and a hollow outline.
TEST(TurnForceTest, SumsAgreeWithSmallElements) {
  const std::vector<CutterOutline> outlines = {
      RoundTipConeOutline({12, 20}, kPi / 3, 0.4), BullNoseOutline({10, 20}, 2.0),
      ListedOutline({{{3, 0}, {}}, {{2, 3}, Eigen::Vector2d(5.5, 2.5)}, {{5, 10}, {}}})};
  for (const CutterOutline& outline : outlines) {
    EdgeEngagement engaged;
    engaged.low_mm = 0.3, engaged.high_mm = 2.6;
    engaged.TakeArc(std::uint32_t{0xFF0000FF});
    engaged.travel_mm = {0.1, 0, -0.02};
    engaged.turn = {0.01, 0.02, 0};
    const EdgeSums sums = SumEdges(outline, engaged);
    double chip = 0, edge = 0, volume = 0;
    constexpr int kSteps = 2000, kAngles = 512;
    for (const OutlinePiece& piece : outline.pieces) {
      const Eigen::Vector2d a = piece.from - piece.centre, b = piece.to - piece.centre;
      const double turn = std::atan2(a.x() * b.y() - a.y() * b.x(), a.dot(b));
      for (int i = 0; i < kSteps; ++i) {
        const auto at = [&](double u) -> Eigen::Vector2d {
          if (!piece.arc) return piece.from + u * (piece.to - piece.from);
          return piece.centre + Eigen::Rotation2Dd(u * turn) * a;
        };
        const Eigen::Vector2d p = at((i + 0.5) / kSteps), step = at((i + 1.0) / kSteps) - at(double(i) / kSteps);
        if (p.y() < engaged.low_mm || p.y() > engaged.high_mm) continue;
        const Eigen::Vector2d n = Eigen::Vector2d(step.y(), -step.x()) / step.norm();
        const Eigen::Vector3d travel = engaged.travel_mm + p.y() * engaged.turn;
        for (int k = 0; k < kAngles; ++k) {
          const double theta = (k + 0.5) / kAngles * 2 * kPi;
          if (!(theta < kPi / 2 || theta > 1.5 * kPi)) continue;
          const double h = travel.dot(Eigen::Vector3d(n.x() * std::cos(theta), n.x() * std::sin(theta), n.y()));
          if (!(h > 0)) continue;
          chip += h * step.norm() / kAngles * kArcSectors;
          edge += step.norm() / kAngles * kArcSectors;
          volume += h * p.x() * step.norm() / kAngles * 2 * kPi;
        }
      }
    }
    double chip_sum = 0, edge_sum = 0;
    for (const SectorSums& s : sums.sector) chip_sum += s.chip_mm2, edge_sum += s.edge_mm;
    EXPECT_NEAR(chip_sum, chip, 5e-3 * chip) << outline.shape;
    EXPECT_NEAR(edge_sum, edge, 2e-2 * edge) << outline.shape;   // whole sectors where the chip ends
    EXPECT_NEAR(sums.tooth_mm3, volume, 5e-3 * volume) << outline.shape;
  }
}

TEST(TurnForceTest, RefusesWhatIsNoCut) {
  PlainCut cut;
  cut.depth_mm = 1;
  cut.rpm = 0;
  EXPECT_THROW(LoadOf(Flat(6), {2, true}, cut, {}), std::invalid_argument);
  cut.rpm = 60;
  cut.feed_mm_s = std::nan("");
  EXPECT_THROW(LoadOf(Flat(6), {2, true}, cut, {}), std::invalid_argument);
  cut.feed_mm_s = 1;
  cut.to_rad = cut.from_rad;
  EXPECT_THROW(LoadOf(Flat(6), {2, true}, cut, {}), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::sim
