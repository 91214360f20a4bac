#include "tools/clash_scenes.h"

#include <cmath>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "sim/mesh_import.h"
#include "tools/scene_files.h"

namespace aircut::tools {
namespace {

using Eigen::Vector3d;

constexpr double kPi = 3.14159265358979323846;
constexpr double kSafe_mm = 150.0;
constexpr double kHover_mm = 3.0;
constexpr double kDepth_mm = 1.0;
constexpr double kFeed_mm_min = 1500.0, kRapidFeed_mm_min = 6000.0;
constexpr double kSpindle_rpm = 18000.0;
constexpr double kRunUp_s = 4.0;
constexpr int kChords = 96;               // of a full turn

/// A path that is put together from moves of an upright tool.
class UprightPath {
 public:
  UprightPath& Rapid(double x, double y, double z) { return Add({x, y, z}, kRapidFeed_mm_min, ScenePose::Move::kRapid); }
  UprightPath& Cut(double x, double y, double z) { return Add({x, y, z}, kFeed_mm_min, ScenePose::Move::kCut); }
  /// From the safe height into the material and, later, back up.
  UprightPath& Enter(double x, double y, double z) {
    return Rapid(x, y, kSafe_mm).Rapid(x, y, z + kDepth_mm + kHover_mm).Cut(x, y, z);
  }
  void Write(const std::filesystem::path& file, const std::string& remark) const {
    PoseTable table;
    table.remarks = {remark, "Written by tools/make_scenes."};
    table.poses = poses_;
    table.poses.front().dwell_s = kRunUp_s;
    table.spindle_rpm = kSpindle_rpm;
    WritePoseTable(file, table);
  }

