#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/cell.h"

namespace aircut::verify {

enum class BodyKind { kArm, kSpindle, kHolder, kCutter, kFixture, kObstacle };

/// A body of the cell as it is drawn.
struct DrawnBody {
  BodyKind kind = BodyKind::kArm;
  std::string name;          ///< of an obstacle, hose or hood, all of which are seen through
  int link = 0;              ///< of the arm
  sim::Mesh mesh;            ///< in the frame its holder names
};

/// Everything that has a shape, in W: the arm at panel values `q` [rad], spindle,
/// clamps with the fixture, obstacles, hose and hood, and this cutter in the
/// spindle (null: none). The floor has no body.
/// @throws std::invalid_argument for a cell without an arm.
std::vector<DrawnBody> BodiesInWorld(const sim::Cell& cell, const kinematics::JointVector& q,
                                     const sim::CellCutter* cutter);

/// What hangs on the flange, in H: bodies of the last link, spindle, this cutter.
std::vector<DrawnBody> ToolStackInNose(const sim::Cell& cell, const sim::CellCutter& cutter);

/// A posture with the tip of the cutter on the origin of S and its axis along +z
/// of S, within the joint ranges: of all turns about the axis in steps of 5
/// degrees and of all branches the one nearest to home; external axes stand at
/// home. Nothing where there is none, or where the arm can be neither solved nor
/// searched.
std::optional<kinematics::JointVector> PostureAtWorkpieceZero(const sim::Cell& cell, const sim::CellCutter& cutter);

/// Where external axes have carried things at panel values `q`, in W: the foot of
/// the arm (X_WA), and the workpiece (X_WS).
kinematics::Pose FootInWorld(const sim::Cell& cell, const kinematics::JointVector& q);
kinematics::Pose WorkInWorld(const sim::Cell& cell, const kinematics::JointVector& q);

/// Home, or the middle of the ranges where home is not said.
kinematics::JointVector HomePosture(const sim::Cell& cell);

}  // namespace aircut::verify
