#include "tools/tight_reach_scene.h"

#include <cmath>
#include <vector>

#include "sim/mesh_import.h"
#include "tools/scene_files.h"

namespace aircut::tools {
namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr double kHalfLength_mm = 240.0, kHalfHeight_mm = 170.0;   // half axes of the oval board
constexpr double kThickness_mm = 30.0;
constexpr double kOvalX_mm = 200.0, kOvalY_mm = 130.0;             // half axes of the groove
constexpr double kBall_mm = 3.0;
constexpr double kDepth_mm = 1.5;
constexpr int kChords = 480;               // of a full turn
constexpr int kRampChords = 20;            // on which the ball goes down
constexpr int kProfile = 12;               // facets across the groove
constexpr double kEntry_mm = 0.3;          // above the face, where the ramp begins
constexpr double kHover_mm = 3.0;          // where a rapid down ends
constexpr double kSafe_mm = 120.0;
constexpr double kLean_rad = 45.0 * kPi / 180.0;
constexpr double kFeed_mm_min = 1200.0, kRampFeed_mm_min = 600.0;
constexpr double kSpindle_rpm = 18000.0;
constexpr double kRunUp_s = 4.0;           // waited at the first pose

/// A place on the centre line of the groove, in the face, and its outward normal.
struct OvalPlace {
  Eigen::Vector3d p, outwards;
};

OvalPlace OnOval(int chord) {
  const double angle = 2.0 * kPi * chord / kChords;
  const double x = std::cos(angle), y = std::sin(angle);
  return {{kOvalX_mm * x, kOvalY_mm * y, 0}, Eigen::Vector3d(x / kOvalX_mm, y / kOvalY_mm, 0).normalized()};
}

/// Pose of the ball with its lowest point `height_mm` above the face, the bit
/// leaned outwards, square to the oval.
ScenePose PoseOnOval(int chord, double height_mm, double feed_mm_min) {
  const OvalPlace place = OnOval(chord);
  const Eigen::Vector3d centre = place.p + Eigen::Vector3d(0, 0, height_mm + kBall_mm);
  ScenePose pose;
  pose.axis_S = std::cos(kLean_rad) * Eigen::Vector3d::UnitZ() + std::sin(kLean_rad) * place.outwards;
  pose.p_ST = centre - kBall_mm * pose.axis_S;
  pose.feed_mm_min = feed_mm_min;
  return pose;
}

ScenePose RapidTo(ScenePose pose) {
  pose.move = ScenePose::Move::kRapid;
  return pose;
}

/// Down a ramp along the oval, once around at full depth, straight up.
std::vector<ScenePose> OvalPath() {
  std::vector<ScenePose> poses;
  poses.push_back(RapidTo(PoseOnOval(0, kSafe_mm, 6000.0)));
  poses.front().dwell_s = kRunUp_s;
  poses.push_back(RapidTo(PoseOnOval(0, kHover_mm, 6000.0)));
  poses.push_back(PoseOnOval(0, kEntry_mm, kRampFeed_mm_min));
  for (int i = 1; i <= kRampChords; ++i) {
    const double height = kEntry_mm - (kEntry_mm + kDepth_mm) * i / kRampChords;
    poses.push_back(PoseOnOval(i, height, kRampFeed_mm_min));
  }
  for (int i = 1; i <= kChords; ++i) {
    poses.push_back(PoseOnOval(kRampChords + i, -kDepth_mm, kFeed_mm_min));
  }
  poses.push_back(RapidTo(PoseOnOval(kRampChords, kSafe_mm, 6000.0)));
  return poses;
}

Eigen::Vector3d Rounded(const Eigen::Vector3d& p) {
  return {OnLattice(p.x()), OnLattice(p.y()), OnLattice(p.z())};
}

Eigen::Vector3d OnRim(int chord, double z) {
  const double angle = 2.0 * kPi * chord / kChords;
  return Rounded({kHalfLength_mm * std::cos(angle), kHalfHeight_mm * std::sin(angle), z});
}

using Ring = std::vector<Eigen::Vector3d>;

/// A closed body from rings of vertices, the first and last ring closed by a fan
/// to their middles; the rings run from the middle of the face over the rim to
/// the middle of the underside.
sim::Mesh Turned(const std::vector<Ring>& rings) {
  sim::Mesh mesh;
  for (const Ring& ring : rings) mesh.vertices.insert(mesh.vertices.end(), ring.begin(), ring.end());
  const auto at = [](std::size_t ring, int i) { return static_cast<int>(ring) * kChords + i % kChords; };
  for (std::size_t r = 0; r + 1 < rings.size(); ++r) {
    for (int i = 0; i < kChords; ++i) {
      mesh.triangles.push_back({at(r, i), at(r + 1, i), at(r + 1, i + 1)});
      mesh.triangles.push_back({at(r, i), at(r + 1, i + 1), at(r, i + 1)});
    }
  }
  const int face = static_cast<int>(mesh.vertices.size()), under = face + 1;
  mesh.vertices.emplace_back(0, 0, rings.front().front().z());
  mesh.vertices.emplace_back(0, 0, rings.back().front().z());
  for (int i = 0; i < kChords; ++i) {
    mesh.triangles.push_back({face, at(0, i), at(0, i + 1)});
    mesh.triangles.push_back({under, at(rings.size() - 1, i + 1), at(rings.size() - 1, i)});
  }
  return mesh;
}

std::vector<Ring> RimRings() {
  std::vector<Ring> rings(2);
  for (int i = 0; i < kChords; ++i) {
    rings[0].push_back(OnRim(i, 0.0));
    rings[1].push_back(OnRim(i, -kThickness_mm));
  }
  return rings;
}

/// Rings across the groove that a ball of `kBall_mm` leaves, from the inside out.
std::vector<Ring> GrooveRings() {
  const double half_mm = std::sqrt(kDepth_mm * (2.0 * kBall_mm - kDepth_mm));
  std::vector<Ring> rings;
  for (int k = 0; k <= kProfile; ++k) {
    const double across = half_mm * (2.0 * k / kProfile - 1.0);
    const double z = kBall_mm - kDepth_mm - std::sqrt(kBall_mm * kBall_mm - across * across);
    rings.emplace_back();
    for (int i = 0; i < kChords; ++i) {
      const OvalPlace place = OnOval(i);
      rings.back().push_back(Rounded(place.p + across * place.outwards + Eigen::Vector3d(0, 0, z)));
    }
  }
  return rings;
}

sim::Mesh CarvedBoard() {
  std::vector<Ring> rings = GrooveRings();
  for (const Ring& ring : RimRings()) rings.push_back(ring);
  return Turned(rings);
}

/// Points touched on face and sides, in W, with the scatter of a touch probe.
std::vector<Eigen::Vector3d> Touched() {
  const auto rim = [](int degrees, double off_mm) {
    const double angle = degrees * kPi / 180.0;
    const Eigen::Vector3d p(kHalfLength_mm * std::cos(angle), kHalfHeight_mm * std::sin(angle), -9);
    const Eigen::Vector3d outwards(std::cos(angle) / kHalfLength_mm, std::sin(angle) / kHalfHeight_mm, 0);
    return Eigen::Vector3d(p + off_mm * outwards.normalized());
  };
  const std::vector<Eigen::Vector3d> points_S = {
      {-160, -100, 0.009}, {158, -102, -0.012}, {161, 99, 0.006}, {-159, 101, -0.007}, {3, 2, 0.010},
      rim(-24, 0.008), rim(27, -0.010), rim(112, 0.011), rim(68, -0.007), rim(178, -0.006), rim(-88, 0.008)};
  std::vector<Eigen::Vector3d> points_W;
  // X_WS of the cell file: a quarter turn about z, origin at (2000, 0, 750).
  for (const Eigen::Vector3d& p : points_S) {
    points_W.emplace_back(2000.0 - p.y(), p.x(), 750.0 + p.z());
  }
  return points_W;
}

}  // namespace

void WriteTightReachScene(const std::filesystem::path& folder) {
  sim::WritePly(folder / "board.ply", Turned(RimRings()), {});
  sim::WritePly(folder / "carved_board.ply", CarvedBoard(), {});
  PoseTable table;
  table.remarks = {"Groove along an oval of 400 by 260 mm, 1.5 mm deep: 6 mm ball, tip end, leaned 45 degrees outwards.",
                   "Written by tools/make_scenes."};
  table.poses = OvalPath();
  table.spindle_rpm = kSpindle_rpm;
  WritePoseTable(folder / "oval.csv", table);
  WriteTouched(folder / "touched.csv", Touched());
}

}  // namespace aircut::tools
