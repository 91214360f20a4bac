#include "verify/picture.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include <Eigen/Geometry>
#include <fmt/format.h>

#include "verify/png_file.h"

namespace aircut::verify {
namespace {

constexpr int kSamples = 2;                    // per pixel edge
constexpr double kMargin = 0.10;               // of the framed part, on each side
constexpr int kLargest_px = 8192;
constexpr std::int64_t kSubpixel = 256;
constexpr double kFarthest_px = 1e6;           // keeps edge products inside 64 bits

constexpr Colour kPaper{251, 250, 246};        // the sheet
constexpr Colour kWithin{247, 244, 236};
constexpr Colour kNotDesign{203, 202, 198};
constexpr Colour kInk{29, 36, 48};
// Outermost last.
constexpr std::array<Colour, 4> kOchre{{{226, 204, 150}, {203, 163, 82}, {165, 118, 28}, {118, 78, 4}}};
constexpr std::array<Colour, 4> kPurple{{{212, 196, 224}, {172, 142, 194}, {124, 86, 162}, {78, 34, 128}}};
constexpr std::array<double, 4> kEdges{1.0, 2.0, 4.0, 8.0};   // tolerances

void Require(bool ok, const std::string& what) {
  if (!ok) throw std::invalid_argument("PictureRequest: " + what);
}

void CheckRequest(const PictureRequest& request) {
  Require(request.mesh_S != nullptr, "mesh_S is missing");
  const bool agrees = request.deviation_mm == nullptr || request.deviation_mm->empty() ||
                      request.deviation_mm->size() == request.mesh_S->vertices.size();
  Require(agrees, "deviation_mm must have one value a vertex");
  const double length = request.look_S.norm();
  Require(std::isfinite(length) && length > 0, "look_S must have a finite length > 0");
  for (const int size : {request.width_px, request.height_px}) {
    Require(size > 0 && size <= kLargest_px,
            fmt::format("size = {} px must be in [1, {}]", size, kLargest_px));
  }
  if (!request.closeup) return;
  const bool framed = request.closeup->at_S.allFinite() && request.closeup->across_mm > 0 && std::isfinite(request.closeup->across_mm);
  Require(framed, "closeup must be at a finite place and more than 0 mm across");
}

float DeviationAt(const PictureRequest& request, std::size_t vertex) {
  if (request.deviation_mm == nullptr || request.deviation_mm->empty()) {
    return std::numeric_limits<float>::quiet_NaN();
  }
  return (*request.deviation_mm)[vertex];
}

// The sheet at kSamples times the size, one entry a sample.
struct Sheet {
  int width = 0, height = 0;
  std::vector<float> height_mm;        // towards the eye
  std::vector<std::int32_t> triangle;  // -1 = nothing here
  bool Covered(std::size_t i) const { return triangle[i] >= 0; }
};

// A vertex on the sheet, in subpixels.
struct Dot {
  std::int64_t x = 0, y = 0;
  float height_mm = 0;
  bool finite = false;
};

std::vector<Dot> Project(const sim::Mesh& mesh, const PieceView& view) {
  std::vector<Dot> dots(mesh.vertices.size());
  const double per_px = static_cast<double>(kSamples * kSubpixel);
  for (std::size_t i = 0; i < dots.size(); ++i) {
    const Eigen::Vector2d px = view.PixelOf(mesh.vertices[i]);
    Dot& dot = dots[i];
    dot.finite = std::abs(px.x()) < kFarthest_px && std::abs(px.y()) < kFarthest_px;
    if (!dot.finite) continue;
    dot.x = std::llround(px.x() * per_px);
    dot.y = std::llround(px.y() * per_px);
    dot.height_mm = static_cast<float>(-view.look_S.dot(mesh.vertices[i] - view.centre_S));
  }
  return dots;
}

// Twice the signed area of (a, b, point), the weight of the third corner.
std::int64_t Edge(const Dot& a, const Dot& b, std::int64_t x, std::int64_t y) {
  return (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x);
}

std::int64_t CentreOf(std::int64_t sample) { return sample * kSubpixel + kSubpixel / 2; }

void DrawTriangle(const std::array<const Dot*, 3>& d, std::int32_t id, Sheet* sheet) {
  const std::int64_t area = Edge(*d[0], *d[1], d[2]->x, d[2]->y);
  if (area == 0) return;
  const auto [left, right] = std::minmax({d[0]->x, d[1]->x, d[2]->x});
  const auto [top, bottom] = std::minmax({d[0]->y, d[1]->y, d[2]->y});
  const std::int64_t x0 = std::max<std::int64_t>(left / kSubpixel, 0);
  const std::int64_t x1 = std::min<std::int64_t>(right / kSubpixel, sheet->width - 1);
  const std::int64_t y0 = std::max<std::int64_t>(top / kSubpixel, 0);
  const std::int64_t y1 = std::min<std::int64_t>(bottom / kSubpixel, sheet->height - 1);
  const std::int64_t turn = area > 0 ? 1 : -1;
  const double scale = 1.0 / static_cast<double>(area);
  for (std::int64_t y = y0; y <= y1; ++y) {
    for (std::int64_t x = x0; x <= x1; ++x) {
      const std::int64_t cx = CentreOf(x), cy = CentreOf(y);
      const std::int64_t w0 = Edge(*d[1], *d[2], cx, cy), w1 = Edge(*d[2], *d[0], cx, cy);
      const std::int64_t w2 = area - w0 - w1;
      if (w0 * turn < 0 || w1 * turn < 0 || w2 * turn < 0) continue;
      const double h = (static_cast<double>(w0) * d[0]->height_mm +
                        static_cast<double>(w1) * d[1]->height_mm +
                        static_cast<double>(w2) * d[2]->height_mm) * scale;
      const std::size_t at = static_cast<std::size_t>(y * sheet->width + x);
      if (sheet->Covered(at) && !(h > sheet->height_mm[at])) continue;
      sheet->height_mm[at] = static_cast<float>(h);
      sheet->triangle[at] = id;
    }
  }
}

Sheet Rasterise(const sim::Mesh& mesh, const PieceView& view, const std::vector<Dot>& dots) {
  Sheet sheet;
  sheet.width = view.width_px * kSamples;
  sheet.height = view.height_px * kSamples;
  const std::size_t count = static_cast<std::size_t>(sheet.width) * sheet.height;
  sheet.height_mm.assign(count, 0.0f);
  sheet.triangle.assign(count, -1);
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    const auto& corner = mesh.triangles[t];
    const std::array<const Dot*, 3> d{&dots[corner[0]], &dots[corner[1]], &dots[corner[2]]};
    if (d[0]->finite && d[1]->finite && d[2]->finite) {
      DrawTriangle(d, static_cast<std::int32_t>(t), &sheet);
    }
  }
  return sheet;
}

// Sum of normals of the triangles at each vertex, weighted by their area.
std::vector<Eigen::Vector3f> VertexNormals(const sim::Mesh& mesh) {
  std::vector<Eigen::Vector3f> normals(mesh.vertices.size(), Eigen::Vector3f::Zero());
  for (const auto& t : mesh.triangles) {
    const Eigen::Vector3d& a = mesh.vertices[t[0]];
    const Eigen::Vector3d normal = (mesh.vertices[t[1]] - a).cross(mesh.vertices[t[2]] - a);
    for (const std::int32_t v : t) normals[v] += normal.cast<float>();
  }
  return normals;
}

// Sliding mean over 2 * radius + 1 samples along each row of `sum`.
void SumRows(std::vector<double>* values, int width, int radius) {
  std::vector<double> running(static_cast<std::size_t>(width) + 1, 0.0);
  for (std::size_t row = 0; row < values->size(); row += width) {
    for (int x = 0; x < width; ++x) running[x + 1] = running[x] + (*values)[row + x];
    for (int x = 0; x < width; ++x) {
      const int from = x - radius < 0 ? 0 : x - radius;
      const int to = x + radius + 1 > width ? width : x + radius + 1;
      (*values)[row + x] = running[to] - running[from];
    }
  }
}

// How far each sample lies above (+) or below the mean of its neighbourhood,
// in mm: grooves grow dark and ridges light, as under an overcast sky.
std::vector<float> Relief(const Sheet& sheet, int radius) {
  const int width = sheet.width, height = sheet.height;
  const std::size_t count = sheet.triangle.size();
  std::vector<double> sum(count), weight(count);
  for (std::size_t i = 0; i < count; ++i) {
    sum[i] = sheet.Covered(i) ? sheet.height_mm[i] : 0.0;
    weight[i] = sheet.Covered(i) ? 1.0 : 0.0;
  }
  SumRows(&sum, width, radius);
  SumRows(&weight, width, radius);
  std::vector<float> relief(count, 0.0f);
  std::vector<double> column_sum(width, 0.0), column_weight(width, 0.0);
  const auto add_row = [&](int y, double sign) {
    const std::size_t row = static_cast<std::size_t>(y) * width;
    for (int x = 0; x < width; ++x) {
      column_sum[x] += sign * sum[row + x];
      column_weight[x] += sign * weight[row + x];
    }
  };
  for (int y = -radius; y < height; ++y) {
    if (y + radius < height) add_row(y + radius, 1.0);
    if (y - radius - 1 >= 0) add_row(y - radius - 1, -1.0);
    for (int x = 0; y >= 0 && x < width; ++x) {
      const std::size_t at = static_cast<std::size_t>(y) * width + x;
      if (!sheet.Covered(at)) continue;
      relief[at] = static_cast<float>(sheet.height_mm[at] - column_sum[x] / column_weight[x]);
    }
  }
  return relief;
}

// Weights of a triangle's corners at a sample, and what they mix to.
struct Mix {
  Eigen::Vector3f normal_S = Eigen::Vector3f::Zero();
  double deviation_mm = std::numeric_limits<double>::quiet_NaN();
};

class Painter {
 public:
  Painter(const PictureRequest& request, const PieceView& view)
      : request_(request), view_(view), dots_(Project(*request.mesh_S, view)),
        sheet_(Rasterise(*request.mesh_S, view, dots_)),
        normals_(VertexNormals(*request.mesh_S)),
        relief_(Relief(sheet_, 2 + view.width_px * kSamples / 110)) {}

