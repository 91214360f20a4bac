#pragma once

#include <array>
#include <optional>
#include <vector>

#include "kinematics/inverse_kinematics.h"
#include "kinematics/path_targets.h"

namespace aircut::kinematics {

/// Largest number of postures.
inline constexpr int kPostures = 8;

/// The solutions of one pose of the flange seen from the foot, by posture id.
struct PoseSolutions {
  std::array<std::array<double, 6>, kPostures> q{};
  std::array<double, kPostures> wrist_sin{};
  std::array<bool, kPostures> found{};
  JointVector external = JointVector(0);   ///< values of the external axes with it
};

/// Largest change of a joint of the chain between two vectors [rad]; external axes
/// are told where to go, so they do not count.
double LargestStep(const JointVector& q_from, const JointVector& q_to);

/// Holds one posture along a motion and counts its turns: of all copies of a
/// solution (whole turns of a joint) it takes the one nearest to where the arm
/// is; where the wrist is straight, joint 4 stays where it is and joint 6 takes
/// up the turn. Joint ranges are not looked at here. Immutable.
class BranchFollower {
 public:
  /// @throws std::invalid_argument where the arm has no closed form. Keeps a
  /// reference to `arm`.
  explicit BranchFollower(const ArmModel& arm);

  /// @param X_AF flange from the foot; @param external values of the external
  /// axes, which all solutions carry.
  PoseSolutions Solve(const Pose& X_AF, const JointVector& external = JointVector(0)) const;

  /// @returns the copy of a solution nearest to `q_near`, or nothing where the
  /// posture does not reach the pose.
  std::optional<JointVector> Near(const PoseSolutions& solutions, int posture,
                                  const JointVector& q_near) const;

  /// Follows a straight move from `q_from` by halving it until no joint turns
  /// more than 0.2 rad a step. @returns the joints at the end of the move, or
  /// nothing where the posture ends or jumps on the way.
  std::optional<JointVector> Follow(const StraightMove& move, int posture,
                                    const JointVector& q_from, const PoseSolutions& end) const;

  /// True if a whole turn of the joint leaves the flange where it is.
  bool turns_freely(Eigen::Index joint) const {
    return turns_freely_[static_cast<std::size_t>(joint)];
  }

  /// A step of a joint below this is taken without a look in between [rad].
  static constexpr double kTrustedStep_rad = 0.2;
  /// Below this sine of the wrist bend joints 4 and 6 are one axis.
  static constexpr double kStraightWristSin = 1e-8;

 private:
  struct Stretch {
    double from = 0.0, to = 1.0;
    int halvings_left = 0;
  };
  std::optional<JointVector> FollowStretch(const StraightMove& move, int posture,
                                           const JointVector& q_from, Stretch stretch) const;
  JointVector KeepJoint4(const JointVector& q, const JointVector& q_near) const;

  const ArmModel& arm_;
  InverseKinematics ik_;
  std::array<bool, kMaxJoints> turns_freely_{};
};

}  // namespace aircut::kinematics
