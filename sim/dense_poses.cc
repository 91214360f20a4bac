#include "sim/dense_poses.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <queue>
#include <stdexcept>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/revolved_solid.h"

namespace aircut::sim {
namespace {

using Real = long double;
using Eigen::Vector3d;
using Vector = Eigen::Matrix<Real, 3, 1>;

constexpr Real kJoined_mm = 1e-7L;      // slivers thinner than this are rounding, as with the rays
constexpr Real kFinest_mm = 5e-5L;      // poses nearer to each other than this are not halved
constexpr int kMostPoses = 200'000;     // on one ray; what is still open then widens its bound
constexpr double kMostCells = 1e6;

// One tool as it is cut with.
struct DenseTool {
  std::vector<RevolvedSlab> slabs;
  double radius_mm = 0.0, height_mm = 0.0;
  double sag_mm = 0.0;                  // by how much the slabs may be too small
};

struct Ray {
  Vector from, up;
};

// A stretch of one sweep about the pose in its middle.
struct Stretch {
  std::size_t sweep = 0;               // among those that the ray meets
  Real middle = 0.5L, half = 0.5L;     // of the way from moment to moment
  LinePiece reach;                     // what any pose of it can remove, and perhaps more
};

struct DeepestFirst {
  bool operator()(const Stretch& a, const Stretch& b) const {
    if (a.reach.lo != b.reach.lo) return a.reach.lo > b.reach.lo;
    return a.sweep != b.sweep ? a.sweep > b.sweep : a.middle > b.middle;
  }
};

// The motion between two moments, its own code on purpose: the other two computations
// share theirs.
class Motion {
 public:
  Motion(const ToolTrack& track, std::vector<DenseTool> tools) : track_(track), tools_(std::move(tools)) {}

  const DenseTool& ToolOf(std::int32_t sweep) const {
    return tools_[static_cast<std::size_t>(track_.sweeps[static_cast<std::size_t>(sweep)].tool)];
  }

  // A sweep as one ray meets it: what does not change with time.
  struct Met {
    Vector y0, v, a0, a1;
    Real turn = 0.0L, per_sine = 0.0L, way = 0.0L;
    const DenseTool* tool = nullptr;
  };

  Met Meet(const Ray& ray, std::int32_t sweep) const {
    const auto i = static_cast<std::size_t>(sweep);
    Met met;
    met.y0 = ray.from - track_.p_ST[i].cast<Real>();
    met.v = (track_.p_ST[i + 1] - track_.p_ST[i]).cast<Real>();
    met.a0 = track_.axis_S[i].cast<Real>().normalized();
    met.a1 = track_.axis_S[i + 1].cast<Real>().normalized();
    met.turn = Turn(met.a0, met.a1);
    met.per_sine = met.turn > 0.0L ? 1.0L / std::sin(met.turn) : 0.0L;
    met.way = Way(sweep);
    met.tool = &ToolOf(sweep);
    return met;
  }

  static LineInTool Seen(const Ray& ray, const Met& met, Real t) {
    const Vector y = met.y0 - t * met.v;
    Vector axis = met.a0;
    if (met.turn > 0.0L) {
      axis = met.per_sine * (std::sin((1.0L - t) * met.turn) * met.a0 + std::sin(t * met.turn) * met.a1);
    }
    return {y.dot(axis), ray.up.dot(axis), y.squaredNorm(), y.dot(ray.up), ray.up.squaredNorm()};
  }

  // The farthest way that a point of the cutter goes over the whole sweep.
  Real Way(std::int32_t sweep) const {
    const auto i = static_cast<std::size_t>(sweep);
    const DenseTool& tool = ToolOf(sweep);
    const Real turn = Turn(track_.axis_S[i].cast<Real>(), track_.axis_S[i + 1].cast<Real>());
    return (track_.p_ST[i + 1] - track_.p_ST[i]).norm() + turn * std::hypot(tool.radius_mm, tool.height_mm);
  }

