#include "sim/swept_cut.h"

#include <cmath>
#include <cstring>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/input_error.h"
#include "sim/outline_shapes.h"
#include "tests/support/ball_finishing.h"
#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kPi = 3.14159265358979323846;

GridCut Cut(const std::shared_ptr<const MeshIndex>& block, const ToolTrack& track, double voxel_mm,
            int threads = 2) {
  CutOptions options;
  options.voxel_mm = voxel_mm;
  options.threads = threads;
  return CutGrid(block, track, options);
}

// Counting voxel centres errs on the cut's surface only: for a surface of area A
// crossed at random phases, by about a tenth of a voxel layer (volume bound).
double VolumeBound(double area_mm2, double voxel_mm) { return 0.1 * area_mm2 * voxel_mm; }

// MAT-01 (external-checks.md, spherical cap pi d^2 (3r - d) / 3): a ball of
// radius 3 plunged 1 mm and 3 mm.
TEST(SweptCutTest, PlungedBallRemovesTheCapOfMat01) {
  const auto block = Block(20, 20, 10);
  const double expected[2] = {8.377580, 56.548668};
  const double depth[2] = {1.0, 3.0};
  for (int n = 0; n < 2; ++n) {
    const ToolTrack track = UprightTrack(Cutter::Ball(6, 20), {{0.1, 0.07, 2}, {0.1, 0.07, -depth[n]}});
    const double area = 2 * kPi * 3.0 * depth[n] + kPi * depth[n] * (6.0 - depth[n]);
    EXPECT_NEAR(Cut(block, track, 0.1).removed_mm3, expected[n], VolumeBound(area, 0.1));
  }
}

// MAT-02, MAT-03 (external-checks.md): ball slots of radius 3 over 50 mm, 1 mm,
// 3 mm (both with round ends) and 5 mm deep (wall above the ball).
TEST(SweptCutTest, BallSlotRemovesTheVolumesOfMat02AndMat03) {
  const auto block = Block(80, 30, 12);
  const double depth[3] = {1.0, 3.0, 5.0};
  const double expected[3] = {163.251684, 763.407015, 1419.955683};
  for (int n = 0; n < 3; ++n) {
    const double z = -depth[n];
    const ToolTrack track = UprightTrack(Cutter::Ball(6, 25), {{-25, 0.07, z}, {25, 0.07, z}});
    const double area = 50.0 * (2 * kPi * 3.0 + 2 * depth[n]);
    EXPECT_NEAR(Cut(block, track, 0.2).removed_mm3, expected[n], VolumeBound(area, 0.2)) << depth[n];
  }
}

// MAT-02: width of the 1 mm slot at the surface, 4.4721360 mm, from the signed
// distance on a line across it.
TEST(SweptCutTest, BallSlotIsAsWideAsMat02Says) {
  const ToolTrack track = UprightTrack(Cutter::Ball(6, 25), {{-25, 0, -1}, {25, 0, -1}});
  const GridCut cut = Cut(Block(80, 30, 12), track, 0.1);
  const auto edge = [&](double sign) {
    double in_air = 0.0, in_wood = 6.0;
    for (int i = 0; i < 40; ++i) {
      const double mid = 0.5 * (in_air + in_wood);
      (cut.stock.DistanceAt({3.3, sign * mid, -0.05}) > 0.0 ? in_air : in_wood) = mid;
    }
    return in_air;
  };
  // 0.05 mm below the face the half chord is sqrt(9 - 2.05^2).
  const double expected = 2.0 * std::sqrt(9.0 - 2.05 * 2.05);
  EXPECT_NEAR(edge(1.0) + edge(-1.0), expected, 2 * 0.1 * 0.1);
  EXPECT_NEAR(2.0 * std::sqrt(9.0 - 4.0), 4.4721360, 1e-7);   // the row's own formula at the face
}

