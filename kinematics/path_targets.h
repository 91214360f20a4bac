#pragma once

#include <vector>

#include "kinematics/motion_planner.h"
#include "kinematics/straight_move.h"

namespace aircut::kinematics {

/// How the arm gets to a path line from the line before.
enum class Travel { kStraight, kJoint };

/// The poses a request asks for. Keeps a reference to the request.
class PathTargets {
 public:
  /// @throws std::invalid_argument naming the field, value and bound where the
  /// request contradicts itself (see PlanMotion).
  explicit PathTargets(const PlanRequest& request);

  std::size_t size() const { return X_ST_.size(); }
  const PathLine& line(std::size_t i) const { return request_.path[i]; }
  const Pose& X_ST(std::size_t i) const { return X_ST_[i]; }
  const Pose& X_FT(std::size_t i) const { return request_.X_FT[i]; }
  /// @returns X_BS * X_ST(i) * X_FT(i)^-1.
  Pose X_BF(std::size_t i) const;
  /// @param i from 1.
  Travel TravelTo(std::size_t i) const;
  /// True if line `i` (from 1) is run with another tool, or another tool pose in
  /// the flange, than the line before: the tool was changed, the arm stood still.
  bool ToolChangesBefore(std::size_t i) const;
  /// The straight move from line i - 1 to line i with the tool of line i.
  StraightMove MoveTo(std::size_t i) const;

 private:
  const PlanRequest& request_;
  std::vector<Pose> X_ST_;
};

}  // namespace aircut::kinematics
