#include "sim/resumed_cut.h"

#include <cmath>
#include <fstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include "sim/cut_store.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

namespace fs = std::filesystem;
using Eigen::Vector3d;

// Rows of a leaning ball cutter over a block, a rapid between them, and one move in
// which the holder enters the material.
ToolTrack Rows(int rows, double depth_mm) {
  ToolTrack track;
  track.tools.push_back({1, Cutter::Ball(4.0, 12.0), {{12.0, 20.0, 3.0}}});
  const auto add = [&](double x, double y, double z) {
    const double lean = 0.2 * std::sin(0.3 * static_cast<double>(track.p_ST.size()));
    track.p_ST.push_back({x, y, z});
    track.axis_S.push_back(Vector3d(0.1, lean, 1.0).normalized());
    track.time_s.push_back(0.1 * static_cast<double>(track.time_s.size()));
  };
  for (int row = 0; row < rows; ++row) {
    const double y = -6.0 + 12.0 * row / rows, z = row == 5 ? -13.0 : -depth_mm;
    for (int n = 0; n <= 20; ++n) add(-10.0 + n, y, z + 0.3 * std::sin(n));
    add(10.0, y, 15.0);
  }
  track.sweeps.resize(track.p_ST.size() - 1);
  for (std::size_t i = 0; i < track.sweeps.size(); ++i) track.sweeps[i].line = static_cast<int>(i) + 1;
  return track;
}

void ExpectSame(const GridCut& a, const GridCut& b) {
  EXPECT_EQ(a.removed_voxels, b.removed_voxels);
  EXPECT_EQ(a.contact.bite_bound_mm, b.contact.bite_bound_mm);
  ASSERT_EQ(a.contact.sweeps.size(), b.contact.sweeps.size());
  for (std::size_t i = 0; i < a.contact.sweeps.size(); ++i) {
    const SweepContact &x = a.contact.sweeps[i], &y = b.contact.sweeps[i];
    EXPECT_EQ(x.removed_units, y.removed_units) << i;
    EXPECT_EQ(x.place_sums, y.place_sums) << i;
    EXPECT_EQ(x.arc, y.arc) << i;
    EXPECT_EQ(x.bite_mm, y.bite_mm) << i;
    EXPECT_EQ(x.bite_bound_mm, y.bite_bound_mm) << i;
    EXPECT_EQ(x.axial_low_mm, y.axial_low_mm) << i;
    EXPECT_EQ(x.axial_mm, y.axial_mm) << i;
    EXPECT_EQ(x.radial_mm, y.radial_mm) << i;
    EXPECT_EQ(x.body_bite_mm, y.body_bite_mm) << i;
    EXPECT_EQ(x.body_bound_mm, y.body_bound_mm) << i;
    EXPECT_EQ(x.body, y.body) << i;
  }
  ASSERT_EQ(a.stock.brick_of, b.stock.brick_of);
  for (std::size_t n = 0; n < a.stock.bricks.size(); ++n) {
    EXPECT_EQ(a.stock.bricks[n].distance, b.stock.bricks[n].distance) << n;
    EXPECT_EQ(a.stock.bricks[n].remover, b.stock.bricks[n].remover) << n;
    EXPECT_EQ(a.stock.bricks[n].sweeps, b.stock.bricks[n].sweeps) << n;
  }
}

class ResumedCutTest : public ::testing::Test {
 protected:
  ResumedCutTest() : folder_(fs::temp_directory_path() / ("aircut_states_" + std::to_string(getpid()))) {
    fs::remove_all(folder_);
    options_.voxel_mm = 0.4;
  }
  ~ResumedCutTest() override { fs::remove_all(folder_); }

  ResumedCut Resumed(const ToolTrack& track, std::vector<std::int32_t> lines = {}) const {
    return CutResumed(block_, track, options_, {folder_, std::move(lines)});
  }
  std::vector<fs::path> Files() const {
    std::vector<fs::path> files;
    for (const auto& entry : fs::directory_iterator(folder_)) files.push_back(entry.path());
    return files;
  }

  fs::path folder_;
  CutOptions options_;
  const std::shared_ptr<const MeshIndex> block_ = Block(24, 18, 10);
};

