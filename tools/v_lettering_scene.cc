#include "tools/v_lettering_scene.h"

#include <vector>

#include "sim/mesh_import.h"
#include "tools/board_mesh.h"
#include "tools/scene_files.h"

namespace aircut::tools {
namespace {

using Eigen::Vector2d;
using Move = ScenePose::Move;
using Stroke = std::vector<Vector2d>;

constexpr double kHalfLength_mm = 60.0, kHalfWidth_mm = 30.0, kThickness_mm = 15.0;
constexpr double kDepth_mm = 1.5;
constexpr double kHop_mm = 2.0;             // above the face, between strokes
constexpr double kSafe_mm = 30.0;
constexpr double kStep_mm = 0.5;            // between the poses of a stroke
constexpr double kPlungeFeed_mm_min = 300.0, kFeed_mm_min = 900.0;

/// The letters W, A, X, K and an E struck through, 30 mm high; strokes of one letter
/// cross or meet.
std::vector<Stroke> Strokes() {
  return {{{-54, 15}, {-48, -15}, {-42, 8}, {-36, -15}, {-30, 15}},          // W
          {{-24, -15}, {-14, 15}, {-4, -15}}, {{-20.6667, -5}, {-7.3333, -5}},  // A
          {{2, 15}, {20, -15}}, {{2, -15}, {20, 15}},                         // X
          {{26, 15}, {26, -15}}, {{40, 15}, {26, -1}}, {{30, 3.5714}, {41, -15}},   // K
          {{54, 15}, {46, 15}, {46, -15}, {54, -15}}, {{44, 0}, {54, 0}}};    // E
}

ScenePose At(const Vector2d& place, double z, double feed_mm_min, Move move) {
  ScenePose pose;
  pose.p_ST = {OnLattice(place.x()), OnLattice(place.y()), OnLattice(z)};
  pose.feed_mm_min = feed_mm_min;
  pose.move = move;
  return pose;
}

void AddStroke(const Stroke& stroke, std::vector<ScenePose>& poses) {
  poses.push_back(At(stroke.front(), kHop_mm, 0, Move::kRapid));
  poses.push_back(At(stroke.front(), -kDepth_mm, kPlungeFeed_mm_min, Move::kCut));
  for (std::size_t i = 1; i < stroke.size(); ++i) {
    const Vector2d way = stroke[i] - stroke[i - 1];
    const int steps = static_cast<int>(way.norm() / kStep_mm) + 1;
    for (int n = 1; n <= steps; ++n) {
      poses.push_back(At(stroke[i - 1] + way * n / steps, -kDepth_mm, kFeed_mm_min, Move::kCut));
    }
  }
  poses.push_back(At(stroke.back(), kHop_mm, kFeed_mm_min, Move::kCut));
}

PoseTable Path() {
  PoseTable table;
  table.remarks = {"Letters 30 mm high, strokes 1.5 mm deep: 60 degree V, upright, tip end.",
                   "Written by tools/make_scenes."};
  table.spindle_rpm = 18000;
  const std::vector<Stroke> strokes = Strokes();
  table.poses.push_back(At(strokes.front().front(), kSafe_mm, 0, Move::kRapid));
  table.poses.back().dwell_s = 4;   // the spindle runs up
  for (const Stroke& stroke : strokes) AddStroke(stroke, table.poses);
  table.poses.push_back(At(strokes.back().back(), kSafe_mm, 0, Move::kRapid));
  return table;
}

sim::Mesh Board() { return FlatBoard({kHalfLength_mm, kHalfWidth_mm}, {12, 6}, kThickness_mm); }

/// Points touched on face and sides, in W, with the scatter of a touch probe.
std::vector<Eigen::Vector3d> Touched() {
  const std::vector<Eigen::Vector3d> points_S = {
      {-55, -27, 0.007}, {56, -26, -0.009}, {55, 27, 0.006}, {-56, 26, -0.008}, {1, 24, 0.008},
      {60.006, -20, -7}, {59.992, 21, -8}, {-40, 30.009, -7}, {41, 29.993, -6}, {-60.005, 3, -8}, {4, -30.008, -7}};
  std::vector<Eigen::Vector3d> points_W;
  // X_WS of the cell file: a quarter turn about z, origin at (1700, 0, 745).
  for (const Eigen::Vector3d& p : points_S) points_W.emplace_back(1700.0 - p.y(), p.x(), 745.0 + p.z());
  return points_W;
}

}  // namespace

void WriteVLetteringScene(const std::filesystem::path& folder) {
  WritePoseTable(folder / "letters.csv", Path());
  sim::WritePly(folder / "board.ply", Board(), {});
  WriteTouched(folder / "touched.csv", Touched());
}

}  // namespace aircut::tools
