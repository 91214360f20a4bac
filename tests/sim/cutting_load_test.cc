#include "sim/cutting_load.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/frame.h"
#include "kinematics/units.h"
#include "sim/outline_shapes.h"
#include "sim/swept_cut.h"
#include "sim/turn_force.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::kPi;

constexpr double kRpm = 12000;
constexpr int kFlutes = 2;

ForceBand OakBand() {
  Material oak;
  oak.cutting_force_n_mm2 = {40.0, 15.0, 4.0};
  oak.edge_force_n_mm = {4.0, 3.0, 0.5};
  oak.band = 0.5;
  return *ForceBandOf(oak);
}

SpindleRates RatesOf(const ToolTrack& track) {
  return {{{kFlutes, true}}, std::vector<double>(track.sweeps.size(), kRpm)};
}

// Straight cut in ten sweeps after a way down beside the block, at 20 mm a second.
ToolTrack Straight(const Cutter& cutter, const Vector3d& from, const Vector3d& to) {
  std::vector<Vector3d> tips;
  for (int i = 0; i <= 10; ++i) tips.push_back(from + 0.1 * i * (to - from));
  ToolTrack track = UprightTrack(cutter, tips);
  for (double& t : track.time_s) t *= 0.1 * (to - from).norm() / 20.0;
  return track;
}

struct Loaded {
  ToolTrack track;
  ContactRecord contacts;
  CuttingLoad load;
};

Loaded LoadAlong(const ToolTrack& track, double voxel_mm, const std::optional<ForceBand>& force = OakBand(), int threads = 2) {
  CutOptions options;
  options.voxel_mm = voxel_mm;
  Loaded loaded{track, CutGrid(Block(60, 40, 10), track, options).contact, {}};
  const SpindleRates rates = RatesOf(track);
  loaded.load = ComputeCuttingLoad({loaded.track, loaded.contacts, rates, force, threads});
  return loaded;
}

Cutter Flat(double diameter_mm) { return Cutter::Of(FlatOutline({diameter_mm, 20})); }

// Oracle: the plain cut, which closed forms check. A slot and a side cut with a flat, from
// the voxels of a real cut; chips 0.05 mm, volume within a voxel of depth.
TEST(CuttingLoadTest, FlatSlotIsThePlainCut) {
  const Loaded slot = LoadAlong(Straight(Flat(6), {-40, 0.03, -2}, {20, 0.03, -2}), 0.2);
  const SweepLoad* load = slot.load.Of(7);
  ASSERT_NE(load, nullptr);
  PlainCut cut;
  cut.feed_mm_s = 20;
  cut.rpm = kRpm;
  cut.depth_mm = 2;
  const PlainLoad plain = LoadOf(Flat(6).outline(), {kFlutes, true}, cut, OakBand().at[kNominal]);
  EXPECT_NEAR(load->feed_per_tooth_mm, 0.05, 1e-6);
  EXPECT_NEAR(load->chip_most_mm, 0.05, 1e-6);
  EXPECT_NEAR(load->removed_mm3_s, 20 * 6 * 2, 0.02 * 240);
  EXPECT_NEAR(load->power_w[kNominal], plain.power_w, 0.1 * plain.power_w);   // half a voxel of 2 mm, a sector of 16
  EXPECT_NEAR(load->mean_S_n[kNominal].x(), plain.force.mean_n.x(), 0.15 * plain.force.mean_n.norm());
  EXPECT_NEAR(load->mean_S_n[kNominal].y(), plain.force.mean_n.y(), 0.15 * plain.force.mean_n.norm());
  EXPECT_NEAR(load->peak_S_n[kNominal].norm(), plain.force.peak_n.norm(), 0.1 * plain.force.peak_n.norm());
}

TEST(CuttingLoadTest, SideCutThinsTheChip) {
  // The block ends at y = 20: 0.6 mm of a 6 mm flat, on the right of the way.
  const Loaded side = LoadAlong(Straight(Flat(6), {-40, 22.4, -4}, {20, 22.4, -4}), 0.1);
  const SweepLoad* load = side.load.Of(7);
  ASSERT_NE(load, nullptr);
  const double thinned = 0.05 * 2 * std::sqrt(0.1 * 0.9);      // external check CUT-11
  EXPECT_GE(load->chip_most_mm, thinned - 1e-6);
  EXPECT_LE(load->chip_most_mm, thinned + 0.05 * 2 * kPi / kArcSectors);
  // The edge goes through the material for 36.9 degrees of a turn.
  EXPECT_NEAR(load->arc_rad, std::acos(0.8), 1.01 * 2 * kPi / kArcSectors);
}

