#include "verify/scan_comparison.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>

#include "verify/percentile.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;

constexpr float kNone = std::numeric_limits<float>::quiet_NaN();
// Farther than this nothing of the scan is taken for the carving's own.
constexpr double kLeastReach_mm = 10.0, kReachShare = 0.02;
// Near the rim of a hole of the scan the way to it leaves the normal.
constexpr double kAside_share = 0.5, kAside_mm = 0.05;
constexpr double kNoise_sigmas = 5.0, kSurface_voxels = 0.25;

struct VertexFrame {
  Vector3d normal = Vector3d::Zero();
  double area_mm2 = 0.0;
};

std::vector<VertexFrame> FramesOf(const sim::Mesh& mesh) {
  std::vector<VertexFrame> frames(mesh.vertices.size());
  for (const auto& t : mesh.triangles) {
    const auto vertex = [&](std::size_t k) -> const Vector3d& { return mesh.vertices[static_cast<std::size_t>(t[k])]; };
    const Vector3d n = (vertex(1) - vertex(0)).cross(vertex(2) - vertex(0));
    for (const std::int32_t v : t) {
      frames[static_cast<std::size_t>(v)].normal += n;
      frames[static_cast<std::size_t>(v)].area_mm2 += n.norm() / 6.0;
    }
  }
  for (VertexFrame& frame : frames) frame.normal.normalize();
  return frames;
}

std::vector<char> CutTriangles(const PredictedSurface& predicted) {
  std::vector<char> cut;
  for (const auto& t : predicted.mesh_S.triangles) {
    cut.push_back(std::any_of(t.begin(), t.end(), [&](std::int32_t v) {
      return !std::isnan(predicted.line[static_cast<std::size_t>(v)]);
    }) ? 1 : 0);
  }
  return cut;
}

Vector3d NormalOf(const sim::Mesh& mesh, int triangle) {
  const auto& t = mesh.triangles[static_cast<std::size_t>(triangle)];
  const auto vertex = [&](std::size_t k) -> const Vector3d& { return mesh.vertices[static_cast<std::size_t>(t[k])]; };
  return (vertex(1) - vertex(0)).cross(vertex(2) - vertex(0)).normalized();
}

double ReachOf(const sim::Mesh& mesh) {
  Eigen::AlignedBox3d box;
  for (const Vector3d& p : mesh.vertices) box.extend(p);
  return std::max(kLeastReach_mm, kReachShare * box.diagonal().norm());
}

// How far a way goes along a normal; nothing where it goes aside: at a rim, across a hole.
float Along(const Vector3d& way, const Vector3d& normal) {
  const double along = normal.dot(way);
  const bool aside = (way - along * normal).norm() > kAside_share * way.norm() + kAside_mm;
  return aside ? kNone : static_cast<float>(along);
}

// Signed way from the predicted surface to the measured one, for every carved vertex.
std::vector<float> Differences(const PredictedSurface& predicted, const std::vector<VertexFrame>& frames,
                               const sim::MeshIndex& scan_S) {
  const double reach = ReachOf(predicted.mesh_S);
  std::vector<float> difference(frames.size(), kNone);
  for (std::size_t i = 0; i < frames.size(); ++i) {
    if (!std::isfinite(predicted.deviation_mm[i]) || !(frames[i].area_mm2 > 0)) continue;
    const Vector3d& p = predicted.mesh_S.vertices[i];
    const sim::MeshIndex::Closest nearest = scan_S.ClosestPoint(p, reach);
    if (nearest.triangle < 0) continue;
    if (!(frames[i].normal.dot(NormalOf(scan_S.mesh(), nearest.triangle)) > 0)) continue;   // the scan's other side
    difference[i] = Along(nearest.point - p, frames[i].normal);
  }
  return difference;
}

// A surface with what differs on it, per vertex.
struct Field {
  const sim::Mesh& mesh_S;
  const std::vector<VertexFrame>& frames;
  const std::vector<float>&difference_mm, &line;
  double bound_mm;
};

// Vertices joined by edges whose two ends lie beyond the bound on the same side.
class Regions {
 public:
  Regions(const Field& field, ScanRegion::Place place) : field_(field), place_(place), parent_(field.frames.size()) {
    std::iota(parent_.begin(), parent_.end(), 0);
    for (const auto& t : field.mesh_S.triangles) {
      for (std::size_t k = 0; k < 3; ++k) {
        const auto a = static_cast<std::size_t>(t[k]), b = static_cast<std::size_t>(t[(k + 1) % 3]);
        if (SideOf(a) != 0 && SideOf(a) == SideOf(b)) parent_[Root(b)] = Root(a);
      }
    }
  }

  void Append(double region_mm2, std::vector<ScanRegion>* regions) {
    std::vector<ScanRegion> all(parent_.size());
    for (std::size_t i = 0; i < parent_.size(); ++i) {
      if (SideOf(i) != 0) Add(i, &all[Root(i)]);
    }
    const auto first = static_cast<std::ptrdiff_t>(regions->size());
    for (const ScanRegion& region : all) {
      if (region.area_mm2 > 0 && region.area_mm2 >= region_mm2) regions->push_back(region);
    }
    std::stable_sort(regions->begin() + first, regions->end(),
                     [](const ScanRegion& a, const ScanRegion& b) { return a.area_mm2 > b.area_mm2; });
  }

