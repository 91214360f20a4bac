#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/motion.h"
#include "kinematics/tool_path.h"

namespace aircut::kinematics {

/// In a straight move each joint leaves the even run between two moments by at
/// most this much: what a search that takes joints as even must add. External axes
/// that slide leave it by at most kSlideChord_mm.
inline constexpr double kJointChord_rad = 4e-5;
inline constexpr double kSlideChord_mm = 0.01;

enum class SpinRule { kAsWritten, kFixed, kFree };
enum class CornerRule { kBlend, kExactStop };
enum class RapidRule { kStraight, kJoint };

struct ControllerRules {
  CornerRule corner = CornerRule::kExactStop;
  RapidRule rapid = RapidRule::kStraight;
  double cycle_s = 0.012;        ///< > 0, interpolation cycle
  /// Under kBlend: how far before and after a line's end the written way is left
  /// [mm], never more than half of either move. Nothing: not known; corners are
  /// passed as written.
  std::optional<double> corner_distance_mm;
  /// How many moves the controller knows ahead, the running one included, >= 1.
  /// Nothing: endless.
  std::optional<int> look_ahead_moves;
  std::optional<double> tool_acceleration_mm_s2;   ///< of the tip, > 0
};

/// What the free spin may do.
struct FreedomRules {
  int spins = 36;                       ///< lattice points a turn, >= 8
  double spin_per_mm_rad = 0.0174532925199432958;   ///< most change per mm of tip travel, > 0
};

/// What the choice of posture and spin weighs; every weight >= 0.
struct ChoiceWeights {
  double range = 1.0;          ///< nearness to the ends of joint ranges
  double singularity = 1.0;
  double travel = 1.0;         ///< motion of the joints, of the spin
  double stiffness = 0.0;      ///< softness along the tool axis, where joints have one
};

/// What an earlier plan chose for the first lines of the path, to be kept. Lines up
/// to the last of them must be the same as they were.
struct KeptChoice {
  std::vector<JointVector> q;      ///< panel values, one per kept line, external axes behind the arm's
  std::vector<int> posture;        ///< posture id, one per kept line
  std::vector<double> spin_rad;    ///< [rad] about the tool axis, one per kept line; empty unless the spin is free
  std::size_t lines() const { return q.size(); }
};

/// Everything planning must know; it never sees the stock or the cell's bodies.
struct PlanRequest {
  const ArmModel* arm = nullptr;
  ToolPath path;
  std::vector<Pose> X_FT;        ///< pose of the tool in the flange, per path line
  Pose X_BS = Pose::Identity();  ///< workpiece in the base, as the controller holds it
  SpinRule spin = SpinRule::kFixed;
  Eigen::Vector3d toward_S = Eigen::Vector3d::UnitX();  ///< for SpinRule::kFixed
  FreedomRules freedom;                 ///< for SpinRule::kFree
  /// Values of the external axes, rad or mm; they stand still on the path. Their count.
  JointVector external = JointVector(0);
  /// Axes whose value on the path may be chosen; one per axis, or empty: none.
  std::vector<bool> external_free;
  int external_samples = 9;  ///< values tried over the range of a free axis, >= 2
  ChoiceWeights weights;
  std::vector<double> stiffness_nm_rad;   ///< one per joint, or empty
  /// Clearance of the arm at panel values with the tool of a path line [mm]; where
  /// there is freedom, a choice whose clearance is below 0 is forbidden and made
  /// again. Asked at stations of the choice only. May be empty.
  std::function<double(const JointVector& q, std::size_t path_index)> clearance_mm;
  /// Panel values at the first line where they are settled: the posture nearest to
  /// them is held over the whole path where it can be. Nothing: free to choose.
  std::optional<JointVector> start_posture;
  /// The choice at the first lines, where it is settled; it goes before start_posture.
  std::optional<KeptChoice> kept;
  /// Largest speed of the tip and of the origin of every link [mm/s]; for a slow
  /// air pass. Nothing: none.
  std::optional<double> slow_mm_s;
  ControllerRules controller;
  JointVector home;                     ///< panel values [rad]
  std::vector<JointVector> approach;    ///< joint moves between home and the first line
  std::vector<JointVector> retreat;     ///< joint moves between the last line and home
  /// Joint moves from a line to the place where cutters are changed, made where
  /// the cutter of a line differs from the one before; the way back is the same.
  std::vector<JointVector> tool_change;
  double sag_mm = 0.01;                 ///< largest chord sag of the tip between moments of a joint move
  std::function<void(double fraction)> progress;  ///< optional
};

/// @returns true if something besides the posture is to be chosen: the spin, or
/// where an external axis stands.
bool HasFreedom(const PlanRequest& request);

/// Solves every pose line (by search where the arm has no closed form: see
/// BranchFollower), holds one posture through each cut
/// (a run of cut lines between rapids), unwraps turns, and lays a time law of
/// trapezoids under feed, joint speed and joint acceleration; at a corner the
/// step in joint velocity stays within one controller cycle of acceleration.
/// Straight moves: the tip moves on a line, the orientation by slerp, both in
/// step; joints are solved again between lines where the turn needs it.
/// A rapid runs as fast as the joints allow, whatever feed its line carries.
/// The last moment of the approach is the first path line (its line and index,
/// Phase::kApproach). Where the tool or X_FT changes between two lines the arm
/// stands still and one moment of no duration is added with the new tool's X_ST;
/// the way to the place of change and back is Phase::kRapid, of the line before
/// up to the swap, of the next line from it on.
/// A line's dwell is one more moment at the same joints, of the line's own kind
/// (also at the first line), entered and left at rest. A cut whose tip rests and
/// whose tool turns takes at least its line's written duration.
/// Speeds between moments are trapezoids: under exact stop a short move is at
/// rest at both of its moments.
/// Deterministic. Faults are values in the result, never exceptions; a motion
/// with faults has no tracks, but demands, margins and postures of the lines
/// that were reached.
/// @throws std::invalid_argument for a request that contradicts itself
/// (no path, sizes differ, SpinRule::kAsWritten without orientations, numbers
/// that are not finite) or an arm that can be neither solved in closed form nor
/// searched (see BranchFollower).
Motion PlanMotion(const PlanRequest& request);

}  // namespace aircut::kinematics
