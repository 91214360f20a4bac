#include "sim/reach_gauge.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

namespace aircut::sim {

using Eigen::Vector3d;

namespace {

void Put(float* to, const Vector3d& from) {
  for (int d = 0; d < 3; ++d) to[d] = static_cast<float>(from[d]);
}

OutlineRow RowOf(const OutlinePiece& piece) {
  const double low = piece.from.y(), high = piece.to.y();
  OutlineRow row = {};
  row.low = static_cast<float>(low);
  row.high = static_cast<float>(high);
  if (piece.arc) {
    row.radius = static_cast<float>(piece.centre.x());
    row.bulge = piece.clockwise ? -1.0F : 1.0F;
    row.middle_z = static_cast<float>(piece.centre.y());
    row.radius2 = static_cast<float>((piece.from - piece.centre).squaredNorm());
  } else if (high > low) {
    row.radius = static_cast<float>(piece.from.x());
    row.slope = static_cast<float>((piece.to.x() - piece.from.x()) / (high - low));
  } else {
    row.radius = static_cast<float>(std::max(piece.from.x(), piece.to.x()));
  }
  return row;
}

}  // namespace

std::vector<OutlineRow> OutlineRows(const Cutter& cutter) {
  std::vector<OutlineRow> rows;
  for (const OutlinePiece& piece : cutter.outline().pieces) rows.push_back(RowOf(piece));
  return rows;
}

ReachMove MakeReachMove(const ToolTrack& track, int sweep, const Vector3d& first_S, const std::vector<OutlineRow>& rows) {
  const std::size_t i = static_cast<std::size_t>(sweep);
  const Vector3d tip = track.p_ST[i], axis = track.axis_S[i], travel = track.p_ST[i + 1] - tip;
  const double climb = travel.dot(axis);
  const Vector3d across = travel - climb * axis;
  const double aa = across.squaredNorm();
  const double radius = track.tools[static_cast<std::size_t>(track.sweeps[i].tool)].cutter.radius_mm();
  const bool sideways = aa > 1e-12;
  const Vector3d ahead = sideways ? Vector3d(across / std::sqrt(aa)) : axis.unitOrthogonal();
  ReachMove move = {};
  Put(move.tip, tip - first_S);
  Put(move.axis, axis);
  Put(move.travel, travel);
  Put(move.pace, sideways ? Vector3d(across / aa) : Vector3d::Zero());
  Put(move.ahead, ahead);
  Put(move.left, axis.cross(ahead));
  move.slack = static_cast<float>(sideways ? std::min(std::abs(climb), radius * std::abs(climb) / std::sqrt(aa))
                                           : std::max(0.0, -climb));
  move.sideways = sideways ? 1 : 0;
  move.rows = rows.data();
  move.row_count = static_cast<std::int32_t>(rows.size());
  return move;
}

}  // namespace aircut::sim