 private:
  static Real Turn(const Vector& a, const Vector& b) { return std::atan2(a.cross(b).norm(), a.dot(b)); }

  const ToolTrack& track_;
  const std::vector<DenseTool> tools_;
};

// Cuts one ray.
class RayBisection {
 public:
  RayBisection(const Motion& motion, const DepthRay& ray, const RayDepth& start)
      : motion_(motion), ray_{ray.p_SQ.cast<Real>(), ray.up_S.cast<Real>()}, bottom_(start.bottom_mm),
        top_(start.stock_top_mm), stock_top_(start.stock_top_mm) {}

  DenseDepth Cut(const std::vector<std::int32_t>& sweeps) {
    for (const std::int32_t sweep : sweeps) met_.push_back(motion_.Meet(ray_, sweep));
    for (std::size_t i = 0; i < met_.size(); ++i) Try({i, 0.5L, 0.5L, {}});
    while (!open_.empty()) {
      const Stretch next = open_.top();
      if (!Matters(next.reach) || poses_ > kMostPoses) break;
      open_.pop();
      if (next.reach.hi < top_ - kJoined_mm) {   // material stands between, as far as is known
        apart_.push_back(next);
        continue;
      }
      Try({next.sweep, next.middle - 0.5L * next.half, 0.5L * next.half, {}});
      Try({next.sweep, next.middle + 0.5L * next.half, 0.5L * next.half, {}});
    }
    DenseDepth depth;
    depth.touched = touched_;
    depth.top_mm = static_cast<double>(top_);
    depth.bound_mm = static_cast<double>(top_ - LowestPossible());
    return depth;
  }

 private:
  // How low the top can be in truth: where poses were left untried, and from there on what
  // may hang together with that.
  Real LowestPossible() const {
    if (poses_ > kMostPoses) return bottom_;
    Real lowest = std::min(settled_, top_ - static_cast<Real>(kDensePose_mm));
    bool lower = true;
    while (lower) {
      lower = false;
      const auto take = [&](const LinePiece& piece) {
        if (piece.hi < lowest - kJoined_mm || piece.lo >= lowest) return;
        lowest = piece.lo;
        lower = true;
      };
      for (const Stretch& stretch : apart_) take(stretch.reach);
      for (const LinePiece& part : parts_) take(part);
    }
    return std::max(lowest, bottom_);
  }

  bool Matters(const LinePiece& reach) const {
    return std::max(reach.lo, bottom_) < top_ - static_cast<Real>(kDensePose_mm);
  }

  // Removes what the pose in the middle does; keeps the stretch if others may do more.
  void Try(Stretch stretch) {
    ++poses_;
    const Motion::Met& met = met_[stretch.sweep];
    const DenseTool& tool = *met.tool;
    const LineInTool line = Motion::Seen(ray_, met, stretch.middle);
    const Real way = stretch.half * met.way, by = way + tool.sag_mm;
    for (const RevolvedSlab& slab : tool.slabs) {
      const LinePiece grown = slab.Grown(line, by);
      if (grown.empty()) continue;
      if (stretch.reach.empty()) stretch.reach = grown;
      stretch.reach.lo = std::min(stretch.reach.lo, grown.lo);
      stretch.reach.hi = std::max(stretch.reach.hi, grown.hi);
    }
    if (stretch.reach.empty() || !Matters(stretch.reach)) return;
    for (const RevolvedSlab& slab : tool.slabs) Remove(slab.Inside(line));
    if (!Matters(stretch.reach)) return;
    if (way > kFinest_mm) open_.push(stretch);
    else if (stretch.reach.hi < top_ - kJoined_mm) apart_.push_back(stretch);
    else settled_ = std::min(settled_, stretch.reach.lo);   // too fine to halve again: it stays open
  }

  void Remove(LinePiece part) {
    part.lo = std::max(part.lo, bottom_);
    part.hi = std::min(part.hi, stock_top_);
    if (!(part.lo < part.hi)) return;
    touched_ = true;
    if (part.lo >= top_) return;
    parts_.push_back(part);
    if (part.hi >= top_ - kJoined_mm) Lower();
  }