// Power of the chip is specific force times volume, whatever the arc: conserved.
TEST(CuttingLoadTest, ChipPowerIsThatOfTheRemovedVolume) {
  ForceBand chips;
  chips.at[kNominal].cutting_n_mm2 = {40, 15, 4};
  for (const Cutter& cutter : {Cutter::Ball(6, 20), Cutter::V(kPi / 3, 0.2, 8, 12), Flat(5)}) {
    const ToolTrack track = Straight(cutter, {-20, 3.1, -1.7}, {20, -2.2, -2.4});
    const Loaded cut = LoadAlong(track, 0.2, chips);
    double energy_j = 0, volume_mm3 = 0;
    for (const SweepLoad& load : cut.load.sweeps) {
      const auto i = static_cast<std::size_t>(load.sweep);
      energy_j += load.power_w[kNominal] * (track.time_s[i + 1] - track.time_s[i]);
      volume_mm3 += cut.contacts.VolumeOf(cut.contacts.sweeps[i]);
    }
    EXPECT_NEAR(energy_j, 1e-3 * 40 * volume_mm3, 1e-4 * energy_j);
    EXPECT_EQ(cut.load.beyond_model, 0u);
  }
}

// Metamorphic: the whole scene turned by a quarter, about z: the same lattice, so the
// vectors turn with it and all else stays.
TEST(CuttingLoadTest, VectorsTurnWithTheScene) {
  const Vector3d from(-15, 2, -1.5), to(14, -1, -2);
  const auto turned = [](const Vector3d& p) { return Vector3d(-p.y(), p.x(), p.z()); };
  const ToolTrack track = Straight(Cutter::Ball(6, 20), from, to);
  const ToolTrack track_turned = Straight(Cutter::Ball(6, 20), turned(from), turned(to));
  CutOptions options;
  options.voxel_mm = 0.25;
  const ContactRecord a = CutGrid(Block(60, 60, 10), track, options).contact;
  const ContactRecord b = CutGrid(Block(60, 60, 10), track_turned, options).contact;
  const SpindleRates rates = RatesOf(track);
  const CuttingLoad one = ComputeCuttingLoad({track, a, rates, OakBand(), 2});
  const CuttingLoad two = ComputeCuttingLoad({track_turned, b, rates, OakBand(), 2});
  ASSERT_EQ(one.sweeps.size(), two.sweeps.size());
  for (std::size_t i = 0; i < one.sweeps.size(); ++i) {
    const Vector3d expected = turned(one.sweeps[i].mean_S_n[kNominal].cast<double>());
    EXPECT_NEAR((two.sweeps[i].mean_S_n[kNominal].cast<double>() - expected).norm(), 0.0, 0.05 * expected.norm());
    EXPECT_NEAR(two.sweeps[i].power_w[kMost], one.sweeps[i].power_w[kMost], 0.05 * one.sweeps[i].power_w[kMost]);
  }
}

// A wider band moves both ends and leaves the middle.
TEST(CuttingLoadTest, DoublingTheBandWidens) {
  Material oak;
  oak.cutting_force_n_mm2 = {40.0, 15.0, 4.0};
  oak.edge_force_n_mm = {4.0, 3.0, 0.5};
  const ToolTrack track = Straight(Cutter::Ball(6, 20), {-20, 0, -2}, {20, 0, -2});
  oak.band = 0.2;
  const Loaded narrow = LoadAlong(track, 0.25, ForceBandOf(oak));
  oak.band = 0.4;
  const Loaded wide = LoadAlong(track, 0.25, ForceBandOf(oak));
  ASSERT_FALSE(narrow.load.sweeps.empty());
  for (std::size_t i = 0; i < narrow.load.sweeps.size(); ++i) {
    const SweepLoad &n = narrow.load.sweeps[i], &w = wide.load.sweeps[i];
    EXPECT_EQ(n.power_w[kNominal], w.power_w[kNominal]);
    EXPECT_LT(w.power_w[kLeast], n.power_w[kLeast]);
    EXPECT_GT(w.power_w[kMost], n.power_w[kMost]);
    EXPECT_GT(w.peak_S_n[kMost].norm(), n.peak_S_n[kMost].norm());
  }
}

