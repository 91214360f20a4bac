#include "verify/cell_picture.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/forward_kinematics.h"
#include "verify/arm_reach.h"
#include "verify/cell_picture_parts.h"
#include "verify/cell_words.h"
#include "verify/frame_marks.h"

namespace aircut::verify {
namespace {

using kinematics::JointVector;
using kinematics::Pose;

constexpr double kMargin_px = 44, kGap_px = 40, kTitle_px = 120, kHead_px = 34, kFoot_px = 96;
constexpr double kColumn_px = 760, kStack_px = 430, kMost_px = 1700;   // kMost: both views of a column

struct Posture {
  std::string title;
  std::optional<JointVector> q;
  std::vector<DrawnBody> bodies;
};

// Side view and plan share their horizontal direction, so that they line up.
struct Views {
  SheetView elevation, plan;
  std::string seen_along;
};

// The arm is seen from the side on which it works.
Views ChooseDirections(const sim::Cell& cell) {
  const Eigen::Vector3d to_work = cell.X_WS.translation() - cell.X_WB.translation();
  const Eigen::Vector3d z = Eigen::Vector3d::UnitZ();
  if (std::abs(to_work.x()) >= std::abs(to_work.y())) {
    return {ViewAlong(Eigen::Vector3d::UnitY(), z), ViewAlong(-z, Eigen::Vector3d::UnitY()), "along +y of the world"};
  }
  return {ViewAlong(-Eigen::Vector3d::UnitX(), z), ViewAlong(-z, -Eigen::Vector3d::UnitX()), "along -x of the world"};
}

// Arm, tool, fixture and frames, widened by obstacles that stand near.
Eigen::AlignedBox3d RegionOf(const sim::Cell& cell, const std::vector<Posture>& postures) {
  Eigen::AlignedBox3d core(Eigen::Vector3d::Zero().eval());
  std::vector<Eigen::AlignedBox3d> obstacles;
  core.extend(cell.X_WB.translation());
  core.extend(cell.X_WS.translation());
  for (const Posture& posture : postures) {
    for (const DrawnBody& body : posture.bodies) {
      Eigen::AlignedBox3d box;
      for (const Eigen::Vector3d& p : body.mesh.vertices) {
        if (p.allFinite()) box.extend(p);
      }
      if (body.kind == BodyKind::kObstacle) {
        obstacles.push_back(box);
      } else {
        core.extend(box);
      }
    }
  }
  if (cell.floor_z_mm) core.extend(Eigen::Vector3d(core.center().x(), core.center().y(), *cell.floor_z_mm));
  const Eigen::Vector3d reach = Eigen::Vector3d::Constant(0.4 * core.sizes().maxCoeff());
  const Eigen::AlignedBox3d near(Eigen::Vector3d(core.min() - reach), Eigen::Vector3d(core.max() + reach));
  for (const Eigen::AlignedBox3d& box : obstacles) {
    if (!box.isEmpty() && near.intersects(box)) core.extend(near.intersection(box));
  }
  return core;
}

class CellDrawing {
 public:
  explicit CellDrawing(const sim::Cell& cell)
      : cell_(cell), cutters_(CuttersOf(cell)), cutter_(cutters_.empty() ? nullptr : cutters_.front()),
        postures_(MakePostures()), region_(RegionOf(cell, postures_)), views_(ChooseDirections(cell)) {
    const Eigen::Vector3d size = region_.sizes() + Eigen::Vector3d::Constant(0.08 * region_.sizes().maxCoeff());
    const double across_mm = views_.plan.right.cwiseAbs().dot(size), depth_mm = views_.plan.up.cwiseAbs().dot(size);
    mm_per_px_ = std::max({across_mm / kColumn_px, (size.z() + depth_mm) / kMost_px, 1e-3});
    elevation_px_ = std::max(120.0, std::ceil(size.z() / mm_per_px_));
    plan_px_ = std::max(120.0, std::ceil(depth_mm / mm_per_px_));
    column_px_ = std::max(420.0, std::ceil(across_mm / mm_per_px_));
  }

