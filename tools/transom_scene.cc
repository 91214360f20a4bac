#include "tools/transom_scene.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

#include "sim/mesh_import.h"
#include "tools/board_mesh.h"
#include "tools/height_field.h"
#include "tools/rose_relief.h"
#include "tools/scene_files.h"
#include "tools/shop_evidence.h"

namespace aircut::tools {
namespace {

constexpr double kBall_mm = 3.0;            // radius of the cutter
constexpr double kInsideRadius_mm = 3.4;    // of the design: the ball fits with room to spare
constexpr double kDrawStep_mm = 0.3;        // lattice of the drawing
constexpr double kMeshStep_mm = 0.6;        // triangles of the carved region
constexpr double kContactStep_mm = 0.15;    // lattice on which the ball rests
constexpr double kFineHalf_mm = 84.0;       // half side of the finely meshed square

constexpr double kStepover_mm = 0.6;
constexpr double kPointStep_mm = 0.7;
constexpr double kPathRadius_mm = 84.0;     // the ball leaves the rim's edge inside this
constexpr double kLeadLength_mm = 3.0;
constexpr double kLeadLift_mm = 1.5;
constexpr double kHover_mm = 6.0;           // above the face, where a rapid ends
constexpr double kRetract_mm = 25.0;
constexpr double kFeed_mm_min = 1500.0;
constexpr double kRapid_mm_min = 9000.0;
constexpr double kSpindle_rpm = 18000.0;
constexpr double kRunUp_s = 4.0;            // waited at the first line
constexpr double kLean = 0.14054083470239145;   // tan of 8 degrees
constexpr int kBands = 4;

/// Lattice with fine steps in the middle and coarse ones out to the edges.
std::vector<double> Spread(double half_mm, double coarse_mm) {
  std::vector<double> places;
  const int outer = static_cast<int>(std::ceil((half_mm - kFineHalf_mm) / coarse_mm));
  for (int i = 0; i < outer; ++i)
    places.push_back(-half_mm + (half_mm - kFineHalf_mm) * i / outer);
  const int inner = static_cast<int>(std::lround(2.0 * kFineHalf_mm / kMeshStep_mm));
  for (int i = 0; i <= inner; ++i) places.push_back(-kFineHalf_mm + kMeshStep_mm * i);
  for (int i = 1; i <= outer; ++i)
    places.push_back(kFineHalf_mm + (half_mm - kFineHalf_mm) * i / outer);
  return places;
}

/// The face of the board and the cut surface, and what carries the tool.
class Carving {
 public:
  Carving() {
    const double half_mm = kFineHalf_mm + 2.0 * kInsideRadius_mm + 0.2;
    const HeightField drawn = Sample(half_mm, kDrawStep_mm, [](double x, double y) {
      return FaceHeight(x, y) - RoseDepth(x, y);
    });
    closed_ = ClosedByBall(drawn, kInsideRadius_mm);
    contact_ = Sample(kFineHalf_mm + 2.0 * kBall_mm, kContactStep_mm,
                      [this](double x, double y) { return MeshHeight(x, y); });
  }

  /// Height of a vertex of the design mesh.
  double Vertex(double x, double y) const {
    const double face = FaceHeight(x, y);
    if (std::hypot(x, y) > kRoseRim_mm + 0.5) return OnLattice(face);
    const int i = static_cast<int>(std::lround((x - closed_.low_mm) / kDrawStep_mm));
    const int j = static_cast<int>(std::lround((y - closed_.low_mm) / kDrawStep_mm));
    return OnLattice(std::min(face, closed_.At(i, j)));
  }

  /// Height of the triangles of the design mesh, as BoardMesh splits them.
  double MeshHeight(double x, double y) const {
    const double fx = (x + kFineHalf_mm) / kMeshStep_mm, fy = (y + kFineHalf_mm) / kMeshStep_mm;
    const double i = std::floor(fx), j = std::floor(fy), u = fx - i, v = fy - j;
    const auto at = [&](double di, double dj) {
      return Vertex(-kFineHalf_mm + kMeshStep_mm * (i + di), -kFineHalf_mm + kMeshStep_mm * (j + dj));
    };
    const double z00 = at(0, 0), z11 = at(1, 1);
    if (v <= u) {
      const double z10 = at(1, 0);
      return z00 + u * (z10 - z00) + v * (z11 - z10);
    }
    const double z01 = at(0, 1);
    return z00 + v * (z01 - z00) + u * (z11 - z01);
  }

  /// Pose of the ball resting on the design over (x, y), raised by `lift_mm`.
  ScenePose Rest(double x, double y, double lift_mm) const {
    ScenePose pose;
    // Square to the face, then leaned away from the arm so that the ball never
    // cuts with its standing tip.
    const Eigen::Vector3d normal(x / 1400.0, y / 6000.0, 1.0);
    pose.axis_S = (normal.normalized() + kLean * Eigen::Vector3d(0, -1, 0)).normalized();
    const Eigen::Vector3d centre(x, y, RestingHeight(contact_, kBall_mm, x, y) + lift_mm);
    pose.p_ST = centre - kBall_mm * pose.axis_S;
    pose.feed_mm_min = kFeed_mm_min;
    return pose;
  }