// MAT-04: V-grooves of 90 and 60 degrees, 4 mm deep, 50 mm long, cone ends.
TEST(SweptCutTest, VGrooveRemovesTheVolumesOfMat04) {
  const auto block = Block(80, 30, 12);
  const double angle[2] = {kPi / 2.0, kPi / 3.0};
  const double expected[2] = {867.020643, 484.220430};
  for (int n = 0; n < 2; ++n) {
    const Cutter v = Cutter::V(angle[n], 0.0, 20.0, 25.0);
    const ToolTrack track = UprightTrack(v, {{-25, 0.03, -4}, {25, 0.03, -4}});
    const double area = 2 * 50.0 * 4.0 / std::cos(angle[n] / 2.0) + 60.0;
    EXPECT_NEAR(Cut(block, track, 0.2).removed_mm3, expected[n], VolumeBound(area, 0.2)) << angle[n];
  }
}

// MAT-13 (OpenVDB TestLevelSetTubes: pi l r^2 + 4 pi r^3 / 3 within 1 % at voxel
// 0.1): a ball of radius 4.3 from (15.8, 13.2, 16.7) to (4.3, 7.9, -4.8), all of
// it inside the block: an outline that closes to a sphere.
TEST(SweptCutTest, SweptBallIsTheCapsuleOfMat13) {
  const Vector3d from(15.8, 13.2, 16.7), to(4.3, 7.9, -4.8);
  const auto block = std::make_shared<const MeshIndex>(BoxMesh({-3, 0, -12}, {24, 22, 24}));
  const Vector3d lift(0, 0, -4.3);
  const Cutter sphere = Cutter::Of(ListedOutline({{{4.3, 4.3}, Eigen::Vector2d(0, 4.3)}, {{0, 8.6}, Eigen::Vector2d(0, 4.3)}}));
  const ToolTrack track = UprightTrack(sphere, {from + lift, to + lift});
  EXPECT_NEAR(Cut(block, track, 0.1).removed_mm3, 1782.4368, 0.01 * 1782.4368);
}

// MAT-16 (ball-nose stepover page: R 3, s 0.5 gives h = 0.0104): the ridge
// between two passes, measured at h = 0.02 mm voxels.
TEST(SweptCutTest, ScallopBetweenTwoPassesIsAsHighAsMat16Says) {
  const ToolTrack track = UprightTrack(
      Cutter::Ball(6, 20), {{-2, -0.25, -1}, {2, -0.25, -1}, {2, 0.25, -1}, {-2, 0.25, -1}});
  const GridCut cut = Cut(Block(1.0, 2.0, 3.0), track, 0.02);
  double in_wood = -1.5, in_air = -0.5;
  for (int i = 0; i < 40; ++i) {
    const double mid = 0.5 * (in_wood + in_air);
    (cut.stock.DistanceAt({0.013, 0.0, mid}) > 0.0 ? in_air : in_wood) = mid;
  }
  // The ridge is a crease: one voxel at worst, in fact far less at this shallow angle.
  EXPECT_NEAR(in_wood + 1.0, 0.0104348, 0.1 * 0.02);
}

// Conserved: what the record counts is what left the stock.
TEST(SweptCutTest, RecordedVolumesAddUpToTheWhole) {
  const ToolTrack track = UprightTrack(Cutter::Ball(6, 20),
                                       {{-10, 0, 3}, {-10, 0, -1}, {10, 1, -2}, {10, 5, -2}, {-10, 5, 4}});
  const GridCut cut = Cut(Block(40, 20, 8), track, 0.25);
  std::int64_t sum = 0, flagged = 0;
  for (const SweepContact& c : cut.contact.sweeps) sum += c.removed_units;
  for (const Brick& b : cut.stock.bricks) {
    for (const std::uint16_t r : b.remover) flagged += r != kNotRemoved ? 1 : 0;
  }
  EXPECT_EQ(sum, cut.removed_voxels);
  EXPECT_EQ(flagged, cut.removed_voxels);
  EXPECT_GT(sum, 0);
}

