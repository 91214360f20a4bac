#include "verify/cause_modes.h"

#include <algorithm>
#include <cmath>
#include <string>

#include <Eigen/Geometry>

namespace aircut::verify {
namespace {

// Half of the included angle of the cone of a V, nothing for other cutters.
std::optional<double> HalfAngle(const sim::Cutter& cutter) {
  if (cutter.outline().shape != "v") return {};
  std::optional<double> half;
  for (const sim::OutlinePiece& piece : cutter.outline().pieces) {
    const Eigen::Vector2d along = piece.to - piece.from;
    if (!piece.arc && along.x() > 0.0 && along.y() > 0.0) half = std::atan2(along.x(), along.y());
  }
  return half;
}

// A ball with its tip held moves its centre up by what it grows: the surface goes by
// dr (axis - normal). Other cutters grow sideways only.
double RadiusMode(const CauseField& field, const FieldPlace& place, const Eigen::Vector3d& n_S) {
  const std::string& shape = field.tools[static_cast<std::size_t>(place.tool)].outline().shape;
  const double along = n_S.dot(place.axis_S), length = n_S.norm();
  if (shape == "ball" || shape == "tapered_ball") return along - length;
  if (shape == "v") return 0.0;
  return -std::sqrt(std::max(0.0, length * length - along * along));
}

// On a flank at height h over the apex the surface goes inwards by h / cos(half) a radian.
double AngleMode(const CauseField& field, const FieldPlace& place, const Eigen::Vector3d& n_S) {
  const std::optional<double> half = HalfAngle(field.tools[static_cast<std::size_t>(place.tool)]);
  if (!half) return 0.0;
  constexpr double kFlank = 0.25;   // of the sine; a place far from it is no flank
  const double length = n_S.norm();
  if (std::abs(n_S.dot(place.axis_S) / length - std::sin(*half)) > kFlank) return 0.0;
  return -std::max(0.0, place.above_tip_mm) / std::cos(*half) * length;
}

}  // namespace

const std::vector<CauseKind>& FittedKinds() {
  static const std::vector<CauseKind> kinds = {
      CauseKind::kFrameX, CauseKind::kFrameY, CauseKind::kFrameZ, CauseKind::kTurnX,
      CauseKind::kTurnY, CauseKind::kTurnZ, CauseKind::kToolLength, CauseKind::kToolRadius,
      CauseKind::kVAngle, CauseKind::kDepth, CauseKind::kScale};
  return kinds;
}

double ModeAt(CauseKind kind, const CauseField& field, const FieldPlace& place, const Eigen::Vector3d& n_S) {
  const Eigen::Vector3d arm = place.p_S - field.middle_S;
  switch (kind) {
    case CauseKind::kFrameX: return n_S.x();
    case CauseKind::kFrameY: return n_S.y();
    case CauseKind::kFrameZ: return n_S.z();
    case CauseKind::kTurnX: return arm.cross(n_S).x();   // n . (w x arm) = w . (arm x n)
    case CauseKind::kTurnY: return arm.cross(n_S).y();
    case CauseKind::kTurnZ: return arm.cross(n_S).z();
    case CauseKind::kToolLength: return -n_S.dot(place.axis_S);
    case CauseKind::kToolRadius: return RadiusMode(field, place, n_S);
    case CauseKind::kVAngle: return AngleMode(field, place, n_S);
    case CauseKind::kDepth: return -1.0;
    case CauseKind::kScale: return n_S.dot(place.p_S);
    case CauseKind::kMirrorX: return place.mirrored_x_mm;
    case CauseKind::kMirrorY: return place.mirrored_y_mm;
    case CauseKind::kUnits: return place.reached ? 0.0 : place.ceiling_mm;
    case CauseKind::kOtherCutter: break;   // not a mode of the place alone: see CauseField::others
  }
  return 0.0;
}

}  // namespace aircut::verify
