#include "sim/sweep_binning.h"

#include <algorithm>
#include <cmath>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/profile_sweep.h"

namespace aircut::sim {
namespace {

using Eigen::AlignedBox3d;
using Eigen::Vector3d;
using Eigen::Vector3i;

struct CellRange {
  Vector3i first, last;   // inclusive; empty when any first > last
  bool empty() const { return (first.array() > last.array()).any(); }
};

CellRange RangeOf(const CellGrid& grid, const AlignedBox3d& box, double reach_mm) {
  const Vector3d lo = (box.min() - grid.zero_centre_S).array() - reach_mm;
  const Vector3d hi = (box.max() - grid.zero_centre_S).array() + reach_mm;
  CellRange range;
  for (int d = 0; d < 3; ++d) {
    const double first = std::max(0.0, std::ceil(lo[d] / grid.pitch_mm) - grid.first[d]);
    const double last = std::min(grid.count[d] - 1.0, std::floor(hi[d] / grid.pitch_mm) - grid.first[d]);
    range.first[d] = first > last ? 1 : static_cast<int>(first);
    range.last[d] = first > last ? 0 : static_cast<int>(last);
  }
  return range;
}

void AddBall(const Vector3d& centre, double radius, AlignedBox3d& box) {
  box.min() = box.min().cwiseMin(Vector3d(centre.array() - radius));
  box.max() = box.max().cwiseMax(Vector3d(centre.array() + radius));
}

void AddDiscs(const ToolTrack& track, std::size_t moment, double z0, double z1, double radius, AlignedBox3d& box) {
  const Vector3d& axis = track.axis_S[moment];
  // Box of a disc square to the axis.
  const Vector3d half = radius * (1.0 - axis.array().square()).max(0.0).sqrt();
  for (const double z : {z0, z1}) {
    const Vector3d centre = track.p_ST[moment] + z * axis;
    box.min() = box.min().cwiseMin(centre - half);
    box.max() = box.max().cwiseMax(centre + half);
  }
}

AlignedBox3d ProfileBox(const ToolTrack& track, int sweep, const ConvexProfile& profile) {
  AlignedBox3d box;
  const std::size_t i = static_cast<std::size_t>(sweep);
  for (const std::size_t m : {i, i + 1}) AddDiscs(track, m, profile.z0_mm, profile.z1_mm, profile.radius_mm, box);
  return box;
}

// The body where it stands half-way, less how far any of its points gets from
// there: half the travel and half the swing at its farther end.
double BodyLowerBound(const ToolTrack& track, int sweep, const BodyCylinder& body,
                      const Vector3d& p) {
  const std::size_t i = static_cast<std::size_t>(sweep);
  const Vector3d axis = (track.axis_S[i] + track.axis_S[i + 1]).normalized();
  const Vector3d y = p - 0.5 * (track.p_ST[i] + track.p_ST[i + 1]);
  const double far = std::hypot(std::max(std::abs(body.z0_mm), std::abs(body.z1_mm)), body.radius_mm);
  const double moved = 0.5 * (track.p_ST[i + 1] - track.p_ST[i]).norm() +
                       0.5 * far * (track.axis_S[i + 1] - track.axis_S[i]).norm();
  return DistanceToCylinder(body, y.dot(axis), (y - y.dot(axis) * axis).norm()) - moved;
}

// Everything that may lie within reach of the grid's cells.
AlignedBox3d NearGrid(const BinRequest& request) {
  const CellGrid& grid = request.grid;
  AlignedBox3d box(grid.Centre(Vector3i::Zero()), grid.Centre(grid.count - Vector3i::Ones()));
  box.min().array() -= request.reach_mm;
  box.max().array() += request.reach_mm;
  return box;
}

// The stretch of a string that may come into a box: what lies beyond one of its faces
// when the sweep starts and when it ends does so in between.
struct Stretch {
  double first = 0.0, last = 1.0;
  bool empty() const { return first > last; }
  // Leaves what has start0 + s * rise0 <= 0 or start1 + s * rise1 <= 0.
  void Keep(double start0, double rise0, double start1, double rise1) {
    Stretch one = *this, two = *this;
    one.Cut(start0, rise0);
    two.Cut(start1, rise1);
    first = one.empty() ? two.first : (two.empty() ? one.first : std::min(one.first, two.first));
    last = one.empty() ? two.last : (two.empty() ? one.last : std::max(one.last, two.last));
  }

