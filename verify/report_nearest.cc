#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/clearance_limits.h"
#include "verify/body_view.h"
#include "verify/frame_marks.h"
#include "verify/motion_faults.h"
#include "verify/report_figures.h"
#include "verify/report_solids.h"
#include "verify/shape_mesh.h"
#include "verify/words.h"

// The moment at which two bodies come nearest, or meet, drawn square to the way
// between them.
namespace aircut::verify {
namespace {

constexpr int kWidth_px = 900, kHeight_px = 560;
constexpr int kFindingWidth_px = 330, kFindingHeight_px = 220;
constexpr double kAround_mm = 380.0;   // at least so much is seen to each side
constexpr double kTight = 2.0;         // farther than so many limits is no picture worth

// Of the job's own motion: the pair with the least room above its limit.
const sim::PairClearance* Tightest(const ReportContext& context) {
  const sim::Run& run = context.run;
  const sim::ClearanceLimits limits(context.job);
  const sim::PairClearance* tightest = nullptr;
  double least_mm = 0.0;
  for (const sim::PairClearance& pair : run.clearances) {
    const auto a = static_cast<std::size_t>(pair.a), b = static_cast<std::size_t>(pair.b);
    if (!pair.during.empty() || std::max(a, b) >= run.body_kinds.size() || !pair.p_WA.allFinite() ||
        !pair.p_WB.allFinite()) {
      continue;
    }
    const double limit_mm = limits.Between(run.body_kinds[a], run.body_kinds[b]).total_mm();
    const double room_mm = pair.clearance_mm - limit_mm;
    if (pair.clearance_mm > kTight * std::max(limit_mm, 10.0) || (tightest != nullptr && !(room_mm < least_mm))) continue;
    tightest = &pair;
    least_mm = room_mm;
  }
  return tightest;
}

const sim::CellCutter* CutterAt(const sim::Job& job, int line) {
  for (const kinematics::PathLine& at : job.path) {
    if (at.line == line || line <= 0) {
      const auto found = job.cell.cutters.find(at.tool);
      return found == job.cell.cutters.end() ? nullptr : &found->second;
    }
  }
  return nullptr;
}

// As level as the way between the two allows, with what is up drawn upwards.
SheetView ViewOf(const sim::PairClearance& pair, int width_px, int height_px) {
  Eigen::Vector3d along = pair.p_WB - pair.p_WA;
  if (!(along.norm() > 1e-9)) along = Eigen::Vector3d::UnitZ();
  along.normalize();
  Eigen::Vector3d look = along.cross(Eigen::Vector3d::UnitZ());
  if (!(look.norm() > 0.1)) look = Eigen::Vector3d::UnitY() - along * along.y();
  look.normalize();
  Eigen::Vector3d up = Eigen::Vector3d::UnitZ() - look * look.z();
  up.normalize();
  SheetView view = ViewAlong(look, up);
  view.centre = 0.5 * (pair.p_WA + pair.p_WB);
  view.frame = {Eigen::Vector2d::Zero(), Eigen::Vector2d(width_px, height_px)};
  view.mm_per_px = std::max(kAround_mm, 3.0 * (pair.p_WB - pair.p_WA).norm()) / (0.5 * height_px);
  return view;
}

std::vector<DrawnBody> BodiesAt(const ReportContext& context, const sim::PairClearance& pair) {
  const sim::Job& job = context.job;
  const sim::Run& run = context.run;
  std::vector<DrawnBody> bodies =
      BodiesInWorld(job.cell, JointsAt(run.motion.tracks.front(), pair.time_s), CutterAt(job, pair.line));
  DrawnBody piece;
  piece.kind = BodyKind::kFixture;
  piece.name = "piece";
  piece.mesh = sim::Transformed(job.stock_S->mesh(), pair.work_motion_W * run.X_WS_actual);
  bodies.push_back(std::move(piece));
  return bodies;
}

std::string NameOf(const sim::Run& run, int body) {
  return run.world && body < run.world->body_count() ? run.world->body(body).name : fmt::format("body {}", body);
}

bool CanBeDrawn(const ReportContext& context) {
  return context.job.cell.arm && context.job.stock_S && HasMoments(context.run);
}

NearestPicture PictureOf(const ReportContext& context, const sim::PairClearance& pair, int width_px, int height_px) {
  const SheetView view = ViewOf(pair, width_px, height_px);
  DrawingSheet sheet(width_px, height_px);
  DrawBodies(BodiesAt(context, pair), view, sheet);
  const Pen pen{2.2, {163, 52, 28}};
  for (const Eigen::Vector3d& p : {pair.p_WA, pair.p_WB}) sheet.Circle(view.PixelOf(p), 7.0, pen);
  sheet.Line(view.PixelOf(pair.p_WA), view.PixelOf(pair.p_WB), pen);
  Labels labels(view, sheet);
  const double bar_px = width_px / 6.0, foot = height_px - 14.0;
  sheet.Fill({Eigen::Vector2d(8, foot - 26), Eigen::Vector2d(28 + bar_px, foot + 6)}, kPaperColour);
  DrawScaleBar({18, foot}, view.mm_per_px, bar_px, sheet);
  // The world's directions, in the corner.
  const Eigen::Vector3d corner = view.centre + view.mm_per_px * ((0.5 * width_px - 60) * view.right - (0.5 * height_px - 60) * view.up);
  labels.Frame({"W", kinematics::Pose(Eigen::Translation3d(corner))});
  return {NameOf(context.run, pair.a), NameOf(context.run, pair.b), pair.line, pair.time_s, pair.clearance_mm, sheet.Png()};
}

}  // namespace

std::optional<NearestPicture> NearestOf(const ReportContext& context) {
  if (!CanBeDrawn(context)) return std::nullopt;
  const sim::PairClearance* pair = Tightest(context);
  if (pair == nullptr) return std::nullopt;
  return PictureOf(context, *pair, kWidth_px, kHeight_px);
}

std::optional<NearestPicture> NearestOf(const ReportContext& context, const Finding& finding) {
  const bool of_bodies = finding.check == "clash" || finding.check == "clearance";
  if (!of_bodies || !finding.time_s || !CanBeDrawn(context)) return std::nullopt;
  for (const sim::PairClearance& pair : context.run.clearances) {
    const bool same = pair.during.empty() && pair.line == finding.line && pair.time_s == *finding.time_s;
    if (same && pair.p_WA.allFinite() && pair.p_WB.allFinite()) return PictureOf(context, pair, kFindingWidth_px, kFindingHeight_px);
  }
  return std::nullopt;
}

}  // namespace aircut::verify
