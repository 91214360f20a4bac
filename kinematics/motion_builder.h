#pragma once

#include <optional>
#include <vector>

#include "kinematics/joint_move.h"
#include "kinematics/motion_planner.h"
#include "kinematics/straight_stretches.h"

namespace aircut::kinematics {

/// What a move belongs to.
struct MoveTag {
  int line = 0;               ///< source line, 0 = none
  int path_index = -1;
  Phase phase = Phase::kApproach;
};

/// The end of a straight move and how to get there.
struct StraightTarget {
  JointVector q;
  int posture = 0;
  /// Largest speed in the move's own parameter: the feed [mm/s], or the turn
  /// where the tip rests [rad/s]. Nothing: as fast as the joints allow.
  std::optional<double> written_speed;
};

/// What a straight move asks of the joints.
struct StraightOutcome {
  Obstruction obstruction = Obstruction::kNone;
  std::optional<JointSpeedDemand> demand;   ///< for a cut with a written speed
};

struct TimedMotion {
  MotionTrack track;
  double cut_below_feed_s = 0.0;
};

/// Lines moves up, one after the other, and lays the time law over them.
/// Every move begins where the last one ended. A corner between two straight
/// moves is passed at the speed at which the step in joint velocity is one
/// controller cycle of acceleration; between moves of different kind, at the
/// ends of joint moves, where it dwells, where the tool changes and under exact
/// stop the arm stands still.
class MotionBuilder {
 public:
  /// Keeps references to both.
  MotionBuilder(const PlanRequest& request, const BranchFollower& follower);

  /// The first moment, at rest.
  void Start(const JointVector& q, const Pose& X_FT);
  void AddJointMove(const JointVector& q_to, const MoveTag& tag);
  /// The last moment belongs to something else than the way to it.
  void RetagLast(const MoveTag& tag);
  /// Another tool is in the flange from here on; the arm stands still.
  void ChangeTool(const Pose& X_FT, const MoveTag& tag);
  StraightOutcome AddStraightMove(const StraightMove& move, const StraightTarget& target,
                                  const MoveTag& tag);
  /// The arm stands still for `dwell_s` > 0 where it is: one more moment there.
  /// That time does not count as time below the feed.
  void Dwell(double dwell_s, const MoveTag& tag);
  /// Goes on at `q` without a move, after a line that cannot be followed.
  void SkipTo(const JointVector& q, const MoveTag& tag);

  /// Where the arm stands [rad].
  const JointVector& q() const { return q_; }
  /// All moments so far; times and feeds only after Finish.
  const MotionTrack& moments() const { return track_; }
  /// Lays the time law. To be called once, last.
  TimedMotion Finish();

 private:
  enum class Parameter { kShare, kTravel, kTurn };
  struct Piece {
    PieceLimits limits;
    Parameter parameter = Parameter::kShare;
    std::optional<double> cut_speed;   // set in cuts: as written, may be infinite
    JointVector rates_end;             // per unit of the parameter
    double wait_s = 0.0;               // the arm stands at its end
  };
  struct Place {
    int piece = -1;                // -1: before any move
    double share = 1.0;            // of the piece done
    double tip_per_unit = 0.0;     // tip speed per unit of parameter speed
    double waited_s = 0.0;         // since the end of the piece
  };

  Place Standing() const;
  void AddMoment(const JointVector& q, const MoveTag& tag, const Place& place);
  void AddStretch(const Stretch& stretch, const StraightMove& move, const StraightTarget& target,
                  const MoveTag& tag);
  PieceLimits LimitsOnStretch(const RateBounds& bounds, double feed_cap) const;
  double CornerSpeed(Parameter parameter, const JointVector& rates_start) const;
  std::optional<JointSpeedDemand> Demand(const StraightStretches& plan,
                                         const StraightTarget& target, const MoveTag& tag) const;
  double CutTimeBelowFeed(const std::vector<Trapezoid>& profiles) const;
  const JointRates& RatesHere();

  const PlanRequest& request_;
  const BranchFollower& follower_;
  Pose X_SB_, X_FT_;
  JointVector q_;
  std::optional<JointRates> rates_here_;   // at q_, for the tool X_FT_
  bool stop_here_ = true;
  double first_wait_s_ = 0.0;              // before any piece
  std::vector<Piece> pieces_;
  std::vector<Place> places_;              // one per moment
  MotionTrack track_;
};

}  // namespace aircut::kinematics
