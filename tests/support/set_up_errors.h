#pragma once

#include <cmath>
#include <memory>
#include <vector>

#include "sim/design_samples.h"
#include "sim/dry_run.h"
#include "tests/sim/sample_meshes.h"
#include "verify/cause_field.h"

namespace aircut::support {

/// A job without files: its stock, the path that cuts the design exactly (but for
/// ridges), and samples of the design.
struct CarvingScene {
  std::shared_ptr<const sim::MeshIndex> stock_S;
  sim::ToolTrack track;
  std::vector<sim::DesignSample> samples;
  double spacing_mm = 0.0;
};

inline constexpr double kRoseSide_mm = 60.0;

/// Face of a board curved about y, 60 mm square.
inline double BoardTop(double x) { return 30.0 - 0.004 * (x - 30.0) * (x - 30.0); }
inline double BoardSlope(double x) { return -0.008 * (x - 30.0); }

/// A compass rose of eight points as a smooth relief, 1.5 to 4.5 mm deep, two points longer.
inline double RoseDepth(double x, double y) {
  const double u = x - 30.0, v = y - 30.0, r = std::hypot(u, v), angle = std::atan2(v, u);
  const double star = std::cos(8.0 * angle) + 0.6 * std::cos(2.0 * angle) + 0.5 * std::sin(angle);
  return 3.0 + 0.6 * star * std::pow(r / 20.0, 3) * std::exp(1.0 - std::pow(r / 20.0, 3)) + std::cos(r / 4.0);
}

/// The rose cut by a ball of radius 3 mm whose axis follows the face, in rows 0.6 mm apart.
inline CarvingScene RoseScene() {
  using Eigen::Vector3d;
  constexpr double kRadius_mm = 3.0;
  CarvingScene scene;
  scene.stock_S = std::make_shared<const sim::MeshIndex>(
      sim::BoardMesh(kRoseSide_mm, 0.0, 60, [](double x, double) { return BoardTop(x); }));
  const auto surface = [](double x, double y) { return Vector3d(x, y, BoardTop(x) - RoseDepth(x, y)); };
  const auto normal = [&](double x, double y) {
    const double h = 1e-4;
    return (surface(x + h, y) - surface(x - h, y)).cross(surface(x, y + h) - surface(x, y - h)).normalized();
  };
  const auto up = [](double x) { return Vector3d(-BoardSlope(x), 0.0, 1.0).normalized(); };
  scene.track.tools.push_back({1, sim::Cutter::Ball(2.0 * kRadius_mm, 40.0), {}});
  for (int row = 0; row <= 70; ++row) {
    const double y = 9.0 + 0.6 * row;
    for (int n = 0; n <= 47; ++n) {
      const double x = 9.0 + 0.9 * (row % 2 == 0 ? n : 47 - n);
      scene.track.p_ST.push_back(surface(x, y) + kRadius_mm * (normal(x, y) - up(x)));
      scene.track.axis_S.push_back(up(x));
    }
  }
  scene.spacing_mm = 0.8;
  for (double x = 12.0; x < 48.0; x += scene.spacing_mm) {
    for (double y = 12.0; y < 48.0; y += scene.spacing_mm) {
      sim::DesignSample s;
      s.ray = {surface(x, y), up(x)};
      s.area_mm2 = scene.spacing_mm * scene.spacing_mm;
      scene.samples.push_back(s);
    }
  }
  return scene;
}

/// Strokes of the letters N and E cut by a 90 degree V, 3 mm deep, in a flat board whose
/// face is z = 0: the design is the two flanks of each stroke.
inline CarvingScene LetterScene() {
  using Eigen::Vector3d;
  CarvingScene scene;
  scene.stock_S = std::make_shared<const sim::MeshIndex>(sim::BoxMesh({-10, -10, -20}, {90, 60, 0}));
  scene.track.tools.push_back({1, sim::Cutter::V(1.5707963267948966, 0.0, 16.0, 20.0), {}});
  scene.spacing_mm = 0.4;
  constexpr double kDepth_mm = 3.0;
  const double strokes[][4] = {{5, 5, 5, 45}, {14, 45, 31, 5}, {40, 5, 40, 45}, {52, 5, 52, 45},
                               {60, 45, 75, 45}, {60, 25, 71, 25}, {60, 5, 75, 5}};
  for (const auto& s : strokes) {
    const Vector3d a(s[0], s[1], -kDepth_mm), b(s[2], s[3], -kDepth_mm), lift(0, 0, 10.0);
    for (const Vector3d& tip : {Vector3d(a + lift), a, b, Vector3d(b + lift)}) {
      scene.track.p_ST.push_back(tip);
      scene.track.axis_S.push_back(Vector3d::UnitZ());
    }
    const Vector3d along = (b - a).normalized(), across = along.cross(Vector3d::UnitZ());
    for (double t = 0.2; t < (b - a).norm(); t += scene.spacing_mm) {
      for (double side = 0.2 - kDepth_mm; side < kDepth_mm; side += scene.spacing_mm) {
        sim::DesignSample sample;
        sample.ray = {a + t * along + side * across + std::abs(side) * Vector3d::UnitZ(), Vector3d::UnitZ()};
        sample.area_mm2 = scene.spacing_mm * scene.spacing_mm;
        scene.samples.push_back(sample);
      }
    }
  }
  return scene;
}

/// The path as a cause of the given size would have the arm run it.
inline void Apply(verify::CauseKind kind, double size, const Eigen::Vector3d& middle_S, sim::ToolTrack* track) {
  using Eigen::Vector3d;
  using verify::CauseKind;
  const auto turn = [&](const Vector3d& axis) {
    const Eigen::AngleAxisd r(size, axis);
    for (std::size_t i = 0; i < track->p_ST.size(); ++i) {
      track->p_ST[i] = middle_S + r * (track->p_ST[i] - middle_S);
      track->axis_S[i] = r * track->axis_S[i];
    }
  };
  if (kind == CauseKind::kTurnX) turn(Vector3d::UnitX());
  if (kind == CauseKind::kTurnY) turn(Vector3d::UnitY());
  if (kind == CauseKind::kTurnZ) turn(Vector3d::UnitZ());
  sim::Cutter& cutter = track->tools[0].cutter;
  if (kind == CauseKind::kToolRadius) cutter = sim::Cutter::Ball(2.0 * (cutter.radius_mm() + size), 40.0);
  if (kind == CauseKind::kVAngle) cutter = sim::Cutter::V(1.5707963267948966 + 2.0 * size, 0.0, 16.0, 20.0);
  for (std::size_t i = 0; i < track->p_ST.size(); ++i) {
    Vector3d& p = track->p_ST[i];
    if (kind == CauseKind::kFrameX) p.x() += size;
    if (kind == CauseKind::kFrameY) p.y() += size;
    if (kind == CauseKind::kFrameZ) p.z() += size;
    if (kind == CauseKind::kToolLength || kind == CauseKind::kDepth) p -= size * track->axis_S[i];
    if (kind == CauseKind::kScale) p *= 1.0 + size;
  }
}

/// What the exact rays make of a scene's samples after a track.
inline sim::Run CutOf(const CarvingScene& scene, const sim::ToolTrack& track) {
  sim::Run run;
  run.track = track;
  run.samples = scene.samples;
  run.sample_spacing_mm = scene.spacing_mm;
  for (std::size_t i = 0; i < run.track.p_ST.size(); ++i) run.track.time_s.push_back(static_cast<double>(i));
  run.track.sweeps.resize(run.track.p_ST.size() - 1);
  for (std::size_t i = 0; i < run.track.sweeps.size(); ++i) run.track.sweeps[i].line = static_cast<int>(i) + 2;
  std::vector<sim::DepthRay> rays;
  for (const sim::DesignSample& s : run.samples) rays.push_back(s.ray);
  run.depths = sim::CutRays(*scene.stock_S, run.track, rays, 0.01, 2);
  return run;
}

}  // namespace aircut::support
