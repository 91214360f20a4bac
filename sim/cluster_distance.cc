#include "sim/cluster_distance.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// Up to this many candidates it is quickest to try them all for every point.
constexpr int kTryAll = 12;
// Points that are settled at once.
constexpr int kMostPacked = 512;
// Above this many candidates the cluster is split before candidates are sought.
constexpr int kMostCandidates = 2048;

// Points sorted by the cell of an 8 x 8 x 8 raster over their own box, in the
// order of an octree: a run of cells is a cluster.
struct Raster {
  std::array<int, 513> start{};
  std::vector<int> point;
};

int SpreadBits(int v) { return (v & 1) | (v & 2) << 2 | (v & 4) << 4; }

Raster MakeRaster(const Vector3d* points, int count) {
  Eigen::AlignedBox3d box;
  for (int i = 0; i < count; ++i) box.extend(points[i]);
  const Vector3d size = box.sizes();
  const Vector3d per_mm = size.unaryExpr([](double s) { return s > 0 ? 8.0 / s : 0.0; });
  std::vector<int> cell(count);
  Raster raster;
  for (int i = 0; i < count; ++i) {
    const Vector3d r = (points[i] - box.min()).cwiseProduct(per_mm);
    const auto at = [&](int axis) { return SpreadBits(std::clamp(static_cast<int>(r[axis]), 0, 7)); };
    cell[i] = at(0) | at(1) << 1 | at(2) << 2;
    ++raster.start[cell[i] + 1];
  }
  for (int c = 0; c < 512; ++c) raster.start[c + 1] += raster.start[c];
  std::array<int, 513> next = raster.start;
  raster.point.resize(count);
  for (int i = 0; i < count; ++i) raster.point[next[cell[i]]++] = i;
  return raster;
}

// Signed distances of one cluster: candidates are narrowed from the whole
// cluster to octants of octants, each time against the nearest distance at the
// octant's middle: a triangle farther than that plus twice the octant's radius
// is the nearest one of no point in it.
class ClusterDistances {
 public:
  ClusterDistances(const TriangleSearch& search, const Vector3d* points, double* out)
      : search_(search), points_(points), out_(out) {}

  void Run(const Vector3d& centre, double radius_mm, int count) {
    const double nearest = std::sqrt(search_.Find(centre, 1e30).closest.distance2);
    const std::vector<int> candidates = Candidates(centre, nearest, radius_mm);
    if (!candidates.empty() && static_cast<int>(candidates.size()) <= kTryAll) {
      std::vector<int> all(count);
      for (int i = 0; i < count; ++i) all[i] = i;
      Settle({all.data(), count, nearest > radius_mm * (1 + 1e-9)}, candidates);
      return;
    }
    raster_ = MakeRaster(points_, count);
    Narrow({0, 512, nearest > radius_mm * (1 + 1e-9)}, candidates);
  }

 private:
  struct Points {
    const int* point;
    int count;
    bool one_side;     // no surface comes between the points
  };
  struct Cells {
    int first, count;  // of the raster
    bool one_side;
    int points(const Raster& raster) const {
      return raster.start[first + count] - raster.start[first];
    }
  };
  struct Ball {
    Vector3d centre;
    double radius_mm;
  };

  std::vector<int> Candidates(const Vector3d& centre, double nearest_mm, double radius_mm) const {
    return search_.Within(centre, (nearest_mm + 2 * radius_mm) * (1 + 1e-12) + 1e-12,
                        kMostCandidates);
  }

  Ball BallOf(const Cells& cells) const {
    Eigen::AlignedBox3d box;
    const int begin = raster_.start[cells.first], end = raster_.start[cells.first + cells.count];
    for (int i = begin; i < end; ++i) box.extend(points_[raster_.point[i]]);
    const Vector3d centre = box.center();
    double radius2 = 0.0;
    for (int i = begin; i < end; ++i) {
      radius2 = std::max(radius2, (points_[raster_.point[i]] - centre).squaredNorm());
    }
    return {centre, std::sqrt(radius2)};
  }

  // `candidates` empty: too many to list.
  void Narrow(const Cells& cells, const std::vector<int>& candidates) {
    const Points run{raster_.point.data() + raster_.start[cells.first], cells.points(raster_),
                   cells.one_side};
    if (run.count == 0) return;
    if (candidates.empty()) {
      if (cells.count == 1) return OneByOne(run);
      for (int k = 0; k < 8; ++k) Seek({cells.first + k * cells.count / 8, cells.count / 8, false});
      return;
    }
    if (static_cast<int>(candidates.size()) <= kTryAll || cells.count == 8 || run.count <= 8) {
      return Settle(run, candidates);
    }
    NarrowOctants(cells, candidates);
  }

  void Seek(const Cells& cells) {
    if (cells.points(raster_) == 0) return;
    const Ball ball = BallOf(cells);
    const double nearest = std::sqrt(search_.Find(ball.centre, 1e30).closest.distance2);
    Narrow({cells.first, cells.count, nearest > ball.radius_mm * (1 + 1e-9)},
           Candidates(ball.centre, nearest, ball.radius_mm));
  }