 private:
  int SideOf(std::size_t i) const {
    const double d = field_.difference_mm[i];
    return d > field_.bound_mm ? 1 : (d < -field_.bound_mm ? -1 : 0);
  }
  std::size_t Root(std::size_t i) {
    while (parent_[i] != i) i = parent_[i] = parent_[parent_[i]];
    return i;
  }
  void Add(std::size_t i, ScanRegion* region) const {
    const double d = field_.difference_mm[i];
    region->place = place_;
    region->kind = d < 0 ? ScanRegion::Kind::kDeeper : ScanRegion::Kind::kHigher;
    region->area_mm2 += field_.frames[i].area_mm2;
    if (std::abs(d) > region->worst_mm) {
      region->worst_mm = std::abs(d);
      region->at_S = field_.mesh_S.vertices[i];
    }
    if (std::isnan(field_.line[i])) return;
    const int line = static_cast<int>(field_.line[i]);
    region->first_line = region->first_line == 0 ? line : std::min(region->first_line, line);
    region->last_line = std::max(region->last_line, line);
  }

  const Field field_;
  const ScanRegion::Place place_;
  std::vector<std::size_t> parent_;
};

// What the scan shows beside the carving, where the predicted surface has large triangles:
// told at the scan's own vertices.
void AppendBeside(const PredictedSurface& predicted, const sim::MeshIndex& surface_S, const sim::Mesh& scan_S,
                  double region_mm2, ScanComparison* c) {
  const std::vector<VertexFrame> frames = FramesOf(scan_S);
  std::vector<float> difference(frames.size(), kNone), line = difference;
  const double reach = ReachOf(predicted.mesh_S);
  for (std::size_t i = 0; i < frames.size(); ++i) {
    const sim::MeshIndex::Closest nearest = surface_S.ClosestPoint(scan_S.vertices[i], reach);
    if (nearest.triangle < 0) continue;
    const auto& t = predicted.mesh_S.triangles[static_cast<std::size_t>(nearest.triangle)];
    const auto told = [&](std::int32_t v) { return std::isfinite(predicted.deviation_mm[static_cast<std::size_t>(v)]); };
    if (std::any_of(t.begin(), t.end(), told)) continue;
    const Vector3d normal = NormalOf(predicted.mesh_S, nearest.triangle);
    if (!(normal.dot(frames[i].normal) > 0)) continue;
    difference[i] = Along(scan_S.vertices[i] - nearest.point, normal);
    line[i] = predicted.line[static_cast<std::size_t>(t[0])];
  }
  Regions({scan_S, frames, difference, line, c->bound_mm}, ScanRegion::Place::kBeside).Append(region_mm2, &c->regions);
}

void Sum(const PredictedSurface& predicted, const std::vector<VertexFrame>& frames, ScanComparison* c) {
  double seen = 0.0, sum = 0.0, squares = 0.0, covered = 0.0;
  std::vector<WeightedValue> difference, was, is;
  for (std::size_t i = 0; i < frames.size(); ++i) {
    if (!std::isfinite(predicted.deviation_mm[i])) continue;
    const double area = frames[i].area_mm2;
    c->carving_mm2 += area;
    if (std::isnan(c->difference_mm[i])) continue;
    const double d = c->difference_mm[i], e = predicted.deviation_mm[i];
    c->measured_mm[i] = static_cast<float>(e + d);
    seen += area;
    sum += area * d;
    squares += area * d * d;
    if (std::abs(d) <= c->bound_mm) covered += area;
    difference.push_back({std::abs(d), area});
    was.push_back({std::abs(e), area});
    is.push_back({std::abs(e + d), area});
  }
  if (!(seen > 0)) return;
  c->seen_share = seen / c->carving_mm2;
  c->mean_mm = sum / seen;
  c->rms_mm = std::sqrt(squares / seen);
  c->covered_share = covered / seen;
  c->p95_mm = WeightedPercentile(std::move(difference), 0.95).value_or(0.0);
  c->predicted_p95_mm = WeightedPercentile(std::move(was), 0.95).value_or(0.0);
  c->measured_p95_mm = WeightedPercentile(std::move(is), 0.95).value_or(0.0);
}

}  // namespace

ScanComparison CompareWithScan(const PredictedSurface& predicted, const sim::Mesh& scan_Q, double region_mm2) {
  const std::size_t vertices = predicted.mesh_S.vertices.size();
  if (predicted.deviation_mm.size() != vertices || predicted.line.size() != vertices) {
    throw std::invalid_argument("CompareWithScan: vertices, deviations and lines must be as many");
  }
  const sim::MeshIndex surface_S(predicted.mesh_S);
  const std::vector<VertexFrame> frames = FramesOf(predicted.mesh_S);
  ScanComparison c;
  c.difference_mm.assign(vertices, kNone);
  c.measured_mm = c.difference_mm;
  c.fit = sim::FitScan(scan_Q, {&surface_S, CutTriangles(predicted)});
  if (c.fit.state == sim::ScanFitState::kNotFound) return c;
  c.bound_mm = kNoise_sigmas * c.fit.noise_mm + kSurface_voxels * predicted.voxel_mm;
  const sim::MeshIndex scan_S(sim::Transformed(scan_Q, c.fit.X_SQ));
  c.difference_mm = Differences(predicted, frames, scan_S);
  Sum(predicted, frames, &c);
  Regions({predicted.mesh_S, frames, c.difference_mm, predicted.line, c.bound_mm}, ScanRegion::Place::kCarving)
      .Append(region_mm2, &c.regions);
  AppendBeside(predicted, surface_S, scan_S.mesh(), region_mm2, &c);
  return c;
}

}  // namespace aircut::verify