// Metamorphic: the order of threads changes nothing, to the last bit.
TEST(SweptCutTest, OneAndThreeThreadsGiveTheSameBits) {
  const ToolTrack track = BallFinishing(8);
  const GridCut one = Cut(FinishingBlock(), track, 0.25, 1), three = Cut(FinishingBlock(), track, 0.25, 3);
  ASSERT_EQ(one.stock.bricks.size(), three.stock.bricks.size());
  EXPECT_EQ(one.removed_voxels, three.removed_voxels);
  for (std::size_t b = 0; b < one.stock.bricks.size(); ++b) {
    EXPECT_EQ(one.stock.bricks[b].distance, three.stock.bricks[b].distance);
    EXPECT_EQ(one.stock.bricks[b].remover, three.stock.bricks[b].remover);
    EXPECT_EQ(one.stock.bricks[b].sweeps, three.stock.bricks[b].sweeps);
  }
  for (std::size_t i = 0; i < one.contact.sweeps.size(); ++i) {
    const SweepContact &a = one.contact.sweeps[i], &b = three.contact.sweeps[i];
    EXPECT_EQ(a.removed_units, b.removed_units);
    EXPECT_EQ(a.bite_mm, b.bite_mm);
    EXPECT_EQ(a.axial_mm, b.axial_mm);
    EXPECT_EQ(a.radial_mm, b.radial_mm);
  }
}

// Order matters for blame: the first sweep through a place removes it.
TEST(SweptCutTest, SecondPassThroughTheSameSlotRemovesNothing) {
  const ToolTrack track = UprightTrack(Cutter::Ball(6, 20), {{-10, 0, -2}, {10, 0, -2}, {-10, 0, -2}});
  const GridCut cut = Cut(Block(40, 20, 8), track, 0.25);
  EXPECT_GT(cut.contact.sweeps[0].removed_units, 0);
  EXPECT_EQ(cut.contact.sweeps[1].removed_units, 0);
  EXPECT_LE(cut.contact.sweeps[1].bite_mm, cut.contact.sweeps[1].bite_bound_mm);
}

// Oracle: by construction. Depths of cut and heights above the tip are typed.
TEST(SweptCutTest, RecordHoldsAxialDepthBiteAndSide) {
  const ToolTrack track = UprightTrack(Cutter::Ball(6, 20), {{-10, 0, -2}, {10, 0, -2}});
  const GridCut cut = Cut(Block(60, 20, 8), track, 0.1);
  const SweepContact& c = cut.contact.sweeps[0];
  EXPECT_NEAR(c.axial_mm, 2.0, 0.1);
  EXPECT_NEAR(c.radial_mm, std::sqrt(9.0 - 1.0), 0.15);
  EXPECT_GT(c.bite_mm, 0.25);   // as deep as distances are kept, at least
}

// A skim of 0.03 mm and one of 0.1 mm can be told apart at 0.25 mm voxels.
TEST(SweptCutTest, BiteIsFinerThanTheVoxel) {
  for (const double depth : {0.03, 0.1}) {
    const ToolTrack track = UprightTrack(Cutter::Ball(6, 20), {{-8, 0.11, -depth}, {8, 0.11, -depth}});
    const SweepContact c = Cut(Block(60, 20, 8), track, 0.25).contact.sweeps[0];
    EXPECT_NEAR(c.bite_mm, depth, c.bite_bound_mm) << depth;
    EXPECT_LT(c.bite_bound_mm, 0.02);
  }
  const ToolTrack above = UprightTrack(Cutter::Ball(6, 20), {{-8, 0.11, 0.02}, {8, 0.11, 0.02}});
  EXPECT_LE(Cut(Block(60, 20, 8), above, 0.25).contact.sweeps[0].bite_mm, 0.0f);
}