  void NarrowOctants(const Cells& cells, const std::vector<int>& candidates) {
    const int each = cells.count / 8, n = static_cast<int>(candidates.size());
    std::array<Ball, 8> ball;
    PointPack pack;
    for (int k = 0; k < 8; ++k) {
      const Cells octant{cells.first + k * each, each, false};
      ball[k] = octant.points(raster_) > 0 ? BallOf(octant) : Ball{Vector3d::Zero(), -1.0};
      pack.x[k] = ball[k].centre.x();
      pack.y[k] = ball[k].centre.y();
      pack.z[k] = ball[k].centre.z();
    }
    std::vector<PackValues> distance2(n);
    DistancesOfPack(search_.flat.data(), candidates.data(), n, pack, distance2.data());
    Lanes least = distance2[0].value;
    for (const PackValues& d2 : distance2) least = d2.value < least ? d2.value : least;
    std::vector<int> kept;
    for (int k = 0; k < 8; ++k) {
      if (ball[k].radius_mm < 0) continue;
      const double nearest = std::sqrt(least[k]);
      const double reach = (nearest + 2 * ball[k].radius_mm) * (1 + 1e-12) + 1e-12;
      kept.clear();
      for (int i = 0; i < n; ++i) {
        if (distance2[i].value[k] <= reach * reach) kept.push_back(candidates[i]);
      }
      Narrow({cells.first + k * each, each, nearest > ball[k].radius_mm * (1 + 1e-9)}, kept);
    }
  }

  void Settle(const Points& run, const std::vector<int>& candidates) {
    Settled before;
    for (int first = 0; first < run.count; first += kMostPacked) {
      const Points part{run.point + first, std::min(kMostPacked, run.count - first), run.one_side};
      before = SettlePart(part, candidates, before);
    }
  }

  struct Settled {
    int point = -1;         // none yet
    double distance_mm = 0.0;
    bool inside = false;
  };

  // Whether surely no surface comes between a point and the one settled before.
  bool SameSide(const Points& run, const Settled& before, int point, double distance_mm) const {
    if (before.point < 0) return false;
    const double clear_mm = std::max(before.distance_mm, distance_mm) * (1 - 1e-9);
    return run.one_side || (points_[point] - points_[before.point]).squaredNorm() < clear_mm * clear_mm;
  }

  // @returns the last point of the run.
  Settled SettlePart(const Points& run, const std::vector<int>& candidates, Settled before) {
    const int pack_count = (run.count + 7) / 8;
    for (int i = 0; i < 8 * pack_count; ++i) {
      const Vector3d& p = points_[run.point[i < run.count ? i : run.count - 1]];
      PointPack& pack = packs_[i / 8];
      pack.x[i % 8] = p.x();
      pack.y[i % 8] = p.y();
      pack.z[i % 8] = p.z();
    }
    for (int n = 0; n < pack_count; ++n) {
      PointPack& pack = packs_[n];
      pack.distance2 = Lanes{} + std::numeric_limits<double>::infinity();
      pack.triangle = LaneIndex{} - 1;
    }
    ImprovePacks(search_.flat.data(), candidates.data(), static_cast<int>(candidates.size()),
                 packs_, pack_count);
    for (int i = 0; i < run.count; ++i) {
      const PointPack& pack = packs_[i / 8];
      const auto place = static_cast<int>(pack.triangle[i % 8]);
      const double distance = std::sqrt(pack.distance2[i % 8]);
      if (!SameSide(run, before, run.point[i], distance)) {
        const Vector3d& p = points_[run.point[i]];
        before.inside = place >= 0 && search_.Inside(p, place, ClosestOnTriangle(search_.flat[place], p));
      }
      before.point = run.point[i];
      before.distance_mm = distance;
      out_[run.point[i]] = before.inside ? -distance : distance;
    }
    return before;
  }

  // Each point on its own; the last hit bounds the next search.
  void OneByOne(const Points& run) {
    double within = 1e30;
    for (int i = 0; i < run.count; ++i) {
      const Vector3d& p = points_[run.point[i]];
      if (i > 0) within = (within + (p - points_[run.point[i - 1]]).norm()) * (1 + 1e-12) + 1e-12;
      const TriangleSearch::Nearest nearest = search_.Find(p, within);
      within = std::sqrt(nearest.closest.distance2);
      out_[run.point[i]] = search_.Inside(p, nearest.place, nearest.closest) ? -within : within;
    }
  }

  const TriangleSearch& search_;
  const Vector3d* points_;
  double* out_;
  Raster raster_;
  PointPack packs_[kMostPacked / 8];   // scratch
};

}  // namespace

void ClusterSignedDistances(const TriangleSearch& search, const PointCluster& cluster,
                            double* distances_mm) {
  if (cluster.count <= 0) return;
  ClusterDistances(search, cluster.points, distances_mm)
      .Run(cluster.centre, cluster.radius_mm, cluster.count);
}

}  // namespace aircut::sim