  // Follows the removed parts down from the top as long as they hang together.
  void Lower() {
    bool lower = true;
    while (lower) {
      lower = false;
      for (const LinePiece& part : parts_) {
        if (part.hi < top_ - kJoined_mm || part.lo >= top_) continue;
        top_ = part.lo;
        lower = true;
      }
      parts_.erase(std::remove_if(parts_.begin(), parts_.end(), [&](const LinePiece& p) { return p.lo >= top_; }),
                   parts_.end());
    }
    // What was cut off from the top may now hang on it.
    const auto joined = std::stable_partition(apart_.begin(), apart_.end(), [&](const Stretch& s) {
      return s.reach.hi < top_ - kJoined_mm;
    });
    for (auto s = joined; s != apart_.end(); ++s) open_.push(*s);
    apart_.erase(joined, apart_.end());
  }

  const Motion& motion_;
  const Ray ray_;
  const Real bottom_;
  Real top_;
  const Real stock_top_;
  Real settled_ = std::numeric_limits<Real>::infinity();   // lowest that was left open
  bool touched_ = false;
  int poses_ = 0;
  std::vector<Motion::Met> met_;
  std::vector<LinePiece> parts_;    // removed below the top
  std::priority_queue<Stretch, std::vector<Stretch>, DeepestFirst> open_;
  std::vector<Stretch> apart_;
};

// Cells that the rays pass, for finding the sweeps that come near each.
class RayLattice {
 public:
  RayLattice(const std::vector<DepthRay>& rays, const std::vector<RayDepth>& starts) {
    for (std::size_t i = 0; i < rays.size(); ++i) {
      if (!starts[i].has_material) continue;
      box_.extend(rays[i].p_SQ + starts[i].bottom_mm * rays[i].up_S);
      box_.extend(rays[i].p_SQ + starts[i].stock_top_mm * rays[i].up_S);
    }
    if (box_.isEmpty()) return;
    while (Count().prod() > kMostCells) pitch_ *= 1.25;
    count_ = Count().cast<int>();
    cells_.resize(static_cast<std::size_t>(count_.prod()));
    for (std::size_t i = 0; i < rays.size(); ++i) {
      if (starts[i].has_material) Add(static_cast<std::int32_t>(i), rays[i], starts[i]);
    }
  }

  // Calls `visit(ray)` for the rays of every cell that a box meets; some more than once.
  template <typename Visit>
  void ForEachNear(const Eigen::AlignedBox3d& box, const Visit& visit) const {
    const Eigen::AlignedBox3d both = box.intersection(box_);
    if (both.isEmpty() || cells_.empty()) return;
    const Eigen::Array3i low = CellOf(both.min()), high = CellOf(both.max());
    for (int k = low.z(); k <= high.z(); ++k) {
      for (int j = low.y(); j <= high.y(); ++j) {
        for (int i = low.x(); i <= high.x(); ++i) {
          for (const std::int32_t ray : cells_[Index({i, j, k})]) visit(ray);
        }
      }
    }
  }

 private:
  Eigen::Array3d Count() const { return (box_.sizes() / pitch_).array().floor() + 1.0; }
  Eigen::Array3i CellOf(const Vector3d& p) const {
    return ((p - box_.min()) / pitch_).array().floor().cast<int>().max(0).min(count_ - 1);
  }
  std::size_t Index(const Eigen::Array3i& at) const {
    return static_cast<std::size_t>(at.x() + count_.x() * (at.y() + count_.y() * at.z()));
  }
  // In steps of half a cell a ray can cut across a corner: the cell beside it counts too.
  void Add(std::int32_t ray, const DepthRay& line, const RayDepth& start) {
    const double length = start.stock_top_mm - start.bottom_mm;
    const int steps = 1 + static_cast<int>(2.0 * length / pitch_);
    for (int n = 0; n <= steps; ++n) {
      const Vector3d p = line.p_SQ + (start.bottom_mm + length * n / steps) * line.up_S;
      const Eigen::Array3i low = CellOf(p.array() - 0.25 * pitch_), high = CellOf(p.array() + 0.25 * pitch_);
      for (int k = low.z(); k <= high.z(); ++k) {
        for (int j = low.y(); j <= high.y(); ++j) {
          for (int i = low.x(); i <= high.x(); ++i) {
            auto& cell = cells_[Index({i, j, k})];
            if (cell.empty() || cell.back() != ray) cell.push_back(ray);
          }
        }
      }
    }
  }