// Deeper cuts, fewer rows and wider rows after the place where two paths part.
TEST_F(ResumedCutTest, IsTheFullCutToTheLastBitAfterAnEdit) {
  const ToolTrack first = Rows(9, 2.0);
  ExpectSame(Resumed(first).cut, CutGrid(block_, first, options_));
  ToolTrack deeper = first, shorter = first, wider = first;
  for (std::size_t i = 170; i < deeper.p_ST.size(); ++i) deeper.p_ST[i].z() -= 1.5;
  shorter.p_ST.resize(161);
  shorter.axis_S.resize(161);
  shorter.time_s.resize(161);
  shorter.sweeps.resize(160);
  for (std::size_t i = 185; i < wider.p_ST.size(); ++i) wider.p_ST[i].y() += 4.0;
  for (const ToolTrack& edited : {deeper, shorter, wider}) {
    Resumed(first);
    const ResumedCut resumed = Resumed(edited);
    EXPECT_GT(resumed.taken_up, 90);
    EXPECT_LE(resumed.taken_up, 185);
    ExpectSame(resumed.cut, CutGrid(block_, edited, options_));
  }
}

TEST_F(ResumedCutTest, TakesUpTheLastStateBeforeTheEdit) {
  const ToolTrack first = Rows(9, 2.0);
  Resumed(first, {40, 80, 120, 160});
  ToolTrack edited = first;
  edited.p_ST[130].z() -= 0.001;
  EXPECT_EQ(Resumed(edited, {40, 80, 120, 160}).taken_up, 119);   // line 120 is sweep 119
  // The edited path's own states are there now, built upon the shared ones.
  EXPECT_EQ(Resumed(edited, {40, 80, 120, 160}).taken_up, 159);
  // Feeds and times do not change what is cut.
  for (double& t : edited.time_s) t *= 2.0;
  EXPECT_EQ(Resumed(edited).taken_up, 159);
}

TEST_F(ResumedCutTest, IsTheSameForAnyNumberOfThreads) {
  const ToolTrack track = Rows(9, 2.0);
  options_.threads = 1;
  Resumed(track);
  options_.threads = 3;
  const ResumedCut resumed = Resumed(track);
  EXPECT_GT(resumed.taken_up, 0);
  ExpectSame(resumed.cut, CutGrid(block_, track, options_));
}

TEST_F(ResumedCutTest, PassesOverStatesOfAnotherStockVoxelOrCutter) {
  const ToolTrack track = Rows(9, 2.0);
  const auto found = [&](const MeshIndex& solid, double voxel_mm, const ToolTrack& t) {
    return CutStore(folder_, solid, voxel_mm).Find(t).has_value();
  };
  Resumed(track);
  EXPECT_TRUE(found(*block_, 0.4, track));
  EXPECT_FALSE(found(*Block(24, 18, 10.001), 0.4, track));
  EXPECT_FALSE(found(*block_, 0.41, track));
  ToolTrack thinner = track, other_holder = track, first_edited = track;
  thinner.tools[0].cutter = Cutter::Ball(3.999, 12.0);
  other_holder.tools[0].bodies[0].radius_mm = 3.1;
  first_edited.p_ST[0].x() = std::nextafter(first_edited.p_ST[0].x(), 0.0);
  EXPECT_FALSE(found(*block_, 0.4, thinner));
  EXPECT_FALSE(found(*block_, 0.4, other_holder));
  EXPECT_FALSE(found(*block_, 0.4, first_edited));
}

TEST_F(ResumedCutTest, PassesOverDamagedFiles) {
  const ToolTrack track = Rows(9, 2.0);
  Resumed(track);
  for (const fs::path& file : Files()) {
    std::fstream bytes(file, std::ios::binary | std::ios::in | std::ios::out);
    bytes.seekp(static_cast<std::streamoff>(fs::file_size(file) / 2));
    bytes.put('\x5a');
  }
  const ResumedCut again = Resumed(track);
  EXPECT_EQ(again.taken_up, 0);
  ExpectSame(again.cut, CutGrid(block_, track, options_));
  for (const fs::path& file : Files()) fs::resize_file(file, fs::file_size(file) - 100);
  EXPECT_EQ(Resumed(track).taken_up, 0);
}

TEST_F(ResumedCutTest, LeavesOnlyFilesThatLeadToItsOwnStates) {
  Resumed(Rows(9, 2.0));
  EXPECT_EQ(Files().size(), 3u);
  Resumed(Rows(9, 2.5));   // nothing in common
  EXPECT_EQ(Files().size(), 3u);
  for (const fs::path& file : Files()) EXPECT_EQ(file.extension(), ".cut");
}

}  // namespace
}  // namespace aircut::sim
