#include "verify/body_view.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace aircut::verify {
namespace {

constexpr int kSamples = 2;              // per pixel edge
constexpr double kCrease = 0.87;         // cosine of the angle that counts as an edge, 30 degrees
constexpr double kStep_px = 5.0;         // a fall of this depth is an outline

Eigen::Vector3d AsVector(const Colour& c) { return {double(c[0]), double(c[1]), double(c[2])}; }

// One layer of the view: what is nearest the eye at each sample.
struct Layer {
  int width = 0, height = 0;
  std::vector<float> near_mm;
  std::vector<std::int32_t> body;                    // -1 = nothing
  std::vector<Eigen::Vector3f> normal;
  bool Has(std::size_t at) const { return body[at] >= 0; }
};

Layer EmptyLayer(const SheetView& view) {
  Layer layer;
  layer.width = static_cast<int>(view.frame.sizes().x()) * kSamples;
  layer.height = static_cast<int>(view.frame.sizes().y()) * kSamples;
  const std::size_t count = static_cast<std::size_t>(layer.width) * static_cast<std::size_t>(layer.height);
  layer.near_mm.assign(count, 0.0f);
  layer.body.assign(count, -1);
  layer.normal.assign(count, Eigen::Vector3f::Zero());
  return layer;
}

// A corner of a triangle: samples from the layer's upper left, and towards the eye.
using Corner = Eigen::Vector3d;

double Cross(const Corner& a, const Corner& b, double x, double y) {
  return (b.x() - a.x()) * (y - a.y()) - (b.y() - a.y()) * (x - a.x());
}

struct Face {
  std::array<Corner, 3> corner;
  Eigen::Vector3f normal;
  std::int32_t body = 0;
};

// Where two bodies share a surface the one that was drawn first keeps it whole.
void DrawFace(const Face& face, double same_mm, Layer& layer) {
  const auto& [a, b, c] = face.corner;
  const double area = Cross(a, b, c.x(), c.y());
  if (!(std::abs(area) > 1e-9)) return;
  const Corner low = a.cwiseMin(b).cwiseMin(c), high = a.cwiseMax(b).cwiseMax(c);
  const int x0 = static_cast<int>(std::clamp(std::floor(low.x() - 0.5), 0.0, double(layer.width)));
  const int x1 = static_cast<int>(std::clamp(std::ceil(high.x() + 0.5), 0.0, double(layer.width)));
  const int y0 = static_cast<int>(std::clamp(std::floor(low.y() - 0.5), 0.0, double(layer.height)));
  const int y1 = static_cast<int>(std::clamp(std::ceil(high.y() + 0.5), 0.0, double(layer.height)));
  for (int y = y0; y < y1; ++y) {
    for (int x = x0; x < x1; ++x) {
      const double wa = Cross(b, c, x + 0.5, y + 0.5) / area, wb = Cross(c, a, x + 0.5, y + 0.5) / area;
      const double wc = 1 - wa - wb;
      if (wa < 0 || wb < 0 || wc < 0) continue;
      const auto near_mm = static_cast<float>(wa * a.z() + wb * b.z() + wc * c.z());
      const std::size_t at = static_cast<std::size_t>(y) * layer.width + x;
      if (layer.Has(at) && !(near_mm > layer.near_mm[at] + (layer.body[at] == face.body ? 0 : same_mm))) continue;
      layer.near_mm[at] = near_mm;
      layer.body[at] = face.body;
      layer.normal[at] = face.normal;
    }
  }
}

void DrawMesh(const sim::Mesh& mesh, std::int32_t body, const SheetView& view, Layer& layer) {
  std::vector<Corner> corners;
  corners.reserve(mesh.vertices.size());
  for (const Eigen::Vector3d& p : mesh.vertices) {
    const Eigen::Vector2d px = (view.PixelOf(p) - view.frame.min()) * kSamples;
    corners.emplace_back(px.x(), px.y(), -view.look.dot(p - view.centre));
  }
  for (const auto& t : mesh.triangles) {
    const Eigen::Vector3d across = (mesh.vertices[t[1]] - mesh.vertices[t[0]])
                                       .cross(mesh.vertices[t[2]] - mesh.vertices[t[0]]);
    if (!(across.norm() > 0)) continue;
    Eigen::Vector3d normal = across.normalized();
    if (normal.dot(view.look) > 0) normal = -normal;   // the side that is seen
    DrawFace({{corners[t[0]], corners[t[1]], corners[t[2]]}, normal.cast<float>(), body}, 0.4 * view.mm_per_px, layer);
  }
}

class Shader {
 public:
  Shader(const std::vector<DrawnBody>& bodies, const SheetView& view)
      : bodies_(bodies), view_(view), solid_(EmptyLayer(view)), veil_(EmptyLayer(view)) {
    for (std::size_t i = 0; i < bodies.size(); ++i) {
      const bool obstacle = bodies[i].kind == BodyKind::kObstacle;
      DrawMesh(bodies[i].mesh, static_cast<std::int32_t>(i), view, obstacle ? veil_ : solid_);
    }
  }

