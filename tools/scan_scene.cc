#include "tools/scan_scene.h"

#include <cmath>
#include <stdexcept>
#include <vector>

#include "sim/mesh_import.h"
#include "sim/mesh_index.h"
#include "tools/scene_files.h"
#include "tools/smooth_normals.h"

namespace aircut::tools {
namespace {

// The band lies on the flank that looks along -y and up: the broadest smooth
// patch of the scan. Places are in S, the frame of the scan.
const Eigen::Vector3d kBandCentre(5.0, -66.0, 120.0);
const Eigen::Vector3d kBandOut(-0.08, -0.85, 0.52);
constexpr double kHalfLength_mm = 33.0;
constexpr int kLines = 14;
constexpr double kLineGap_mm = 2.4;
constexpr double kPointStep_mm = 0.5;
constexpr double kSmooth_mm = 14.0;      // faces are about 9 mm wide
constexpr double kPiece_mm = 1.5;

constexpr double kDepth_mm = 1.5;
constexpr double kStart_mm = 3.0;        // above the face: from here on at feed
constexpr double kClear_mm = 20.0;       // above the face between lines
constexpr double kFeed_mm_min = 900.0;
constexpr double kPlunge_mm_min = 300.0;
constexpr double kRapid_mm_min = 6000.0;
constexpr double kSpindle_rpm = 20000.0;
constexpr double kRunUp_s = 4.0;         // waited at the first line

/// A place on the face of the scan with its smoothed normal.
struct FacePoint {
  Eigen::Vector3d p_S, out_S;
};

class Band {
 public:
  explicit Band(sim::Mesh mesh)
      : normals_(mesh, kSmooth_mm, kPiece_mm), index_(std::move(mesh)), out_(kBandOut.normalized()) {
    along_ = (Eigen::Vector3d::UnitX() - out_.x() * out_).normalized();
    across_ = out_.cross(along_);
  }

  /// @param u along the lines, v across them, from the middle of the band [mm].
  FacePoint At(double u, double v) const {
    const Eigen::Vector3d above = kBandCentre + u * along_ + v * across_ + 60.0 * out_;
    const auto hits = index_.Crossings(above, -out_, 0.0, 120.0);
    if (hits.empty()) throw std::runtime_error("the band runs off the scan");
    const Eigen::Vector3d p = above - hits.front().t_mm * out_;
    return {p, normals_.At(p, out_)};
  }

  const sim::MeshIndex& index() const { return index_; }

 private:
  SmoothNormals normals_;
  sim::MeshIndex index_;
  Eigen::Vector3d out_, along_, across_;
};

ScenePose Over(const FacePoint& at, double height_mm, double feed_mm_min,
               ScenePose::Move move = ScenePose::Move::kCut) {
  return {at.p_S + height_mm * at.out_S, at.out_S, feed_mm_min, move, 0.0};
}

std::vector<ScenePose> EngravePath(const Band& band) {
  constexpr auto kRapid = ScenePose::Move::kRapid;
  std::vector<ScenePose> poses;
  const int pieces = static_cast<int>(std::lround(2.0 * kHalfLength_mm / kPointStep_mm));
  for (int k = 0; k < kLines; ++k) {
    const double v = kLineGap_mm * (k - 0.5 * (kLines - 1));
    const double way = k % 2 == 0 ? 1.0 : -1.0;
    const FacePoint first = band.At(-way * kHalfLength_mm, v);
    poses.push_back(Over(first, kClear_mm, kRapid_mm_min, kRapid));
    poses.push_back(Over(first, kStart_mm, kRapid_mm_min, kRapid));
    for (int i = 0; i <= pieces; ++i) {
      const FacePoint at = band.At(way * (-kHalfLength_mm + kPointStep_mm * i), v);
      poses.push_back(Over(at, -kDepth_mm, i == 0 ? kPlunge_mm_min : kFeed_mm_min));
    }
    const FacePoint last = band.At(way * kHalfLength_mm, v);
    poses.push_back(Over(last, kStart_mm, kFeed_mm_min));
    poses.push_back(Over(last, kClear_mm, kRapid_mm_min, kRapid));
  }
  poses.front().dwell_s = kRunUp_s;
  return poses;
}

/// Points of the scan where a probe would touch it from many sides, in W, with
/// a little scatter along the touch.
std::vector<Eigen::Vector3d> Touched(const sim::MeshIndex& scan) {
  const Eigen::Vector3d middle(10.0, 0.0, 90.0);
  const double scatter_mm[] = {0.009, -0.012, 0.007, 0.014, -0.010, -0.005,
                               0.011, -0.013, 0.006, -0.008, 0.010, -0.007};
  std::vector<Eigen::Vector3d> points_W;
  for (int i = 0; i < 12; ++i) {
    const double turn = 2.399963 * i, up = -0.35 + 0.1 * i;   // spread over the upper side
    const Eigen::Vector3d ray =
        Eigen::Vector3d(std::cos(turn), std::sin(turn), up).normalized();
    const auto hits = scan.Crossings(middle + 400.0 * ray, -ray, 0.0, 400.0);
    if (hits.empty()) throw std::runtime_error("a touch ray misses the scan");
    const Eigen::Vector3d p_S = middle + (400.0 - hits.front().t_mm + scatter_mm[i]) * ray;
    points_W.push_back(p_S + Eigen::Vector3d(1800, 0, 800));   // X_WS of the cell file
  }
  return points_W;
}

}  // namespace

void WriteScanScene(const std::filesystem::path& scan, const std::filesystem::path& folder) {
  const Band band(sim::ReadMesh(scan, 1.0));
  PoseTable table;
  table.remarks = {"Engraved band: lines 1.5 mm below the face of the scan, tip end in its frame.",
                   "Written by tools/make_scenes."};
  table.poses = EngravePath(band);
  table.spindle_rpm = kSpindle_rpm;
  WritePoseTable(folder / "engrave.csv", table);
  WriteTouched(folder / "touched.csv", Touched(band.index()));
}

}  // namespace aircut::tools
