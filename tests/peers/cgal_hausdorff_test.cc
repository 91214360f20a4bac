// Second opinion: CGAL's one-sided Hausdorff distance of two meshes, within a stated error.

#include <cmath>
#include <random>
#include <vector>

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/distance.h>
#include <CGAL/Surface_mesh.h>
#include <gtest/gtest.h>

#include "sim/mesh_index.h"
#include "tests/sim/sample_meshes.h"
#include "tests/support/farthest_place.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using SurfaceMesh = CGAL::Surface_mesh<Kernel::Point_3>;

SurfaceMesh ToCgal(const Mesh& mesh) {
  SurfaceMesh out;
  std::vector<SurfaceMesh::Vertex_index> vertex;
  for (const Vector3d& v : mesh.vertices) vertex.push_back(out.add_vertex(Kernel::Point_3(v.x(), v.y(), v.z())));
  for (const auto& t : mesh.triangles) out.add_face(vertex[t[0]], vertex[t[1]], vertex[t[2]]);
  return out;
}

// 1,280 triangles with dents and bumps drawn at random.
Mesh Lumpy(std::mt19937_64& rng) {
  Mesh mesh = IcosphereMesh(1.0, 3);
  std::vector<Vector3d> lump;
  for (int i = 0; i < 12; ++i) lump.push_back(RandomUnit(rng));
  for (Vector3d& v : mesh.vertices) {
    double r = 20.0;
    for (std::size_t i = 0; i < lump.size(); ++i) r += (i % 2 == 0 ? 3.0 : -2.0) * std::exp(-8.0 * (v - lump[i]).squaredNorm());
    v *= r;
  }
  return mesh;
}

TEST(CgalHausdorffTest, FarthestNearestDistanceIsTheirs) {
  constexpr double kTheirs_mm = 1e-3, kSpacing_mm = 0.25;
  std::mt19937_64 rng(41);
  for (int pair = 0; pair < 4; ++pair) {
    const Mesh a = Lumpy(rng), b = Lumpy(rng);
    const double theirs = CGAL::Polygon_mesh_processing::bounded_error_Hausdorff_distance<CGAL::Sequential_tag>(
        ToCgal(a), ToCgal(b), kTheirs_mm);
    const double ours = FarthestPlace_mm(a, MeshIndex(b), kSpacing_mm);
    EXPECT_LE(ours, theirs + kTheirs_mm);
    EXPECT_GE(ours, theirs - kTheirs_mm - std::sqrt(0.5) * kSpacing_mm);
    EXPECT_GT(theirs, 1.0);   // they do differ
  }
}

}  // namespace
}  // namespace aircut::sim