  std::vector<std::uint8_t> Paint() const {
    std::vector<std::uint8_t> pixels;
    pixels.reserve(static_cast<std::size_t>(view_.width_px) * view_.height_px * 3);
    for (int y = 0; y < view_.height_px; ++y) {
      for (int x = 0; x < view_.width_px; ++x) {
        for (const std::uint8_t value : PixelAt(x, y)) pixels.push_back(value);
      }
    }
    return pixels;
  }

 private:
  Colour PixelAt(int x, int y) const {
    Eigen::Vector3d sum = Eigen::Vector3d::Zero();
    for (int s = 0; s < kSamples * kSamples; ++s) {
      sum += SampleAt(x * kSamples + s % kSamples, y * kSamples + s / kSamples);
    }
    sum /= kSamples * kSamples;
    Colour colour{};
    for (int c = 0; c < 3; ++c) colour[c] = static_cast<std::uint8_t>(std::lround(sum[c]));
    return colour;
  }

  static Eigen::Vector3d AsVector(const Colour& c) { return {double(c[0]), double(c[1]), double(c[2])}; }

  Eigen::Vector3d SampleAt(int x, int y) const {
    const std::size_t at = static_cast<std::size_t>(y) * sheet_.width + x;
    if (!sheet_.Covered(at)) return AsVector(kPaper);
    const Mix mix = MixAt(x, y, sheet_.triangle[at]);
    Eigen::Vector3d colour = AsVector(DeviationColour(mix.deviation_mm, request_.tolerance_mm));
    double shade = ShadeOf(mix.normal_S) + SkyAt(at);
    if (mix.deviation_mm < -request_.tolerance_mm && (x + y) % 14 < 2) shade -= 0.16;
    colour *= shade < 0.45 ? 0.45 : shade;
    if (OnOutline(x, y)) colour = 0.45 * colour + 0.55 * AsVector(kInk);
    return colour.cwiseMin(255.0).cwiseMax(0.0);
  }

