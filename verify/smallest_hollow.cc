// The tightest hollow of a target mesh.
#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/triangle_samples.h"
#include "sim/unreachable.h"
#include "verify/fine_measures.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;

// Deeper than this under the stock a design is carved, as its samples have it.
constexpr double kCarved_mm = 0.05;

// The middle of an edge at which the mesh is hollow.
struct HollowEdge {
  Vector3d p_S, normal_S;   // the mean of both faces' normals, unit
};

// A side of a triangle, under its two vertices in rising order.
struct Side {
  std::int32_t low, high, triangle, opposite;
  bool operator<(const Side& other) const {
    return std::array{low, high, triangle} < std::array{other.low, other.high, other.triangle};
  }
};

std::vector<Side> SidesOf(const sim::Mesh& mesh, const Eigen::AlignedBox3d& within) {
  std::vector<Side> sides;
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    const auto& corners = mesh.triangles[t];
    Eigen::AlignedBox3d box;
    for (const std::int32_t c : corners) box.extend(mesh.vertices[static_cast<std::size_t>(c)]);
    if (!box.intersects(within)) continue;
    for (std::size_t n = 0; n < 3; ++n) {
      const auto [low, high] = std::minmax(corners[n], corners[(n + 1) % 3]);
      sides.push_back({low, high, static_cast<std::int32_t>(t), corners[(n + 2) % 3]});
    }
  }
  std::sort(sides.begin(), sides.end());
  return sides;
}

std::vector<HollowEdge> HollowEdgesOf(const sim::Mesh& mesh, const Eigen::AlignedBox3d& within) {
  const std::vector<Side> sides = SidesOf(mesh, within);
  std::vector<HollowEdge> edges;
  for (std::size_t i = 0; i + 1 < sides.size(); ++i) {
    const Side &a = sides[i], &b = sides[i + 1];
    if (a.low != b.low || a.high != b.high) continue;
    const Vector3d& from = mesh.vertices[static_cast<std::size_t>(a.low)];
    const Vector3d& to = mesh.vertices[static_cast<std::size_t>(a.high)];
    const Vector3d normal = sim::TriangleNormal(mesh, a.triangle), other = sim::TriangleNormal(mesh, b.triangle);
    const double rise = (mesh.vertices[static_cast<std::size_t>(b.opposite)] - from).dot(normal);
    const Vector3d sum = normal + other;
    if (!(rise > 1e-9) || sum.norm() < 1e-9) continue;   // flat, standing out, or folded back on itself
    edges.push_back({0.5 * (from + to), sum.normalized()});
  }
  return edges;
}

// Radii that are tried, each a quarter smaller than the one before.
constexpr int kRadii = 32;
double Radius(int n) { return kWidestHollow_mm * std::pow(0.75, n); }

class HollowSearch {
 public:
  HollowSearch(const sim::Job& job, std::vector<HollowEdge> edges)
      : design_S_(*job.design.mesh_S), stock_S_(*job.stock_S), edges_(std::move(edges)) {}

  std::size_t size() const { return edges_.size(); }
  const HollowEdge& edge(std::size_t i) const { return edges_[i]; }

  bool Rests(std::size_t i, double radius_mm) const {
    const double free_mm = radius_mm - kHollowTouch_mm;
    if (free_mm <= 0.0) return true;
    return design_S_.ClosestPoint(edges_[i].p_S + radius_mm * edges_[i].normal_S, free_mm).triangle < 0;
  }
  bool IsCarved(std::size_t i) const { return stock_S_.SignedDistance(edges_[i].p_S) < -kCarved_mm; }

  // How many of the radii are too large for the edge, at least `known` of them.
  int TooLarge(std::size_t i, int known) const {
    int n = known;
    while (n < kRadii && !Rests(i, Radius(n))) ++n;
    return n;
  }

  // The radius itself, between one that rests and one that does not.
  double Radius_mm(std::size_t i, int too_large) const {
    if (too_large >= kRadii) return Radius(kRadii);
    double rests = Radius(too_large), enters = Radius(too_large - 1);
    for (int step = 0; step < 30; ++step) {
      const double middle = 0.5 * (rests + enters);
      (Rests(i, middle) ? rests : enters) = middle;
    }
    return rests;
  }

 private:
  const sim::MeshIndex& design_S_;
  const sim::MeshIndex& stock_S_;
  const std::vector<HollowEdge> edges_;
};

void RaiseTo(std::atomic<int>& most, int value) {
  int now = most.load();
  while (now < value && !most.compare_exchange_weak(now, value)) {
  }
}

struct Tightest {
  std::size_t edge = 0;
  double radius_mm = 0.0;
};

// The first of the tightest. An edge is passed over only where another one is at least as
// tight by the radii tried, so that the order they are looked at in does not matter.
std::optional<Tightest> TightestOf(const HollowSearch& search, int threads) {
  std::atomic<int> most{0};
  tbb::task_arena arena(threads);
  const auto for_each = [&](std::size_t count, const auto& visit) {
    arena.execute([&] { tbb::parallel_for(std::size_t{0}, count, visit); });
  };
  for_each(search.size(), [&](std::size_t i) {
    const int known = most.load();
    if (known >= kRadii || search.Rests(i, Radius(known)) || !search.IsCarved(i)) return;
    RaiseTo(most, search.TooLarge(i, known + 1));
  });
  const int too_large = most.load();
  if (too_large == 0) return std::nullopt;
  std::vector<char> tight(search.size(), 0);
  for_each(search.size(), [&](std::size_t i) { tight[i] = !search.Rests(i, Radius(too_large - 1)) && search.IsCarved(i) ? 1 : 0; });
  std::vector<Tightest> edges;
  for (std::size_t i = 0; i < tight.size(); ++i) {
    if (tight[i] != 0) edges.push_back({i, 0.0});
  }
  for_each(edges.size(), [&](std::size_t n) { edges[n].radius_mm = search.Radius_mm(edges[n].edge, too_large); });
  return *std::min_element(edges.begin(), edges.end(), [](const Tightest& a, const Tightest& b) { return a.radius_mm < b.radius_mm; });
}

}  // namespace

std::optional<SmallestHollow> FindSmallestHollow(const CheckInputs& in) {
  const sim::Job& job = in.job;
  if (job.design.mesh_S == nullptr || job.stock_S == nullptr) return std::nullopt;
  Eigen::AlignedBox3d box;
  for (const sim::DesignSample& s : in.run.samples) {
    if (s.role == sim::DesignSample::Role::kCarve) box.extend(s.ray.p_SQ);
  }
  if (box.isEmpty()) return std::nullopt;
  const HollowSearch search(job, HollowEdgesOf(job.design.mesh_S->mesh(), box));
  const auto tightest = TightestOf(search, in.threads);
  if (!tightest) return std::nullopt;
  return SmallestHollow{tightest->radius_mm, search.edge(tightest->edge).p_S, sim::LeastNoseRadius_mm(in.run.track)};
}

}  // namespace aircut::verify
