#include <Eigen/Geometry>

#include "sim/cell_tables.h"
#include "sim/cell_yaml.h"

namespace aircut::sim {
namespace {

// Rigid X_WS with the least squared distance of X_WS * p_S to p_W.
// Source: Umeyama, IEEE PAMI 13(4), 1991.
kinematics::Pose FittedFrame(const std::vector<FitPoint>& points) {
  Eigen::Matrix3Xd p_S(3, static_cast<Eigen::Index>(points.size())), p_W = p_S;
  for (std::size_t i = 0; i < points.size(); ++i) {
    p_S.col(static_cast<Eigen::Index>(i)) = points[i].p_S;
    p_W.col(static_cast<Eigen::Index>(i)) = points[i].p_W;
  }
  const Eigen::Matrix4d X = Eigen::umeyama(p_S, p_W, false);
  return kinematics::MakePose(X.topLeftCorner<3, 3>(), X.topRightCorner<3, 1>());
}

void ReadFrame(const YamlValue& in_world, const CellContext& context, Cell& cell) {
  const YamlMap map = in_world.Map({"position", "rotation", "fit"});
  const auto fit = map.Find("fit");
  if (fit) cell.fit = ReadFitPoints(context.files.Take(*fit, context.place, "fit points"));
  cell.X_WS_typed = !fit || map.Has("position") || map.Has("rotation");
  cell.X_WS = cell.X_WS_typed ? map.RigidPose() : FittedFrame(cell.fit);
}

}  // namespace

void ReadWorkpiece(const YamlValue& value, const CellContext& context, Cell& cell) {
  const YamlMap map = value.Map({"in_world", "touched"});
  ReadFrame(map.At("in_world", "write the work frame as the controller holds it, {position:, rotation:}, or "
                               "{fit: plate_points.csv}"),
            context, cell);
  if (const auto touched = map.Find("touched")) {
    TouchedPoints points = ReadTouched(context.files.Take(*touched, context.place, "touched points"));
    cell.touched_W = std::move(points.p_W);
    cell.touched_lines = std::move(points.lines);
    if (cell.touched_W.empty()) touched->Fail("names a table without points: touch the piece or take the key out");
  }
}

}  // namespace aircut::sim