  Mix MixAt(int x, int y, std::int32_t triangle) const {
    const auto& corner = request_.mesh_S->triangles[triangle];
    const std::array<const Dot*, 3> d{&dots_[corner[0]], &dots_[corner[1]], &dots_[corner[2]]};
    const double area = static_cast<double>(Edge(*d[0], *d[1], d[2]->x, d[2]->y));
    const double w0 = Edge(*d[1], *d[2], CentreOf(x), CentreOf(y)) / area;
    const double w1 = Edge(*d[2], *d[0], CentreOf(x), CentreOf(y)) / area;
    const std::array<double, 3> w{w0, w1, 1.0 - w0 - w1};
    Mix mix;
    double known = 0, sum = 0;
    for (int c = 0; c < 3; ++c) {
      mix.normal_S += static_cast<float>(w[c]) * normals_[corner[c]].normalized();
      const double deviation = DeviationAt(request_, corner[c]);
      if (!std::isfinite(deviation)) continue;
      known += w[c];
      sum += w[c] * deviation;
    }
    // The border to the rest of the piece runs half-way between the vertices.
    if (known >= 0.5) mix.deviation_mm = sum / known;
    return mix;
  }

  // 1 for a face square to the view.
  double ShadeOf(const Eigen::Vector3f& normal_S) const {
    const double length = normal_S.norm();
    if (!(length > 1e-12)) return 1.0;
    Eigen::Vector3d n = normal_S.cast<double>() / length;
    if (n.dot(view_.look_S) > 0) n = -n;
    const Eigen::Vector3d light = -0.62 * view_.right_S + 0.62 * view_.up_S - 0.48 * view_.look_S;
    const double square = -light.dot(view_.look_S);
    const double lit = n.dot(light) < 0 ? 0.0 : n.dot(light);
    return 1.0 + (lit < square ? 0.80 : 0.25) * (lit - square);
  }

