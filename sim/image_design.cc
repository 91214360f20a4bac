#include "sim/image_design.h"

#include <algorithm>
#include <cmath>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/triangle_samples.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kFarAway_mm = 1e5;
constexpr double kLeastCosine = 0.01;   // flatter than this a face is met edge on

std::optional<MappedPixel> Project(const ImageDesign& design, const MeshIndex& stock, double right, double up) {
  const Vector3d out = design.X_SD.linear().col(2);
  const Vector3d from = design.X_SD * Vector3d(right * design.width_mm, up * design.height_mm, 0.0);
  const auto hits = stock.Crossings(from, -out, -kFarAway_mm, kFarAway_mm);
  const auto first = std::find_if(hits.begin(), hits.end(), [](const MeshIndex::Hit& hit) { return hit.entering; });
  if (first == hits.end()) return std::nullopt;
  MappedPixel pixel;
  pixel.right = right;
  pixel.up = up;
  pixel.p_S = from - first->t_mm * out;
  pixel.normal_S = TriangleNormal(stock.mesh(), stock.ClosestPoint(pixel.p_S).triangle);
  pixel.cosine = pixel.normal_S.dot(out);
  pixel.folded = std::any_of(first + 1, hits.end(), [](const MeshIndex::Hit& hit) { return hit.entering; });
  return pixel;
}

}  // namespace

bool ImageDesign::IsMasked(double right, double up) const { return mask && mask->At(right, up) < 0.5; }

double ImageDesign::DepthAt(double right, double up) const {
  if (IsMasked(right, up)) return 0.0;
  const double level = image.At(right, up);
  return black_mm + level * (white_mm - black_mm);
}

std::vector<MappedPixel> MapImage(const ImageDesign& design, const MeshIndex& stock_S, double spacing_mm, int threads) {
  const auto columns = static_cast<std::size_t>(std::ceil(design.width_mm / spacing_mm));
  const auto rows = static_cast<std::size_t>(std::ceil(design.height_mm / spacing_mm));
  const double cell_mm2 = design.width_mm * design.height_mm / static_cast<double>(columns * rows);
  std::vector<std::optional<MappedPixel>> all(columns * rows);
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, all.size(), [&](std::size_t i) {
      all[i] = Project(design, stock_S, (static_cast<double>(i % columns) + 0.5) / static_cast<double>(columns),
                       (static_cast<double>(i / columns) + 0.5) / static_cast<double>(rows));
      if (all[i]) all[i]->area_mm2 = cell_mm2 / std::max(all[i]->cosine, kLeastCosine);
    });
  });
  std::vector<MappedPixel> met;
  for (const auto& pixel : all) {
    if (pixel) met.push_back(*pixel);
  }
  return met;
}

ImageFit FitOf(const ImageDesign& design, const MeshIndex& stock_S) {
  constexpr double kRaster = 100.0;
  const double spacing_mm = std::max(design.width_mm, design.height_mm) / kRaster;
  const double places = std::ceil(design.width_mm / spacing_mm) * std::ceil(design.height_mm / spacing_mm);
  const std::vector<MappedPixel> met = MapImage(design, stock_S, spacing_mm, 1);
  ImageFit fit;
  fit.missed = 1.0 - static_cast<double>(met.size()) / places;
  if (met.empty()) return fit;
  for (const MappedPixel& pixel : met) {
    const double stretch = 1.0 / std::max(pixel.cosine, kLeastCosine);
    fit.most_stretch = std::max(fit.most_stretch, stretch);
    fit.steep += (stretch > kMostStretch ? 1.0 : 0.0) / static_cast<double>(met.size());
    fit.folded += (pixel.folded ? 1.0 : 0.0) / static_cast<double>(met.size());
  }
  return fit;
}

}  // namespace aircut::sim
