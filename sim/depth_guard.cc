#include "sim/depth_guard.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <memory>

#include "sim/swept_cut.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

enum class Met { kTouched, kUntouched };

// Samples in material that the rays say some sweep touched, or none.
std::vector<int> SamplesThatAre(Met met, const DepthInputs& in) {
  std::vector<int> found;
  for (std::size_t i = 0; i < in.samples.size(); ++i) {
    const bool touched = in.depths[i].touched;
    if (in.depths[i].has_material && touched == (met == Met::kTouched)) found.push_back(static_cast<int>(i));
  }
  return found;
}

double GridGap(const DepthInputs& in, int sample) {
  const double gap = std::abs(static_cast<double>(in.grid_gaps[static_cast<std::size_t>(sample)].gap_mm));
  return std::isnan(gap) ? 0.0 : gap;
}

void AddEvenly(const std::vector<int>& from, std::size_t count, std::vector<int>& to) {
  count = std::min(count, from.size());
  for (std::size_t n = 0; n < count; ++n) to.push_back(from[n * from.size() / count]);
}

// A sweep that the rays lost shows on samples that they call untouched: some of them, too.
std::vector<int> Chosen(const DepthInputs& in, int most) {
  const std::vector<int> touched = SamplesThatAre(Met::kTouched, in);
  const auto wanted = static_cast<std::size_t>(most);
  std::vector<int> chosen;
  AddEvenly(touched, wanted - 3 * wanted / 10, chosen);
  std::vector<int> rest;
  std::set_difference(touched.begin(), touched.end(), chosen.begin(), chosen.end(), std::back_inserter(rest));
  const auto end = rest.begin() + static_cast<std::ptrdiff_t>(std::min(wanted / 5, rest.size()));
  std::partial_sort(rest.begin(), end, rest.end(), [&](int a, int b) {
    const double gap_a = GridGap(in, a), gap_b = GridGap(in, b);
    return gap_a != gap_b ? gap_a > gap_b : a < b;
  });
  chosen.insert(chosen.end(), rest.begin(), end);
  AddEvenly(SamplesThatAre(Met::kUntouched, in), wanted - 9 * wanted / 10, chosen);
  std::sort(chosen.begin(), chosen.end());
  return chosen;
}

// One run of sweeps that goes on without turning back, about sweep `s`.
struct Pass {
  int first = 0, last = 0;
};

constexpr double kPassReach_mm = 8.0;
constexpr double kStraight = 0.7;     // cosine between the directions of a pass

Pass PassAbout(const ToolTrack& track, int s) {
  const auto travel = [&](int i) -> Vector3d {
    return track.p_ST[static_cast<std::size_t>(i) + 1] - track.p_ST[static_cast<std::size_t>(i)];
  };
  const Vector3d along = travel(s).normalized(), at = track.p_ST[static_cast<std::size_t>(s)];
  const auto goes_on = [&](int i) {
    if (i < 0 || i >= static_cast<int>(track.sweeps.size()) || track.sweeps[static_cast<std::size_t>(i)].swap) return false;
    const Vector3d way = travel(i);
    return way.dot(along) >= kStraight * way.norm() &&
           (track.p_ST[static_cast<std::size_t>(i)] - at).norm() < kPassReach_mm;
  };
  Pass pass{s, s};
  while (goes_on(pass.first - 1)) --pass.first;
  while (goes_on(pass.last + 1)) ++pass.last;
  return pass;
}

ToolTrack OnlyPass(const ToolTrack& track, const Pass& pass) {
  const auto first = static_cast<std::ptrdiff_t>(pass.first), end = static_cast<std::ptrdiff_t>(pass.last) + 1;
  ToolTrack only;
  only.tools = track.tools;
  for (TrackTool& tool : only.tools) tool.bodies.clear();
  only.time_s.assign(track.time_s.begin() + first, track.time_s.begin() + end + 1);
  only.p_ST.assign(track.p_ST.begin() + first, track.p_ST.begin() + end + 1);
  only.axis_S.assign(track.axis_S.begin() + first, track.axis_S.begin() + end + 1);
  only.sweeps.assign(track.sweeps.begin() + first, track.sweeps.begin() + end);
  return only;
}

// Rays along the tool axis from both sides of the pass, through the middle of the block.
std::vector<DepthRay> BesideThePass(const Vector3d& tip, const Vector3d& along, const Vector3d& axis, double radius_mm) {
  const Vector3d side = axis.cross(along).normalized();
  std::vector<DepthRay> rays;
  for (int i = -8; i <= 8; ++i) {
    for (int j = 0; j <= 8; ++j) {
      const double off = radius_mm * (0.3 + 0.4 * j / 8.0), ahead = 0.05 * radius_mm * i;
      for (const double way : {-1.0, 1.0}) rays.push_back({tip + ahead * along + way * off * side, axis});
    }
  }
  return rays;
}

