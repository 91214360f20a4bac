#pragma once

#include <array>
#include <optional>
#include <vector>

#include "kinematics/inverse_kinematics.h"
#include "kinematics/numeric_ik.h"
#include "kinematics/path_targets.h"

namespace aircut::kinematics {

/// Largest number of postures.
inline constexpr int kPostures = 8;

/// The solutions of one pose of the flange seen from the foot, by posture id.
/// Found by search: each stands under its sides (NumericIk::SidesOf), or under
/// the first free id where that is taken; what is more than eight is left out,
/// solutions outside the joint ranges first.
struct PoseSolutions {
  std::array<std::array<double, 6>, kPostures> q{};
  std::array<double, kPostures> wrist_sin{};
  std::array<bool, kPostures> found{};
  JointVector external = JointVector(0);   ///< values of the external axes with it
  std::optional<Pose> X_AF;                ///< the pose, where solutions are searched
};

/// Largest change of a joint of the chain between two vectors [rad]; external axes
/// are told where to go, so they do not count.
double LargestStep(const JointVector& q_from, const JointVector& q_to);

/// Holds one posture along a motion and counts its turns: of all copies of a
/// solution (whole turns of a joint) it takes the one nearest to where the arm
/// is; where the wrist is straight, joint 4 stays where it is and joint 6 takes
/// up the turn. Joint ranges are not looked at here. Immutable.
///
/// An arm without closed form is searched (NumericIk). Its solutions have no
/// posture that a formula would name: a posture is then a branch, begun at the
/// solution that stands under its id where it begins, and held by continuation
/// alone from there on, whatever ids its later solutions stand under. Where a
/// branch ends, the search may give another one under the id, but only joints
/// farther than kTrustedStep_rad away, so that a straight move sees the jump.
class BranchFollower {
 public:
  /// @throws std::invalid_argument where the arm can be neither solved in closed
  /// form nor searched. Keeps a reference to `arm`.
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

  /// True if the arm has no closed form: a pose without solution may be reachable.
  bool searches() const { return search_.has_value(); }

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
  void TakeNearestTurns(const JointVector& q_near, JointVector& q) const;
  PoseSolutions Search(const Pose& X_AF, const JointVector& external) const;
  std::optional<JointVector> Continue(const PoseSolutions& solutions, int posture,
                                      const JointVector& q_near) const;

  const ArmModel& arm_;
  std::optional<InverseKinematics> ik_;   // or else search_
  std::optional<NumericIk> search_;
  std::array<bool, kMaxJoints> turns_freely_{};
};

}  // namespace aircut::kinematics
