// A scan laid on the surface that a run predicts. Oracle: scans are made from the closed
// form of the surface, in other triangles, and moved by a known pose.

#include <cmath>
#include <functional>

#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/scan_fit.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;

using Height = std::function<double(double, double)>;

// Sheet over [0, 200] x [0, 120], its triangles about `step` mm long.
Mesh Sheet(double step, const Height& z) {
  Mesh mesh;
  const int nx = static_cast<int>(200 / step) + 1, ny = static_cast<int>(120 / step) + 1;
  for (int j = 0; j < ny; ++j) {
    for (int i = 0; i < nx; ++i) {
      const double x = 200.0 * i / (nx - 1), y = 120.0 * j / (ny - 1);
      mesh.vertices.emplace_back(x, y, z(x, y));
    }
  }
  for (int j = 0; j + 1 < ny; ++j) {
    for (int i = 0; i + 1 < nx; ++i) {
      const int a = j * nx + i, b = a + 1, c = a + nx, d = c + 1;
      mesh.triangles.push_back({a, b, d});
      mesh.triangles.push_back({a, d, c});
    }
  }
  return mesh;
}

bool IsCarved(double x, double y) { return x > 60 && x < 130 && y > 30 && y < 80; }

// A bowed face, and a carving of waves that has neither symmetry nor flat ground.
double Face(double x, double y) { return 4e-4 * x * x + 2e-4 * y * y; }
double Carved(double x, double y) {
  if (!IsCarved(x, y)) return Face(x, y);
  const double side = std::min({x - 60, 130 - x, y - 30, 80 - y, 10.0}) / 10.0;
  return Face(x, y) - side * side * (3 - 2 * side) * (3 + std::sin(0.2 * x) + std::cos(0.15 * y + 0.05 * x));
}

std::vector<char> CutOf(const Mesh& mesh) {
  std::vector<char> cut;
  for (const auto& t : mesh.triangles) {
    bool carved = true;
    for (const std::int32_t v : t) {
      const Vector3d& p = mesh.vertices[static_cast<std::size_t>(v)];
      carved = carved && IsCarved(p.x(), p.y());
    }
    cut.push_back(carved ? 1 : 0);
  }
  return cut;
}

Pose MovedBy(const Vector3d& shift, double deg, const Vector3d& axis) {
  Pose X = Pose::Identity();
  X.translate(shift);
  X.rotate(Eigen::AngleAxisd(kinematics::RadFromDeg(deg), axis.normalized()));
  return X;
}

class ScanFitTest : public testing::Test {
 protected:
  ScanFitTest() : ScanFitTest(Sheet(1.0, Carved)) {}
  explicit ScanFitTest(const Mesh& mesh) : index_(mesh), surface_{&index_, CutOf(mesh)} {}

  // Lays a scan whose frame is off by X and tells how far the middle and the turn are off.
  void ExpectFound(const Height& z, const Pose& X_QS, double within_mm) {
    const ScanFit fit = FitScan(Transformed(Sheet(1.37, z), X_QS), surface_);
    ASSERT_EQ(fit.state, ScanFitState::kSettled);
    const Pose left = fit.X_SQ * X_QS;
    EXPECT_LE((left * Vector3d(100, 60, 3) - Vector3d(100, 60, 3)).norm(), within_mm);
    EXPECT_LE(Eigen::AngleAxisd(left.linear()).angle() * 100, within_mm);
    EXPECT_EQ(fit.open_directions, 0);
  }

  MeshIndex index_;
  FitSurface surface_;
};

TEST_F(ScanFitTest, SmallMoveIsFound) {
  ExpectFound(Carved, MovedBy({1.2, -0.8, 0.5}, 0.6, {1, 2, 3}), 0.02);
}

TEST_F(ScanFitTest, ScanInAFrameOfItsOwnIsFound) {
  const Pose X_QS = MovedBy({500, -300, 40}, 130, {1, -0.5, 2});
  ExpectFound(Carved, X_QS, 0.02);
  EXPECT_FALSE(FitScan(Transformed(Sheet(1.37, Carved), X_QS), surface_).as_it_lay);
}

// A clamp left in the scan: a block over a tenth of the face moves nothing.
TEST_F(ScanFitTest, WhatLiesOffIsLeftOut) {
  const auto with_block = [](double x, double y) { return Carved(x, y) + (x > 150 && x < 190 && y > 40 && y < 100 ? 2.5 : 0.0); };
  ExpectFound(with_block, MovedBy({0.5, 0.4, -0.3}, 0.3, {1, 2, 3}), 0.02);
  const ScanFit fit = FitScan(Sheet(1.37, with_block), surface_);
  EXPECT_NEAR(static_cast<double>(fit.used) / fit.points, 0.9, 0.03);
  EXPECT_LE(fit.rms_mm, 0.05);
}

