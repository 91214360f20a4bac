#include "sim/cell_tables.h"
#include "sim/cell_yaml.h"
#include "sim/frame_fit.h"

namespace aircut::sim {
namespace {

void ReadFrame(const YamlValue& in_world, const CellContext& context, Cell& cell) {
  const YamlMap map = in_world.Map({"position", "rotation", "fit"});
  const auto fit = map.Find("fit");
  if (fit) cell.fit = ReadFitPoints(context.files.Take(*fit, context.place, "fit points"));
  cell.X_WS_typed = !fit || map.Has("position") || map.Has("rotation");
  if (cell.X_WS_typed) {
    cell.X_WS = map.RigidPose();
    return;
  }
  const FrameFit fitted = FitFrame(cell.fit);
  if (fitted.state != FitState::kSettled) {
    fit->Fail("leaves the frame open, must settle it: touch three points or more that do not lie on a line");
  }
  cell.X_WS = fitted.X_WS;
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
