#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/body_view.h"
#include "verify/cell_picture_parts.h"
#include "verify/cell_words.h"
#include "verify/frame_marks.h"

namespace aircut::verify {
namespace {

constexpr double kDimensionRoom_px = 150.0;   // left of the stack, for lengths
constexpr double kFootRoom_px = 90.0;         // below it, for the offset and the scale

// A length along the spindle axis, drawn at `x_px`, between two heights in H.
struct Length {
  double low_mm = 0, high_mm = 0, x_px = 0;
};

class StackDrawing {
 public:
  StackDrawing(const sim::Cell& cell, const sim::CellCutter& cutter, const Eigen::AlignedBox2d& frame,
               DrawingSheet& sheet)
      : cell_(cell), cutter_(cutter), frame_(frame), sheet_(sheet), p_HF_(cell.X_FH.inverse().translation()),
        bodies_(ToolStackInNose(cell, cutter)), view_(MakeView()) {}

  void Draw() {
    DrawBodies(bodies_, view_, sheet_);
    const double axis_px = view_.PixelOf(Eigen::Vector3d::Zero()).x();
    const double top_px = view_.frame.min().y();
    sheet_.Line({axis_px, top_px}, {axis_px, view_.frame.max().y()}, {0.8, kPencilColour, 7.0});
    DrawLengths();
    DrawSteps();
    Labels labels(view_, sheet_);
    kinematics::Pose X_HT = kinematics::Pose::Identity();
    X_HT.translation().z() = -cutter_.stick_out_mm;
    labels.Frame({"H", kinematics::Pose::Identity()});
    labels.Frame({"T", X_HT});
    labels.Frame({"F", cell_.X_FH.inverse()});
    DrawScaleBar({frame_.min().x() + 10, frame_.max().y() - 8}, view_.mm_per_px, 110, sheet_);
  }

 private:
  // Upright, the flange to the right of the spindle axis where it stands beside.
  SheetView MakeView() const {
    const Eigen::Vector3d beside(p_HF_.x(), p_HF_.y(), 0);
    const Eigen::Vector3d right = beside.norm() > 1e-3 ? Eigen::Vector3d(beside.normalized()) : Eigen::Vector3d::UnitX();
    const Eigen::Vector3d up = Eigen::Vector3d::UnitZ();
    SheetView view = ViewAlong(up.cross(right), up);
    Eigen::AlignedBox2d extent;
    for (const Eigen::Vector3d& p : {Eigen::Vector3d(0, 0, -cutter_.stick_out_mm), Eigen::Vector3d(0, 0, 0), p_HF_}) {
      extent.extend(Eigen::Vector2d(right.dot(p), up.dot(p)));
    }
    for (const DrawnBody& body : bodies_) {
      for (const Eigen::Vector3d& p : body.mesh.vertices) {
        extent.extend(Eigen::Vector2d(right.dot(p), up.dot(p)));
      }
    }
    view.frame = Eigen::AlignedBox2d(Eigen::Vector2d(frame_.min() + Eigen::Vector2d(kDimensionRoom_px, 0)),
                                     Eigen::Vector2d(frame_.max() - Eigen::Vector2d(0, kFootRoom_px)));
    const Eigen::Vector2d room = view.frame.sizes() - Eigen::Vector2d(80, 60), size = extent.sizes();
    view.mm_per_px = std::max({size.x() / room.x(), size.y() / room.y(), 0.02});
    view.centre = extent.center().x() * right + extent.center().y() * up;
    return view;
  }

  double HeightPx(double z_mm) const { return view_.PixelOf(Eigen::Vector3d(0, 0, z_mm)).y(); }

  void DrawLengths() const {
    const double left = frame_.min().x();
    DrawLength({-cutter_.stick_out_mm, 0, left + 110});
    DrawLength({std::min(0.0, p_HF_.z()), std::max(0.0, p_HF_.z()), left + 110});
    DrawLength({-cutter_.stick_out_mm, p_HF_.z(), left + 40});
    const double beside_mm = p_HF_.head<2>().norm();
    if (beside_mm < 0.0005) return;
    const Eigen::Vector2d axis(view_.PixelOf(Eigen::Vector3d::Zero()).x(), view_.frame.max().y() + 22);
    const Eigen::Vector2d flange = view_.PixelOf(p_HF_);
    const Eigen::Vector2d end(flange.x(), axis.y());
    sheet_.Line(flange, end + Eigen::Vector2d(0, 6), {0.8, kPencilColour});
    sheet_.Line({axis.x(), HeightPx(-cutter_.stick_out_mm) + 10}, axis + Eigen::Vector2d(0, 6), {0.8, kPencilColour});
    sheet_.Dimension(axis, end);
    sheet_.Text(0.5 * (axis + end) + Eigen::Vector2d(0, -5), Given(beside_mm), {10, Anchor::kMiddle, {1.2}});
  }