  std::vector<unsigned char> Draw() {
    const double columns = static_cast<double>(postures_.size());
    const double width = 2 * kMargin_px + columns * (column_px_ + kGap_px) + (cutter_ == nullptr ? 0 : kStack_px);
    const double height = kTitle_px + 2 * kHead_px + elevation_px_ + plan_px_ + kGap_px + kFoot_px;
    DrawingSheet sheet(static_cast<int>(width), static_cast<int>(height));
    sheet.Text({kMargin_px, 56}, cell_.name.empty() ? "cell without a name" : cell_.name, {20, Anchor::kStart, {2.2}});
    sheet.Text({kMargin_px, 86}, cell_.arm_name.empty() ? "arm without a name" : cell_.arm_name,
               {11, Anchor::kStart, {1.3}});
    sheet.Line({kMargin_px, 102}, {width - kMargin_px, 102}, {1.2});
    for (std::size_t i = 0; i < postures_.size(); ++i) {
      DrawColumn(postures_[i], kMargin_px + static_cast<double>(i) * (column_px_ + kGap_px), sheet);
    }
    if (!cutters_.empty()) DrawTools(width - kMargin_px - kStack_px, sheet);
    DrawFoot(height, sheet);
    return sheet.Png();
  }

 private:
  std::vector<Posture> MakePostures() const {
    std::vector<Posture> postures;
    if (!cell_.arm) return postures;
    postures.push_back({"Home", HomePosture(cell_), {}});
    if (cutter_ != nullptr) {
      postures.push_back({fmt::format("Cutter {} on the workpiece zero", cutter_->number),
                          PostureAtWorkpieceZero(cell_, *cutter_), {}});
    }
    for (Posture& posture : postures) {
      if (posture.q) posture.bodies = BodiesInWorld(cell_, *posture.q, cutter_);
    }
    return postures;
  }

  SheetView Placed(SheetView view, double x, double y, double height) const {
    view.centre = region_.center();
    view.mm_per_px = mm_per_px_;
    view.frame = Eigen::AlignedBox2d(Eigen::Vector2d(x, y), Eigen::Vector2d(x + column_px_, y + height));
    return view;
  }

  void DrawColumn(const Posture& posture, double x, DrawingSheet& sheet) const {
    const double first = kTitle_px + kHead_px, second = first + elevation_px_ + kGap_px + kHead_px;
    const TextStyle head{12, Anchor::kStart, {1.6}};
    if (!posture.q) {
      sheet.Text({x, first - 12}, posture.title, head);
      sheet.Text({x, first + 30}, "not reached with the cutter", {11, Anchor::kStart, {1.3}});
      sheet.Text({x, first + 52}, "square on the workpiece", {11, Anchor::kStart, {1.3}});
      return;
    }
    sheet.Text({x, first - 12}, posture.title + ", seen " + views_.seen_along, head);
    sheet.Text({x, second - 12}, posture.title + ", seen from above", head);
    const SheetView elevation = Placed(views_.elevation, x, first, elevation_px_);
    const SheetView plan = Placed(views_.plan, x, second, plan_px_);
    DrawBodies(posture.bodies, elevation, sheet);
    DrawBodies(posture.bodies, plan, sheet);
    sheet.Clip(elevation.frame);
    DrawFloor(elevation, sheet);
    Annotate(posture, elevation, sheet);
    sheet.Clip(plan.frame);
    DrawReach(plan, sheet);
    Annotate(posture, plan, sheet);
    sheet.ClipNone();
  }

  void Annotate(const Posture& posture, const SheetView& view, DrawingSheet& sheet) const {
    DrawSkeleton(posture, view, sheet);
    Labels labels(view, sheet);
    const Pose X_WF = cell_.X_WB * kinematics::FlangePose(*cell_.arm, *posture.q);
    labels.Frame({"W", Pose::Identity()});
    labels.Frame({"B", cell_.X_WB});
    labels.Frame({"S", WorkInWorld(cell_, *posture.q)});
    labels.Frame({"F", X_WF});
    if (cutter_ != nullptr) {
      labels.Frame({"T", X_WF * cell_.X_FH * Eigen::Translation3d(0, 0, -cutter_->stick_out_mm)});
    }
    for (const DrawnBody& body : posture.bodies) {
      if (body.kind != BodyKind::kObstacle || body.mesh.vertices.empty()) continue;
      Eigen::AlignedBox3d box;
      for (const Eigen::Vector3d& p : body.mesh.vertices) box.extend(p);
      const Eigen::AlignedBox3d seen = box.intersection(region_);
      if (!seen.isEmpty()) labels.Name(seen.center(), body.name);
    }
  }

  // The line of the joints, where no body shows where a link is.
  void DrawSkeleton(const Posture& posture, const SheetView& view, DrawingSheet& sheet) const {
    if (!cell_.links.empty()) return;
    Eigen::Vector3d from = FootInWorld(cell_, *posture.q).translation();
    for (const Pose& X_BL : kinematics::LinkPoses(*cell_.arm, *posture.q)) {
      const Eigen::Vector3d to = cell_.X_WB * X_BL.translation();
      sheet.Line(view.PixelOf(from), view.PixelOf(to), {3.0});
      sheet.Circle(view.PixelOf(to), 5.0, {2.0});
      from = to;
    }
  }

