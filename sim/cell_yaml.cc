#include "sim/cell_yaml.h"

namespace aircut::sim {

Cell ReadCell(const YamlValue& top_value, const CellContext& context) {
  RequireKind(top_value, "cell/1");
  const YamlMap top = top_value.Map({"aircut", "name", "units", "arm", "controller", "spindle", "cutters",
                                     "workpiece", "fixture", "bodies", "obstacles", "stopping"});
  ReadUnits(top);
  Cell cell;
  cell.name = top.At("name", "write a name for the cell").Text();
  ReadArm(top.At("arm", "describe the arm"), context, cell);
  ReadController(top.At("controller", "write {corner: {rule: ..}, rapid: .., cycle_s: ..}"), cell);
  ReadSpindle(top.At("spindle", "describe the spindle"), context, cell);
  ReadCutters(top.At("cutters", "describe the cutters, {1: {shape: ball, ..}}"), cell);
  ReadWorkpiece(top.At("workpiece", "write workpiece: {in_world: {position:, rotation:}}"), context, cell);
  if (const auto fixture = top.Find("fixture")) ReadFixture(*fixture, context, cell);
  if (const auto obstacles = top.Find("obstacles")) ReadObstacles(*obstacles, context, cell);
  if (const auto bodies = top.Find("bodies")) ReadBodies(*bodies, context, cell);
  if (const auto stopping = top.Find("stopping")) cell.stopping = ReadStopping(*stopping);
  return cell;
}

}  // namespace aircut::sim
