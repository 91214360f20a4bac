#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// Without a stated wall the material that stays must be three times as thick as
// the cut is deep there. Source: domain notes A20.
constexpr double kDepthsLeft = 3.0;

// Both ends of what is left come from rays.
constexpr double kBound_mm = 2.0 * sim::kRayBound_mm;

struct Wall {
  double left_mm = 0.0, limit_mm = 0.0;
  double room_mm = std::numeric_limits<double>::infinity();
  int sample = -1;
};

// Material that stays under the cut at a sample, down to the back or to a hollow. The back of a one-sided scan is
// where the stated thickness puts it, or the mesh if that is nearer.
double LeftAt(const CheckInputs& in, const sim::RayDepth& depth) {
  const double under_mm = depth.hollow ? std::max(depth.bottom_mm, depth.hollow->top_mm) : depth.bottom_mm;
  const double mesh_mm = depth.cut_through ? 0.0 : depth.top_mm - under_mm;
  const sim::StockScan& scan = in.job.scan;
  if (!scan.one_sided || !scan.thickness_mm) return mesh_mm;
  return std::min(mesh_mm, *scan.thickness_mm - (depth.stock_top_mm - depth.top_mm));
}

double LimitAt(const CheckInputs& in, const sim::RayDepth& depth) {
  const sim::Limit& wall = in.job.accept.wall_mm;
  if (wall.given) return wall.value;
  const double cut_mm = depth.cut_through ? depth.stock_top_mm - depth.bottom_mm : depth.stock_top_mm - depth.top_mm;
  return kDepthsLeft * cut_mm;
}

Wall ThinnestWall(const CheckInputs& in) {
  Wall thinnest;
  for (std::size_t i = 0; i < in.run.depths.size(); ++i) {
    const sim::RayDepth& depth = in.run.depths[i];
    if (!depth.has_material || !depth.touched) continue;
    const double left_mm = LeftAt(in, depth), limit_mm = LimitAt(in, depth);
    const double room_mm = left_mm - limit_mm;
    if (room_mm >= thinnest.room_mm) continue;
    thinnest = {left_mm, limit_mm, room_mm, static_cast<int>(i)};
    if (std::isnan(room_mm)) return thinnest;   // not known: that decides
  }
  return thinnest;
}

Finding FindingAt(const CheckInputs& in, const Wall& wall, const std::string& text) {
  const auto sample = static_cast<std::size_t>(wall.sample);
  const int sweep = in.run.depths[sample].sweep;
  Finding f;
  f.text = text;
  f.at_S = in.run.samples[sample].ray.p_SQ;
  f.value = wall.left_mm;
  f.limit = wall.limit_mm;
  f.unit = "mm";
  f.cause = "the piece is too thin here for this depth, or stock and design are apart in height";
  if (sweep >= 0) {
    f.line = in.run.track.sweeps[static_cast<std::size_t>(sweep)].line;
    f.time_s = TimeOfSweep(in.run, static_cast<std::size_t>(sweep));
  }
  return f;
}

std::string WallText(const CheckInputs& in, const Wall& wall) {
  const auto sample = static_cast<std::size_t>(wall.sample);
  const std::string place = Place(in.run.samples[sample].ray.p_SQ);
  if (in.run.depths[sample].cut_through) return fmt::format("The piece would be cut through at {}.", place);
  return fmt::format("{} of material stay under the cut at {} ({} {}).", Millimetres(wall.left_mm), place,
                     in.job.accept.wall_mm.given ? "limit" : "default limit, three times the depth there,",
                     Millimetres(wall.limit_mm));
}

}  // namespace

CheckResult CheckBreakThrough(const CheckInputs& in) {
  if (in.job.scan.one_sided && !in.job.scan.thickness_mm && !in.job.scan.backing_S) {
    return Unproven("The back of a one-sided scan is not known.",
                    {"`stock.scan.thickness`, measured with a caliper where the cut is deepest, or "
                     "`stock.scan.backing_plane`"});
  }
  const Wall wall = ThinnestWall(in);
  if (wall.sample < 0) {
    return Unproven("No cut was measured, so nothing is known of what stays under it.", {"a path that cuts the design"});
  }
  CheckResult r = Measured({wall.left_mm, kBound_mm, wall.limit_mm, Sense::kAtLeast, "mm"});
  r.assumed = !in.job.accept.wall_mm.given;
  r.why = WallText(in, wall);
  r.where = Place(in.run.samples[static_cast<std::size_t>(wall.sample)].ray.p_SQ);
  if (r.result == Result::kFail) r.findings = {FindingAt(in, wall, r.why)};
  if (r.result == Result::kUnproven) r.needs = {"`accept.wall_mm`: the wall that you accept"};
  return NeedsFollowing(r, in.run);
}

}  // namespace aircut::verify