  double pitch_ = 2.0;
  Eigen::AlignedBox3d box_;
  Eigen::Array3i count_ = Eigen::Array3i::Zero();
  std::vector<std::vector<std::int32_t>> cells_;
};

// Whether the line of a ray passes the axis near enough to be cut at all.
bool AxisComesNear(const DepthRay& ray, const Vector3d& tip, const Vector3d& axis, double reach_mm) {
  const Vector3d across = ray.up_S.cross(axis), off = ray.p_SQ - tip;
  const double size = across.norm();
  return size < 1e-3 || std::abs(off.dot(across)) <= (reach_mm + 1e-6) * size;
}

std::vector<std::vector<std::int32_t>> SweepsPerRay(const ToolTrack& track, const Motion& motion,
                                                    const std::vector<DepthRay>& rays,
                                                    const std::vector<RayDepth>& starts) {
  std::vector<std::vector<std::int32_t>> near(rays.size());
  const RayLattice lattice(rays, starts);
  for (std::size_t i = 0; i < track.sweeps.size(); ++i) {
    if (track.sweeps[i].swap) continue;
    const auto sweep = static_cast<std::int32_t>(i);
    const DenseTool& tool = motion.ToolOf(sweep);
    Eigen::AlignedBox3d box;
    for (const std::size_t m : {i, i + 1}) {
      box.extend(track.p_ST[m]);
      box.extend(track.p_ST[m] + tool.height_mm * track.axis_S[m]);
    }
    const double turn_slack = (track.axis_S[i + 1] - track.axis_S[i]).norm() * (tool.height_mm + tool.radius_mm);
    const double way = (track.p_ST[i + 1] - track.p_ST[i]).norm() + 1.01 * turn_slack;
    box.min().array() -= tool.radius_mm + turn_slack + 1e-6;
    box.max().array() += tool.radius_mm + turn_slack + 1e-6;
    lattice.ForEachNear(box, [&](std::int32_t ray) {
      auto& list = near[static_cast<std::size_t>(ray)];
      if (!list.empty() && list.back() == sweep) return;
      if (AxisComesNear(rays[static_cast<std::size_t>(ray)], track.p_ST[i], track.axis_S[i], tool.radius_mm + way)) {
        list.push_back(sweep);
      }
    });
  }
  return near;
}

}  // namespace

std::vector<DenseDepth> DepthByDensePoses(const ToolTrack& track, const std::vector<CutterOutline>& outlines,
                                          const std::vector<DepthRay>& rays,
                                          const std::vector<RayDepth>& starts, int threads) {
  if (outlines.size() != track.tools.size() || starts.size() != rays.size()) {
    throw std::invalid_argument("DepthByDensePoses: outlines, rays and starts do not agree in number");
  }
  std::vector<DenseTool> tools;
  for (const CutterOutline& outline : outlines) {
    tools.push_back({SlabsOf(outline, kDenseSag_mm), 0.5 * outline.diameter_mm, outline.height_mm,
                     IsExactInSlabs(outline) ? 0.0 : kDenseSag_mm});
  }
  const Motion motion(track, std::move(tools));
  const auto near = SweepsPerRay(track, motion, rays, starts);
  std::vector<DenseDepth> depths(rays.size());
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, rays.size(), [&](std::size_t i) {
      if (starts[i].has_material) depths[i] = RayBisection(motion, rays[i], starts[i]).Cut(near[i]);
    });
  });
  return depths;
}

}  // namespace aircut::sim
