#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/body_view.h"
#include "verify/cell_picture_parts.h"
#include "verify/cell_words.h"
#include "verify/frame_marks.h"

namespace aircut::verify {
namespace {

constexpr double kLeftRoom_px = 160.0;    // for lengths
constexpr double kRightRoom_px = 96.0;    // for diameters and letters
constexpr double kHeadRoom_px = 40.0, kFootRoom_px = 40.0;

const Pen kFine{0.8, kPencilColour, 0.0};
const TextStyle kFigure{10.0, Anchor::kMiddle, {1.2}};

// Writes a figure on paper of its own.
void Figure(const Eigen::Vector2d& at, const std::string& text, const TextStyle& style, DrawingSheet& sheet) {
  const Eigen::AlignedBox2d box = DrawingSheet::TextBox(at, text, style);
  const Eigen::Vector2d room(3, 3);
  sheet.Fill({Eigen::Vector2d(box.min() - room), Eigen::Vector2d(box.max() + room)}, kPaperColour);
  sheet.Text(at, text, style);
}

// The frame of H upright: +z of the nose upwards.
class UprightDrawing {
 public:
  /// @param right_H what points right, unit and square to z; @param points_H
  /// places that must be seen besides the bodies.
  UprightDrawing(std::vector<DrawnBody> bodies, const Eigen::Vector3d& right_H,
                 const std::vector<Eigen::Vector3d>& points_H, const Eigen::AlignedBox2d& frame, DrawingSheet& sheet)
      : sheet_(sheet), bodies_(std::move(bodies)),
        view_(ViewAlong(Eigen::Vector3d::UnitZ().cross(right_H), Eigen::Vector3d::UnitZ())), left_px_(frame.min().x()) {
    Eigen::AlignedBox2d extent;
    const auto extend = [&](const Eigen::Vector3d& p) { extent.extend(Eigen::Vector2d(right_H.dot(p), p.z())); };
    for (const Eigen::Vector3d& p : points_H) extend(p);
    for (const DrawnBody& body : bodies_) {
      for (const Eigen::Vector3d& p : body.mesh.vertices) extend(p);
    }
    const Eigen::Vector2d margins(kLeftRoom_px + kRightRoom_px, kHeadRoom_px + kFootRoom_px);
    const Eigen::Vector2d room = frame.sizes() - margins;
    const Eigen::Vector2d size = extent.sizes();
    view_.mm_per_px = std::max({size.x() / std::max(40.0, room.x()), size.y() / std::max(40.0, room.y()), 0.02});
    view_.centre = extent.center().x() * right_H + Eigen::Vector3d(0, 0, extent.center().y());
    const double height = std::ceil(size.y() / view_.mm_per_px + kHeadRoom_px + kFootRoom_px);
    view_.frame = {Eigen::Vector2d(left_px_ + kLeftRoom_px - 40, frame.min().y()),   // letters may stand there
                   Eigen::Vector2d(frame.max().x(), frame.min().y() + height)};
    DrawBodies(bodies_, view_, sheet_);
    sheet_.Line({AxisPx(), view_.frame.min().y() + 6}, {AxisPx(), bottom_px() - 6}, {0.8, kPencilColour, 7.0});
  }

  double HeightPx(double z_mm) const { return view_.PixelOf(Eigen::Vector3d(0, 0, z_mm)).y(); }
  double AxisPx() const { return view_.PixelOf(Eigen::Vector3d::Zero()).x(); }
  double left_px() const { return left_px_; }
  double bottom_px() const { return view_.frame.max().y(); }
  const SheetView& view() const { return view_; }

  /// A length along the axis between two heights, at `x_px`; figures of lengths
  /// too short for them stand left of it.
  void Length(double low_mm, double high_mm, double x_px) const {
    if (!(high_mm > low_mm)) return;
    const double low = HeightPx(low_mm), high = HeightPx(high_mm);
    for (const double y : {low, high}) sheet_.Line({x_px - 6, y}, {AxisPx(), y}, kFine);
    sheet_.Dimension({x_px, low}, {x_px, high});
    const std::string text = Given(high_mm - low_mm);
    const Eigen::AlignedBox2d box = DrawingSheet::TextBox({0, 0}, text, kFigure);
    const bool inside = low - high > box.sizes().y() + 24;
    Figure({inside ? x_px : x_px - 0.5 * box.sizes().x() - 9, 0.5 * (low + high) + 5}, text, kFigure, sheet_);
  }

  /// A diameter, written right of the edge at this height; @returns where, so
  /// that the next one stands above it.
  double Diameter(double z_mm, double radius_mm, double above_px) const {
    const Eigen::Vector2d edge = view_.PixelOf(radius_mm * view_.right + Eigen::Vector3d(0, 0, z_mm));
    const double y = std::min(edge.y() + 5, above_px - 17);
    const Eigen::Vector2d at(edge.x() + 30, y);
    sheet_.Line(edge, at + Eigen::Vector2d(-5, -5), kFine);
    Figure(at, "ø" + Given(2 * radius_mm), {10.0, Anchor::kStart, {1.2}}, sheet_);
    return y;
  }