// Grid against rays on a block that one pass cuts.
struct GapOfGrid {
  double rms_mm = 0.0;
  int samples = 0;
};

GapOfGrid GapWith(double voxel_mm, int threads, const std::shared_ptr<const MeshIndex>& block, const ToolTrack& pass,
                  const std::vector<DepthRay>& rays) {
  CutOptions options;
  options.voxel_mm = voxel_mm;
  options.threads = threads;
  const GridCut cut = CutGrid(block, pass, options);
  const std::vector<RayDepth> exact = CutRays(*block, pass, rays, 0.0, threads);
  GapOfGrid gap;
  for (std::size_t i = 0; i < rays.size(); ++i) {
    if (!exact[i].touched || exact[i].cut_through) continue;
    const double d = cut.stock.DistanceAt(rays[i].p_SQ + exact[i].top_mm * rays[i].up_S);
    gap.rms_mm += d * d;
    ++gap.samples;
  }
  if (gap.samples > 0) gap.rms_mm = std::sqrt(gap.rms_mm / gap.samples);
  return gap;
}

}  // namespace

DepthGuard GuardDepth(const DepthInputs& in, int most, int threads) {
  DepthGuard guard;
  guard.samples = Chosen(in, most);
  std::vector<DepthRay> rays;
  std::vector<RayDepth> starts;
  for (const int i : guard.samples) {
    rays.push_back(in.samples[static_cast<std::size_t>(i)].ray);
    starts.push_back(in.depths[static_cast<std::size_t>(i)]);
  }
  const std::vector<DenseDepth> dense = DepthByDensePoses(in.track, in.outlines, rays, starts, threads);
  for (std::size_t n = 0; n < dense.size(); ++n) {
    // The true top lies in [top - bound, top]; rays outside of it are off by as much.
    const double off_mm = starts[n].top_mm - dense[n].top_mm;
    const double gap_mm = std::max({0.0, off_mm, -off_mm - dense[n].bound_mm});
    if (gap_mm > guard.worst_gap_mm || guard.worst_sample < 0) {
      guard.worst_gap_mm = gap_mm;
      guard.worst_sample = guard.samples[n];
    }
    if (!(gap_mm <= kRayBound_mm)) guard.beyond.push_back(guard.samples[n]);
  }
  return guard;
}

std::optional<double> Convergence::order() const {
  constexpr double kRounding_voxel = 1e-4;   // a grid holds its distances to about this
  if (!(coarse_rms_mm > kRounding_voxel * voxel_mm) || !(fine_rms_mm > 0.0)) return std::nullopt;
  return std::log2(coarse_rms_mm / fine_rms_mm);
}

std::optional<Convergence> FindConvergence(const DepthInputs& in, double voxel_mm, int threads) {
  const std::vector<int> touched = SamplesThatAre(Met::kTouched, in);
  if (touched.empty()) return std::nullopt;
  const int s = in.depths[static_cast<std::size_t>(touched[touched.size() / 2])].sweep;
  if (s < 0) return std::nullopt;
  const auto at = static_cast<std::size_t>(s);
  const Vector3d travel = in.track.p_ST[at + 1] - in.track.p_ST[at], axis = in.track.axis_S[at];
  const double radius_mm = in.track.tools[static_cast<std::size_t>(in.track.sweeps[at].tool)].cutter.radius_mm();
  if (!(axis.cross(travel).norm() > 0.5 * travel.norm())) return std::nullopt;   // a plunge leaves no groove
  const Vector3d tip = in.track.p_ST[at] + 0.5 * travel;
  const Vector3d middle = tip + 0.6 * radius_mm * axis, half = Vector3d::Constant(1.3 * radius_mm + 2.0 * voxel_mm);
  const auto block = std::make_shared<const MeshIndex>(BoxMesh(middle - half, middle + half));
  const ToolTrack pass = OnlyPass(in.track, PassAbout(in.track, s));
  const std::vector<DepthRay> rays = BesideThePass(tip, travel.normalized(), axis, radius_mm);
  const GapOfGrid coarse = GapWith(voxel_mm, threads, block, pass, rays);
  const GapOfGrid fine = GapWith(0.5 * voxel_mm, threads, block, pass, rays);
  if (coarse.samples == 0 || fine.samples == 0) return std::nullopt;
  Convergence c;
  c.sweep = s;
  c.at_S = tip;
  c.voxel_mm = voxel_mm;
  c.samples = coarse.samples;
  c.coarse_rms_mm = coarse.rms_mm;
  c.fine_rms_mm = fine.rms_mm;
  return c;
}

}  // namespace aircut::sim
