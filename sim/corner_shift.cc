#include "sim/corner_shift.h"

#include <algorithm>
#include <cmath>

#include "kinematics/straight_move.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::CornerCut;
using kinematics::Motion;
using kinematics::MoveKind;
using kinematics::PathLine;
using kinematics::Phase;
using kinematics::ToolPath;

// A corner as written: its point, and the plane in which it is rounded.
struct Corner {
  int index = 0, leaves = 0;  // of the path line that ends there, and of the one that leads on
  Vector3d p_S, along_S, inwards_S;
  double rise = 0;            // of the written legs over the way along
  double half_mm = 0;         // reach of the rounding along

  // From the written way to a point of the rounded one.
  Vector3d ShiftAt(const Vector3d& p) const {
    const Vector3d away = p - p_S;
    const double x = std::abs(away.dot(along_S));
    const double shift_mm = x < half_mm ? away.dot(inwards_S) - rise * x : 0.0;
    return shift_mm > 0.0 ? Vector3d(shift_mm * inwards_S) : Vector3d(Vector3d::Zero());
  }
};

const PathLine& LineAt(const ToolPath& path, int index) { return path[static_cast<std::size_t>(index)]; }

// The nearest line, backwards or onwards, that lies elsewhere: one that moves nothing does
// not turn the way.
std::optional<int> Elsewhere(const ToolPath& path, int at, int step) {
  for (int i = at + step; i >= 0 && i < static_cast<int>(path.size()); i += step) {
    if ((LineAt(path, i).p_ST - LineAt(path, at).p_ST).norm() > kinematics::kNoTravel_mm) return i;
  }
  return std::nullopt;
}

std::optional<Corner> CornerOf(const ToolPath& path, const CornerCut& cut) {
  if (LineAt(path, cut.path_index).move != MoveKind::kCut) return std::nullopt;
  const auto from = Elsewhere(path, cut.path_index, -1), to = Elsewhere(path, cut.path_index, 1);
  if (!from || !to) return std::nullopt;
  Corner corner;
  corner.index = cut.path_index;
  corner.leaves = *to;
  corner.p_S = LineAt(path, cut.path_index).p_ST;
  const Vector3d before = (corner.p_S - LineAt(path, *from).p_ST).normalized();
  const Vector3d after = (LineAt(path, *to).p_ST - corner.p_S).normalized();
  corner.along_S = (before + after).normalized();
  corner.inwards_S = (after - before).normalized();
  corner.rise = std::tan(0.5 * cut.turn_rad);
  corner.half_mm = cut.start_mm * std::cos(0.5 * cut.turn_rad);
  return corner;
}

std::vector<Corner> CornersOf(const ToolPath& path, const Motion& motion) {
  std::vector<Corner> corners;
  for (const CornerCut& cut : motion.corners) {
    if (const auto corner = CornerOf(path, cut)) corners.push_back(*corner);
  }
  return corners;
}

// At a moment of the path line `index`: the corner at its end, or the one before it.
Vector3d ShiftAt(const std::vector<Corner>& corners, int index, const Vector3d& p_ST) {
  const auto next = std::partition_point(corners.begin(), corners.end(), [&](const Corner& c) { return c.index < index; });
  Vector3d shift = Vector3d::Zero();
  if (next != corners.end() && next->index == index) shift = next->ShiftAt(p_ST);
  if (!shift.isZero(0.0) || next == corners.begin()) return shift;
  const Corner& passed = *std::prev(next);
  return index <= passed.leaves ? passed.ShiftAt(p_ST) : shift;
}

}  // namespace

std::optional<LayerShift> CornerRoundingOf(const Job& job, const Motion& motion, const kinematics::Pose& X_WS_actual) {
  if (!motion.complete()) return std::nullopt;
  const std::vector<Corner> corners = CornersOf(job.path, motion);
  if (corners.empty()) return std::nullopt;
  const kinematics::MotionTrack& track = motion.tracks[0];
  const Eigen::Matrix3d R_AS = X_WS_actual.linear().transpose() * job.cell.X_WS.linear();
  std::vector<Vector3d> at_moment(track.size(), Vector3d::Zero());
  for (std::size_t m = 0; m < track.size(); ++m) {
    if (track.phase[m] != Phase::kCut || track.path_index[m] < 0) continue;
    at_moment[m] = R_AS * ShiftAt(corners, track.path_index[m], track.X_ST[m].translation());
  }
  LayerShift shift{ErrorLayer::kCornerRounding, {}};
  for (std::size_t s = 0; s + 1 < track.size(); ++s) {
    const bool cuts = track.phase[s + 1] == Phase::kCut;
    const bool first = at_moment[s].squaredNorm() > at_moment[s + 1].squaredNorm();
    const Eigen::Vector3f d = cuts ? Eigen::Vector3f(at_moment[first ? s : s + 1].cast<float>()) : Eigen::Vector3f::Zero();
    shift.of_sweep.push_back({d, d, d});
  }
  return shift;
}

}  // namespace aircut::sim
