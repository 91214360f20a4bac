#include "sim/scan_quality.h"

#include <chrono>
#include <cmath>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/mesh_index.h"
#include "tests/sim/sample_meshes.h"
#include "tests/support/scanned_board.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using support::ScannedBoard;
using testing::Contains;
using testing::ElementsAre;
using testing::IsEmpty;

constexpr double kSpike_mm = 0.1;

ScanRules FromAbove() { return {Vector3d::UnitZ(), kSpike_mm}; }

std::vector<ScanDoubt> DoubtsAt(const Mesh& mesh, const ScanRules& rules, const Vector3d& p_S) {
  const MeshIndex index(mesh);
  const MeshIndex::Closest foot = index.ClosestPoint(p_S);
  return ScanQuality(mesh, rules).At(foot.triangle, foot.point);
}

// Oracle: the grid that was made: squares of 1 mm, halved; the median edge is its side.
TEST(ScanQualityTest, SpacingIsTheMedianEdgeOfWhatWasSeen) {
  const ScanQuality scan(ScannedBoard(40, 1.0), FromAbove());
  EXPECT_DOUBLE_EQ(scan.spacing_mm(), 1.0);
  EXPECT_EQ(scan.seen_faces(), 2 * 40 * 40);   // the top; sides and floor are closed up
}

TEST(ScanQualityTest, MiddleOfAnEvenScanHolds) {
  EXPECT_THAT(DoubtsAt(ScannedBoard(40, 1.0), FromAbove(), {20.3, 20.4, 0}), IsEmpty());
}

TEST(ScanQualityTest, SidesAndFloorWereNeverSeen) {
  const Mesh board = ScannedBoard(40, 1.0);
  EXPECT_THAT(DoubtsAt(board, FromAbove(), {-1, 20, -5}), ElementsAre(ScanDoubt::kUnseen));
  EXPECT_THAT(DoubtsAt(board, FromAbove(), {20, 20, -30}), ElementsAre(ScanDoubt::kUnseen));
  // A scan from all round has no such side.
  EXPECT_THAT(DoubtsAt(board, {std::nullopt, kSpike_mm}, {-1, 20, -5}),
              testing::Not(Contains(ScanDoubt::kUnseen)));
}

// Oracle: the rim is 1 mm wide, one spacing.
TEST(ScanQualityTest, RimIsOneSpacingWide) {
  const Mesh board = ScannedBoard(40, 1.0);
  EXPECT_THAT(DoubtsAt(board, FromAbove(), {0.95, 20.4, 0}), ElementsAre(ScanDoubt::kRim));
  EXPECT_THAT(DoubtsAt(board, FromAbove(), {1.05, 20.4, 0}), IsEmpty());
}

// Oracle: the spike that was put in, either side of its limit.
TEST(ScanQualityTest, SpikeIsFoundABumpAndARidgeAreNot) {
  Mesh board = ScannedBoard(40, 1.0);
  const auto raise = [&](int column, int row, double by_mm) {
    board.vertices[static_cast<std::size_t>(row * 41 + column)].z() += by_mm;
  };
  raise(20, 20, 0.09);
  EXPECT_THAT(DoubtsAt(board, FromAbove(), {20.2, 20.1, 0.1}), IsEmpty());
  raise(20, 20, 0.06);
  EXPECT_THAT(DoubtsAt(board, FromAbove(), {20.2, 20.1, 0.1}), ElementsAre(ScanDoubt::kSpike));
  EXPECT_THAT(DoubtsAt(board, FromAbove(), {24.2, 20.1, 0.0}), IsEmpty());
  raise(20, 20, -0.3);   // a pit is one as well
  EXPECT_THAT(DoubtsAt(board, FromAbove(), {20.2, 20.1, 0.0}), ElementsAre(ScanDoubt::kSpike));
  Mesh ridge = ScannedBoard(40, 1.0);
  for (int row = 5; row <= 35; ++row) ridge.vertices[static_cast<std::size_t>(row * 41 + 20)].z() += 0.5;
  EXPECT_THAT(DoubtsAt(ridge, FromAbove(), {20.2, 20.1, 0.5}), IsEmpty());
}

// A ball bends everywhere alike: no spike, however coarse.
TEST(ScanQualityTest, RoundBodyHasNoSpikes) {
  const Mesh ball = IcosphereMesh(20.0, 2);
  const ScanQuality scan(ball, {std::nullopt, 0.01});
  for (std::size_t t = 0; t < ball.triangles.size(); ++t) {
    const Vector3d middle = (ball.vertices[ball.triangles[t][0]] + ball.vertices[ball.triangles[t][1]] +
                             ball.vertices[ball.triangles[t][2]]) / 3.0;
    EXPECT_THAT(scan.At(static_cast<int>(t), middle), IsEmpty());
  }
}

// Oracle: noise far below the limit; none of 3,200 faces may be in doubt but the rim.
TEST(ScanQualityTest, NoisyScanStaysQuiet) {
  Mesh board = ScannedBoard(40, 1.0);
  std::mt19937_64 rng(11);
  std::normal_distribution<double> noise_mm(0.0, 0.015);
  for (Vector3d& v : board.vertices) v.z() += noise_mm(rng);
  const ScanQuality scan(board, FromAbove());
  const MeshIndex index(board);
  for (double x = 2.1; x < 38.0; x += 0.7) {
    for (double y = 2.2; y < 38.0; y += 0.7) {
      const auto foot = index.ClosestPoint({x, y, 0});
      EXPECT_THAT(scan.At(foot.triangle, foot.point), IsEmpty()) << x << " " << y;
    }
  }
}

// Oracle: a hole of 10 mm that was filled with one square, over 4 mm long.
TEST(ScanQualityTest, FilledHoleShowsByItsLongFaces) {
  const Mesh holed = support::BoardWithFilledHole(40, 1.0, 15, 25);
  EXPECT_THAT(DoubtsAt(holed, FromAbove(), {20.3, 20.1, 0}), Contains(ScanDoubt::kLongFace));
  EXPECT_THAT(DoubtsAt(holed, FromAbove(), {10.3, 20.1, 0}), IsEmpty());
  const Mesh small = support::BoardWithFilledHole(40, 1.0, 19, 21);   // edges of 2 and 2.8 mm
  EXPECT_THAT(DoubtsAt(small, FromAbove(), {20.3, 20.1, 0}), IsEmpty());
}

// Budget: 200,000 faces in 0.3 s; here with room for a slow machine.
TEST(ScanQualityTest, LargeScanIsLookedAtInTime) {
  const Mesh board = ScannedBoard(316, 0.5);
  ASSERT_GT(board.triangles.size(), 199000u);
  const auto begin = std::chrono::steady_clock::now();
  const ScanQuality scan(board, FromAbove());
  const double took_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  RecordProperty("milliseconds", static_cast<int>(1000.0 * took_s));
  EXPECT_LT(took_s, 3.0);
  EXPECT_GT(scan.seen_faces(), 199000);
}

}  // namespace
}  // namespace aircut::sim