// Sweeps much shorter than a voxel see few of them; over two voxels of travel the load is
// that of longer ones.
TEST(CuttingLoadTest, ShortSweepsCarryTheLoadOfLongOnes) {
  const Cutter ball = Cutter::Ball(6, 20);
  std::vector<Vector3d> tips;
  for (int i = 0; i <= 400; ++i) tips.push_back({-4.0 + 0.02 * i, 0.03, -2});
  ToolTrack fine = UprightTrack(ball, tips);
  for (double& t : fine.time_s) t *= 0.02 / 20.0;
  const Loaded coarse = LoadAlong(Straight(ball, {-20, 0.03, -2}, {20, 0.03, -2}), 0.25);
  const Loaded dense = LoadAlong(fine, 0.25);
  const float expected = coarse.load.Of(5)->power_w[kNominal];
  for (std::size_t i = 250; i < 350; ++i) {
    const SweepLoad* load = dense.load.Of(i);
    if (load == nullptr) continue;
    EXPECT_NEAR(load->power_w[kNominal], expected, 0.25 * expected) << i;
  }
}

TEST(CuttingLoadTest, SameBytesForAnyNumberOfThreads) {
  const ToolTrack track = Straight(Cutter::V(kPi / 3, 0.2, 8, 12), {-20, 3.1, -1.7}, {20, -2.2, -2.4});
  const Loaded one = LoadAlong(track, 0.25, OakBand(), 1), two = LoadAlong(track, 0.25, OakBand(), 2);
  ASSERT_EQ(one.load.sweeps.size(), two.load.sweeps.size());
  for (std::size_t i = 0; i < one.load.sweeps.size(); ++i) {
    EXPECT_EQ(one.load.sweeps[i].mean_S_n[kMost], two.load.sweeps[i].mean_S_n[kMost]);
    EXPECT_EQ(one.load.sweeps[i].peak_S_n[kMost], two.load.sweeps[i].peak_S_n[kMost]);
  }
}

// Rapids, a spindle that stands and moves without time have no load; they are counted.
TEST(CuttingLoadTest, WhatTheModelDoesNotHoldIsCounted) {
  ToolTrack track = Straight(Cutter::Ball(6, 20), {-20, 0, -2}, {20, 0, -2});
  CutOptions options;
  const ContactRecord contacts = CutGrid(Block(60, 40, 10), track, options).contact;
  SpindleRates rates = RatesOf(track);
  track.sweeps[2].rapid = true;
  rates.rpm[4] = 0;
  track.time_s[7] = track.time_s[6];
  const CuttingLoad load = ComputeCuttingLoad({track, contacts, rates, OakBand(), 1});
  EXPECT_EQ(load.beyond_model, 3u);
  for (const std::size_t i : {2, 4, 6}) EXPECT_EQ(load.Of(i), nullptr) << i;
  EXPECT_NE(load.Of(3), nullptr);
  rates.rpm.pop_back();
  EXPECT_THROW(ComputeCuttingLoad({track, contacts, rates, OakBand(), 1}), std::invalid_argument);
}

// Half the feed: half the chip and, with an edge that stays, more than half the force.
TEST(CuttingLoadTest, ChangesGrowLoadsWithFeedAndDepth) {
  const Loaded cut = LoadAlong(Straight(Flat(6), {-40, 0.03, -2}, {20, 0.03, -2}), 0.25);
  const SpindleRates rates = RatesOf(cut.track);
  const CuttingLoadTask task{cut.track, cut.contacts, rates, OakBand(), 1};
  const SweepLoad same = *ChangedLoad(task, 7, {}), slow = *ChangedLoad(task, 7, {0.5, 1.0}),
                  flat = *ChangedLoad(task, 7, {1.0, 0.5});
  EXPECT_EQ(same.power_w[kMost], cut.load.Of(7)->power_w[kMost]);
  EXPECT_NEAR(slow.chip_most_mm, 0.5 * same.chip_most_mm, 1e-6);
  EXPECT_GT(slow.peak_S_n[kNominal].norm(), 0.5f * same.peak_S_n[kNominal].norm());
  EXPECT_LT(slow.peak_S_n[kNominal].norm(), same.peak_S_n[kNominal].norm());
  EXPECT_NEAR(flat.power_w[kNominal], 0.5 * same.power_w[kNominal], 1e-3 * same.power_w[kNominal]);
  EXPECT_FALSE(ChangedLoad(task, 999, {}).has_value());
}

}  // namespace
}  // namespace aircut::sim
