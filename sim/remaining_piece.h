#pragma once

#include <memory>
#include <optional>
#include <utility>

#include "sim/prepared_shape.h"
#include "sim/stock.h"

namespace aircut::sim {

/// The piece as it is at a moment of the motion that cut it: what the sweeps before
/// it have left. Where no brick was touched the starting surface stands; in bricks
/// the voxel centres speak that no earlier sweep removed. Any thread.
class RemainingPiece {
 public:
  /// @param stock as the last sweep left it. Keeps a reference.
  explicit RemainingPiece(const Stock& stock);
  ~RemainingPiece();
  RemainingPiece(RemainingPiece&&) noexcept;

  /// @returns the piece as it is before one sweep, whatever sweep is asked for later.
  /// Shares what it stands on with this one.
  RemainingPiece FrozenBefore(int sweep) const;

  /// Gap between a shape (A) and the material that is left before `sweep` (B), in S.
  /// distance_mm is that of a point which is material, lower_mm less by bound_mm()
  /// at most; of an overlap both are an estimate of the depth.
  /// @param stop_above_mm may return any proven lower bound above it.
  ConvexGap GapTo(const PreparedShape& shape, const kinematics::Pose& X_SA, int sweep, double stop_above_mm) const;

  /// Half the diagonal of a voxel: so far from a voxel centre material may lie that
  /// no centre shows. A ridge thinner than a voxel can be missed.
  double bound_mm() const;

 private:
  struct Impl;
  explicit RemainingPiece(std::shared_ptr<Impl> impl) : impl_(std::move(impl)) {}

  std::shared_ptr<Impl> impl_;
  std::optional<int> frozen_before_;
};

}  // namespace aircut::sim