 private:
  HeightField closed_;    // the design, from the drawing
  HeightField contact_;   // the design mesh, finely sampled
};

void AddRapid(std::vector<ScenePose>& poses, ScenePose pose, double up_mm) {
  pose.p_ST.z() += up_mm;
  pose.feed_mm_min = kRapid_mm_min;
  pose.move = ScenePose::Move::kRapid;
  poses.push_back(pose);
}

/// One scan line with a lead-in and a lead-out in the air.
std::vector<ScenePose> ScanLine(const Carving& carving, int index, double y) {
  const double half = std::sqrt(kPathRadius_mm * kPathRadius_mm - y * y);
  const int pieces = std::max(1, static_cast<int>(std::ceil(2.0 * half / kPointStep_mm)));
  std::vector<ScenePose> line;
  line.push_back(carving.Rest(-half - kLeadLength_mm, y, kLeadLift_mm));
  for (int i = 0; i <= pieces; ++i)
    line.push_back(carving.Rest(-half + 2.0 * half * i / pieces, y, 0.0));
  line.push_back(carving.Rest(half + kLeadLength_mm, y, kLeadLift_mm));
  if (index % 2 == 1) std::reverse(line.begin(), line.end());
  return line;
}

std::vector<ScenePose> RosePath(const Carving& carving) {
  const int lines = static_cast<int>(std::floor(2.0 * kPathRadius_mm / kStepover_mm));
  std::vector<ScenePose> poses;
  for (int k = 0; k < lines; ++k) {
    const double y = kStepover_mm * (k - 0.5 * (lines - 1));
    const std::vector<ScenePose> line = ScanLine(carving, k, y);
    const bool first_of_band = k % (lines / kBands) == 0;
    if (first_of_band) {
      if (!poses.empty()) AddRapid(poses, poses.back(), kRetract_mm);
      AddRapid(poses, line.front(), kRetract_mm);
      AddRapid(poses, line.front(), kHover_mm);
    }
    poses.insert(poses.end(), line.begin(), line.end());
  }
  AddRapid(poses, poses.back(), kRetract_mm);
  poses.front().dwell_s = kRunUp_s;
  return poses;
}

/// Points touched on face and edges, in W, with the scatter of a hand-held
/// touch probe; the piece stands `raised_mm` above where its frame says.
std::vector<Eigen::Vector3d> Touched(double raised_mm) {
  const auto face = [](double x, double y) { return Eigen::Vector3d(x, y, FaceHeight(x, y)); };
  const auto edge = [](double x, double y) { return Eigen::Vector3d(x, y, FaceHeight(x, y) - 14.0); };
  const std::vector<Eigen::Vector3d> points_S = {
      face(-182, -113), face(179, -108), face(184, 112), face(-176, 109), face(4, -118),
      face(-3, 121), face(-148, 6), face(152, -5), edge(210, -64), edge(210, 71),
      edge(-96, -140), edge(103, -140)};
  const double scatter_mm[] = {0.011, -0.014, 0.006, 0.017, -0.009, -0.004,
                               0.013, -0.016, 0.008, -0.007, 0.012, -0.010};
  std::vector<Eigen::Vector3d> points_W;
  for (std::size_t i = 0; i < points_S.size(); ++i) {
    const Eigen::Vector3d& p = points_S[i];
    Eigen::Vector3d off = Eigen::Vector3d::Zero();
    off[i < 8 ? 2 : (i < 10 ? 0 : 1)] = scatter_mm[i];
    const Eigen::Vector3d q = p + off;
    // X_WS of the cell file: a quarter turn about z, origin at (1700, 0, 750).
    points_W.emplace_back(1700.0 - q.y(), q.x(), 750.0 + q.z() + raised_mm);
  }
  return points_W;
}

}  // namespace

void WriteTransomScene(const std::filesystem::path& folder) {
  const double half_x = 0.5 * kBoardLength_mm, half_y = 0.5 * kBoardHeight_mm;
  const Carving carving;
  BoardShape shape;
  shape.bottom_x = EvenPlaces(half_x, 84);
  shape.bottom_y = EvenPlaces(half_y, 28);
  shape.bottom = [](double x, double y) { return OnLattice(FaceHeight(x, y) - kBoardThickness_mm); };

  shape.top_x = shape.bottom_x;
  shape.top_y = shape.bottom_y;
  shape.top = [](double x, double y) { return OnLattice(FaceHeight(x, y)); };
  sim::WritePly(folder / "transom.ply", BoardMesh(shape), {});

  shape.top_x = Spread(half_x, 6.0);
  shape.top_y = Spread(half_y, 6.0);
  shape.top = [&](double x, double y) { return carving.Vertex(x, y); };
  sim::WritePly(folder / "rose_design.ply", BoardMesh(shape), {});

  PoseTable table;
  table.remarks = {"Compass rose: scan lines 0.6 mm apart, 6 mm ball, tip end in the frame of the board.",
                   "Written by tools/make_scenes."};
  table.poses = RosePath(carving);
  table.spindle_rpm = kSpindle_rpm;
  WritePoseTable(folder / "rose.csv", table);
  WriteTouched(folder / "touched.csv", Touched(0.0));
  WriteTouched(folder / "touched_low_frame.csv", Touched(2.0));
  WriteShopEvidence(folder);
}

}  // namespace aircut::tools
