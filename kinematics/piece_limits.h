#pragma once

namespace aircut::kinematics {

/// Limits that hold all over one piece of a way, per unit of its own parameter.
struct PieceLimits {
  double length = 0.0;      ///< 0: nothing moves
  double v_max = 0.0;       ///< > 0: feed, joint speed
  double a_max = 0.0;       ///< > 0: joint acceleration
};

}  // namespace aircut::kinematics
