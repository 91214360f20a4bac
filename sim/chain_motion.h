#pragma once

#include <array>
#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/motion.h"
#include "sim/prepared_shape.h"

namespace aircut::sim {

/// One value per joint of a chain.
using PerJoint = std::array<double, kinematics::kMaxJoints>;

/// The poses of an arm's links over a run of moments of a track, and how far
/// each joint has turned in sum.
class ChainMoments {
 public:
  /// Moments first .. first + count - 1 of the track.
  ChainMoments(const kinematics::ArmModel& arm, const kinematics::Pose& X_WB,
               const kinematics::MotionTrack& track, int first, int count);

  int first() const { return first_; }
  int count() const { return count_; }

  /// Pose of a link (0 = base) at moment first + i.
  const kinematics::Pose& X_WL(int i, int link) const { return poses_[i * (joints_ + 1) + link]; }
  /// Pose of a link between moments i and i + 1; joints move evenly.
  kinematics::Pose BetweenX_WL(int i, double fraction, int link) const;
  /// Sum of abs(change of model angle) from moment i to moment k, per joint [rad].
  PerJoint Turned(int i, int k) const;

 private:
  const kinematics::ArmModel& arm_;
  const kinematics::Pose X_WB_;
  const kinematics::MotionTrack& track_;
  int first_, count_, joints_;
  std::vector<kinematics::Pose> poses_;
  std::vector<PerJoint> turned_;
};

/// Bounds on how far the points of one shape, carried by link `outer`, move as
/// seen from link `inner` < outer (0 = base or world).
///
/// Path bound. Let x be a point of the shape, rho_j(t) its distance from the
/// axis of joint j, and s_j the length of the path of x seen from link j. Seen
/// from link j - 1 the velocity of x is its velocity seen from link j plus that
/// of turning about axis j, so
///     s_(j-1) <= s_j + V_j * max rho_j,
/// V_j the sum of abs(change of angle j). rho_j depends on where x is seen from
/// link j only (the axis is fixed in link j), so max rho_j <= rho_j(0) + s_j.
/// With s_outer = 0 both follow from the outermost joint inwards, and s_inner
/// bounds the displacement. rho_j also never exceeds the stretched length
/// r_j = r_(j+1) + distance of the points o_j, o_(j+1) on the two axes.
///
/// Bow bound. While joints move evenly, d2x/dt2 = sum over i, j of
/// theta'_i theta'_j a_min x (a_max x (x - o_max)), each term at most
/// abs(theta'_i theta'_j) rho_max(i,j). A curve departs from its chord by at
/// most 1/8 of the largest second derivative over a unit of time, so each point
/// stays within that of the straight line between its two places.
class ChainReach {
 public:
  struct Carried {
    const PreparedShape* shape = nullptr;
    kinematics::Pose X_LA = kinematics::Pose::Identity();  ///< body in link `outer`
    int inner = 0, outer = 0;
  };
  ChainReach(const kinematics::ArmModel& arm, const Carried& carried);

  /// Largest distance of the shape from the axis of each joint at moment i.
  PerJoint FromAxes(const ChainMoments& moments, int i) const;
  /// Longest path any point can have gone while the joints turned by `turned`,
  /// from where the shape had `from_axes`.
  double PathBound_mm(const PerJoint& from_axes, const PerJoint& turned) const;
  /// Departure from the straight line while the joints turn evenly by `turned`.
  double BowBound_mm(const PerJoint& turned) const;

 private:
  Carried carried_;
  std::vector<Ball> cover_L_;                 // in link `outer`
  std::vector<Eigen::Vector3d> point_L_;      // of axis j, in link j
  std::vector<Eigen::Vector3d> axis_L_;
  PerJoint stretched_{};
};

}  // namespace aircut::sim
