// Walls that stand between two cuts, or between a cut and the edge of the piece.
#include <algorithm>
#include <cmath>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/triangle_samples.h"
#include "verify/fine_measures.h"
#include "verify/patches.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;

// Both faces of a wall lean to each other by at most 70 degrees; what leans more is a ridge
// or a crest. Engineering judgement: a shallow groove of a ball has no wall beside it,
// and what 60 degree V cutters leave between them is a wall.
constexpr double kMostGrowth = 1.4004;     // 2 tan(35 degrees): thickness over depth
constexpr double kLeastOpposed = 0.3420;   // cos(70 degrees)
constexpr std::size_t kMostStations = 20000;

// A side of a cut or of the design, and how thick the material behind it is.
struct Sighting {
  Vector3d p_S = Vector3d::Zero();
  double thickness_mm = 0.0;
  int line = 0;
};

// Joined where they are near each other, each wall told at its thinnest.
std::vector<StandingWall> WallsOf(const std::vector<Sighting>& thin, double limit_mm, double link_mm) {
  std::vector<sim::DesignSample> places(thin.size());
  PatchField field;
  field.samples = &places;
  field.link_mm = link_mm;
  for (std::size_t i = 0; i < thin.size(); ++i) {
    places[i].ray.p_SQ = thin[i].p_S;
    places[i].area_mm2 = 1.0;
    field.depth_mm.push_back(limit_mm - thin[i].thickness_mm);
  }
  std::vector<StandingWall> walls;
  for (const Patch& patch : PatchesBeyond(field, 0.0, 0.0)) {
    const Sighting& at = thin[static_cast<std::size_t>(patch.deepest)];
    walls.push_back({at.thickness_mm, at.p_S, at.line});
  }
  std::stable_sort(walls.begin(), walls.end(),
                   [](const StandingWall& a, const StandingWall& b) { return a.thickness_mm < b.thickness_mm; });
  return walls;
}

// A place of a cut, from which rays go sideways.
struct Station {
  Vector3d tip_S, axis_S, side_S;   // side is unit, out of the cut
  double depth_mm = 0.0;            // of the tip under the face, along the axis
  double radius_mm = 0.0;
  int line = 0;
};

// Depth of a place under the stock's face, along the tool axis; nothing outside the stock.
std::optional<double> DepthUnderFace(const sim::MeshIndex& stock_S, const Vector3d& p_S, const Vector3d& axis_S) {
  constexpr double kFar_mm = 1000.0;
  const auto hits = stock_S.Crossings(p_S, axis_S, 0.0, kFar_mm);
  if (hits.empty() || hits.front().entering) return std::nullopt;
  return hits.front().t_mm;
}

// Two stations a place, one a side, evenly along the cuts.
std::vector<Station> StationsOf(const CheckInputs& in, double spacing_mm) {
  const sim::ToolTrack& track = in.run.track;
  double all_mm = 0.0;
  for (std::size_t i = 0; i < track.sweeps.size(); ++i) {
    if (!track.sweeps[i].rapid && !track.sweeps[i].swap) all_mm += (track.p_ST[i + 1] - track.p_ST[i]).norm();
  }
  const double every_mm = std::max(spacing_mm, 2.0 * all_mm / static_cast<double>(kMostStations));
  std::vector<Station> stations;
  double since_mm = every_mm;
  for (std::size_t i = 0; i < track.sweeps.size(); ++i) {
    const Vector3d travel = track.p_ST[i + 1] - track.p_ST[i];
    const Vector3d across = travel.cross(track.axis_S[i]);
    if (track.sweeps[i].rapid || track.sweeps[i].swap || across.norm() < 0.1 * travel.norm() || travel.norm() < 1e-9) continue;
    since_mm += travel.norm();
    for (double back_mm = since_mm - every_mm; back_mm >= 0.0; back_mm -= every_mm, since_mm -= every_mm) {
      const double part = std::clamp(1.0 - back_mm / travel.norm(), 0.0, 1.0);
      Station station{track.p_ST[i] + part * travel, track.axis_S[i], across.normalized()};
      const auto depth = DepthUnderFace(*in.job.stock_S, station.tip_S, station.axis_S);
      if (!depth) continue;
      station.depth_mm = *depth;
      station.radius_mm = track.tools[static_cast<std::size_t>(track.sweeps[i].tool)].cutter.radius_mm();
      station.line = track.sweeps[i].line;
      stations.push_back(station);
      station.side_S = -station.side_S;
      stations.push_back(station);
    }
  }
  return stations;
}

