#include "verify/drawing_sheet.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "verify/png_file.h"
#include "verify/stroke_font.h"

namespace aircut::verify {
namespace {

constexpr int kLargest_px = 8192;

Eigen::Vector3f AsVector(const Colour& c) { return {float(c[0]), float(c[1]), float(c[2])}; }

double DistanceToSegment(const Eigen::Vector2d& p, const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
  const Eigen::Vector2d along = b - a;
  const double length2 = along.squaredNorm();
  const double t = length2 > 0 ? std::clamp((p - a).dot(along) / length2, 0.0, 1.0) : 0.0;
  return (p - a - t * along).norm();
}

double StartOf(double width, Anchor anchor) {
  if (anchor == Anchor::kStart) return 0.0;
  return anchor == Anchor::kMiddle ? -0.5 * width : -width;
}

}  // namespace

DrawingSheet::DrawingSheet(int width_px, int height_px) : width_px_(width_px), height_px_(height_px) {
  for (const int size : {width_px, height_px}) {
    if (size >= 1 && size <= kLargest_px) continue;
    throw std::invalid_argument(fmt::format("DrawingSheet: size = {} px must be in [1, {}]", size, kLargest_px));
  }
  pixels_.assign(static_cast<std::size_t>(width_px) * height_px, AsVector(kPaperColour));
  ClipNone();
}

void DrawingSheet::ClipNone() {
  clip_ = Eigen::AlignedBox2d(Eigen::Vector2d(0, 0), Eigen::Vector2d(width_px_, height_px_));
}

void DrawingSheet::Put(int x, int y, const Eigen::Vector3d& colour) {
  if (x < 0 || y < 0 || x >= width_px_ || y >= height_px_) return;
  pixels_[static_cast<std::size_t>(y) * width_px_ + x] = colour.cast<float>();
}

void DrawingSheet::Ink(int x, int y, double cover, const Colour& colour) {
  if (!clip_.contains(Eigen::Vector2d(x + 0.5, y + 0.5))) return;
  Eigen::Vector3f& pixel = pixels_[static_cast<std::size_t>(y) * width_px_ + x];
  pixel += static_cast<float>(cover) * (AsVector(colour) - pixel);
}

void DrawingSheet::Line(const Eigen::Vector2d& from, const Eigen::Vector2d& to, const Pen& pen) {
  if (!from.allFinite() || !to.allFinite()) return;
  if (pen.dash_px > 0) {
    const double length = (to - from).norm();
    const Eigen::Vector2d along = length > 0 ? Eigen::Vector2d((to - from) / length) : Eigen::Vector2d::Zero();
    const double end = std::min(length, 4.0 * kLargest_px);
    for (double at = 0; at < end; at += 2 * pen.dash_px) {
      Line(from + at * along, from + std::min(at + pen.dash_px, length) * along, {pen.width_px, pen.colour, 0.0});
    }
    return;
  }
  const double half = 0.5 * pen.width_px, around = half + 1;
  const Eigen::Vector2d low = (from.cwiseMin(to).array() - around).max(clip_.min().array());
  const Eigen::Vector2d high = (from.cwiseMax(to).array() + around).min(clip_.max().array());
  for (int y = static_cast<int>(std::floor(low.y())); y < high.y(); ++y) {
    for (int x = static_cast<int>(std::floor(low.x())); x < high.x(); ++x) {
      const double cover = half + 0.5 - DistanceToSegment({x + 0.5, y + 0.5}, from, to);
      if (cover > 0 && x >= 0 && y >= 0 && x < width_px_ && y < height_px_) {
        Ink(x, y, std::min(cover, std::min(1.0, pen.width_px)), pen.colour);
      }
    }
  }
}

void DrawingSheet::Lines(const std::vector<Eigen::Vector2d>& points, const Pen& pen) {
  for (std::size_t i = 1; i < points.size(); ++i) Line(points[i - 1], points[i], pen);
}

void DrawingSheet::Circle(const Eigen::Vector2d& centre, double radius_px, const Pen& pen) {
  if (!(radius_px > 0) || radius_px > 1e5) return;
  // Chords of about four pixels; of a broken circle every other one.
  const double chord = pen.dash_px > 0 ? pen.dash_px : std::min(4.0, 0.5 * radius_px);
  const int count = std::max(12, 2 * static_cast<int>(kinematics::kPi * radius_px / chord));
  const auto on = [&](int i) -> Eigen::Vector2d {
    const double angle = 2 * kinematics::kPi * i / count;
    return centre + radius_px * Eigen::Vector2d(std::cos(angle), std::sin(angle));
  };
  const Pen unbroken{pen.width_px, pen.colour, 0.0};
  for (int i = 0; i < count; i += pen.dash_px > 0 ? 2 : 1) Line(on(i), on(i + 1), unbroken);
}

void DrawingSheet::Dimension(const Eigen::Vector2d& from, const Eigen::Vector2d& to, const Pen& pen) {
  Line(from, to, pen);
  const double length = (to - from).norm();
  if (!(length > 0)) return;
  const Eigen::Vector2d along = (to - from) / length, aside(-along.y(), along.x());
  const double head = std::min(8.0, 0.4 * length);
  for (const double side : {0.3, -0.3}) {
    Line(from, from + head * (along + side * aside), pen);
    Line(to, to - head * (along + side * aside), pen);
  }
}

void DrawingSheet::Fill(const Eigen::AlignedBox2d& box, const Colour& colour) {
  const Eigen::AlignedBox2d inside = box.intersection(clip_);
  if (inside.isEmpty()) return;
  for (int y = static_cast<int>(inside.min().y()); y < inside.max().y(); ++y) {
    for (int x = static_cast<int>(inside.min().x()); x < inside.max().x(); ++x) {
      if (x < width_px_ && y < height_px_) Ink(x, y, 1.0, colour);
    }
  }
}

void DrawingSheet::Text(const Eigen::Vector2d& at, const std::string& text, const TextStyle& style) {
  const Lettering lettering = Letter(text, style.capital_px);
  const double start = StartOf(lettering.width, style.anchor);
  for (const auto& stroke : lettering.strokes) {
    std::vector<Eigen::Vector2d> points;
    for (const Eigen::Vector2d& p : stroke) points.emplace_back(at.x() + start + p.x(), at.y() - p.y());
    Lines(points, style.pen);
  }
}

Eigen::AlignedBox2d DrawingSheet::TextBox(const Eigen::Vector2d& at, const std::string& text, const TextStyle& style) {
  const double width = Letter(text, style.capital_px).width, start = at.x() + StartOf(width, style.anchor);
  return {Eigen::Vector2d(start, at.y() - style.capital_px),
          Eigen::Vector2d(start + width, at.y() + style.capital_px / 3)};
}

std::vector<unsigned char> DrawingSheet::Png() const {
  std::vector<std::uint8_t> bytes;
  bytes.reserve(pixels_.size() * 3);
  for (const Eigen::Vector3f& pixel : pixels_) {
    for (const float value : pixel) {
      bytes.push_back(static_cast<std::uint8_t>(std::lround(std::clamp(value, 0.0f, 255.0f))));
    }
  }
  return EncodePng(bytes, width_px_, height_px_);
}

}  // namespace aircut::verify
