#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "kinematics/frame.h"
#include "kinematics/joint.h"

namespace aircut::kinematics {

/// What the arm is doing between two moments.
enum class Phase { kApproach, kRapid, kCut, kReturn };

/// What keeps the arm from going faster.
///   kFeed          the written feed, or nothing but the way's own length
///   kJointSpeed, kJointAcceleration   of the joint named beside it
///   kToolAcceleration   of the tip, where the cell states one
///   kCorner        the way bends or breaks here
///   kLookAhead     the controller must be able to stop within the moves it knows
///   kCycle         lines lie closer than one interpolation cycle allows
///   kSlowPass      the reduced speed of a slow air pass
///   kStop          it has to stand still here: dwell, tool change, end, exact stop
enum class HeldBy {
  kFeed, kJointSpeed, kJointAcceleration, kToolAcceleration, kCorner, kLookAhead, kCycle,
  kSlowPass, kStop
};

struct Hold {
  HeldBy by = HeldBy::kFeed;
  int joint = -1;             ///< from 0; -1 where no joint is to blame
};

/// Moments of one track, structure of arrays, in time order; entry i of the
/// per-interval arrays speaks of the interval that ends at moment i.
struct MotionTrack {
  std::string name;                       ///< "main", later "slow air pass", "restart at line n"
  std::vector<double> time_s;
  std::vector<JointVector> q;             ///< commanded panel values [rad]
  std::vector<Pose> X_BF;                 ///< commanded flange pose
  std::vector<Pose> X_ST;                 ///< commanded tool pose as believed, from q
  std::vector<double> feed_mm_s;          ///< tip speed reached at the moment
  std::vector<int> line;                  ///< source line of the interval, 0 = no path line
  std::vector<Phase> phase;
  std::vector<int> path_index;            ///< index into the ToolPath, -1 = no path line
  std::vector<Hold> held_by;              ///< per interval
  std::size_t size() const { return time_s.size(); }
};

/// The executed displacement of the tool per cause joins the tracks later: one
/// layer = one cause, one small translation per moment, in S [mm].
struct DisplacementLayer {
  std::string name;
  std::vector<Eigen::Vector3d> d_S;
};

/// Demand of the written feed (or of the written time of a turn) at one path line.
struct JointSpeedDemand {
  int line = 0;
  int path_index = 0;
  int joint = 0;              ///< from 0: the joint nearest to its limit
  double ratio = 0.0;         ///< demanded rate / limit, may be infinite
  double ratio_bound = 0.0;   ///< numerical error of the ratio
  /// The joint acceleration that the written feed, held, asks on this line between
  /// its corners, over its limit; of the joint nearest to its own.
  int acceleration_joint = 0;
  double acceleration_ratio = 0.0;
};

/// A corner of the path as the controller rounds it.
struct CornerCut {
  int line = 0;               ///< the line whose end is the corner
  int path_index = 0;
  double turn_rad = 0.0;      ///< between the directions of the tip before and after
  double start_mm = 0.0;      ///< distance before the corner where the written way is left
  double deviation_mm = 0.0;  ///< smallest distance of the rounded way from the corner
  double tilt_rad = 0.0;      ///< largest turn of the tool away from the written orientation
};

/// How one cut line with a written feed was run.
struct LineFeed {
  int line = 0;
  int path_index = 0;
  double written_mm_s = 0.0;
  double length_mm = 0.0;        ///< travel of the tip, as run
  double slow_mm = 0.0;          ///< of it, below 90 % of the written feed
  double lowest_mm_s = 0.0;      ///< lowest speed of the tip; a short part counts with its faster end
  Hold hold;                     ///< what held the slowest part
};

/// Time of the whole motion under three readings of the controller [s].
struct ThreeTimes {
  double ideal_s = 0.0;          ///< endless look-ahead, no cycle, corners passed at what the joints allow
  double modelled_s = 0.0;       ///< as the cell describes the controller
  double stop_each_s = 0.0;      ///< standing still at every line
};

/// Where a cut cannot be run in one posture, and what would have avoided it.
struct SplitAdvice {
  int first_line = 0, last_line = 0;   ///< the cut
  int split_line = 0;                  ///< the last line that one unbroken run from its start reaches
  std::string text;                    ///< one or two sentences with numbers
};

enum class PlanFaultKind { kOutOfReach, kOutOfRange, kPostureBreak, kAtSingularity };

/// A place where the path cannot be followed.
struct PlanFault {
  PlanFaultKind kind = PlanFaultKind::kOutOfReach;
  int line = 0;
  int path_index = 0;
  int joint = -1;             ///< from 0; -1 where no single joint is to blame
  double value = 0.0;         ///< mm beyond reach, or rad beyond the range, or posture id before
  double limit = 0.0;
  std::string text;           ///< one sentence with numbers
};

/// Smallest distance of a joint from the ends of its range over the motion; for
/// a joint with a sum limit the smaller of its own and the sum's.
struct JointMargin {
  double margin_rad = 0.0;
  int line = 0;
  int path_index = 0;
  bool of_sum = false;        ///< the margin is that of the joint's sum limit
};

/// The planned motion: what the controller is expected to make of the path.
struct Motion {
  std::vector<MotionTrack> tracks;         ///< tracks[0] is the job itself
  std::vector<DisplacementLayer> layers;   ///< empty until a layer is computed
  std::vector<PlanFault> faults;           ///< empty: the whole path was followed
  std::vector<JointMargin> joint_margins;  ///< one per joint
  std::vector<JointSpeedDemand> demands;   ///< one per cut line with a written speed
  std::vector<int> posture_per_line;       ///< posture id per path line
  std::vector<JointVector> q_per_line;     ///< panel values per path line; not meaningful where it is not reached
  std::vector<Eigen::Matrix3d> R_ST_per_line;   ///< planned orientation of the tool per path line
  std::vector<double> spin_per_line;       ///< [rad] about the tool axis, unwrapped; empty unless the spin was free
  std::vector<CornerCut> corners;          ///< rounded corners, in path order; empty under exact stop
  std::vector<LineFeed> line_feeds;        ///< one per cut line with a written feed
  ThreeTimes times;
  std::vector<SplitAdvice> splits;
  double cut_below_feed_s = 0.0;           ///< time in cuts under 90 % of the written feed
  bool complete() const { return faults.empty() && !tracks.empty() && tracks[0].size() > 1; }
};

}  // namespace aircut::kinematics