  // Grooves lie in the shade of their walls; full effect at 6 pixels of depth.
  double SkyAt(std::size_t at) const {
    const double depth = relief_[at] / (6.0 * view_.mm_per_px);
    const double held = depth < -1 ? -1 : (depth > 1 ? 1 : depth);
    return held < 0 ? 0.16 * held : 0.05 * held;
  }

  // A hairline of ink where the piece ends or falls away by 8 pixels at once.
  bool OnOutline(int x, int y) const {
    const double jump_mm = 8.0 * view_.mm_per_px;
    const std::size_t at = static_cast<std::size_t>(y) * sheet_.width + x;
    for (const auto& [dx, dy] : {std::pair{-1, 0}, {1, 0}, {0, -1}, {0, 1}}) {
      const int nx = x + dx, ny = y + dy;
      if (nx < 0 || ny < 0 || nx >= sheet_.width || ny >= sheet_.height) continue;
      const std::size_t next = static_cast<std::size_t>(ny) * sheet_.width + nx;
      if (!sheet_.Covered(next)) return true;
      if (sheet_.height_mm[at] - sheet_.height_mm[next] > jump_mm) return true;
    }
    return false;
  }

  const PictureRequest& request_;
  const PieceView& view_;
  std::vector<Dot> dots_;
  Sheet sheet_;
  std::vector<Eigen::Vector3f> normals_;
  std::vector<float> relief_;
};

}  // namespace

Eigen::Vector2d PieceView::PixelOf(const Eigen::Vector3d& p_S) const {
  const Eigen::Vector3d d = (p_S - centre_S) / mm_per_px;
  return {0.5 * width_px + right_S.dot(d), 0.5 * height_px - up_S.dot(d)};
}

