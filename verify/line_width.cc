#include "verify/line_width.h"

#include <algorithm>
#include <vector>

namespace aircut::verify {
namespace {

using Eigen::Vector3d;

constexpr std::size_t kMostPlaces = 200;

// From a sample sideways to where the cut ends at the face.
struct Edge {
  sim::DepthRay from;
  Vector3d across_S;                   // unit
  int line = 0;                        // that cut the sample
  double in_mm = 0.0, out_mm = 0.0;    // cut, and not cut any more
  int line_at_edge = 0;                // that cut farthest out
};

bool OnlyVCuts(const sim::ToolTrack& track) {
  for (const sim::SweepInfo& sweep : track.sweeps) {
    const bool cuts = !sweep.rapid && !sweep.swap;
    if (cuts && track.tools[static_cast<std::size_t>(sweep.tool)].cutter.outline().shape != "v") return false;
  }
  return true;
}

// Both edges of a place, one after the other.
std::vector<Edge> EdgesOf(const CheckInputs& in) {
  const sim::ToolTrack& track = in.run.track;
  std::vector<std::size_t> places;
  for (std::size_t i = 0; i < in.run.samples.size(); ++i) {
    const int sweep = in.run.depths[i].sweep;
    const bool carve = in.run.samples[i].role == sim::DesignSample::Role::kCarve;
    if (carve && sweep >= 0 && sweep < static_cast<int>(track.sweeps.size())) places.push_back(i);
  }
  const std::size_t step = (places.size() + kMostPlaces - 1) / kMostPlaces;
  std::vector<Edge> edges;
  for (std::size_t n = 0; n < places.size(); n += step) {
    const sim::DepthRay& ray = in.run.samples[places[n]].ray;
    const auto sweep = static_cast<std::size_t>(in.run.depths[places[n]].sweep);
    const Vector3d across = (track.p_ST[sweep + 1] - track.p_ST[sweep]).cross(ray.up_S);
    if (across.norm() < 1e-9) continue;   // straight down
    const double reach_mm = track.tools[static_cast<std::size_t>(track.sweeps[sweep].tool)].cutter.radius_mm() + 0.1;
    for (const double side : {1.0, -1.0}) {
      edges.push_back({ray, side * across.normalized(), track.sweeps[sweep].line, 0.0, reach_mm, 0});
    }
  }
  return edges;
}

// Halves the way between what is cut and what is not, of all edges at once.
void Narrow(const CheckInputs& in, std::vector<Edge>& edges) {
  std::vector<sim::DepthRay> rays;
  for (const Edge& e : edges) {
    rays.push_back({e.from.p_SQ + 0.5 * (e.in_mm + e.out_mm) * e.across_S, e.from.up_S});
  }
  constexpr double kSlack_mm = 1.0;   // as the depth's own rays
  const std::vector<sim::RayDepth> depths = sim::CutRays(*in.job.stock_S, in.run.track, rays, kSlack_mm, 1);
  for (std::size_t n = 0; n < edges.size(); ++n) {
    Edge& e = edges[n];
    const double mid_mm = 0.5 * (e.in_mm + e.out_mm);
    const bool cut = depths[n].has_material && depths[n].stock_top_mm - depths[n].top_mm > 1e-6;
    if (!cut) {
      e.out_mm = mid_mm;
      continue;
    }
    e.in_mm = mid_mm;
    e.line_at_edge = in.run.track.sweeps[static_cast<std::size_t>(depths[n].sweep)].line;
  }
}

}  // namespace

std::optional<LineWidths> MeasureLineWidths(const CheckInputs& in) {
  if (!in.job.design.depth_below_stock_mm || !in.job.stock_S || !OnlyVCuts(in.run.track)) return std::nullopt;
  std::vector<Edge> edges = EdgesOf(in);
  constexpr int kHalvings = 15;   // 10 mm to 0.0003 mm
  for (int n = 0; n < kHalvings && !edges.empty(); ++n) Narrow(in, edges);
  LineWidths widths;
  for (std::size_t n = 0; n + 1 < edges.size(); n += 2) {
    const Edge &a = edges[n], &b = edges[n + 1];
    if (a.line_at_edge != a.line || b.line_at_edge != b.line) continue;
    const double width_mm = a.in_mm + b.in_mm;
    widths.least_mm = widths.places == 0 ? width_mm : std::min(widths.least_mm, width_mm);
    widths.largest_mm = std::max(widths.largest_mm, width_mm);
    ++widths.places;
  }
  if (widths.places == 0) return std::nullopt;
  const auto cuts = std::find_if(in.run.track.sweeps.begin(), in.run.track.sweeps.end(),
                                 [](const sim::SweepInfo& s) { return !s.rapid && !s.swap; });
  const auto tool = static_cast<std::size_t>(cuts != in.run.track.sweeps.end() ? cuts->tool : 0);
  widths.expected_mm = 2.0 * in.run.track.tools[tool].cutter.RadiusAt(*in.job.design.depth_below_stock_mm);
  return widths;
}

}  // namespace aircut::verify
