#include "verify/mesh_thinning.h"

#include <cmath>
#include <map>

#include <gtest/gtest.h>

namespace aircut::verify {
namespace {

// A flat sheet of n x n squares of 1 mm in z = 0.
sim::Mesh Sheet(int n) {
  sim::Mesh mesh;
  for (int y = 0; y <= n; ++y) {
    for (int x = 0; x <= n; ++x) mesh.vertices.emplace_back(x, y, 0.0);
  }
  const auto at = [n](int x, int y) { return y * (n + 1) + x; };
  for (int y = 0; y < n; ++y) {
    for (int x = 0; x < n; ++x) {
      mesh.triangles.push_back({at(x, y), at(x + 1, y), at(x + 1, y + 1)});
      mesh.triangles.push_back({at(x, y), at(x + 1, y + 1), at(x, y + 1)});
    }
  }
  return mesh;
}

double AreaOf(const sim::Mesh& mesh) {
  double area = 0;
  for (const auto& t : mesh.triangles) {
    area += 0.5 * (mesh.vertices[t[1]] - mesh.vertices[t[0]]).cross(mesh.vertices[t[2]] - mesh.vertices[t[0]]).norm();
  }
  return area;
}

// Edges that only one triangle has.
int OpenEdges(const sim::Mesh& mesh) {
  std::map<std::pair<int, int>, int> count;
  for (const auto& t : mesh.triangles) {
    for (int k = 0; k < 3; ++k) ++count[std::minmax(t[k], t[(k + 1) % 3])];
  }
  int open = 0;
  for (const auto& [edge, n] : count) open += n == 1;
  return open;
}

// Oracle: a closed box stays closed, and where it is not thinned nothing changes.
TEST(MeshThinningTest, SmallMeshStaysAsItIs) {
  const sim::Mesh box = sim::BoxMesh({0, 0, 0}, {3, 4, 5});
  const ThinnedMesh same = ThinnedTo(box, {}, 100);
  EXPECT_EQ(same.mesh.triangles, box.triangles);
  EXPECT_EQ(OpenEdges(same.mesh), 0);
}

// Oracle: cells of two sizes join without a crack: inside the sheet no edge is open, and it
// still covers its square, but for the rim that moves by less than a coarse cell.
TEST(MeshThinningTest, FineAndCoarseCellsMeetWithoutACrack) {
  const sim::Mesh sheet = Sheet(40);
  std::vector<float> value(sheet.vertices.size(), NAN);
  for (std::size_t i = 0; i < value.size(); ++i) {
    if (sheet.vertices[i].x() < 20) value[i] = 0.1f;
  }
  const ThinnedMesh thin = Thinned(sheet, value, 2.0, 8.0);
  EXPECT_LT(thin.mesh.vertices.size(), sheet.vertices.size() / 3);
  EXPECT_EQ(thin.value.size(), thin.mesh.vertices.size());
  EXPECT_LE(AreaOf(thin.mesh), 1600.0 + 1e-6);
  EXPECT_GE(AreaOf(thin.mesh), 32.0 * 32.0);
  for (const auto& t : thin.mesh.triangles) EXPECT_TRUE(t[0] != t[1] && t[1] != t[2] && t[2] != t[0]);
}

TEST(MeshThinningTest, KeepsToTheCountAsked) {
  const sim::Mesh sheet = Sheet(60);
  const ThinnedMesh thin = ThinnedTo(sheet, std::vector<float>(sheet.vertices.size(), 0.0f), 500);
  EXPECT_LE(thin.mesh.vertices.size(), 500u);
  EXPECT_GE(thin.mesh.vertices.size(), 200u);   // no coarser than a third of what was allowed
}

// Oracle: brute force over the triangles.
TEST(MeshThinningTest, CutOutHoldsWhatIsNear) {
  const sim::Mesh sheet = Sheet(20);
  std::vector<float> value(sheet.vertices.size());
  for (std::size_t i = 0; i < value.size(); ++i) value[i] = static_cast<float>(sheet.vertices[i].x());
  const Eigen::Vector3d at(10, 10, 0);
  const ThinnedMesh part = CutOut(sheet, value, at, 3.0);
  std::size_t near = 0;
  for (const auto& t : sheet.triangles) {
    const auto reaches = [&](int axis) {
      const double a = sheet.vertices[t[0]][axis], b = sheet.vertices[t[1]][axis], c = sheet.vertices[t[2]][axis];
      return std::min({a, b, c}) <= at[axis] + 3 && std::max({a, b, c}) >= at[axis] - 3;
    };
    near += reaches(0) && reaches(1) && reaches(2);
  }
  EXPECT_EQ(part.mesh.triangles.size(), near);
  for (std::size_t i = 0; i < part.value.size(); ++i) EXPECT_EQ(part.value[i], static_cast<float>(part.mesh.vertices[i].x()));
  EXPECT_TRUE(CutOut(sheet, value, Eigen::Vector3d(500, 0, 0), 3.0).mesh.triangles.empty());
}

// A triangle can pass through the part with all its corners far outside.
TEST(MeshThinningTest, CutOutHoldsLargeTriangles) {
  const sim::Mesh plate = sim::BoxMesh({-100, -80, -20}, {100, 80, 0});
  EXPECT_GE(CutOut(plate, {}, Eigen::Vector3d(10, 20, 0), 5.0).mesh.triangles.size(), 1u);
}

}  // namespace
}  // namespace aircut::verify