  void DrawLength(const Length& length) const {
    if (!(length.high_mm > length.low_mm)) return;
    const double axis_px = view_.PixelOf(Eigen::Vector3d::Zero()).x();
    const double low = HeightPx(length.low_mm), high = HeightPx(length.high_mm);
    for (const double y : {low, high}) sheet_.Line({length.x_px - 6, y}, {axis_px, y}, {0.8, kPencilColour});
    sheet_.Dimension({length.x_px, low}, {length.x_px, high});
    const double middle = 0.5 * (low + high) + 5;
    const TextStyle style{10, Anchor::kMiddle, {1.2}};
    const std::string text = Given(length.high_mm - length.low_mm);
    const Eigen::AlignedBox2d box = DrawingSheet::TextBox({length.x_px, middle}, text, style);
    const bool inside = std::abs(low - high) > box.sizes().y() + 24;
    // A length too short for its number has it beside the arrows.
    const Eigen::Vector2d at(inside ? length.x_px : length.x_px - 0.5 * box.sizes().x() - 10, middle);
    const Eigen::AlignedBox2d paper = DrawingSheet::TextBox(at, text, style);
    sheet_.Fill({Eigen::Vector2d(paper.min() - Eigen::Vector2d(3, 3)), Eigen::Vector2d(paper.max() + Eigen::Vector2d(3, 3))},
                kPaperColour);
    sheet_.Text(at, text, style);
  }

  // Diameters right of the steps: cutter, shank where it differs, holder.
  void DrawSteps() const {
    double last_px = 1e9;
    const auto name = [&](double z_mm, double radius_mm) {
      const Eigen::Vector2d edge = view_.PixelOf(radius_mm * view_.right + Eigen::Vector3d(0, 0, z_mm));
      const double y = std::min(edge.y() + 5, last_px - 16);
      last_px = y;
      const Eigen::Vector2d at(edge.x() + 40, y);
      sheet_.Line(edge, at + Eigen::Vector2d(-5, -5), {0.8, kPencilColour});
      const std::string text = "ø" + Given(2 * radius_mm);
      const TextStyle style{10, Anchor::kStart, {1.2}};
      const Eigen::AlignedBox2d box = DrawingSheet::TextBox(at, text, style);
      sheet_.Fill({Eigen::Vector2d(box.min() - Eigen::Vector2d(3, 3)), Eigen::Vector2d(box.max() + Eigen::Vector2d(3, 3))},
                  kPaperColour);
      sheet_.Text(at, text, style);
    };
    const bool outlined = !cutter_.outline.pieces.empty();
    const double flutes_mm = outlined ? cutter_.outline.height_mm : cutter_.cutter.flute_length_mm();
    const double radius_mm = outlined ? 0.5 * cutter_.outline.diameter_mm : cutter_.cutter.radius_mm();
    name(0.6 * flutes_mm - cutter_.stick_out_mm, radius_mm);
    if (cutter_.stick_out_mm > flutes_mm && std::abs(cutter_.shank_diameter_mm - 2 * radius_mm) > 1e-6) {
      name(0.5 * (flutes_mm - cutter_.stick_out_mm), 0.5 * cutter_.shank_diameter_mm);
    }
    for (const sim::BodyCylinder& step : cutter_.holder) {
      name(0.5 * (step.z0_mm + step.z1_mm) - cutter_.stick_out_mm, step.radius_mm);
    }
  }

  const sim::Cell& cell_;
  const sim::CellCutter& cutter_;
  const Eigen::AlignedBox2d frame_;
  DrawingSheet& sheet_;
  const Eigen::Vector3d p_HF_;
  const std::vector<DrawnBody> bodies_;
  const SheetView view_;
};

}  // namespace

void DrawToolStack(const sim::Cell& cell, const sim::CellCutter& cutter, const Eigen::AlignedBox2d& frame,
                   DrawingSheet& sheet) {
  StackDrawing(cell, cutter, frame, sheet).Draw();
}

const sim::CellCutter* FirstCutter(const sim::Cell& cell) {
  const sim::CellCutter* first = cell.cutters.empty() ? nullptr : &cell.cutters.begin()->second;
  if (cell.uncomputed_cutters.empty()) return first;
  const sim::CellCutter* other = &cell.uncomputed_cutters.begin()->second;
  return first == nullptr || other->number < first->number ? other : first;
}

}  // namespace aircut::verify
