#include "tools/ring_scene.h"

#include <cmath>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "sim/mesh_import.h"
#include "tools/board_mesh.h"
#include "tools/scene_files.h"

namespace aircut::tools {
namespace {

constexpr double kHalfBlock_mm = 35.0;
constexpr double kBlock_mm = 20.0;         // thickness
constexpr double kRing_mm = 15.0;          // radius of the groove
constexpr int kChords = 240;               // of a full turn
constexpr int kRampChords = 40;            // on which the ball goes down
constexpr double kDepths_mm[] = {0.5, 1.0};
constexpr double kSafe_mm = 30.0;          // above the face, between the passes
constexpr double kHover_mm = 2.0;          // where a rapid down ends
constexpr double kEntry_mm = 0.2;          // where the ramp begins
constexpr int kRampFeed_mm_min = 600;
constexpr int kFeed_mm_min = 1200;
constexpr int kSpindle_rpm = 18000;
constexpr int kRunUp_s = 4;                // waited at the first pose
constexpr double kPi = 3.14159265358979323846;

/// The same line of the three files.
struct RingLine {
  std::string csv, iso, cl;
};

RingLine Remark(const std::string& text) { return {"# " + text, "(" + text + ")", "$$ " + text}; }

struct RingPose {
  Eigen::Vector3d p_ST = Eigen::Vector3d::Zero();
  int feed_mm_min = 0;   ///< 0: a rapid
  int dwell_s = 0;       ///< wait there
};

Eigen::Vector3d OnRing(int chord, double z) {
  const double angle = 2.0 * kPi * chord / kChords;
  return {OnLattice(kRing_mm * std::cos(angle)), OnLattice(kRing_mm * std::sin(angle)), OnLattice(z)};
}

/// Two passes: down a ramp along the ring, once around, straight up.
std::vector<RingPose> RingPoses() {
  std::vector<RingPose> poses;
  for (const double depth : kDepths_mm) {
    poses.push_back({OnRing(0, kSafe_mm), 0});
    poses.push_back({OnRing(0, kHover_mm), 0});
    poses.push_back({OnRing(0, kEntry_mm), kRampFeed_mm_min});
    for (int i = 1; i <= kRampChords; ++i) {
      poses.push_back({OnRing(i, kEntry_mm - (kEntry_mm + depth) * i / kRampChords), kRampFeed_mm_min});
    }
    for (int i = 1; i <= kChords; ++i) poses.push_back({OnRing(kRampChords + i, -depth), kFeed_mm_min});
    poses.push_back({OnRing(kRampChords, kSafe_mm), 0});
  }
  poses.front().dwell_s = kRunUp_s;
  return poses;
}

std::vector<RingLine> Beginning() {
  return {Remark("Ring groove of 30 mm, 1 mm deep, in two passes: 6 mm ball, upright, tip end."),
          Remark("Every pose stands on the same line of ring.csv, ring.iso and ring.cl."),
          Remark("Written by tools/make_scenes."),
          {"x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,tool,move,dwell_s", "G21 G90 G17 G94", "UNITS/MM"},
          {"# cutter 1", "T1 M6", "LOADTL/1"},
          {"# spindle clockwise", fmt::format("S{} M3", kSpindle_rpm), fmt::format("SPINDL/{},RPM,CLW", kSpindle_rpm)}};
}

RingLine LineOf(const RingPose& pose) {
  const bool is_rapid = pose.feed_mm_min == 0;
  const std::string x = Fixed(pose.p_ST.x(), 4), y = Fixed(pose.p_ST.y(), 4), z = Fixed(pose.p_ST.z(), 4);
  const std::string feed = is_rapid ? "" : std::to_string(pose.feed_mm_min);
  return {fmt::format("{},{},{},0,0,1,{},{},1,{},{}", x, y, z, feed, kSpindle_rpm, is_rapid ? "rapid" : "cut",
                      pose.dwell_s),
          fmt::format("{} X{} Y{} Z{}{}", is_rapid ? "G0" : "G1", x, y, z, is_rapid ? "" : " F" + feed),
          fmt::format("GOTO/{},{},{}", x, y, z)};
}

std::vector<RingLine> RingLines() {
  std::vector<RingLine> lines = Beginning();
  int feed_mm_min = 0;
  for (const RingPose& pose : RingPoses()) {
    // Statements need a line of their own for what the others say beside the point.
    if (pose.feed_mm_min == 0) {
      lines.push_back(Remark("rapid"));
      lines.back().cl = "RAPID";
    } else if (pose.feed_mm_min != feed_mm_min) {
      feed_mm_min = pose.feed_mm_min;
      lines.push_back(Remark(fmt::format("feed {} mm/min", feed_mm_min)));
      lines.back().cl = fmt::format("FEDRAT/{},MMPM", feed_mm_min);
    }
    lines.push_back(LineOf(pose));
    if (pose.dwell_s == 0) continue;
    lines.push_back({"# the spindle runs up", fmt::format("G04 P{}", pose.dwell_s), fmt::format("DELAY/{}", pose.dwell_s)});
  }
  lines.push_back({"# end", "M30", "FINI"});
  return lines;
}

/// The same groove with one arc for the ramp and one for the turn.
std::string RingOfArcs() {
  std::string text = "(Ring groove of 30 mm, 1 mm deep, in two passes of arcs: 6 mm ball, tip end.)\n"
                     "(Written by tools/make_scenes.)\nG21 G90 G17 G94\nT1 M6\n";
  text += fmt::format("S{} M3\n", kSpindle_rpm);
  const Eigen::Vector3d first = OnRing(0, 0), last = OnRing(kRampChords, 0);
  const std::string at_first = "X" + Fixed(first.x(), 4) + " Y" + Fixed(first.y(), 4);
  const std::string at_last = "X" + Fixed(last.x(), 4) + " Y" + Fixed(last.y(), 4);
  for (const double depth : kDepths_mm) {
    text += fmt::format("G0 {} Z{}\n", at_first, Fixed(kSafe_mm, 4));
    if (depth == kDepths_mm[0]) text += fmt::format("G04 P{}\n", kRunUp_s);
    text += fmt::format("G0 Z{}\n", Fixed(kHover_mm, 4));
    text += fmt::format("G1 Z{} F{}\n", Fixed(kEntry_mm, 4), kRampFeed_mm_min);
    text += fmt::format("G3 {} Z{} I{} J{}\n", at_last, Fixed(-depth, 4), Fixed(-first.x(), 4), Fixed(-first.y(), 4));
    text += fmt::format("G3 {} I{} J{} F{}\n", at_last, Fixed(-last.x(), 4), Fixed(-last.y(), 4), kFeed_mm_min);
    text += fmt::format("G0 Z{}\n", Fixed(kSafe_mm, 4));
  }
  return text + "M30\n";
}

sim::Mesh Block() {
  BoardShape shape;
  shape.top_x = shape.top_y = shape.bottom_x = shape.bottom_y = EvenPlaces(kHalfBlock_mm, 14);
  shape.top = [](double, double) { return 0.0; };
  shape.bottom = [](double, double) { return -kBlock_mm; };
  return BoardMesh(shape);
}

/// The face of the block as a scanner above it sees it: one side, open, and a square
/// without answer about a place.
sim::Mesh Scan(const Eigen::Vector2d& hole) {
  constexpr int kCells = 50;
  constexpr double kHoleHalf_mm = 3.5;
  const std::vector<double> places = EvenPlaces(kHalfBlock_mm, kCells);
  sim::Mesh mesh;
  for (const double y : places) {
    for (const double x : places) mesh.vertices.emplace_back(x, y, 0.0);
  }
  const double half_cell_mm = kHalfBlock_mm / kCells;
  for (int j = 0; j < kCells; ++j) {
    for (int i = 0; i < kCells; ++i) {
      const Eigen::Vector2d middle(places[static_cast<std::size_t>(i)] + half_cell_mm,
                                   places[static_cast<std::size_t>(j)] + half_cell_mm);
      if ((middle - hole).cwiseAbs().maxCoeff() < kHoleHalf_mm) continue;
      const int a = (kCells + 1) * j + i, b = a + kCells + 1;
      mesh.triangles.push_back({a, a + 1, b + 1});
      mesh.triangles.push_back({a, b + 1, b});
    }
  }
  return mesh;
}

/// Points touched on face and sides, in W, with the scatter of a touch probe.
std::vector<Eigen::Vector3d> Touched() {
  const std::vector<Eigen::Vector3d> points_S = {
      {-30, -28, 0.008}, {29, -30, -0.011}, {31, 27, 0.005}, {-28, 30, -0.006}, {2, 1, 0.009},
      {35.007, -20, -8}, {34.991, 22, -9},  {-20, 35.01, -8}, {21, 34.994, -7}, {-35.004, 3, -10},
      {4, -35.009, -9}};
  std::vector<Eigen::Vector3d> points_W;
  // X_WS of the cell file: a quarter turn about z, origin at (1700, 0, 750).
  for (const Eigen::Vector3d& p : points_S) points_W.emplace_back(1700.0 - p.y(), p.x(), 750.0 + p.z());
  return points_W;
}

}  // namespace

void WriteRingScene(const std::filesystem::path& folder) {
  std::string csv, iso, cl;
  for (const RingLine& line : RingLines()) {
    csv += line.csv + "\n";
    iso += line.iso + "\n";
    cl += line.cl + "\n";
  }
  WriteText(folder / "ring.csv", csv);
  WriteText(folder / "ring.iso", iso);
  WriteText(folder / "ring.cl", cl);
  WriteText(folder / "ring_arcs.iso", RingOfArcs());
  sim::WritePly(folder / "ring_block.ply", Block(), {});
  sim::WritePly(folder / "ring_scan.ply", Scan({-28.0, 0.0}), {});
  sim::WritePly(folder / "ring_scan_hole.ply", Scan({kRing_mm, 0.0}), {});
  WriteTouched(folder / "touched.csv", Touched());
}

}  // namespace aircut::tools
