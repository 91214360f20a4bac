#pragma once

#include <array>
#include <memory>
#include <optional>

#include "kinematics/arm_model.h"

namespace aircut::kinematics {

/// One way to a pose, found by search.
struct SearchedSolution {
  JointVector q;          ///< panel values [rad] of the chain, each within pi of the middle of its range
  int sides = 0;          ///< see NumericIk::SidesOf
  bool in_range = false;  ///< inside all ranges and sum limits as it stands
};

/// Up to sixteen, which is the most a chain of six turning joints can have
/// (Primrose 1986; Lee and Liang 1988). Without heap.
struct SearchedSolutions {
  std::array<SearchedSolution, 16> items;
  int count = 0;
  const SearchedSolution* begin() const { return items.data(); }
  const SearchedSolution* end() const { return items.data() + count; }
};

/// How much is searched.
struct SearchRules {
  int most_starts = 96;        ///< spread starts tried where nothing was found, >= 0
  /// Spread starts in a row that bring nothing new after which the search ends,
  /// once there is a solution, >= 1.
  int quiet_starts = 12;
  bool near_closed_form = true;   ///< start from the closed form of the nearest arm too
};

/// How often a search came to something.
struct SearchTrial {
  int poses = 0;   ///< tried, each the pose of a posture
  int found = 0;   ///< of them, with a solution
};

/// Inverse kinematics of any chain of six turning joints by search: damped
/// least squares (Levenberg-Marquardt with the damping of Sugihara, IEEE Trans.
/// Robotics 27(5) 2011), then Newton, from many fixed starts: the solutions of
/// the nearest arm with a spherical wrist where there is one, then those of a
/// fixed table of postures spread over the joint ranges (Halton) whose flange is
/// nearest to the pose. No chance takes part: the same pose gives the same
/// solutions bit for bit. Immutable; made once per arm, used from any thread.
///
/// A solution that is given is one: it reproduces the pose within 1e-9 mm and
/// 1e-12 rad. That all are given, or any where the pose can be reached, is not
/// certain. Success rate, with the rules as they stand, on poses of random
/// postures within the ranges of four made-up arms (two offset wrists, three
/// parallel axes, a leaning hollow wrist): at least one solution at 99.9 % of the
/// poses or more (all of 80,000 when measured; the test asks for 99.9 %), the very
/// posture that made the pose at 96 to 99 % of them. `Try` measures another arm.
class NumericIk {
 public:
  /// @throws std::invalid_argument where the chain has not six joints, or loses
  /// a direction of the flange at every posture (axes all parallel, all through
  /// one point); it says which, with the value and its bound.
  explicit NumericIk(const ArmModel& arm, const SearchRules& rules = {});

  /// All solutions that the search finds, whatever the joint ranges, without
  /// doubles (joints equal within 1e-5 rad). Where the arm is singular at the
  /// pose there may be none. A pose that is not a rotation within 1e-9 has none.
  /// @param X_AF flange from the foot [mm].
  SearchedSolutions Solve(const Pose& X_AF) const;

  /// Continues the solution at which the arm stands: the flange is led from
  /// where `q_from` puts it to `X_AF`, position straight, orientation by the
  /// shorter turn, Newton behind it in steps that are halved until every step
  /// shrinks to a quarter of the one before and the sign of the Jacobian
  /// determinant stays. So the branch is not left where two branches meet.
  /// @param q_from panel values; those after the chain's are not looked at.
  /// @returns the panel values of the chain, counted in turns from `q_from`;
  /// nothing where the branch ends on the way or passes a singular posture.
  std::optional<JointVector> Continue(const Pose& X_AF, const JointVector& q_from) const;

  /// 4 * (wrist behind axis 1) + 2 * (elbow turned) + (wrist flipped): on which
  /// side of the plane of axes 1 and 2 the wrist stands, to which side of the
  /// upper arm it lies, to which side axis 6 leans from axis 4. For an arm with
  /// closed form this is its Posture::id. Two solutions may share it, and a
  /// branch may change it: a name to sort by, no more.
  int SidesOf(const JointVector& q) const;

  /// Tries itself on the poses of `postures` postures spread over the joint ranges
  /// (others than the table's); those outside a sum limit are left out.
  SearchTrial Try(int postures) const;

  /// True if an arm with closed form is near enough to start from.
  bool has_near_arm() const;

 private:
  class Chain;
  struct Parts;
  std::shared_ptr<const Parts> parts_;
};

}  // namespace aircut::kinematics