  void Paint(DrawingSheet& sheet) const {
    const int left = static_cast<int>(view_.frame.min().x()), top = static_cast<int>(view_.frame.min().y());
    for (int y = 0; y < solid_.height / kSamples; ++y) {
      for (int x = 0; x < solid_.width / kSamples; ++x) {
        Eigen::Vector3d sum = Eigen::Vector3d::Zero();
        for (int s = 0; s < kSamples * kSamples; ++s) {
          sum += SampleAt(x * kSamples + s % kSamples, y * kSamples + s / kSamples);
        }
        sheet.Put(left + x, top + y, sum / (kSamples * kSamples));
      }
    }
  }

 private:
  Eigen::Vector3d SampleAt(int x, int y) const {
    const std::size_t at = static_cast<std::size_t>(y) * solid_.width + x;
    const Eigen::Vector3d ink = AsVector(kInkColour), paper = AsVector(kPaperColour);
    Eigen::Vector3d colour = paper;
    if (solid_.Has(at)) colour = OnOutline(solid_, x, y) ? 0.25 * paper + 0.75 * ink : Shaded(at, x, y);
    if (!veil_.Has(at)) return colour;
    const bool behind = solid_.Has(at) && solid_.near_mm[at] >= veil_.near_mm[at];
    if (behind) return colour;
    if (OnOutline(veil_, x, y)) return 0.45 * colour + 0.55 * ink;
    return (x - y + 16384) % 24 < 1 ? 0.72 * colour + 0.28 * ink : 0.94 * colour + 0.06 * ink;
  }

  Eigen::Vector3d Shaded(std::size_t at, int x, int y) const {
    const DrawnBody& body = bodies_[static_cast<std::size_t>(solid_.body[at])];
    const Eigen::Vector3d light = (-0.5 * view_.right + 0.6 * view_.up - 0.62 * view_.look).normalized();
    const double lit = std::max(0.0, solid_.normal[at].cast<double>().dot(light));
    double shade = 0.70 + 0.36 * lit;
    if (body.kind == BodyKind::kFixture && (x + y) % 12 < 1) shade *= 0.72;
    return (shade * AsVector(ToneOf(body))).cwiseMin(AsVector(kPaperColour));
  }

  // Where another body begins, the surface falls away or has an edge.
  bool OnOutline(const Layer& layer, int x, int y) const {
    const std::size_t at = static_cast<std::size_t>(y) * layer.width + x;
    for (const auto& [dx, dy] : {std::pair{1, 0}, {0, 1}, {-1, 0}, {0, -1}}) {
      const int nx = x + dx, ny = y + dy;
      if (nx < 0 || ny < 0 || nx >= layer.width || ny >= layer.height) continue;
      const std::size_t next = static_cast<std::size_t>(ny) * layer.width + nx;
      if (!layer.Has(next)) return true;
      const double fall_mm = layer.near_mm[at] - layer.near_mm[next];
      if (fall_mm > kStep_px * view_.mm_per_px) return true;
      const bool forward = dx + dy > 0;   // an edge is inked on one of its two sides
      if (forward && layer.body[at] == layer.body[next] && layer.normal[at].dot(layer.normal[next]) < kCrease) return true;
      if (forward && SplitsAt(layer, at, next)) return true;
    }
    return false;
  }

  // Pieces of one thing (steps of a flute, balls of a tip) have no line between them.
  bool SplitsAt(const Layer& layer, std::size_t at, std::size_t next) const {
    const DrawnBody& a = bodies_[static_cast<std::size_t>(layer.body[at])];
    const DrawnBody& b = bodies_[static_cast<std::size_t>(layer.body[next])];
    if (a.kind != b.kind) return true;
    if (a.kind == BodyKind::kCutter) return false;
    return layer.body[at] != layer.body[next];
  }

  const std::vector<DrawnBody>& bodies_;
  const SheetView& view_;
  Layer solid_, veil_;
};

}  // namespace

Eigen::Vector2d SheetView::PixelOf(const Eigen::Vector3d& p) const {
  const Eigen::Vector3d d = (p - centre) / mm_per_px;
  return frame.center() + Eigen::Vector2d(right.dot(d), -up.dot(d));
}

SheetView ViewAlong(const Eigen::Vector3d& look, const Eigen::Vector3d& up) {
  SheetView view;
  view.look = look;
  view.up = up;
  view.right = look.cross(up);
  view.centre = Eigen::Vector3d::Zero();
  return view;
}

Colour ToneOf(const DrawnBody& body) {
  switch (body.kind) {
    case BodyKind::kArm: return body.link % 2 == 0 ? Colour{232, 229, 221} : Colour{216, 212, 203};
    case BodyKind::kSpindle: return {186, 182, 174};
    case BodyKind::kHolder: return {150, 148, 143};
    case BodyKind::kCutter: return {84, 88, 96};
    case BodyKind::kFixture: return {244, 240, 228};
    case BodyKind::kObstacle: break;
  }
  return {236, 234, 228};
}

void DrawBodies(const std::vector<DrawnBody>& bodies, const SheetView& view, DrawingSheet& sheet) {
  Shader(bodies, view).Paint(sheet);
}

}  // namespace aircut::verify
