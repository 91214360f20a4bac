#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "kinematics/frame.h"
#include "kinematics/joint.h"

namespace aircut::kinematics {

/// What the arm is doing between two moments.
enum class Phase { kApproach, kRapid, kCut, kReturn };

/// Why the arm is slower than the written feed.
enum class SpeedLimit { kFeed, kJointSpeed, kJointAcceleration, kCorner };

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
  double cut_below_feed_s = 0.0;           ///< time in cuts under 90 % of the written feed
  bool complete() const { return faults.empty() && !tracks.empty() && tracks[0].size() > 1; }
};

}  // namespace aircut::kinematics
