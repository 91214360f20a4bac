#pragma once

#include <vector>

#include "kinematics/motion_planner.h"
#include "kinematics/straight_move.h"

namespace aircut::kinematics {

/// How the arm gets to a path line from the line before.
enum class Travel { kStraight, kJoint };

/// What is chosen at one path line where it is free.
struct LineFreedom {
  double spin_rad = 0.0;       ///< turn about the tool axis from the reference orientation
  JointVector external = JointVector(0);   ///< values of the external axes
};

/// The poses a request asks for. Keeps a reference to the request.
class PathTargets {
 public:
  /// External axes stand at the request's `external`. Under SpinRule::kFree the
  /// reference orientation turns with the tool axis from line to line by the
  /// shortest arc, so that an even spin winds nothing up; at the first line its
  /// x points toward_S, or where that is the axis itself, square to it.
  /// @throws std::invalid_argument naming the field, value and bound where the
  /// request contradicts itself (see PlanMotion).
  explicit PathTargets(const PlanRequest& request);

  /// The same poses with what was chosen. @param freedom one per line.
  /// @throws std::invalid_argument where the count differs.
  PathTargets With(const std::vector<LineFreedom>& freedom) const;

  std::size_t size() const { return X_ST_.size(); }
  const PlanRequest& request() const { return *request_; }
  const PathLine& line(std::size_t i) const { return request_->path[i]; }
  const Pose& X_ST(std::size_t i) const { return X_ST_[i]; }
  const Pose& X_FT(std::size_t i) const { return request_->X_FT[i]; }
  const JointVector& external(std::size_t i) const { return external_[i]; }
  /// @returns the flange seen from the foot: X_AS * X_ST(i) * X_FT(i)^-1.
  Pose X_AF(std::size_t i) const { return FlangeAt(i, {0.0, external_[i]}); }
  /// The same with another spin, from the one that the line has, and other
  /// values of the external axes.
  Pose FlangeAt(std::size_t i, const LineFreedom& freedom) const;
  /// @param i from 1.
  Travel TravelTo(std::size_t i) const;
  /// True if line `i` (from 1) is run with another tool, or another tool pose in
  /// the flange, than the line before: the tool was changed, the arm stood still.
  bool ToolChangesBefore(std::size_t i) const;
  /// The straight move from line i - 1 to line i with the tool of line i.
  StraightMove MoveTo(std::size_t i) const;

 private:
  const PlanRequest* request_;
  std::vector<Pose> X_ST_;
  std::vector<JointVector> external_;
};

}  // namespace aircut::kinematics