std::vector<ColourStep> DeviationScale(double tolerance_mm) {
  if (!(tolerance_mm > 0) || !std::isfinite(tolerance_mm)) {
    throw std::invalid_argument(fmt::format("tolerance_mm = {} must be finite and > 0", tolerance_mm));
  }
  const double infinity = std::numeric_limits<double>::infinity();
  std::vector<ColourStep> steps;
  for (int i = 3; i >= 0; --i) {
    const double outer = i == 3 ? infinity : kEdges[i + 1] * tolerance_mm;
    steps.push_back({-outer, -kEdges[i] * tolerance_mm, kOchre[i]});
  }
  steps.push_back({-tolerance_mm, tolerance_mm, kWithin});
  for (int i = 0; i <= 3; ++i) {
    const double outer = i == 3 ? infinity : kEdges[i + 1] * tolerance_mm;
    steps.push_back({kEdges[i] * tolerance_mm, outer, kPurple[i]});
  }
  return steps;
}

Colour DeviationColour(double error_mm, double tolerance_mm) {
  if (!std::isfinite(error_mm)) return kNotDesign;
  const double tolerances = std::abs(error_mm) / tolerance_mm;
  if (tolerances <= kEdges[0]) return kWithin;
  const auto& side = error_mm < 0 ? kOchre : kPurple;
  std::size_t step = 0;
  while (step + 1 < kEdges.size() && tolerances > kEdges[step + 1]) ++step;
  return side[step];
}

PieceView ChooseView(const PictureRequest& request) {
  CheckRequest(request);
  PieceView view;
  view.look_S = request.look_S.normalized();
  const bool along_z = std::abs(view.look_S.z()) > 0.9;
  const Eigen::Vector3d upright = along_z ? Eigen::Vector3d::UnitY() : Eigen::Vector3d::UnitZ();
  view.up_S = (upright - upright.dot(view.look_S) * view.look_S).normalized();
  view.right_S = view.look_S.cross(view.up_S);
  view.width_px = request.width_px;
  view.height_px = request.height_px;
  if (request.closeup) {
    view.centre_S = request.closeup->at_S;
    view.mm_per_px = request.closeup->across_mm / request.width_px;
    return view;
  }

  Eigen::AlignedBox3d part, whole;   // in right, up, towards the eye
  const auto& vertices = request.mesh_S->vertices;
  for (std::size_t i = 0; i < vertices.size(); ++i) {
    if (!vertices[i].allFinite()) continue;
    const Eigen::Vector3d& p = vertices[i];
    const Eigen::Vector3d q(view.right_S.dot(p), view.up_S.dot(p), -view.look_S.dot(p));
    whole.extend(q);
    if (std::isfinite(DeviationAt(request, i))) part.extend(q);
  }
  if (part.isEmpty()) part = whole;
  if (part.isEmpty()) part.extend(Eigen::Vector3d::Zero().eval());
  const Eigen::Vector3d size = part.sizes() * (1 + 2 * kMargin), q = part.center();
  view.mm_per_px = std::max(size.x() / view.width_px, size.y() / view.height_px);
  if (!(view.mm_per_px > 1e-9)) view.mm_per_px = 1.0;
  view.centre_S = q.x() * view.right_S + q.y() * view.up_S - q.z() * view.look_S;
  return view;
}

PiecePixels PaintPiece(const PictureRequest& request) {
  PiecePixels pixels{ChooseView(request), {}};
  DeviationScale(request.tolerance_mm);   // checks the tolerance
  const Painter painter(request, pixels.view);
  pixels.rgb = painter.Paint();
  return pixels;
}

std::vector<unsigned char> DrawPiece(const PictureRequest& request) {
  const PiecePixels pixels = PaintPiece(request);
  return EncodePng(pixels.rgb, pixels.view.width_px, pixels.view.height_px);
}

}  // namespace aircut::verify
