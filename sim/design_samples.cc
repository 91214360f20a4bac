#include "sim/design_samples.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <unordered_set>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/surface_normals.h"
#include "sim/triangle_samples.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::MoveKind;
using kinematics::PathLine;
using kinematics::Pose;
using kinematics::ToolPath;

// The design counts as carved where it lies deeper than this under the stock.
constexpr double kCarved_mm = 0.05;

double LargestRadius(const Job& job) {
  double r = 0.0;
  for (const PathLine& line : job.path) {
    r = std::max(r, job.cell.cutters.at(line.tool).cutter.radius_mm());
  }
  return r;
}

// Coarse cells that the tip visits, widened by one cell all round.
class PathNeighbourhood {
 public:
  PathNeighbourhood(const ToolPath& path, double reach_mm) : edge_(reach_mm) {
    for (std::size_t i = 0; i < path.size(); ++i) {
      const Vector3d from = i > 0 ? path[i - 1].p_ST : path[i].p_ST;
      const Vector3d travel = path[i].p_ST - from;
      const int steps = 1 + static_cast<int>(travel.norm() / edge_);
      for (int n = 0; n <= steps; ++n) Add(from + (static_cast<double>(n) / steps) * travel);
      box_.extend(path[i].p_ST);
    }
  }
  bool Near(const Vector3d& p) const { return cells_.count(Key(CellOf(p))) > 0; }
  const Eigen::AlignedBox3d& box() const { return box_; }

 private:
  Eigen::Array3i CellOf(const Vector3d& p) const { return (p / edge_).array().floor().cast<int>(); }
  static std::uint64_t Key(const Eigen::Array3i& c) {
    const Eigen::Array3i at = c + (1 << 20);
    return static_cast<std::uint64_t>(at.x()) | static_cast<std::uint64_t>(at.y()) << 21 |
           static_cast<std::uint64_t>(at.z()) << 42;
  }
  void Add(const Vector3d& p) {
    const Eigen::Array3i c = CellOf(p);
    if (last_ && (c == *last_).all()) return;
    last_ = c;
    for (int n = 0; n < 27; ++n) cells_.insert(Key(c + Eigen::Array3i(n % 3 - 1, n / 3 % 3 - 1, n / 9 - 1)));
  }

  double edge_;
  Eigen::AlignedBox3d box_;
  std::unordered_set<std::uint64_t> cells_;
  std::optional<Eigen::Array3i> last_;
};

// Depth direction at a point: out of the material.
class DepthDirection {
 public:
  DepthDirection(const Job& job, const Eigen::AlignedBox3d& around, int threads)
      : job_(job), normals_(*job.stock_S, LargestRadius(job), around, threads) {}

  Vector3d At(const Vector3d& p, int path_index) const {
    if (job_.depth_along == DepthAlong::kFixed) return job_.depth_direction_S;
    if (job_.depth_along == DepthAlong::kAxis && path_index >= 0) {
      return job_.path[static_cast<std::size_t>(path_index)].axis_S;
    }
    return normals_.At(p).normal_S;
  }
  const SurfaceNormals& normals() const { return normals_; }

 private:
  const Job& job_;
  SurfaceNormals normals_;
};

template <typename Work>
void ForEach(std::size_t count, int threads, const Work& work) {
  tbb::task_arena arena(threads);
  arena.execute([&] { tbb::parallel_for(std::size_t{0}, count, work); });
}

std::vector<DesignSample> SampleTarget(const Job& job, double spacing, int threads) {
  const PathNeighbourhood near(job.path, LargestRadius(job) + 2.0);
  const auto carved = [&](const Vector3d& p) { return job.stock_S->SignedDistance(p) < -kCarved_mm; };
  const std::vector<SurfaceSample> points = SampleSurface(
      job.design.mesh_S->mesh(),
      {spacing, [&](const Vector3d& p) { return near.Near(p) || carved(p); }, threads});
  std::vector<DesignSample> samples(points.size());
  Eigen::AlignedBox3d box;
  for (const SurfaceSample& point : points) box.extend(point.p);
  if (samples.empty()) return samples;
  const DepthDirection direction(job, box, threads);
  ForEach(points.size(), threads, [&](std::size_t i) {
    const Vector3d& p = points[i].p;
    samples[i].role = carved(p) ? DesignSample::Role::kCarve : DesignSample::Role::kSpare;
    samples[i].area_mm2 = points[i].area_mm2;
    samples[i].ray = {p, direction.At(p, -1)};
  });
  return samples;
}

// Runs of cut moves [first, last], as indices of the lines they end at.
struct CutRun {
  std::size_t first, last;
};

std::vector<CutRun> CutRuns(const ToolPath& path) {
  std::vector<CutRun> runs;
  for (std::size_t i = 1; i < path.size(); ++i) {
    if (path[i].move != MoveKind::kCut) continue;
    if (!runs.empty() && runs.back().last + 1 == i) runs.back().last = i;
    else runs.push_back({i, i});
  }
  return runs;
}

struct LinePoint {
  Vector3d tip;
  double length;
  int path_index;
};