  void DrawFloor(const SheetView& view, DrawingSheet& sheet) const {
    if (!cell_.floor_z_mm) return;
    const double y = view.PixelOf(Eigen::Vector3d(0, 0, *cell_.floor_z_mm)).y();
    const double left = view.frame.min().x(), right = view.frame.max().x();
    sheet.Line({left, y}, {right, y}, {2.0});
    for (double x = left; x < right; x += 16) sheet.Line({x, y + 10}, {x + 10, y}, {0.9});
  }

  // How far the tip gets from the axis of joint 1, where that stands upright.
  void DrawReach(const SheetView& view, DrawingSheet& sheet) const {
    const kinematics::ChainJoint& first = cell_.arm->chain().front();
    const Pose X_WA = FootInWorld(cell_, HomePosture(cell_));
    const Eigen::Vector3d axis_W = X_WA.linear() * first.before.linear() * first.axis;
    if (cutter_ == nullptr || axis_W.head<2>().norm() > 1e-6) return;
    try {
      const ArmReach reach = FindReach(cell_, cell_.X_FH * Eigen::Vector3d(0, 0, -cutter_->stick_out_mm));
      const Eigen::Vector3d foot = X_WA * first.before.translation();
      const Eigen::Vector3d ahead(cell_.X_WS.translation().x() - foot.x(), cell_.X_WS.translation().y() - foot.y(), 0);
      // Ends of a circle that lies elsewhere would only puzzle.
      if (!view.frame.contains(view.PixelOf(foot + reach.farthest_mm * ahead.normalized()))) return;
      sheet.Circle(view.PixelOf(foot), reach.farthest_mm / mm_per_px_, {1.0, kPencilColour, 8.0});
    } catch (const std::invalid_argument&) {
      return;   // no posture keeps the ranges: there is no circle to draw
    }
  }

  // The stack with the first cutter, then each cutter in its holder while there is room.
  void DrawTools(double x, DrawingSheet& sheet) const {
    const TextStyle head{12, Anchor::kStart, {1.6}};
    const double end = kTitle_px + 2 * kHead_px + elevation_px_ + kGap_px + plan_px_;
    double y = kTitle_px + kHead_px;
    sheet.Text({x, y - 12}, fmt::format("Tool stack with cutter {}, mm", cutters_.front()->number), head);
    y = DrawToolStack(cell_, *cutters_.front(), FrameBelow(x, y, std::min(560.0, 0.5 * (end - y))), sheet);
    std::size_t drawn = 0;
    for (; drawn < cutters_.size() && end - y > 330; ++drawn) {
      y += 52;
      sheet.Text({x, y - 12}, fmt::format("Cutter {} in its holder, mm", cutters_[drawn]->number), head);
      y = DrawCutterInHolder(cell_, *cutters_[drawn], FrameBelow(x, y, std::min(420.0, end - y - 24)), sheet);
    }
    if (drawn == cutters_.size()) return;
    sheet.Text({x, std::max(end + 4, y + 22)}, fmt::format("{} more not drawn", cutters_.size() - drawn), {10, Anchor::kStart, {1.2}});
  }

  static Eigen::AlignedBox2d FrameBelow(double x, double y, double height) {
    return {Eigen::Vector2d(x, y), Eigen::Vector2d(x + kStack_px, y + height)};
  }

  void DrawFoot(double height, DrawingSheet& sheet) const {
    const double y = height - 34;
    if (!postures_.empty()) DrawScaleBar({kMargin_px, y}, mm_per_px_, 170, sheet);
    const TextStyle style{9.5, Anchor::kStart, {1.2}};
    const double x = kMargin_px + 230;
    sheet.Text({x, y - 18},
               "W world   B base of the arm   F flange   H nose of the spindle   T tip of the cutter   S workpiece", style);
    sheet.Text({x, y + 2},
               "a dot points out of the sheet, a cross into it; wide hatching: obstacle, hose or hood; broken circle, "
               "where drawn: farthest the tip gets",
               style);
  }

  const sim::Cell& cell_;
  const std::vector<const sim::CellCutter*> cutters_;
  const sim::CellCutter* cutter_;   // in the spindle; null where there is none
  const std::vector<Posture> postures_;
  const Eigen::AlignedBox3d region_;
  const Views views_;
  double mm_per_px_ = 1, elevation_px_ = 0, plan_px_ = 0, column_px_ = 0;
};

}  // namespace

std::vector<unsigned char> DrawCell(const sim::Cell& cell) { return CellDrawing(cell).Draw(); }

}  // namespace aircut::verify
