#pragma once

#include <optional>
#include <vector>

#include "kinematics/corner_blend.h"
#include "kinematics/curve_stretches.h"
#include "kinematics/joint_move.h"
#include "kinematics/law_assembly.h"
#include "kinematics/motion_planner.h"

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
  std::vector<CornerCut> corners;
  std::vector<LineFeed> line_feeds;
  ThreeTimes times;
};

/// Lines moves up, one after the other, and lays the time law over them.
/// Every move begins where the last one ended. Under CornerRule::kBlend a corner
/// between two straight moves of one kind is rounded (see CornerBlend) at the
/// controller's corner distance, at most half of either move; the moment of the
/// line is then the middle of the blend. A corner that is not rounded is passed
/// at the speed at which the step in joint velocity is one controller cycle of
/// acceleration; between moves whose tip travels and rests, at the ends of joint
/// moves, where it dwells, where the tool changes and under exact stop the arm
/// stands still. A control that knows no move ahead rounds nothing. A line that
/// repeats the pose before it is passed over: its moment is that of the pose.
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

  /// Where the arm stands after all moves so far [rad].
  const JointVector& q() const { return q_; }
  /// All moments; times and feeds only after Finish. To be called after the last move.
  const MotionTrack& moments();
  /// Lays the time law. To be called once, last.
  TimedMotion Finish();

 private:
  /// A straight move whose end is not laid up yet: the next one may round it.
  struct Open {
    StraightMove move;
    StraightTarget target;
    MoveTag tag;
    CurveStretches own;        // from behind the last corner to its end, as written
    Station begin;             // where that begins
    int line_feed = -1;
    std::vector<MoveTag> repeats;   // lines that repeat its end
  };
  /// A corner ready to be laid up: every part of the way round it is followed.
  struct Rounding {
    CornerBlend blend;
    CurveStretches body, first, second, rest;
    Station middle, join;
    Obstruction obstruction = Obstruction::kNone;
  };
  /// Where a moment lies in the time law.
  struct Place {
    std::uint32_t node = 0;
    double waited_s = 0.0;         // sum of all dwells before it
    double tip_per_unit = 0.0;     // tip speed per unit of parameter speed
  };
  struct OfferedMoment {
    JointVector q;
    MoveTag tag;
    Place place;
  };
  enum class Moments { kAll, kOffered };

  CurveTask TaskOf(const ToolCurve& curve, int posture) const;
  Place PlaceHere(double tip_per_unit) const;
  void AddMoment(const JointVector& q, const MoveTag& tag, const Place& place);
  void OfferMoment(const JointVector& q, const MoveTag& tag, const Place& place);
  void PutMoment(const OfferedMoment& moment);
  std::optional<CornerBlend> BlendInto(const StraightMove& next, const MoveTag& tag) const;
  Rounding PlanRounding(const CornerBlend& blend, const Open& next) const;
  CurveStretches PartOfBlend(const CornerBlend& blend, int posture, const Station& from,
                             const Station& to) const;
  void LayRounding(Rounding rounding, Open& next);
  void CloseAt(const Open& next);
  void Close();
  void LayStretches(const CurveStretches& plan, const ToolCurve& curve, const Open& owner,
                    Moments moments);
  void Repeat(const std::vector<MoveTag>& tags);
  double CornerSpeed(const JointVector& rates_before, const JointVector& rates_after) const;
  int LineFeedOf(const StraightTarget& target, const MoveTag& tag);
  std::optional<JointSpeedDemand> Demand(const CurveStretches& plan, const StraightTarget& target,
                                         const MoveTag& tag) const;
  Hold HoldBetween(const LawAssembly::Result& law, std::size_t moment) const;
  const JointRates& RatesHere();

  const PlanRequest& request_;
  const BranchFollower& follower_;
  Pose X_SB_, X_FT_;
  Eigen::Vector3d p_FT_;
  JointVector q_;
  std::optional<JointRates> rates_here_;   // at q_, for the tool X_FT_
  std::optional<Open> open_;
  bool stop_here_ = true;
  double waited_s_ = 0.0;
  LawAssembly law_;
  std::vector<Place> places_;              // one per moment
  std::vector<OfferedMoment> offered_;     // since the last moment
  std::vector<LineFeed> line_feeds_;
  std::vector<CornerCut> corners_;
  MotionTrack track_;
};

}  // namespace aircut::kinematics
