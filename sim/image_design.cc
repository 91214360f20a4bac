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
  pixel.on_stock = true;
  pixel.folded = std::any_of(first + 1, hits.end(), [](const MeshIndex::Hit& hit) { return hit.entering; });
  return pixel;
}

// Longest way on the piece that a step of one pixel of the picture makes there.
double LongestStep_mm(const ImageDesign& design, std::size_t triangle) {
  const TextureMap& map = *design.map_S;
  const auto& t = map.mesh_S.triangles[triangle];
  const auto& uv = map.uv[triangle];
  const auto corner = [&](std::size_t n) { return map.mesh_S.vertices[static_cast<std::size_t>(t[n])]; };
  Eigen::Matrix<double, 3, 2> on_piece;
  on_piece << corner(1) - corner(0), corner(2) - corner(0);
  const Eigen::Vector2d pixels(design.image.width, design.image.height);
  Eigen::Matrix2d in_picture;
  in_picture << pixels.cwiseProduct(uv[1] - uv[0]), pixels.cwiseProduct(uv[2] - uv[0]);
  const Eigen::Matrix<double, 3, 2> step = on_piece * in_picture.inverse();
  const Eigen::Matrix2d square = step.transpose() * step;
  return std::sqrt(0.5 * (square.trace() + std::sqrt(std::max(0.0, square.trace() * square.trace() - 4.0 * square.determinant()))));
}

// The same of a picture that is as large everywhere as this one is on the whole.
double MeanStep_mm(const ImageDesign& design) {
  const TextureMap& map = *design.map_S;
  double pixels = 0.0;
  for (std::size_t i = 0; i < map.uv.size(); ++i) pixels += std::abs(map.AreaInPicture(static_cast<int>(i)));
  pixels *= static_cast<double>(design.image.width) * design.image.height;
  return pixels > 0.0 ? std::sqrt(Inspect(map.mesh_S).area_mm2 / pixels) : 0.0;
}

// A place of the map's surface, taken to the stock's face; nothing beside the picture or off the stock.
std::optional<MappedPixel> PutOnFace(const TextureMap& map, const MeshIndex& stock, const SurfaceSample& at) {
  const Eigen::Vector2d uv = map.At(at.triangle, at.p);
  if (uv.minCoeff() < 0.0 || uv.maxCoeff() > 1.0) return std::nullopt;
  MappedPixel pixel;
  pixel.right = uv.x();
  pixel.up = uv.y();
  pixel.area_mm2 = at.area_mm2;
  const MeshIndex::Closest face = stock.ClosestPoint(at.p, kOffFace_mm);
  if (face.triangle < 0) return pixel;
  pixel.p_S = face.point;
  pixel.normal_S = TriangleNormal(stock.mesh(), face.triangle);
  pixel.on_stock = true;
  return pixel;
}

// Places of the picture, those that miss the stock among them.
std::vector<MappedPixel> MapByTexture(const ImageDesign& design, const MeshIndex& stock_S, double spacing_mm, int threads) {
  const TextureMap& map = *design.map_S;
  const double mean_mm = MeanStep_mm(design);
  const std::vector<SurfaceSample> places =
      SampleSurface(map.mesh_S, {spacing_mm, [](const Vector3d&) { return true; }, threads});
  std::vector<std::optional<MappedPixel>> all(places.size());
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, all.size(), [&](std::size_t i) {
      all[i] = PutOnFace(map, stock_S, places[i]);
      if (all[i]) all[i]->cosine = std::min(1.0, mean_mm / LongestStep_mm(design, static_cast<std::size_t>(places[i].triangle)));
    });
  });
  std::vector<MappedPixel> pixels;
  for (const auto& pixel : all) {
    if (pixel) pixels.push_back(*pixel);
  }
  return pixels;
}

}  // namespace

bool ImageDesign::IsMasked(double right, double up) const { return mask && mask->At(right, up) < 0.5; }

double ImageDesign::DepthAt(double right, double up) const {
  if (IsMasked(right, up)) return 0.0;
  const double level = image.At(right, up);
  return black_mm + level * (white_mm - black_mm);
}

std::optional<double> ImageDesign::DepthUnder(const Vector3d& p_S) const {
  if (map_S) return std::nullopt;
  const Vector3d p_D = X_SD.inverse() * p_S;
  const double right = p_D.x() / width_mm, up = p_D.y() / height_mm;
  if (right < 0.0 || right > 1.0 || up < 0.0 || up > 1.0) return std::nullopt;
  return DepthAt(right, up);
}

std::vector<MappedPixel> MapImage(const ImageDesign& design, const MeshIndex& stock_S, double spacing_mm, int threads) {
  if (design.map_S) {
    std::vector<MappedPixel> pixels = MapByTexture(design, stock_S, spacing_mm, threads);
    pixels.erase(std::remove_if(pixels.begin(), pixels.end(), [](const MappedPixel& p) { return !p.on_stock; }), pixels.end());
    return pixels;
  }
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

namespace {

constexpr double kRaster = 100.0;

// By area, since the places of a map are not all of one size.
ImageFit FitOfMap(const ImageDesign& design, const MeshIndex& stock_S) {
  const double spacing_mm = std::sqrt(Inspect(design.map_S->mesh_S).area_mm2) / kRaster;
  double all_mm2 = 0.0, met_mm2 = 0.0, steep_mm2 = 0.0;
  ImageFit fit;
  for (const MappedPixel& pixel : MapByTexture(design, stock_S, spacing_mm, 1)) {
    all_mm2 += pixel.area_mm2;
    if (!pixel.on_stock) continue;
    met_mm2 += pixel.area_mm2;
    fit.most_stretch = std::max(fit.most_stretch, 1.0 / pixel.cosine);
    if (1.0 / pixel.cosine > kMostStretch) steep_mm2 += pixel.area_mm2;
  }
  fit.missed = all_mm2 > 0.0 ? 1.0 - met_mm2 / all_mm2 : 1.0;
  fit.steep = met_mm2 > 0.0 ? steep_mm2 / met_mm2 : 0.0;
  fit.folded = FitOf(*design.map_S).twice;
  return fit;
}

}  // namespace

ImageFit FitOf(const ImageDesign& design, const MeshIndex& stock_S) {
  if (design.map_S) return FitOfMap(design, stock_S);
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
