#pragma once

namespace aircut::sim {

/// What a body of the cell is, for the choice of pairs and for what they mean.
enum class BodyKind {
  kLink, kHousing, kHood, kHose, kTool, kCutter, kFixture, kClamp, kObstacle, kFloor, kPiece
};

}  // namespace aircut::sim