 private:
  void Cut(double start, double rise) {
    if (rise > 0.0) last = std::min(last, -start / rise);
    if (rise < 0.0) first = std::max(first, -start / rise);
    if (rise == 0.0 && start > 0.0) first = 2.0;
  }
};

// Box of what of the sweep may come into another box.
AlignedBox3d BoxWithin(const StringSweep& s, const AlignedBox3d& within) {
  const Vector3d a1 = s.a + s.v, u1 = s.u + s.w;
  Stretch kept;
  for (int d = 0; d < 3; ++d) {
    const double low = within.min()[d] - s.r0, high = within.max()[d] + s.r0;
    kept.Keep(s.a[d] - high, s.u[d] - s.dr, a1[d] - high, u1[d] - s.dr);
    kept.Keep(low - s.a[d], -s.u[d] - s.dr, low - a1[d], -u1[d] - s.dr);
  }
  AlignedBox3d box;
  if (kept.empty()) return box;
  for (const double at : {kept.first, kept.last}) {
    AddBall(s.a + at * s.u, s.r0 + at * s.dr, box);
    AddBall(a1 + at * u1, s.r0 + at * s.dr, box);
  }
  return box;
}

// Calls one or the other for every part of the cutter that may come into the box on a
// sweep, with the part's own box.
template <class OnString, class OnProfile>
void ForPartsWithin(const ToolTrack& track, int sweep, const AlignedBox3d& within, const OnString& on_string,
                    const OnProfile& on_profile) {
  const SweepInfo& info = track.sweeps[static_cast<std::size_t>(sweep)];
  if (info.swap) return;
  const Cutter& cutter = track.tools[static_cast<std::size_t>(info.tool)].cutter;
  for (int n = 0; n < static_cast<int>(cutter.strings().size()); ++n) {
    const StringSweep s = MakeStringSweep(track, sweep, n);
    const AlignedBox3d box = BoxWithin(s, within);
    if (!box.isEmpty()) on_string(s, box);
  }
  for (int n = 0; n < static_cast<int>(cutter.profiles().size()); ++n) {
    const AlignedBox3d box = ProfileBox(track, sweep, cutter.profiles()[static_cast<std::size_t>(n)]);
    if (box.intersects(within)) on_profile(n, box);
  }
}

// Those parts, and their box.
struct CuttingSweep {
  std::vector<StringFloor> strings;
  std::vector<ProfileReach> profiles;
  AlignedBox3d box;
};

void Assign(const ToolTrack& track, int sweep, const AlignedBox3d& within, CuttingSweep& to) {
  to.strings.clear();
  to.profiles.clear();
  to.box.setEmpty();
  const auto add_string = [&](const StringSweep& s, const AlignedBox3d& box) {
    to.strings.emplace_back(s);
    to.box.extend(box);
  };
  const auto add_profile = [&](int n, const AlignedBox3d& box) {
    to.profiles.emplace_back(MakeProfileSweep(track, sweep, n));
    to.box.extend(box);
  };
  ForPartsWithin(track, sweep, within, add_string, add_profile);
}

AlignedBox3d BoxWithin(const ToolTrack& track, int sweep, ToolPart part, const AlignedBox3d& within) {
  if (part == ToolPart::kBodies) return SweepBox(track, sweep, part);
  AlignedBox3d box;
  ForPartsWithin(track, sweep, within, [&](const StringSweep&, const AlignedBox3d& b) { box.extend(b); },
                 [&](int, const AlignedBox3d& b) { box.extend(b); });
  return box;
}

// Whether a sweep comes within reach of a place, and within which distance of it the
// answer is surely the same: a distance changes no faster than the place.
struct Nearness {
  bool near = false;
  double same_mm = 0.0;
};

Nearness NearnessOf(double reach_mm, const CuttingSweep& sweep, const Vector3d& p) {
  constexpr double kRounding_mm = 1e-9;
  double gap = 1e30;
  for (const StringFloor& s : sweep.strings) gap = std::min(gap, s.At(p) - reach_mm);
  if (gap <= 0.0) return {true, -gap - kRounding_mm};
  for (const ProfileReach& s : sweep.profiles) {
    if (s.Comes(reach_mm, p)) return {true, 0.0};
  }
  return {false, sweep.profiles.empty() ? gap - kRounding_mm : 0.0};
}

bool BodiesComeWithin(double reach_mm, const ToolTrack& track, int sweep, const Vector3d& p) {
  const std::size_t tool = static_cast<std::size_t>(track.sweeps[static_cast<std::size_t>(sweep)].tool);
  for (const BodyCylinder& body : track.tools[tool].bodies) {
    if (BodyLowerBound(track, sweep, body, p) <= reach_mm) return true;
  }
  return false;
}

// Cells near each sweep of a run, in time order: those of sweep first + n end at ends[n].
struct SweptCells {
  int first = 0;
  std::vector<std::int32_t> cells;
  std::vector<std::size_t> ends;
};

SweptCells CellsOf(const BinRequest& request, int first, int last) {
  const ToolTrack& track = *request.track;
  SweptCells run;
  run.first = first;
  run.ends.reserve(static_cast<std::size_t>(last - first));
  const AlignedBox3d near_grid = NearGrid(request);
  const bool cuts = request.part == ToolPart::kCutting;
  CuttingSweep cutting;
  const auto add_cells = [&](int i) {
    if (cuts) Assign(track, i, near_grid, cutting);
    const AlignedBox3d box = cuts ? cutting.box : SweepBox(track, i, request.part);
    if (box.isEmpty()) return;
    const CellRange range = RangeOf(request.grid, box, request.reach_mm);
    if (range.empty()) return;
    Vector3i at;
    for (at.z() = range.first.z(); at.z() <= range.last.z(); ++at.z()) {
      for (at.y() = range.first.y(); at.y() <= range.last.y(); ++at.y()) {
        Nearness told;
        int told_at = -1;
        for (at.x() = range.first.x(); at.x() <= range.last.x(); ++at.x()) {
          const std::int64_t cell = request.grid.IndexOf(at);
          if (request.wanted && !(*request.wanted)[static_cast<std::size_t>(cell)]) continue;
          if (told_at < 0 || (at.x() - told_at) * request.grid.pitch_mm > told.same_mm) {
            const Vector3d p = request.grid.Centre(at);
            told = cuts ? NearnessOf(request.reach_mm, cutting, p) : Nearness{BodiesComeWithin(request.reach_mm, track, i, p), 0.0};
            told_at = at.x();
          }
          if (told.near) run.cells.push_back(static_cast<std::int32_t>(cell));
        }
      }
    }
  };
  for (int i = first; i < last; ++i) {
    add_cells(i);
    run.ends.push_back(run.cells.size());
  }
  return run;
}

// Counting sort by cell; runs come in time order, so each cell's list does too.
SweepBins SortByCell(const std::vector<SweptCells>& runs, std::int64_t cells) {
  SweepBins bins;
  bins.begin.assign(static_cast<std::size_t>(cells) + 1, 0);
  for (const auto& run : runs) {
    for (const std::int32_t cell : run.cells) ++bins.begin[static_cast<std::size_t>(cell) + 1];
  }
  for (std::size_t c = 1; c < bins.begin.size(); ++c) bins.begin[c] += bins.begin[c - 1];
  bins.sweeps.resize(static_cast<std::size_t>(bins.begin.back()));
  std::vector<std::int64_t> next(bins.begin.begin(), bins.begin.end() - 1);
  for (const auto& run : runs) {
    std::size_t at = 0;
    for (std::size_t n = 0; n < run.ends.size(); ++n) {
      for (; at < run.ends[n]; ++at) {
        bins.sweeps[static_cast<std::size_t>(next[static_cast<std::size_t>(run.cells[at])]++)] = run.first + static_cast<int>(n);
      }
    }
  }
  return bins;
}

}  // namespace

Vector3i CellGrid::At(std::int64_t index) const {
  const std::int64_t row = index / count.x();
  return {static_cast<int>(index % count.x()), static_cast<int>(row % count.y()),
          static_cast<int>(row / count.y())};
}

double DistanceToCylinder(const BodyCylinder& body, double z_mm, double rho_mm) {
  const double dz = std::max(body.z0_mm - z_mm, z_mm - body.z1_mm), dr = rho_mm - body.radius_mm;
  if (std::max(dz, dr) <= 0.0) return std::max(dz, dr);
  return std::hypot(std::max(dz, 0.0), std::max(dr, 0.0));
}

AlignedBox3d SweepBox(const ToolTrack& track, int sweep, ToolPart part) {
  const std::size_t i = static_cast<std::size_t>(sweep);
  const TrackTool& tool = track.tools[static_cast<std::size_t>(track.sweeps[i].tool)];
  AlignedBox3d box;
  if (track.sweeps[i].swap) return box;
  for (const std::size_t m : {i, i + 1}) {
    if (part == ToolPart::kBodies) {
      for (const BodyCylinder& b : tool.bodies) AddDiscs(track, m, b.z0_mm, b.z1_mm, b.radius_mm, box);
      continue;
    }
    for (const BallString& s : tool.cutter.strings()) {
      AddBall(track.p_ST[m] + s.z0_mm * track.axis_S[m], s.r0_mm, box);
      AddBall(track.p_ST[m] + s.z1_mm * track.axis_S[m], s.r1_mm, box);
    }
    for (const ConvexProfile& p : tool.cutter.profiles()) AddDiscs(track, m, p.z0_mm, p.z1_mm, p.radius_mm, box);
  }
  return box;
}

std::vector<std::uint8_t> CellsNearSweeps(const BinRequest& request) {
  std::vector<std::uint8_t> near(static_cast<std::size_t>(request.grid.size()), 0);
  const AlignedBox3d near_grid = NearGrid(request);
  for (int i = request.first_sweep; i < static_cast<int>(request.track->sweeps.size()); ++i) {
    const AlignedBox3d box = BoxWithin(*request.track, i, request.part, near_grid);
    if (box.isEmpty()) continue;
    const CellRange range = RangeOf(request.grid, box, request.reach_mm);
    if (range.empty()) continue;
    Vector3i at = range.first;
    for (at.z() = range.first.z(); at.z() <= range.last.z(); ++at.z()) {
      for (at.y() = range.first.y(); at.y() <= range.last.y(); ++at.y()) {
        const std::int64_t row = request.grid.IndexOf(at);
        std::fill(near.begin() + row, near.begin() + row + (range.last.x() - range.first.x() + 1), 1);
      }
    }
  }
  return near;
}

SweepBins BinSweeps(const BinRequest& request) {
  const int sweeps = static_cast<int>(request.track->sweeps.size()) - request.first_sweep;
  const int runs = std::max(1, std::min(sweeps, request.threads * 8));
  std::vector<SweptCells> swept(static_cast<std::size_t>(runs));
  tbb::task_arena arena(request.threads);
  arena.execute([&] {
    tbb::parallel_for(0, runs, [&](int run) {
      const auto edge = [&](int r) {
        return request.first_sweep + static_cast<int>(std::int64_t{sweeps} * r / runs);
      };
      swept[static_cast<std::size_t>(run)] = CellsOf(request, edge(run), edge(run + 1));
    });
  });
  return SortByCell(swept, request.grid.size());
}

}  // namespace aircut::sim
