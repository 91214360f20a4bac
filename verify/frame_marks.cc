#include "verify/frame_marks.h"

#include <cmath>

#include "verify/cell_words.h"

namespace aircut::verify {
namespace {

constexpr double kAxis_px = 30.0;
constexpr double kEndOn = 0.25;          // projected share below which an axis is seen end on

Eigen::AlignedBox2d Grown(const Eigen::AlignedBox2d& box, double by_px) {
  const Eigen::Vector2d by(by_px, by_px);
  return {Eigen::Vector2d(box.min() - by), Eigen::Vector2d(box.max() + by)};
}

double Overlap(const Eigen::AlignedBox2d& a, const Eigen::AlignedBox2d& b) {
  const Eigen::AlignedBox2d both = a.intersection(b);
  return both.isEmpty() ? 0.0 : both.volume();
}

}  // namespace

void Labels::Axis(const Eigen::Vector2d& from, const Eigen::Vector3d& direction, const char* letter) {
  const Eigen::Vector2d seen(view_.right.dot(direction), -view_.up.dot(direction));
  const Pen pen{1.8};
  if (seen.norm() < kEndOn) {
    sheet_.Circle(from, 5.0, {1.2});
    if (view_.look.dot(direction) < 0) {
      sheet_.Circle(from, 1.0, {2.0});
    } else {
      for (const double side : {3.5, -3.5}) {
        sheet_.Line(from + Eigen::Vector2d(3.5, side), from - Eigen::Vector2d(3.5, side), {1.2});
      }
    }
    return;
  }
  const Eigen::Vector2d end = from + kAxis_px * seen, way = seen.normalized(), aside(-way.y(), way.x());
  sheet_.Line(from, end, pen);
  for (const double side : {0.35, -0.35}) sheet_.Line(end, end - 7.0 * (way + side * aside), {1.4});
  for (const double share : {0.25, 0.5, 0.75, 1.0}) {
    taken_.push_back(Grown(Eigen::AlignedBox2d(Eigen::Vector2d(from + share * (end - from))), 5.0));
  }
  const TextStyle style{7.5, Anchor::kMiddle, {1.1}};
  const Eigen::Vector2d at = end + 9.0 * way + Eigen::Vector2d(0, 3.5);
  sheet_.Fill(Grown(DrawingSheet::TextBox(at, letter, style), 1.0), kPaperColour);
  sheet_.Text(at, letter, style);
  taken_.push_back(Grown(DrawingSheet::TextBox(at, letter, style), 2.0));
}

void Labels::Frame(const NamedFrame& frame) {
  const Eigen::Vector2d at = view_.PixelOf(frame.X_VA.translation());
  if (!at.allFinite() || !Grown(view_.frame, -4.0).contains(at)) return;
  const char* names[] = {"x", "y", "z"};
  for (int axis = 0; axis < 3; ++axis) Axis(at, frame.X_VA.linear().col(axis), names[axis]);
  taken_.push_back(Grown(Eigen::AlignedBox2d(at), 6.0));
  Write(at, frame.letter, {14.0, Anchor::kMiddle, {2.2}});
}

void Labels::Name(const Eigen::Vector3d& at, const std::string& text) {
  const Eigen::Vector2d px = view_.PixelOf(at);
  if (!px.allFinite() || !view_.frame.contains(px)) return;
  Write(px, text, {9.0, Anchor::kMiddle, {1.1}});
}

// Of places round about, near ones first, the one that covers least of what is there.
void Labels::Write(const Eigen::Vector2d& near, const std::string& text, const TextStyle& style) {
  Eigen::Vector2d best = near;
  double least = -1;
  for (const double away_px : {18.0, 34.0, 52.0}) {
    for (int i = 0; i < 8; ++i) {
      const double angle = 0.39269908169872414 * (2 * i + 1);
      const Eigen::Vector2d at = near + away_px * Eigen::Vector2d(std::cos(angle), std::sin(angle)) +
                                 Eigen::Vector2d(0, 0.5 * style.capital_px);
      const Eigen::AlignedBox2d box = Grown(DrawingSheet::TextBox(at, text, style), 3.0);
      double cost = away_px + (view_.frame.contains(box) ? 0.0 : 1e6);
      for (const Eigen::AlignedBox2d& other : taken_) cost += 4.0 * Overlap(box, other);
      if (least >= 0 && !(cost < least)) continue;
      least = cost;
      best = at;
    }
  }
  const Eigen::AlignedBox2d box = DrawingSheet::TextBox(best, text, style);
  if (!view_.frame.contains(box)) return;
  sheet_.Fill(Grown(box, 3.0), kPaperColour);
  sheet_.Text(best, text, style);
  taken_.push_back(Grown(box, 3.0));
}

void DrawScaleBar(const Eigen::Vector2d& at, double mm_per_px, double wanted_px, DrawingSheet& sheet) {
  const double wanted_mm = mm_per_px * wanted_px;
  double length_mm = std::pow(10.0, std::floor(std::log10(wanted_mm)));
  for (const double factor : {5.0, 2.0}) {
    if (length_mm * factor > wanted_mm) continue;
    length_mm *= factor;
    break;
  }
  const Eigen::Vector2d end = at + Eigen::Vector2d(length_mm / mm_per_px, 0);
  const Pen pen{1.8};
  sheet.Line(at, end, pen);
  for (const Eigen::Vector2d& p : {at, end}) sheet.Line(p, p - Eigen::Vector2d(0, 8), pen);
  sheet.Text(0.5 * (at + end) - Eigen::Vector2d(0, 6), GivenMm(length_mm), {10.0, Anchor::kMiddle, {1.2}});
}

}  // namespace aircut::verify
