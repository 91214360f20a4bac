#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/clearance_limits.h"
#include "verify/body_view.h"
#include "verify/motion_faults.h"
#include "verify/report_parts.h"
#include "verify/report_text.h"
#include "verify/shape_mesh.h"
#include "verify/words.h"

// The moment at which two bodies come nearest, or meet, drawn square to the way
// between them.
namespace aircut::verify {
namespace {

constexpr int kWidth_px = 900, kHeight_px = 560;
constexpr double kAround_mm = 380.0;   // at least so much is seen to each side
constexpr double kTight = 2.0;         // farther than so many limits is no picture worth

// Of the job's own motion: the pair with the least room above its limit.
const sim::PairClearance* Tightest(const Page& page) {
  const sim::Run& run = page.context.run;
  const sim::ClearanceLimits limits(page.context.job);
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

kinematics::JointVector JointsAt(const kinematics::MotionTrack& track, double time_s) {
  const auto after = std::upper_bound(track.time_s.begin(), track.time_s.end(), time_s);
  const auto next = static_cast<std::size_t>(after - track.time_s.begin());
  if (next == 0) return track.q.front();
  if (next >= track.size()) return track.q.back();
  const double step_s = track.time_s[next] - track.time_s[next - 1];
  const double part = step_s > 0 ? (time_s - track.time_s[next - 1]) / step_s : 0.0;
  return track.q[next - 1] + part * (track.q[next] - track.q[next - 1]);
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
SheetView ViewOf(const sim::PairClearance& pair) {
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
  view.frame = {Eigen::Vector2d::Zero(), Eigen::Vector2d(kWidth_px, kHeight_px)};
  view.mm_per_px = std::max(kAround_mm, 3.0 * (pair.p_WB - pair.p_WA).norm()) / (0.5 * kHeight_px);
  return view;
}

std::vector<DrawnBody> BodiesAt(const Page& page, const sim::PairClearance& pair) {
  const sim::Job& job = page.context.job;
  const sim::Run& run = page.context.run;
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

}  // namespace

std::string NearestSection(const Page& page) {
  const sim::Run& run = page.context.run;
  if (!page.context.job.cell.arm || !page.context.job.stock_S || !HasMoments(run)) return "";
  const sim::PairClearance* pair = Tightest(page);
  if (pair == nullptr) return "";
  const SheetView view = ViewOf(*pair);
  DrawingSheet sheet(kWidth_px, kHeight_px);
  DrawBodies(BodiesAt(page, *pair), view, sheet);
  const Pen pen{2.2, {163, 52, 28}};
  for (const Eigen::Vector3d& p : {pair->p_WA, pair->p_WB}) sheet.Circle(view.PixelOf(p), 7.0, pen);
  sheet.Line(view.PixelOf(pair->p_WA), view.PixelOf(pair->p_WB), pen);
  const std::string at = pair->line > 0 ? Lines(pair->line, pair->line) : std::string("the way to or from the path");
  return fmt::format(
      "<h2>Where bodies come nearest</h2>\n<figure><svg viewBox=\"0 0 {0} {1}\" role=\"img\" aria-label=\"{2} and {3} "
      "where they come nearest\"><image width=\"{0}\" height=\"{1}\" href=\"data:image/png;base64,{4}\"/></svg>"
      "<figcaption>{2} and {3} at {5}, {6}: {7}. Rings mark the nearest point of each, seen square to the line between "
      "them; the piece is drawn uncut.</figcaption></figure>\n",
      kWidth_px, kHeight_px, Escaped(NameOf(run, pair->a)), Escaped(NameOf(run, pair->b)), Base64(sheet.Png()), at,
      ClockText(pair->time_s),
      pair->clearance_mm > 0 ? fmt::format("{} apart", Millimetres(pair->clearance_mm)) : std::string("they would collide"));
}

}  // namespace aircut::verify
