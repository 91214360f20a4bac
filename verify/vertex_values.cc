#include "verify/vertex_values.h"

#include <cmath>
#include <cstdint>
#include <limits>
#include <stdexcept>

#include <fmt/format.h>

namespace aircut::verify {
namespace {

constexpr double kReach_spacings = 2.0;
constexpr float kNone = std::numeric_limits<float>::quiet_NaN();

// A design sample where the cut left it.
struct CutPoint {
  Eigen::Vector3d p_S;
  float error_mm = 0;
  float line = kNone;
};

void CheckSizes(const sim::Run& run, const Deviation& deviation) {
  if (run.depths.size() != run.samples.size() || deviation.error_mm.size() != run.samples.size()) {
    throw std::invalid_argument(fmt::format(
        "ValuesOfVertices: {} samples, {} depths and {} errors must be as many",
        run.samples.size(), run.depths.size(), deviation.error_mm.size()));
  }
}

float LineOf(const sim::Run& run, const sim::RayDepth& depth) {
  if (!depth.touched || depth.sweep < 0) return kNone;
  const int line = run.track.sweeps[static_cast<std::size_t>(depth.sweep)].line;
  return line > 0 ? static_cast<float>(line) : kNone;
}

std::vector<CutPoint> CutPoints(const sim::Run& run, const Deviation& deviation) {
  std::vector<CutPoint> points;
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    const sim::DesignSample& sample = run.samples[i];
    const sim::RayDepth& depth = run.depths[i];
    if (!depth.has_material || depth.cut_through) continue;
    const Eigen::Vector3d p_S = sample.ray.p_SQ + depth.top_mm * sample.ray.up_S;
    if (!p_S.allFinite()) continue;
    // Beside the carving only a cut below the face counts.
    const bool counts = sample.role == sim::DesignSample::Role::kCarve ||
                        (depth.touched && deviation.error_mm[i] < 0);
    points.push_back({p_S, counts ? static_cast<float>(deviation.error_mm[i]) : kNone, LineOf(run, depth)});
  }
  return points;
}

double Spacing(const sim::Run& run) {
  double area_mm2 = 0;
  std::size_t count = 0;
  for (const sim::DesignSample& sample : run.samples) {
    if (!(sample.area_mm2 > 0)) continue;
    area_mm2 += sample.area_mm2;
    ++count;
  }
  return count == 0 ? 0.0 : std::sqrt(area_mm2 / static_cast<double>(count));
}

// Points sorted into cubes of the search radius; cubes share buckets, which
// costs a few needless distances and never a wrong answer.
class PointGrid {
 public:
  PointGrid(std::vector<CutPoint> points, double radius_mm)
      : points_(std::move(points)), radius_mm_(radius_mm) {
    for (const CutPoint& point : points_) box_.extend(point.p_S);
    std::size_t buckets = 64;
    while (buckets < points_.size()) buckets *= 2;
    mask_ = buckets - 1;
    start_.assign(buckets + 1, 0);
    for (const CutPoint& point : points_) ++start_[BucketOf(CubeOf(point.p_S)) + 1];
    for (std::size_t b = 0; b < buckets; ++b) start_[b + 1] += start_[b];
    std::vector<std::uint32_t> next(start_.begin(), start_.end() - 1);
    order_.resize(points_.size());
    for (std::size_t i = 0; i < points_.size(); ++i) {
      order_[next[BucketOf(CubeOf(points_[i].p_S))]++] = static_cast<std::uint32_t>(i);
    }
  }

  // The point that speaks for a place; null: none lies within reach.
  const CutPoint* Near(const Eigen::Vector3d& p_S) const {
    const CutPoint* nearest = nullptr;
    double best = radius_mm_ * radius_mm_;
    if (!(box_.squaredExteriorDistance(p_S) <= best)) return nearest;
    const Eigen::Matrix<std::int64_t, 3, 1> cube = CubeOf(p_S);
    for (int n = 0; n < 27; ++n) {
      const std::size_t bucket =
          BucketOf({cube.x() + n % 3 - 1, cube.y() + n / 3 % 3 - 1, cube.z() + n / 9 - 1});
      for (std::uint32_t k = start_[bucket]; k < start_[bucket + 1]; ++k) {
        const CutPoint& point = points_[order_[k]];
        // Beside an engraved line uncoloured samples lie everywhere; the line's
        // own sample speaks unless one of them is less than half as far away.
        const double yields = std::isnan(point.error_mm) ? 4.0 : 1.0;
        const double distance = yields * (point.p_S - p_S).squaredNorm();
        if (distance > best) continue;
        best = distance;
        nearest = &point;
      }
    }
    return nearest;
  }

 private:
  Eigen::Matrix<std::int64_t, 3, 1> CubeOf(const Eigen::Vector3d& p_S) const {
    return ((p_S - box_.min()) / radius_mm_).array().floor().cast<std::int64_t>();
  }
  std::size_t BucketOf(const Eigen::Matrix<std::int64_t, 3, 1>& cube) const {
    const std::uint64_t mixed = static_cast<std::uint64_t>(cube.x()) * 0x9E3779B97F4A7C15u ^
                                static_cast<std::uint64_t>(cube.y()) * 0xC2B2AE3D27D4EB4Fu ^
                                static_cast<std::uint64_t>(cube.z()) * 0x165667B19E3779F9u;
    return static_cast<std::size_t>(mixed ^ mixed >> 29) & mask_;
  }

  std::vector<CutPoint> points_;
  double radius_mm_;
  Eigen::AlignedBox3d box_;
  std::size_t mask_ = 0;
  std::vector<std::uint32_t> start_, order_;
};

}  // namespace

VertexValues ValuesOfVertices(const sim::Mesh& carved_S, const sim::Run& run, const Deviation& deviation) {
  CheckSizes(run, deviation);
  const std::vector<float> none(carved_S.vertices.size(), kNone);
  VertexValues values{none, none};
  std::vector<CutPoint> points = CutPoints(run, deviation);
  const double spacing_mm = Spacing(run);
  if (points.empty() || !(spacing_mm > 0)) return values;
  const PointGrid grid(std::move(points), kReach_spacings * spacing_mm);
  for (std::size_t i = 0; i < none.size(); ++i) {
    const CutPoint* point = carved_S.vertices[i].allFinite() ? grid.Near(carved_S.vertices[i]) : nullptr;
    if (point == nullptr) continue;
    values.deviation_mm[i] = point->error_mm;
    values.line[i] = point->line;
  }
  return values;
}

}  // namespace aircut::verify
