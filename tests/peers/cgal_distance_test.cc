// Second opinion: closest points and inside tests of CGAL's triangle tree.

#include <cmath>
#include <random>
#include <vector>

#include <CGAL/AABB_face_graph_triangle_primitive.h>
#include <CGAL/AABB_traits.h>
#include <CGAL/AABB_tree.h>
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Side_of_triangle_mesh.h>
#include <CGAL/Surface_mesh.h>
#include <gtest/gtest.h>

#include "sim/mesh_index.h"
#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using SurfaceMesh = CGAL::Surface_mesh<Kernel::Point_3>;
using Primitive = CGAL::AABB_face_graph_triangle_primitive<SurfaceMesh>;
using Tree = CGAL::AABB_tree<CGAL::AABB_traits<Kernel, Primitive>>;

// Both compute in double; coordinates up to 100 mm.
constexpr double kPeer_mm = 1e-9;

// 20,480 triangles of uneven size, with bumps and dents drawn at random.
Mesh LumpyBody() {
  Mesh mesh = IcosphereMesh(1.0, 5);
  std::mt19937_64 rng(17);
  std::vector<Vector3d> lump;
  for (int i = 0; i < 40; ++i) lump.push_back(RandomUnit(rng));
  std::uniform_real_distribution<double> jitter(0.999, 1.001);
  for (Vector3d& v : mesh.vertices) {
    double r = 50.0;
    for (std::size_t i = 0; i < lump.size(); ++i) {
      r += (i % 2 == 0 ? 6.0 : -5.0) * std::exp(-20.0 * (v - lump[i]).squaredNorm());
    }
    v *= r * jitter(rng);
  }
  return mesh;
}

SurfaceMesh ToCgal(const Mesh& mesh) {
  SurfaceMesh out;
  std::vector<SurfaceMesh::Vertex_index> vertex;
  for (const Vector3d& v : mesh.vertices) {
    vertex.push_back(out.add_vertex(Kernel::Point_3(v.x(), v.y(), v.z())));
  }
  for (const auto& t : mesh.triangles) out.add_face(vertex[t[0]], vertex[t[1]], vertex[t[2]]);
  return out;
}

class CgalDistanceTest : public testing::Test {
 protected:
  CgalDistanceTest()
      : index_(LumpyBody()), theirs_(ToCgal(index_.mesh())),
        tree_(faces(theirs_).first, faces(theirs_).second, theirs_), side_(tree_) {}

  MeshIndex index_;
  SurfaceMesh theirs_;
  Tree tree_;
  CGAL::Side_of_triangle_mesh<SurfaceMesh, Kernel, CGAL::Default, Tree> side_;
};

TEST_F(CgalDistanceTest, DistanceAndSignAgree) {
  std::mt19937_64 rng(18);
  for (int i = 0; i < 4000; ++i) {
    // Half of the points near the surface, where signs are hard.
    Vector3d p = RandomPoint(rng, -80, 80);
    if (i % 2 == 0) p = index_.ClosestPoint(p).point + 0.01 * RandomUnit(rng);
    const Kernel::Point_3 q(p.x(), p.y(), p.z());
    const double theirs = std::sqrt(tree_.squared_distance(q));
    const double ours = index_.SignedDistance(p);
    EXPECT_NEAR(std::abs(ours), theirs, kPeer_mm) << p.transpose();
    EXPECT_EQ(ours < 0, side_(q) == CGAL::ON_BOUNDED_SIDE) << p.transpose();
  }
}

TEST_F(CgalDistanceTest, NumberOfCrossingsAgrees) {
  std::mt19937_64 rng(19);
  int crossings = 0;
  for (int i = 0; i < 3000; ++i) {
    const Vector3d origin = RandomPoint(rng, -80, 80), direction = RandomUnit(rng);
    const auto hits = index_.Crossings(origin, direction, 0, 400);
    const Vector3d end = origin + 400 * direction;
    const Kernel::Segment_3 segment({origin.x(), origin.y(), origin.z()}, {end.x(), end.y(), end.z()});
    EXPECT_EQ(hits.size(), tree_.number_of_intersected_primitives(segment)) << "line " << i;
    crossings += static_cast<int>(hits.size());
  }
  EXPECT_GT(crossings, 1000);
}

}  // namespace
}  // namespace aircut::sim
