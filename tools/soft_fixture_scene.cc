#include "tools/soft_fixture_scene.h"

#include <string>
#include <vector>

#include <fmt/format.h>

#include "sim/mesh_import.h"
#include "tools/board_mesh.h"
#include "tools/scene_files.h"

namespace aircut::tools {
namespace {

using Move = ScenePose::Move;

constexpr double kHalfLength_mm = 60.0, kHalfWidth_mm = 30.0, kThickness_mm = 30.0;
constexpr double kDepth_mm = 3.0;
constexpr double kHalfGroove_mm = 45.0;
constexpr double kHover_mm = 2.0;            // above the face, where a rapid down ends
constexpr double kPlungeFeed_mm_min = 300.0;
constexpr double kSafe_mm = 30.0;
constexpr double kStep_mm = 1.0;
constexpr double kFeed_mm_min = 900.0;

ScenePose At(double x, double z, double feed_mm_min, Move move) {
  ScenePose pose;
  pose.p_ST = {OnLattice(x), 0.0, OnLattice(z)};
  pose.feed_mm_min = feed_mm_min;
  pose.move = move;
  return pose;
}

PoseTable Groove() {
  PoseTable table;
  table.remarks = {"One groove 3 mm deep along the block: 90 degree V, upright, tip end.", "Written by tools/make_scenes."};
  table.spindle_rpm = 18000;
  const double end_mm = kHalfGroove_mm;
  table.poses.push_back(At(-end_mm, kSafe_mm, 0, Move::kRapid));
  table.poses.back().dwell_s = 4;   // the spindle runs up
  table.poses.push_back(At(-end_mm, kHover_mm, 0, Move::kRapid));
  table.poses.push_back(At(-end_mm, -kDepth_mm, kPlungeFeed_mm_min, Move::kCut));
  const int steps = static_cast<int>(2 * end_mm / kStep_mm);
  for (int i = 1; i <= steps; ++i) table.poses.push_back(At(-end_mm + i * kStep_mm, -kDepth_mm, kFeed_mm_min, Move::kCut));
  table.poses.push_back(At(end_mm, kHover_mm, kFeed_mm_min, Move::kCut));
  table.poses.push_back(At(end_mm, kSafe_mm, 0, Move::kRapid));
  return table;
}

sim::Mesh Block() { return FlatBoard({kHalfLength_mm, kHalfWidth_mm}, {12, 6}, kThickness_mm); }

/// A push at one place, 20 N and 50 N and back, with 4 % of play on the way back.
std::string Push(const std::string& place, const std::string& way, double n_per_mm) {
  constexpr double kForces_n[] = {20, 50, 20, 0};
  constexpr double kPlay[] = {0, 0, 0.04, 0.02};
  std::string rows;
  for (int i = 0; i < 4; ++i) {
    const double shown_mm = kForces_n[i] / n_per_mm + kPlay[i] * 50 / n_per_mm;
    rows += fmt::format("{0},{1},{2:g},{0},{3},floor\n", place, way, kForces_n[i], Fixed(shown_mm, 4));
  }
  return rows;
}

/// @param upright_n_mm stiffness of the seat; across the cradle is firm either way.
std::string PushTest(double upright_n_mm) {
  constexpr double kAcross_n_mm = 2000.0;
  std::string text = "# Push test of a cradle, invented: along x, y and z at the height of the groove.\n"
                     "# Written by tools/make_scenes.\n"
                     "px_mm,py_mm,pz_mm,dx,dy,dz,force_n,gx_mm,gy_mm,gz_mm,displacement_mm,stands_on\n";
  text += Push("60,0,-2", "-1,0,0", kAcross_n_mm) + Push("0,30,-2", "0,-1,0", kAcross_n_mm);
  for (const char* place : {"-50,0,0", "0,0,0", "50,0,0"}) text += Push(place, "0,0,-1", upright_n_mm);
  return text;
}

/// Points touched on face and sides, in W, with the scatter of a touch probe.
std::vector<Eigen::Vector3d> Touched() {
  const std::vector<Eigen::Vector3d> points_S = {
      {-55, -27, 0.007}, {56, -26, -0.009}, {55, 27, 0.006}, {-56, 26, -0.008}, {1, 24, 0.008},
      {60.006, -20, -7}, {59.992, 21, -8}, {-40, 30.009, -7}, {41, 29.993, -6}, {-60.005, 3, -8}, {4, -30.008, -7}};
  std::vector<Eigen::Vector3d> points_W;
  // X_WS of the cell files: a quarter turn about z, origin at (1700, 0, 745).
  for (const Eigen::Vector3d& p : points_S) points_W.emplace_back(1700.0 - p.y(), p.x(), 745.0 + p.z());
  return points_W;
}

}  // namespace

void WriteSoftFixtureScene(const std::filesystem::path& folder) {
  WritePoseTable(folder / "groove.csv", Groove());
  sim::WritePly(folder / "block.ply", Block(), {});
  WriteTouched(folder / "touched.csv", Touched());
  WriteText(folder / "firm_push.csv", PushTest(2000.0));
  WriteText(folder / "springy_push.csv", PushTest(5.0));
}

}  // namespace aircut::tools