 private:
  DrawingSheet& sheet_;
  const std::vector<DrawnBody> bodies_;
  SheetView view_;
  double left_px_;
};

// How far the flange centre stands beside the spindle axis, below the stack.
void DrawOffset(const UprightDrawing& drawing, const Eigen::Vector3d& p_HF, DrawingSheet& sheet) {
  const double beside_mm = p_HF.head<2>().norm();
  if (beside_mm < 0.0005) return;
  const Eigen::Vector2d flange = drawing.view().PixelOf(p_HF);
  const Eigen::Vector2d axis(drawing.AxisPx(), drawing.bottom_px() + 8), end(flange.x(), axis.y());
  sheet.Line(flange, end + Eigen::Vector2d(0, 6), kFine);
  sheet.Line(axis - Eigen::Vector2d(0, 14), axis + Eigen::Vector2d(0, 6), kFine);
  sheet.Dimension(axis, end);
  Figure(0.5 * (axis + end) + Eigen::Vector2d(0, -5), Given(beside_mm), kFigure, sheet);
}

void DrawDiameters(const UprightDrawing& drawing, const sim::CellCutter& cutter) {
  const double flutes_mm = cutter.cutter.flute_length_mm(), radius_mm = cutter.cutter.radius_mm();
  double y = drawing.Diameter(0.7 * flutes_mm - cutter.stick_out_mm, radius_mm, 1e9);
  if (cutter.stick_out_mm > flutes_mm) {
    y = drawing.Diameter(0.5 * (flutes_mm - cutter.stick_out_mm), 0.5 * cutter.shank_diameter_mm, y);
  }
  for (const sim::BodyCylinder& step : cutter.holder) {
    y = drawing.Diameter(0.5 * (step.z0_mm + step.z1_mm) - cutter.stick_out_mm, step.radius_mm, y);
  }
}

}  // namespace

double DrawToolStack(const sim::Cell& cell, const sim::CellCutter& cutter, const Eigen::AlignedBox2d& frame,
                     DrawingSheet& sheet) {
  const Eigen::Vector3d p_HF = cell.X_FH.inverse().translation(), p_HT(0, 0, -cutter.stick_out_mm);
  const Eigen::Vector3d beside(p_HF.x(), p_HF.y(), 0);
  const Eigen::Vector3d right = beside.norm() > 1e-3 ? Eigen::Vector3d(beside.normalized()) : Eigen::Vector3d::UnitX();
  const UprightDrawing drawing(ToolStackInNose(cell, cutter), right, {p_HF, p_HT, Eigen::Vector3d::Zero()}, frame, sheet);
  const double left = drawing.left_px();
  drawing.Length(-cutter.stick_out_mm, 0, left + 100);
  drawing.Length(std::min(0.0, p_HF.z()), std::max(0.0, p_HF.z()), left + 100);
  drawing.Length(-cutter.stick_out_mm, p_HF.z(), left + 34);
  DrawOffset(drawing, p_HF, sheet);
  Labels labels(drawing.view(), sheet);
  kinematics::Pose X_HT = kinematics::Pose::Identity();
  X_HT.translation() = p_HT;
  labels.Frame({"F", cell.X_FH.inverse()});
  labels.Frame({"H", kinematics::Pose::Identity()});
  labels.Frame({"T", X_HT});
  const double bottom = drawing.bottom_px() + 44;
  DrawScaleBar({left + 6, bottom - 6}, drawing.view().mm_per_px, 110, sheet);
  return bottom;
}

double DrawCutterInHolder(const sim::Cell& cell, const sim::CellCutter& cutter, const Eigen::AlignedBox2d& frame,
                          DrawingSheet& sheet) {
  std::vector<DrawnBody> bodies;
  for (DrawnBody& body : ToolStackInNose(cell, cutter)) {
    if (body.kind == BodyKind::kCutter || body.kind == BodyKind::kHolder) bodies.push_back(std::move(body));
  }
  const UprightDrawing drawing(std::move(bodies), Eigen::Vector3d::UnitX(), {Eigen::Vector3d::Zero()}, frame, sheet);
  const double left = drawing.left_px(), tip_mm = -cutter.stick_out_mm, flutes_mm = cutter.cutter.flute_length_mm();
  drawing.Length(tip_mm, tip_mm + flutes_mm, left + 100);
  drawing.Length(tip_mm + flutes_mm, 0, left + 100);
  drawing.Length(tip_mm, 0, left + 34);
  for (const sim::BodyCylinder& step : cutter.holder) {
    drawing.Length(step.z0_mm - cutter.stick_out_mm, step.z1_mm - cutter.stick_out_mm, left + 100);
  }
  DrawDiameters(drawing, cutter);
  const double bottom = drawing.bottom_px() + 24;
  DrawScaleBar({left + 6, bottom - 6}, drawing.view().mm_per_px, 110, sheet);
  return bottom;
}

std::vector<const sim::CellCutter*> CuttersOf(const sim::Cell& cell) {
  std::vector<const sim::CellCutter*> cutters;
  for (const auto& [number, cutter] : cell.cutters) cutters.push_back(&cutter);
  return cutters;
}

}  // namespace aircut::verify
