#include "sim/winding_number.h"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

const double kPi = std::acos(-1.0);

// A square of half side a in z = 0, facing up.
Mesh SquareMesh(double a) {
  Mesh mesh;
  mesh.vertices = {{-a, -a, 0}, {a, -a, 0}, {a, a, 0}, {-a, a, 0}};
  mesh.triangles = {{0, 1, 2}, {0, 2, 3}};
  return mesh;
}

// GEO-01 (Jacobson et al. 2013): 1, 0, 1/2 on a face, 1/4 on an edge, 1/8 on a corner.
TEST(WindingNumberTest, CubeInsideOutsideFaceEdgeAndCorner) {
  const Mesh cube = BoxMesh({0, 0, 0}, {1, 1, 1});
  EXPECT_NEAR(WindingNumber(cube, {0.5, 0.25, 0.75}), 1.0, 1e-12);
  EXPECT_NEAR(WindingNumber(cube, {1.5, 0.25, 0.75}), 0.0, 1e-12);
  EXPECT_NEAR(WindingNumber(cube, {1.0, 0.25, 0.5}), 0.5, 1e-12);
  EXPECT_NEAR(WindingNumber(cube, {0.5, 0.5, 0.0}), 0.5, 1e-12);   // on the diagonal of a face
  EXPECT_NEAR(WindingNumber(cube, {1.0, 1.0, 0.25}), 0.25, 1e-12);
  EXPECT_NEAR(WindingNumber(cube, {1.0, 1.0, 0.0}), 0.125, 1e-12);
}

// GEO-02: a square patch of half side a seen from d on its axis.
TEST(WindingNumberTest, OpenSquareIsItsSolidAngle) {
  for (const double d : {1.0, 2.0}) {
    const double exact = 4.0 * std::asin(1.0 / (1.0 + d * d)) / (4.0 * kPi);
    EXPECT_NEAR(WindingNumber(SquareMesh(1.0), {0, 0, -d}), exact, 1e-12);   // behind it
    EXPECT_NEAR(WindingNumber(SquareMesh(1.0), {0, 0, d}), -exact, 1e-12);   // before it
  }
  EXPECT_NEAR(WindingNumber(SquareMesh(1.0), {0, 0, -1.0}), 1.0 / 6.0, 1e-12);
  EXPECT_NEAR(WindingNumber(SquareMesh(1.0), {0, 0, -2.0}), 0.0640942, 1e-7);
}

// GEO-03: a disc, R = d = 1: (1 - 1 / sqrt 2) / 2. A fan of n corners inside the disc has
// at most the area between both, under (pi^3 2 / 3) / n^2, less.
TEST(WindingNumberTest, OpenDiscIsItsSolidAngle) {
  constexpr int kCorners = 4096;
  Mesh disc;
  disc.vertices.push_back({0, 0, 0});
  for (int i = 0; i < kCorners; ++i) {
    const double turn = 2.0 * kPi * i / kCorners;
    disc.vertices.emplace_back(std::cos(turn), std::sin(turn), 0.0);
    disc.triangles.push_back({0, 1 + i, 1 + (i + 1) % kCorners});
  }
  const double slack = 2.0 * std::pow(kPi, 3) / 3.0 / (kCorners * 1.0 * kCorners) / (4.0 * kPi);
  EXPECT_NEAR(WindingNumber(disc, {0, 0, -1.0}), 0.5 * (1.0 - 1.0 / std::sqrt(2.0)), slack + 1e-12);
}

// GEO-04: six squares round a middle add up to one.
TEST(WindingNumberTest, FacesOfACubeAddUp) {
  const Mesh cube = BoxMesh({-1, -1, -1}, {1, 1, 1});
  double sum = 0.0;
  for (std::size_t face = 0; face < 6; ++face) {
    const Mesh one{cube.vertices, {cube.triangles[2 * face], cube.triangles[2 * face + 1]}};
    EXPECT_NEAR(WindingNumber(one, Vector3d::Zero()), 1.0 / 6.0, 1e-12);
    sum += WindingNumber(one, Vector3d::Zero());
  }
  EXPECT_NEAR(sum, 1.0, 1e-12);
}

// GEO-05: volumes of solids of known closed form.
TEST(WindingNumberTest, VolumesOfSolids) {
  Mesh tetra;
  tetra.vertices = {{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
  tetra.triangles = {{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}};
  EXPECT_NEAR(Inspect(tetra).volume_mm3, 1.0 / 6.0, 1e-12);
  const Mesh icosahedron = IcosphereMesh(std::sin(2.0 * kPi / 5.0), 0);   // edge 1
  EXPECT_NEAR(Inspect(icosahedron).volume_mm3, 2.1816950, 1e-7);
  Mesh prism;   // 32 corners, R 1, h 1
  for (int i = 0; i < 64; ++i) {
    const double turn = 2.0 * kPi * (i / 2) / 32.0;
    prism.vertices.emplace_back(std::cos(turn), std::sin(turn), i % 2);
  }
  for (int i = 0; i < 32; ++i) {
    const int a = 2 * i, b = 2 * ((i + 1) % 32);
    prism.triangles.insert(prism.triangles.end(), {{a, b, b + 1}, {a, b + 1, a + 1}});
    if (i > 0) prism.triangles.insert(prism.triangles.end(), {{0, b, a}, {1, a + 1, b + 1}});
  }
  EXPECT_TRUE(Inspect(prism).closed);
  EXPECT_NEAR(Inspect(prism).volume_mm3, 3.1214452, 1e-7);
}

// Oracle: the full sum. Random points about an open cap of a sphere: its numbers take
// all values, so that the series is held in the open too, not only near whole numbers.
TEST(WindingFieldTest, SeriesAgreesWithTheSumWithinItsBoundAndDecidesTheSame) {
  Mesh cap = IcosphereMesh(10.0, 4);
  const auto gone = [&](const std::array<std::int32_t, 3>& t) {
    return cap.vertices[static_cast<std::size_t>(t[0])].z() > 5.0;
  };
  cap.triangles.erase(std::remove_if(cap.triangles.begin(), cap.triangles.end(), gone), cap.triangles.end());
  const WindingField field(cap);
  std::mt19937_64 rng(20260601);
  for (int i = 0; i < 400; ++i) {
    const Vector3d p = RandomPoint(rng, -14.0, 14.0);
    const double exact = WindingNumber(cap, p);
    double last_bound = 1e300;
    for (const double far : {2.0, 4.0, 8.0}) {
      const WindingField::Value value = field.At(p, far);
      EXPECT_LE(std::abs(value.number - exact), value.bound) << p.transpose() << " far " << far;
      EXPECT_LE(value.bound, last_bound);
      last_bound = value.bound;
    }
    EXPECT_LT(last_bound, 0.05) << p.transpose();
    EXPECT_EQ(field.Inside(p), exact > 0.5) << p.transpose();
  }
}

}  // namespace
}  // namespace aircut::sim
