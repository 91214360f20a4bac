#pragma once

#include <array>
#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/motion.h"
#include "sim/carrier_line.h"
#include "sim/prepared_shape.h"

namespace aircut::sim {

/// One value per joint, external axes behind those of the arm.
using PerJoint = std::array<double, kinematics::kMaxJoints>;

/// The poses of everything that carries a body over a run of moments of a track,
/// and how far each joint has gone in sum. Carriers are counted as in CarrierLine;
/// without external axes they are the links, 0 = base.
class ChainMoments {
 public:
  /// Moments first .. first + count - 1 of the track. Keeps references.
  ChainMoments(const kinematics::ArmModel& arm, const kinematics::Pose& X_WB,
               const kinematics::MotionTrack& track, int first, int count);

  int first() const { return first_; }
  int count() const { return count_; }
  const CarrierLine& line() const { return line_; }

  /// Pose of a carrier at moment first + i.
  const kinematics::Pose& X_WC(int i, int carrier) const { return poses_[i * line_.count() + carrier]; }
  /// Pose of a carrier between moments i and i + 1; joints move evenly.
  kinematics::Pose BetweenX_WC(int i, double fraction, int carrier) const;
  /// Pose of a body there.
  kinematics::Pose BodyPose(const BodyMount& mount, int i, double fraction = 0.0) const;
  /// The motion in W that the axes under the work have given it there.
  kinematics::Pose WorkMotion(int i, double fraction) const;
  /// Sum of abs(change of model value) from moment i to moment k, per joint: rad,
  /// mm for a slide.
  PerJoint Turned(int i, int k) const;
  /// Largest abs(model value) over the run, per joint.
  const PerJoint& farthest() const { return farthest_; }

 private:
  const kinematics::ArmModel& arm_;
  const kinematics::Pose X_WB_;
  const kinematics::MotionTrack& track_;
  const CarrierLine line_;
  int first_, count_;
  std::vector<kinematics::Pose> poses_;
  std::vector<PerJoint> turned_;
  PerJoint farthest_{};
};

/// Bounds on how far the points of one shape, carried by `outer`, move as seen from
/// carrier `inner`. Between the two lie joints 1 .. n, from inner to outer; link j
/// is the carrier on the outer side of joint j.
///
/// Path bound. Let x be a point of the shape, rho_j(t) its distance from the
/// axis of joint j, and s_j the length of the path of x seen from link j. Seen
/// from link j - 1 the velocity of x is its velocity seen from link j plus that
/// of turning about axis j, so
///     s_(j-1) <= s_j + V_j * max rho_j,
/// V_j the sum of abs(change of angle j); for a slide V_j alone is added. rho_j
/// depends on where x is seen from link j only (the axis is fixed in link j), so
/// max rho_j <= rho_j(0) + s_j. With s_n = 0 both follow from the outermost joint
/// inwards, and s_0 bounds the displacement. rho_j also never exceeds the stretched
/// length r_j = r_(j+1) + distance of the points o_j, o_(j+1) on the two axes,
/// which a slide between them makes longer by as much as it is ever out.
///
/// Bow bound. While joints move evenly, d2x/dt2 = sum over i, j of
/// theta'_i theta'_j a_min x (a_max x (x - o_max)), each term at most
/// abs(theta'_i theta'_j) rho_max(i,j); where the outer joint is a slide it is
/// a_min x a_max, and where the inner one is, nothing. A curve departs from its
/// chord by at most 1/8 of the largest second derivative over a unit of time, so
/// each point stays within that of the straight line between its two places.
class ChainReach {
 public:
  struct Carried {
    const PreparedShape* shape = nullptr;
    kinematics::Pose X_LA = kinematics::Pose::Identity();  ///< body in carrier `outer`
    int inner = 0, outer = 0;                              ///< differ; either may be the larger
  };
  /// Good for the run of `moments` only.
  ChainReach(const ChainMoments& moments, const Carried& carried);

  /// Largest distance of the shape from the axis of each joint at moment i.
  PerJoint FromAxes(const ChainMoments& moments, int i) const;
  /// Longest path any point can have gone while the joints turned by `turned`,
  /// from where the shape had `from_axes`.
  double PathBound_mm(const PerJoint& from_axes, const PerJoint& turned) const;
  /// Departure from the straight line while the joints turn evenly by `turned`.
  double BowBound_mm(const PerJoint& turned) const;

 private:
  /// A joint between the two carriers, seen from inner to outer.
  struct Step {
    int joint = 0;
    int carrier = 0;  // on its outer side
    bool slides = false;
    Eigen::Vector3d p_in;             // of the axis, in the carrier on the inner side
    Eigen::Vector3d p_out, axis_out;  // the same, in `carrier`
    double stretched_mm = 0.0;
  };
  void AddSteps(const CarrierLine& line);
  void Stretch(const PerJoint& farthest);

  Carried carried_;
  std::vector<Ball> cover_L_;  // in carrier `outer`
  std::vector<Step> steps_;    // from inner to outer
};

}  // namespace aircut::sim