 private:
  UprightPath& Add(const Vector3d& p, double feed_mm_min, ScenePose::Move move) {
    ScenePose pose;
    pose.p_ST = {OnLattice(p.x()), OnLattice(p.y()), OnLattice(p.z())};
    pose.feed_mm_min = feed_mm_min;
    pose.move = move;
    poses_.push_back(pose);
    return *this;
  }
  std::vector<ScenePose> poses_;
};

void WriteBlock(const std::filesystem::path& folder, const Vector3d& half) {
  sim::WritePly(folder / "block.ply", sim::BoxMesh({-half.x(), -half.y(), -2.0 * half.z()}, {half.x(), half.y(), 0.0}),
                {});
}

// A tub: floor at z = 0, round inside, its wall as high as given.
sim::Mesh Tub(double inner_mm, double outer_mm, double height_mm, double floor_mm) {
  const std::vector<std::pair<double, double>> rings = {
      {inner_mm, 0.0}, {inner_mm, height_mm}, {outer_mm, height_mm}, {outer_mm, -floor_mm}};
  sim::Mesh mesh;
  for (const auto& [radius, z] : rings) {
    for (int i = 0; i < kChords; ++i) {
      const double angle = 2.0 * kPi * i / kChords;
      mesh.vertices.emplace_back(OnLattice(radius * std::cos(angle)), OnLattice(radius * std::sin(angle)), z);
    }
  }
  const auto at = [](int ring, int i) { return ring * kChords + i % kChords; };
  for (int ring = 0; ring + 1 < static_cast<int>(rings.size()); ++ring) {
    for (int i = 0; i < kChords; ++i) {
      mesh.triangles.push_back({at(ring, i), at(ring + 1, i), at(ring + 1, i + 1)});
      mesh.triangles.push_back({at(ring, i), at(ring + 1, i + 1), at(ring, i + 1)});
    }
  }
  const int face = static_cast<int>(mesh.vertices.size()), under = face + 1;
  mesh.vertices.emplace_back(0, 0, 0);
  mesh.vertices.emplace_back(0, 0, -floor_mm);
  for (int i = 0; i < kChords; ++i) {
    mesh.triangles.push_back({face, at(0, i), at(0, i + 1)});
    mesh.triangles.push_back({under, at(3, i + 1), at(3, i)});
  }
  return mesh;
}

// The housing has a radius of 55 mm and its end 85 mm above the tip; the wall is round
// with 120 mm and 100 mm high.
void WriteWall(const std::filesystem::path& folder) {
  sim::WritePly(folder / "tub.ply", Tub(120.0, 150.0, 100.0, 30.0), {});
  for (const auto& [name, end] : {std::pair("near", 67.0), std::pair("clear", 58.6)}) {
    UprightPath path;
    path.Enter(0, 0, -kDepth_mm).Cut(end, 0, -kDepth_mm).Cut(0, 0, -kDepth_mm).Rapid(0, 0, kSafe_mm);
    path.Write(folder / (std::string(name) + ".csv"),
               fmt::format("A groove from the middle of a tub {:g} mm towards its wall and back: 6 mm ball, upright, "
                           "tip end.", end));
  }
}

// Two grooves in one line and what stands between them; the way over it is that high.
void WriteTwoGrooves(const std::filesystem::path& folder, const std::vector<std::pair<std::string, double>>& ways) {
  WriteBlock(folder, {100, 60, 15});
  for (const auto& [name, height] : ways) {
    UprightPath path;
    path.Enter(-70, 0, -kDepth_mm).Cut(-40, 0, -kDepth_mm).Rapid(-40, 0, height).Rapid(40, 0, height);
    path.Cut(40, 0, -kDepth_mm).Cut(70, 0, -kDepth_mm).Rapid(70, 0, kSafe_mm);
    path.Write(folder / (name + ".csv"),
               fmt::format("Two grooves, between them a rapid {:g} mm above the face: 6 mm ball, upright, tip end.", height));
  }
}

// One groove out to the side, towards which the elbow swings.
void WriteOneGroove(const std::filesystem::path& folder) {
  WriteBlock(folder, {100, 60, 15});
  UprightPath path;
  path.Enter(-60, 0, -kDepth_mm).Cut(60, 0, -kDepth_mm).Rapid(60, 0, kSafe_mm);
  path.Write(folder / "groove.csv", "One groove across the block: 6 mm ball, upright, tip end.");
}

// The tool turns about its own axis above the block, all in one rapid.
void WriteTurns(const std::filesystem::path& folder) {
  WriteBlock(folder, {100, 60, 15});
  for (const auto& [name, end_deg] : {std::pair("wound", 90.0), std::pair("short", 76.2)}) {
    std::string text = "# A groove, then the tool turned about its own axis above the block.\n"
                       "# Written by tools/make_scenes.\n"
                       "x_mm,y_mm,z_mm,qw,qx,qy,qz,feed_mm_min,spindle_rpm,tool,move,dwell_s\n";
    const auto line = [&](const Vector3d& p, double turn_deg, const char* move, double dwell_s) {
      const double half = 0.5 * (turn_deg - 90.0) * kPi / 180.0;
      text += fmt::format("{},{},{},{},0.0000000,0.0000000,{},{},18000,1,{},{:g}\n", Fixed(p.x(), 3), Fixed(p.y(), 3),
                          Fixed(p.z(), 3), Fixed(std::cos(half), 7), Fixed(std::sin(half), 7),
                          move == std::string("cut") ? 1500 : 6000, move, dwell_s);
    };
    line({-40, 0, kSafe_mm}, 0, "rapid", kRunUp_s);
    line({-40, 0, kHover_mm}, 0, "rapid", 0);
    line({-40, 0, -kDepth_mm}, 0, "cut", 0);
    line({40, 0, -kDepth_mm}, 0, "cut", 0);
    line({40, 0, kSafe_mm}, 0, "rapid", 0);
    line({40, 0, kSafe_mm + 10.0}, end_deg, "rapid", 0);
    WriteText(folder / (std::string(name) + ".csv"), text);
  }
}

void AddQuad(sim::Mesh* mesh, const Vector3d& a, const Vector3d& b, const Vector3d& c, const Vector3d& d) {
  const auto first = static_cast<std::int32_t>(mesh->vertices.size());
  for (const Vector3d& p : {a, b, c, d}) mesh->vertices.push_back(p);
  mesh->triangles.push_back({first, first + 1, first + 2});
  mesh->triangles.push_back({first, first + 2, first + 3});
}

// A block of 200 x 120 x 30 mm with its face at z = 0 and, in its middle, a rib of
// 12 x 20 mm, as high as given.
sim::Mesh RibbedBlock(double rib_mm) {
  const double x[] = {-100, -6, 6, 100}, y[] = {-60, -10, 10, 60}, under = -30;
  sim::Mesh mesh;
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 3; ++j) {
      const double z = i == 1 && j == 1 ? rib_mm : 0.0;
      AddQuad(&mesh, {x[i], y[j], z}, {x[i + 1], y[j], z}, {x[i + 1], y[j + 1], z}, {x[i], y[j + 1], z});
      AddQuad(&mesh, {x[i], y[j], under}, {x[i], y[j + 1], under}, {x[i + 1], y[j + 1], under}, {x[i + 1], y[j], under});
    }
    AddQuad(&mesh, {x[i], y[0], under}, {x[i + 1], y[0], under}, {x[i + 1], y[0], 0}, {x[i], y[0], 0});
    AddQuad(&mesh, {x[i + 1], y[3], under}, {x[i], y[3], under}, {x[i], y[3], 0}, {x[i + 1], y[3], 0});
    AddQuad(&mesh, {x[0], y[i + 1], under}, {x[0], y[i], under}, {x[0], y[i], 0}, {x[0], y[i + 1], 0});
    AddQuad(&mesh, {x[3], y[i], under}, {x[3], y[i + 1], under}, {x[3], y[i + 1], 0}, {x[3], y[i], 0});
  }
  AddQuad(&mesh, {x[1], y[1], 0}, {x[2], y[1], 0}, {x[2], y[1], rib_mm}, {x[1], y[1], rib_mm});
  AddQuad(&mesh, {x[2], y[2], 0}, {x[1], y[2], 0}, {x[1], y[2], rib_mm}, {x[2], y[2], rib_mm});
  AddQuad(&mesh, {x[1], y[2], 0}, {x[1], y[1], 0}, {x[1], y[1], rib_mm}, {x[1], y[2], rib_mm});
  AddQuad(&mesh, {x[2], y[1], 0}, {x[2], y[2], 0}, {x[2], y[2], rib_mm}, {x[2], y[1], rib_mm});
  return sim::Welded(mesh);
}