// All that was cut lies 0.4 mm deeper: the pose must not take any of it up.
TEST_F(ScanFitTest, CommonDepthErrorIsNotTakenUpByThePose) {
  const auto deeper = [](double x, double y) { return Carved(x, y) - (IsCarved(x, y) ? 0.4 : 0.0); };
  // Down is not along the normals: on slopes of 20 degrees 0.4 * (1 - cos) = 0.024 mm stay,
  // and a wall of 0.4 mm that the surface does not have.
  ExpectFound(deeper, MovedBy({0.2, 0.1, 0.3}, 0.2, {1, 2, 3}), 0.05);
  const ScanFit fit = FitScan(Sheet(1.37, deeper), surface_);
  ASSERT_TRUE(fit.cut_offset_mm.has_value());
  EXPECT_NEAR(*fit.cut_offset_mm, -0.4, 0.03);
  const auto far_deeper = [](double x, double y) { return Carved(x, y) - (IsCarved(x, y) ? 2.5 : 0.0); };
  EXPECT_NEAR(FitScan(Sheet(1.37, far_deeper), surface_).cut_offset_mm.value_or(0), -2.5, 0.2);   // along normals; the carving is up to 20 degrees steep
}

// Waves of known size on the face are its scatter: their standard deviation is a / sqrt 2.
TEST_F(ScanFitTest, ScatterOfTheScanIsTold) {
  const auto rough = [](double x, double y) { return Carved(x, y) + 0.05 * std::sin(7 * x) * std::sqrt(2.0) * std::sin(5 * y); };
  const ScanFit fit = FitScan(Sheet(0.43, rough), surface_);
  EXPECT_GT(fit.noise_mm, 0.02);
  EXPECT_LT(fit.noise_mm, 0.06);
  EXPECT_LT(FitScan(Sheet(0.43, Carved), surface_).noise_mm, 0.002);
}

TEST_F(ScanFitTest, ScanWithoutTheFaceLeavesDepthOpen) {
  Mesh scan = Sheet(0.5, Carved);
  const std::vector<char> cut = CutOf(scan);
  Mesh only;
  only.vertices = scan.vertices;
  for (std::size_t t = 0; t < cut.size(); ++t) {
    if (cut[t] != 0) only.triangles.push_back(scan.triangles[t]);
  }
  const ScanFit fit = FitScan(only, surface_);
  EXPECT_EQ(fit.state, ScanFitState::kSettled);
  EXPECT_FALSE(fit.cut_offset_mm.has_value());
}

TEST_F(ScanFitTest, AnotherThingIsNotFound) {
  const auto bowl = [](double x, double y) { return 0.02 * ((x - 100) * (x - 100) + (y - 60) * (y - 60)); };
  EXPECT_EQ(FitScan(Transformed(Sheet(2, bowl), MovedBy({0, 0, 400}, 70, {1, 1, 0})), surface_).state, ScanFitState::kNotFound);
  EXPECT_EQ(FitScan(Mesh{}, surface_).state, ScanFitState::kNotFound);
}

// A face and a carving that a half turn maps on themselves: laid near its place the scan
// stays there and the rival is told; turned to and fro nobody knows.
TEST(ScanFitSymmetryTest, HalfTurnIsNotGuessed) {
  const auto symmetric = [](double x, double y) {
    const double u = x - 100, v = y - 60, r2 = u * u / 1600 + v * v / 400;
    return 4e-4 * (u * u + v * v) - (r2 < 1 ? 2 * (1 - r2) : 0.0);
  };
  const Mesh mesh = Sheet(1.0, symmetric);
  const MeshIndex index(mesh);
  const FitSurface surface{&index, CutOf(mesh)};
  const ScanFit near = FitScan(Transformed(Sheet(1.37, symmetric), MovedBy({0.5, 0.4, 0.3}, 0.5, {0, 0, 1})), surface);
  EXPECT_EQ(near.state, ScanFitState::kSettled);
  EXPECT_TRUE(near.as_it_lay);
  ASSERT_TRUE(near.rival_turn_deg.has_value());
  EXPECT_NEAR(*near.rival_turn_deg, 180, 1);
  const ScanFit turned = FitScan(Transformed(Sheet(1.37, symmetric), MovedBy({700, 0, 0}, 100, {0, 0, 1})), surface);
  EXPECT_EQ(turned.state, ScanFitState::kTwoWays);
}

// Nothing holds a flat face sideways or in its own turn: those stay as they lay.
TEST(ScanFitSymmetryTest, FlatFaceLeavesThreeDirectionsOpen) {
  const auto flat = [](double, double) { return 0.0; };
  const Mesh mesh = Sheet(2.0, flat);
  const MeshIndex index(mesh);
  const ScanFit fit = FitScan(Transformed(Sheet(2.7, flat), MovedBy({3, 2, 0.5}, 0, {0, 0, 1})), {&index, CutOf(mesh)});
  EXPECT_EQ(fit.open_directions, 3);
  EXPECT_NEAR(fit.X_SQ.translation().z(), -0.5, 1e-6);
  EXPECT_NEAR(fit.X_SQ.translation().x(), 0, 1e-6);
}

}  // namespace
}  // namespace aircut::sim