// A retract that starts in its own groove and goes up the axis is surely clear.
TEST(SweptCutTest, RetractUpTheAxisBitesNothing) {
  const Cutter v = Cutter::V(kPi / 3.0, 0.1, 12.0, 16.0);
  const ToolTrack track = UprightTrack(v, {{-5, 0, -1.5}, {5, 0, -1.5}, {5, 0, 10}});
  const SweepContact c = Cut(Block(40, 20, 8), track, 0.25).contact.sweeps[1];
  EXPECT_EQ(c.bite_mm, 0.0f);
  EXPECT_EQ(c.bite_bound_mm, 0.0f);
}

// A holder's rim 1 mm over the face is surely clear; 0.1 mm over it, finer than
// a voxel can settle, it is not called clear.
TEST(SweptCutTest, HolderJustOverTheFaceIsOnlyClearBeyondAVoxel) {
  for (const double gap : {1.0, 0.1}) {
    ToolTrack track = UprightTrack(Cutter::Ball(4, 8), {{-10, 0, -5}, {10, 0, -5}});
    track.tools[0].bodies = {{5.0 + gap, 30.0, 12.0}};
    const SweepContact c = Cut(Block(60, 40, 12), track, 0.25).contact.sweeps[0];
    EXPECT_LE(c.body_bite_mm, 0.0f);
    EXPECT_EQ(c.body_bound_mm == 0.0f, gap > 0.5) << gap;
  }
}

// A slot deeper than the flutes are long runs the shank into the wood; one that
// stays within them does not.
TEST(SweptCutTest, ShankInTheWoodIsABodyBite) {
  for (const double depth : {9.0, 4.9}) {
    ToolTrack track = UprightTrack(Cutter::Ball(4, 5), {{-10, 0, -depth}, {10, 0, -depth}});
    track.tools[0].bodies = {{5.0, 30.0, 3.0}};
    const SweepContact c = Cut(Block(60, 30, 12), track, 0.25).contact.sweeps[0];
    if (depth > 5.0) {
      EXPECT_GT(c.body_bite_mm, 0.2f);
      EXPECT_GT(c.body_bound_mm, 0.0f);
      EXPECT_EQ(c.body, 0);
    } else {
      EXPECT_LE(c.body_bite_mm, 0.0f);
      EXPECT_EQ(c.body, -1);
    }
  }
}

TEST(SweptCutTest, ToolFarFromTheStockTouchesNothing) {
  const ToolTrack track = UprightTrack(Cutter::Ball(6, 20), {{-10, 0, 50}, {10, 0, 50}});
  const GridCut cut = Cut(Block(40, 20, 8), track, 0.25);
  EXPECT_EQ(cut.removed_voxels, 0);
  EXPECT_TRUE(cut.stock.bricks.empty());
  EXPECT_EQ(cut.contact.sweeps.size(), 1u);
}

TEST(SweptCutTest, EmptyTrackLeavesTheStockWhole) {
  const GridCut cut = Cut(Block(40, 20, 8), UprightTrack(Cutter::Ball(6, 20), {}), 0.25);
  EXPECT_EQ(cut.removed_voxels, 0);
}

TEST(SweptCutTest, TooFineForTheMemoryIsRefusedWithTheFigureAndWhatFits) {
  const ToolTrack track = BallFinishing(401);
  CutOptions options;
  options.voxel_mm = 0.001;
  EXPECT_THAT([&] { CutGrid(FinishingBlock(), track, options); },
              testing::ThrowsMessage<InputError>(
                  testing::AllOf(testing::HasSubstr("resolution_mm = 0.001"), testing::HasSubstr("GiB"),
                                 testing::HasSubstr("or coarser"))));
}

TEST(SweptCutTest, VoxelThatIsNotPositiveIsAWrongCall) {
  CutOptions options;
  options.voxel_mm = std::nan("");
  EXPECT_THROW(CutGrid(Block(4, 4, 4), UprightTrack(Cutter::Ball(6, 20), {}), options), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::sim