// A block with a rib of 90 mm: its top 10.5 mm are milled off, and the tool goes
// by beside it, 1 mm above the face, where the housing comes over the rib.
void WriteOrder(const std::filesystem::path& folder) {
  sim::WritePly(folder / "ribbed.ply", RibbedBlock(90.0), {});
  sim::WritePly(folder / "design.ply", RibbedBlock(79.5), {});
  const auto beside = [](UprightPath& path) {
    path.Rapid(40, -20, kSafe_mm).Rapid(40, -20, 5).Cut(40, -20, 1).Cut(40, 20, 1).Rapid(40, 20, kSafe_mm);
  };
  const auto rib_top = [](UprightPath& path) {
    path.Rapid(-7, -18, kSafe_mm).Rapid(-7, -18, 82);
    for (int i = 0; i <= 14; ++i) path.Cut(i - 7, i % 2 == 0 ? -18 : 18, 79.5).Cut(i - 7, i % 2 == 0 ? 18 : -18, 79.5);
    path.Rapid(7, 18, kSafe_mm);
  };
  UprightPath beside_first, rib_first;
  beside(beside_first);
  rib_top(beside_first);
  rib_top(rib_first);
  beside(rib_first);
  beside_first.Write(folder / "beside_first.csv", "By the rib's side, then over its top: 6 mm ball, upright, tip end.");
  rib_first.Write(folder / "rib_first.csv", "Over the rib's top, then by its side: 6 mm ball, upright, tip end.");
}

}  // namespace

void WriteClashScenes(const std::filesystem::path& scenes) {
  WriteWall(scenes / "clash_wall");
  WriteTwoGrooves(scenes / "clash_clamp", {{"low", 20.0}, {"over", 36.0}});
  WriteTwoGrooves(scenes / "clash_retract", {{"low", 8.0}, {"high", 26.0}});
  WriteOneGroove(scenes / "clash_elbow");
  WriteTurns(scenes / "clash_hose");
  WriteOrder(scenes / "clash_order");
}

}  // namespace aircut::tools