// Thickness of the material that a ray meets first; nothing where there is none within its
// length, or where it goes on beyond it.
std::optional<double> ThicknessOn(const sim::RayDepth& depth, double length_mm) {
  if (!depth.has_material || !depth.touched || depth.cut_through) return std::nullopt;
  const double far_mm = depth.hollow ? depth.hollow->top_mm : depth.bottom_mm;
  if (!depth.hollow && far_mm <= -length_mm) return std::nullopt;
  return depth.top_mm - far_mm;
}

// Heights at which a wall is looked at, in parts of the cut's depth, each with a second ray a
// bit lower that tells how its faces lean.
constexpr std::array<double, 3> kHeights = {0.1, 0.5, 0.98};
constexpr double kLower = 0.05;

std::vector<Sighting> ThinInCut(const CheckInputs& in, const std::vector<Station>& stations, double limit_mm) {
  std::vector<sim::DepthRay> rays;
  double length_mm = 0.0;
  for (const Station& s : stations) {
    length_mm = std::max(length_mm, s.radius_mm + limit_mm + 0.01);
    for (const double height : kHeights) {
      for (const double part : {height, height - kLower}) rays.push_back({s.tip_S + part * s.depth_mm * s.axis_S, -s.side_S});
    }
  }
  const std::vector<sim::RayDepth> depths = sim::CutRaysFrom(*in.job.stock_S, in.run.track, rays, length_mm, in.threads);
  std::vector<Sighting> thin;
  for (std::size_t n = 0; n + 1 < rays.size(); n += 2) {
    const Station& s = stations[n / (2 * kHeights.size())];
    const auto thickness = ThicknessOn(depths[n], length_mm), lower = ThicknessOn(depths[n + 1], length_mm);
    if (!thickness || *thickness + 2.0 * sim::kRayBound_mm >= limit_mm) continue;
    // Where a bit lower it goes on beyond the ray, it grows faster than a wall.
    if (!lower || *lower - *thickness > kMostGrowth * kLower * s.depth_mm) continue;
    thin.push_back({rays[n].p_SQ + depths[n].top_mm * rays[n].up_S, *thickness, s.line});
  }
  return thin;
}

// Thickness of the design behind a place of its surface, where what lies behind is nearly
// parallel.
std::optional<double> ThicknessOfDesign(const sim::MeshIndex& design_S, const Vector3d& p_S, double within_mm) {
  const Vector3d normal = sim::TriangleNormal(design_S.mesh(), design_S.ClosestPoint(p_S).triangle);
  constexpr double kSkin_mm = 1e-6;
  const auto hits = design_S.Crossings(p_S, -normal, kSkin_mm, within_mm);
  if (hits.empty() || hits.front().entering) return std::nullopt;
  const Vector3d far_S = p_S - hits.front().t_mm * normal;
  const Vector3d other = sim::TriangleNormal(design_S.mesh(), design_S.ClosestPoint(far_S).triangle);
  return -normal.dot(other) >= kLeastOpposed ? std::optional<double>(hits.front().t_mm) : std::nullopt;
}

std::vector<Sighting> ThinInDesign(const CheckInputs& in, double limit_mm) {
  std::vector<std::optional<double>> thickness(in.run.samples.size());
  tbb::task_arena arena(in.threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, thickness.size(), [&](std::size_t i) {
      if (in.run.samples[i].role != sim::DesignSample::Role::kCarve) return;
      thickness[i] = ThicknessOfDesign(*in.job.design.mesh_S, in.run.samples[i].ray.p_SQ, limit_mm);
    });
  });
  std::vector<Sighting> thin;
  for (std::size_t i = 0; i < thickness.size(); ++i) {
    if (thickness[i] && *thickness[i] < limit_mm) thin.push_back({in.run.samples[i].ray.p_SQ, *thickness[i], 0});
  }
  return thin;
}

}  // namespace

std::optional<StandingWalls> FindStandingWalls(const CheckInputs& in) {
  const sim::Limit& limit = in.job.accept.standing_wall_mm;
  if (!limit.given || in.job.stock_S == nullptr) return std::nullopt;
  StandingWalls walls;
  walls.limit_mm = limit.value;
  const double spacing_mm = in.run.sample_spacing_mm > 0.0 ? in.run.sample_spacing_mm : LinkOf(in.run.samples);
  const std::vector<Station> stations = StationsOf(in, spacing_mm);
  walls.places = static_cast<int>(stations.size());
  // Both sides of a wall, and neighbours along it, belong to one.
  const double link_mm = kLink * spacing_mm + limit.value;
  walls.in_cut = WallsOf(ThinInCut(in, stations, limit.value), limit.value, link_mm);
  if (in.job.design.mesh_S != nullptr) {
    walls.places += static_cast<int>(in.run.samples.size());
    walls.in_design = WallsOf(ThinInDesign(in, limit.value), limit.value, link_mm);
  }
  return walls;
}

}  // namespace aircut::verify
