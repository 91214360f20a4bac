#include "verify/other_cutters.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

namespace aircut::verify {
namespace {

// Index of the one tool of the track that cuts; nothing where there are several or none.
std::optional<std::size_t> OnlyTool(const sim::ToolTrack& track) {
  std::set<int> tools;
  for (const sim::SweepInfo& sweep : track.sweeps) {
    if (!sweep.rapid && !sweep.swap) tools.insert(sweep.tool);
  }
  if (tools.size() != 1) return std::nullopt;
  return static_cast<std::size_t>(*tools.begin());
}

std::vector<double> LeftBy(const sim::Job& job, const sim::ToolTrack& track, const CauseField& field) {
  std::vector<sim::DepthRay> rays;
  for (const FieldPlace& place : field.places) rays.push_back({place.p_S, place.up_S});
  constexpr double kSlack_mm = 1.0;   // as the depth's own rays
  std::vector<double> left_mm;
  for (const sim::RayDepth& depth : sim::CutRays(*job.stock_S, track, rays, kSlack_mm, 1)) {
    left_mm.push_back(depth.has_material && !depth.cut_through ? depth.top_mm : std::numeric_limits<double>::quiet_NaN());
  }
  return left_mm;
}

}  // namespace

std::vector<OtherCutter> TryOtherCutters(const sim::Job& job, const sim::Run& run, const CauseField& field) {
  const auto tool = OnlyTool(run.track);
  if (!tool || job.stock_S == nullptr || field.places.empty()) return {};
  std::vector<OtherCutter> others;
  for (const auto& [number, cutter] : job.cell.cutters) {
    if (number == run.track.tools[*tool].number || others.size() == kMostCutters) continue;
    sim::ToolTrack track = run.track;
    track.tools[*tool].cutter = cutter.cutter;
    others.push_back({number, LeftBy(job, track, field)});
  }
  return others;
}

}  // namespace aircut::verify
