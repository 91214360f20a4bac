#include "sim/mesh_index.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "sim/cluster_distance.h"
#include "sim/line_crossing.h"
#include "sim/triangle_search.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// Hits nearer to each other than this are one passage through an edge or corner.
constexpr double kSamePlace_mm = 1e-9;
constexpr double kEverywhere_mm = 1e30;

// Where a line runs inside a box, as [t_in, t_out]; false when it misses it.
bool LineMeetsBox(const BoxNode& node, int slot, const Vector3d& origin, const Vector3d& direction,
                  double t_min, double t_max) {
  for (int axis = 0; axis < 3; ++axis) {
    const double pad = 1e-9 + 1e-12 * std::abs(origin[axis]);
    const double low = node.low[axis][slot] - pad - origin[axis];
    const double high = node.high[axis][slot] + pad - origin[axis];
    const double d = direction[axis];
    if (d == 0.0) {
      if (low > 0.0 || high < 0.0) return false;
      continue;
    }
    const double t0 = (d > 0 ? low : high) / d, t1 = (d > 0 ? high : low) / d;
    t_min = t0 > t_min ? t0 : t_min;
    t_max = t1 < t_max ? t1 : t_max;
  }
  return t_min <= t_max;
}

// Hits of one passage through an edge or corner differ by rounding only: of
// each bunch what remains is its sum, so that a touch from outside is no hit.
void MergePassages(std::vector<MeshIndex::Hit>& hits, double t_min, double t_max) {
  std::size_t merged = 0;
  for (std::size_t i = 0; i < hits.size();) {
    const double t = hits[i].t_mm;
    int net = 0;
    for (; i < hits.size() && hits[i].t_mm - t <= kSamePlace_mm; ++i) net += hits[i].entering ? 1 : -1;
    if (t < t_min || t > t_max) continue;
    for (int k = 0; k < std::abs(net); ++k) hits[merged++] = {t, net > 0};
  }
  hits.resize(merged);
}

// Leaves of sorted hits from outside on those at which the winding number passes 1/2.
void KeepChanges(std::vector<MeshIndex::Hit>& hits) {
  int winding = 0;
  std::size_t kept = 0;
  for (const MeshIndex::Hit hit : hits) {
    const int next = winding + (hit.entering ? 1 : -1);
    if ((next >= 1) != (winding >= 1)) hits[kept++] = hit;
    winding = next;
  }
  hits.resize(kept);
}

}  // namespace

struct MeshIndex::Impl {
  TriangleSearch search;
};

MeshIndex::MeshIndex(Mesh mesh, InsideBy inside_by)
    : impl_(std::make_unique<const Impl>(Impl{TriangleSearch(std::move(mesh), inside_by)})) {}

MeshIndex::~MeshIndex() = default;
MeshIndex::MeshIndex(MeshIndex&&) noexcept = default;

const Mesh& MeshIndex::mesh() const { return impl_->search.mesh; }
const Eigen::AlignedBox3d& MeshIndex::box() const { return impl_->search.box; }

MeshIndex::Closest MeshIndex::ClosestPoint(const Vector3d& p, double within_mm) const {
  const TriangleSearch& search = impl_->search;
  const TriangleSearch::Nearest nearest = search.Find(p, within_mm);
  if (nearest.place < 0) return {within_mm, -1, p};
  return {std::sqrt(nearest.closest.distance2), search.tree.order[nearest.place],
          InSpace(search.flat[nearest.place], nearest.closest.px, nearest.closest.py)};
}

double MeshIndex::SignedDistance(const Vector3d& p) const {
  const TriangleSearch::Nearest nearest = impl_->search.Find(p, 1e30);
  if (nearest.place < 0) return std::numeric_limits<double>::quiet_NaN();
  const double distance = std::sqrt(nearest.closest.distance2);
  return impl_->search.Inside(p, nearest.place, nearest.closest) ? -distance : distance;
}

void MeshIndex::SignedDistances(const Vector3d& centre, double radius_mm, const Vector3d* points,
                                int count, double* distances_mm) const {
  ClusterSignedDistances(impl_->search, {centre, radius_mm, points, count}, distances_mm);
}

std::vector<MeshIndex::Hit> MeshIndex::Crossings(const Vector3d& origin, const Vector3d& direction,
                                                 double t_min, double t_max) const {
  std::vector<Hit> hits;
  Crossings(origin, direction, t_min, t_max, hits);
  return hits;
}

void MeshIndex::Crossings(const Vector3d& origin, const Vector3d& direction, double t_min, double t_max,
                          std::vector<Hit>& hits) const {
  const TriangleSearch& search = impl_->search;
  const LineCrossing line(origin, direction);
  const bool count_walls = search.winding != nullptr;
  // Walls are counted from outside, so the line is followed from before the mesh.
  const double low = count_walls ? -kEverywhere_mm : t_min - kSamePlace_mm;
  const double high = t_max + kSamePlace_mm;
  hits.clear();
  std::int32_t stack[kBoxTreeStack];
  int top = 0;
  stack[top++] = 0;
  while (top > 0) {
    const BoxNode& node = search.tree.nodes[stack[--top]];
    for (int slot = 0; slot < 4; ++slot) {
      if (node.child[slot] < 0) continue;
      if (!LineMeetsBox(node, slot, origin, direction, low, high)) continue;
      if (node.count[slot] == 0) stack[top++] = node.child[slot];
      for (int i = 0; i < node.count[slot]; ++i) {
        const auto crossing = line.With(search.Corners(search.tree.order[node.child[slot] + i]));
        if (!crossing || crossing->t_mm < low || crossing->t_mm > high) continue;
        hits.push_back({crossing->t_mm, crossing->entering});
      }
    }
  }
  std::sort(hits.begin(), hits.end(), [](const Hit& a, const Hit& b) {
    return a.t_mm != b.t_mm ? a.t_mm < b.t_mm : a.entering < b.entering;
  });
  if (count_walls) KeepChanges(hits);
  MergePassages(hits, t_min, t_max);
}

}  // namespace aircut::sim