// Points along one cut, leads left out.
std::vector<LinePoint> EngravedPoints(const Job& job, const CutRun& run, double spacing) {
  std::vector<LinePoint> points;
  for (std::size_t i = run.first; i <= run.last; ++i) {
    const Vector3d from = job.path[i - 1].p_ST, travel = job.path[i].p_ST - from;
    const int steps = std::max(1, static_cast<int>(std::ceil(travel.norm() / spacing)));
    for (int n = 0; n < steps; ++n) {
      points.push_back({from + ((n + 0.5) / steps) * travel, travel.norm() / steps, static_cast<int>(i)});
    }
  }
  const double half = 0.5 * *job.design.depth_below_stock_mm;
  const auto deep = [&](const LinePoint& p) { return job.stock_S->SignedDistance(p.tip) < -half; };
  const auto first = std::find_if(points.begin(), points.end(), deep);
  const auto last = std::find_if(points.rbegin(), points.rend(), deep).base();
  if (first < last) return {first, last};
  return points;
}

std::vector<DesignSample> SampleEngraving(const Job& job, double spacing, int threads) {
  const double depth = *job.design.depth_below_stock_mm;
  const PathNeighbourhood near(job.path, LargestRadius(job) + 2.0);
  std::vector<LinePoint> points;
  for (const CutRun& run : CutRuns(job.path)) {
    const std::vector<LinePoint> more = EngravedPoints(job, run, spacing);
    points.insert(points.end(), more.begin(), more.end());
  }
  const DepthDirection direction(job, near.box(), threads);
  std::vector<DesignSample> samples(points.size());
  ForEach(points.size(), threads, [&](std::size_t i) {
    const Vector3d foot = direction.normals().At(points[i].tip).p_S;
    const Vector3d up = direction.At(points[i].tip, points[i].path_index);
    samples[i].ray = {foot - depth * up, up};
    // The line is as wide as it is sampled; its area only weighs the samples.
    samples[i].area_mm2 = points[i].length * spacing;
    samples[i].path_index = points[i].path_index;
  });
  const std::vector<SurfaceSample> face = SampleSurface(
      job.stock_S->mesh(), {spacing, [&](const Vector3d& p) { return near.Near(p); }, threads});
  const std::size_t lines = samples.size();
  samples.resize(lines + face.size());
  ForEach(face.size(), threads, [&](std::size_t i) {
    DesignSample& s = samples[lines + i];
    const Vector3d up = direction.At(face[i].p, -1);
    s.ray = {face[i].p - depth * up, up};
    s.area_mm2 = face[i].area_mm2;
    s.role = DesignSample::Role::kSpare;
  });
  return samples;
}

// Which places of the face the picture lies on.
class PictureCover {
 public:
  explicit PictureCover(const ImageDesign& design) : design_(design), X_DS_(design.X_SD.inverse()) {
    if (design.map_S) map_.emplace(design.map_S->mesh_S);
  }
  bool Holds(const Vector3d& p_S) const {
    if (map_) {
      const MeshIndex::Closest at = map_->ClosestPoint(p_S, kOffFace_mm);
      if (at.triangle < 0) return false;
      const Eigen::Vector2d uv = design_.map_S->At(at.triangle, at.point);
      return uv.minCoeff() > 0.0 && uv.maxCoeff() < 1.0;
    }
    const Vector3d p_D = X_DS_ * p_S;
    return p_D.x() > 0 && p_D.x() < design_.width_mm && p_D.y() > 0 && p_D.y() < design_.height_mm;
  }

 private:
  const ImageDesign& design_;
  Pose X_DS_;
  std::optional<MeshIndex> map_;
};

// A picture asks for depths along the face's own direction; where it asks for none, or the
// mask keeps the face, and on the face beside it, any cut is too deep.
std::vector<DesignSample> SampleImage(const Job& job, double spacing, int threads) {
  const ImageDesign& design = *job.design.image;
  const PathNeighbourhood near(job.path, LargestRadius(job) + 2.0);
  std::vector<MappedPixel> pixels = MapImage(design, *job.stock_S, spacing, threads);
  const auto asks = [&](const MappedPixel& p) { return design.DepthAt(p.right, p.up) > kCarved_mm; };
  pixels.erase(std::remove_if(pixels.begin(), pixels.end(), [&](const MappedPixel& p) { return !asks(p) && !near.Near(p.p_S); }),
               pixels.end());
  Eigen::AlignedBox3d box = near.box();
  for (const MappedPixel& pixel : pixels) box.extend(pixel.p_S);
  const DepthDirection direction(job, box, threads);
  std::vector<DesignSample> samples(pixels.size());
  ForEach(pixels.size(), threads, [&](std::size_t i) {
    const MappedPixel& pixel = pixels[i];
    const Vector3d up = direction.At(pixel.p_S, -1);
    const bool carve = asks(pixel);
    samples[i].role = carve ? DesignSample::Role::kCarve : DesignSample::Role::kSpare;
    samples[i].ray = {pixel.p_S - (carve ? design.DepthAt(pixel.right, pixel.up) : 0.0) * up, up};
    samples[i].area_mm2 = pixel.area_mm2;
  });
  const PictureCover cover(design);
  const auto beside = [&](const Vector3d& p_S) { return near.Near(p_S) && !cover.Holds(p_S); };
  for (const SurfaceSample& face : SampleSurface(job.stock_S->mesh(), {spacing, beside, threads})) {
    samples.push_back({{face.p, direction.At(face.p, -1)}, face.area_mm2, DesignSample::Role::kSpare, -1});
  }
  return samples;
}

}  // namespace

std::vector<DesignSample> SampleDesign(const Job& job, double spacing_mm, int threads) {
  if (job.design.image) return SampleImage(job, spacing_mm, threads);
  return job.design.mesh_S ? SampleTarget(job, spacing_mm, threads)
                           : SampleEngraving(job, spacing_mm, threads);
}

}  // namespace aircut::sim
