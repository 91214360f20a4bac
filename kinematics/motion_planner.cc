#include "kinematics/motion_planner.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

#include "kinematics/branch_follower.h"
#include "kinematics/joint_room.h"
#include "kinematics/motion_builder.h"
#include "kinematics/path_targets.h"
#include "kinematics/plan_faults.h"
#include "kinematics/posture_choice.h"
#include "kinematics/whole_path_choice.h"

namespace aircut::kinematics {
namespace {

constexpr std::size_t kProgressEvery = 4096;
// Shares of the work: solving the lines, laying up the moves.
constexpr double kSolveShare = 0.4;
constexpr double kMoveShare = 0.9;

bool IsReached(const LineState state) { return state != LineState::kNoSolution; }

// A straight move leads there from the line before.
bool IsJoined(const PostureChoice& choice, const std::size_t i) {
  return choice.state[i] == LineState::kFollowed && IsReached(choice.state[i - 1]);
}

// Of the move that ends at `line`, in the move's own parameter per second.
std::optional<double> WrittenSpeed(const PathLine& line, const StraightMove& move) {
  if (line.move != MoveKind::kCut) return std::nullopt;
  if (move.tip_travels()) return line.feed_mm_s;
  if (!line.duration_s || move.is_rest()) return std::nullopt;
  return move.turn_rad() / *line.duration_s;
}

class Planner {
 public:
  Planner(const PlanRequest& request, const PathTargets& targets, const BranchFollower& follower)
      : request_(request), targets_(targets), builder_(request, follower) {
    const auto report = [this](const double fraction) { Report(kSolveShare * fraction); };
    if (HasFreedom(request) && ChooseFreely(follower)) return;
    if (request.kept) {
      choice_ = GoOnFrom(*request.kept, targets_, follower);
      return;
    }
    if (request.start_posture) {
      if (auto held = HoldPosture(targets_, *request.arm, follower, *request.start_posture)) {
        choice_ = *std::move(held);
        return;
      }
    }
    choice_ = ChoosePostures(targets_, *request.arm, follower, report);
  }

  Motion Plan() {
    motion_.posture_per_line = choice_.posture;
    motion_.q_per_line = choice_.q;
    for (std::size_t i = 0; i < targets_.size(); ++i) {
      motion_.R_ST_per_line.push_back(targets_.X_ST(i).linear());
    }
    Append(FaultsOfStatedJoints(request_));
    Append(FaultsOfPath(targets_, *request_.arm, choice_));
    Approach();
    for (std::size_t i = 1; i < targets_.size(); ++i) {
      GoTo(i);
      if (i % kProgressEvery == 0) {
        const double done = static_cast<double>(i) / static_cast<double>(targets_.size());
        Report(kSolveShare + (kMoveShare - kSolveShare) * done);
      }
    }
    Return();
    MeasureMargins();
    if (motion_.faults.empty()) Time();
    AdviseOnBreaks();
    Report(1.0);
    return std::move(motion_);
  }

 private:
  // Spin and posture over the whole path. @returns false where a run has no
  // unbroken way: then the reference orientation shows where it breaks.
  bool ChooseFreely(const BranchFollower& follower) {
    WholePathChoice whole = ChooseWholePath(
        targets_, follower, [this](const double fraction) { Report(kSolveShare * fraction); });
    motion_.splits = std::move(whole.splits);
    if (!whole.complete) return false;
    targets_ = targets_.With(whole.freedom);
    choice_ = std::move(whole.postures);
    if (request_.spin != SpinRule::kFree) return true;
    for (const LineFreedom& freedom : whole.freedom) motion_.spin_per_line.push_back(freedom.spin_rad);
    return true;
  }

  // Where a cut breaks in every posture, what would have helped.
  void AdviseOnBreaks() {
    if (HasFreedom(request_) || motion_.faults.empty()) return;
    for (const LatticeRun& run : StraightRuns(targets_)) {
      const auto inside = [&run](const PlanFault& fault) {
        const auto index = static_cast<std::size_t>(fault.path_index);
        return fault.path_index >= 0 && index >= run.begin && index < run.end;
      };
      if (std::none_of(motion_.faults.begin(), motion_.faults.end(), inside)) continue;
      motion_.splits.push_back(AdviseSplit(targets_, run, 1));
      return;   // of the first one: a look at every shift takes its time
    }
  }

  void Report(const double fraction) const {
    if (request_.progress) request_.progress(fraction);
  }

  void Append(std::vector<PlanFault> faults) {
    for (PlanFault& fault : faults) motion_.faults.push_back(std::move(fault));
  }

  MoveTag TagOf(const std::size_t i, const Phase phase) const {
    return {targets_.line(i).line, static_cast<int>(i), phase};
  }

  // The last moment of the approach is the first path line.
  void Approach() {
    const MoveTag on_the_way{0, -1, Phase::kApproach};
    builder_.Start(request_.home, targets_.X_FT(0));
    for (const JointVector& q : request_.approach) builder_.AddJointMove(q, on_the_way);
    if (!IsReached(choice_.state[0])) return;
    builder_.AddJointMove(choice_.q[0], on_the_way);
    builder_.RetagLast(TagOf(0, Phase::kApproach));
    Dwell(0);
  }

  Phase PhaseOf(const std::size_t i) const {
    return targets_.line(i).move == MoveKind::kCut ? Phase::kCut : Phase::kRapid;
  }

  void Dwell(const std::size_t i) {
    const double dwell_s = targets_.line(i).dwell_s;
    if (dwell_s > 0.0) builder_.Dwell(dwell_s, TagOf(i, PhaseOf(i)));
  }

  // From where the arm stands to the place of change and back the same way.
  // Up to the swap the moves belong to the line before, which has the old tool.
  void ChangeTool(const std::size_t i) {
    if (request_.tool_change.empty()) {
      return builder_.ChangeTool(targets_.X_FT(i), TagOf(i, PhaseOf(i)));
    }
    const JointVector q_back = builder_.q();
    const MoveTag out = TagOf(i - 1, Phase::kRapid), back = TagOf(i, Phase::kRapid);
    const std::vector<JointVector>& way = request_.tool_change;
    for (const JointVector& q : way) builder_.AddJointMove(q, out);
    builder_.ChangeTool(targets_.X_FT(i), back);
    for (std::size_t k = way.size() - 1; k-- > 0;) builder_.AddJointMove(way[k], back);
    builder_.AddJointMove(q_back, back);
  }

  void Return() {
    const MoveTag tag{0, -1, Phase::kReturn};
    for (const JointVector& q : request_.retreat) builder_.AddJointMove(q, tag);
    builder_.AddJointMove(request_.home, tag);
  }

  void GoTo(const std::size_t i) {
    if (!IsReached(choice_.state[i])) return;
    const MoveTag tag = TagOf(i, PhaseOf(i));
    if (targets_.ToolChangesBefore(i)) ChangeTool(i);
    if (!IsJoined(choice_, i)) {
      builder_.SkipTo(choice_.q[i], tag);
    } else if (targets_.TravelTo(i) == Travel::kJoint) {
      builder_.AddJointMove(choice_.q[i], tag);
    } else {
      GoStraightTo(i, tag);
    }
    Dwell(i);
  }

  void GoStraightTo(const std::size_t i, const MoveTag& tag) {
    const StraightMove move = targets_.MoveTo(i);
    const StraightTarget target{choice_.q[i], choice_.posture[i],
                                WrittenSpeed(targets_.line(i), move)};
    const StraightOutcome outcome = builder_.AddStraightMove(move, target, tag);
    if (outcome.demand) motion_.demands.push_back(*outcome.demand);
    if (outcome.obstruction == Obstruction::kNone) return;
    // A run of obstructed moves of one kind is one fault.
    const PlanFault fault = FaultOfMove(targets_, choice_, i, outcome.obstruction);
    const bool goes_on = obstructed_ && obstructed_->path_index + 1 == fault.path_index &&
                         obstructed_->kind == fault.kind;
    if (!goes_on) motion_.faults.push_back(fault);
    obstructed_ = fault;
  }

  void MeasureMargins() {
    const MotionTrack& moments = builder_.moments();
    const int joints = request_.arm->joint_count();
    motion_.joint_margins.assign(static_cast<std::size_t>(joints),
                                 {std::numeric_limits<double>::infinity(), 0, -1});
    for (std::size_t i = 0; i < moments.q.size(); ++i) {
      int j = 0;
      for (JointMargin& margin : motion_.joint_margins) {
        const JointRoom room = RoomOf(*request_.arm, moments.q[i], j++);
        if (room.room_rad >= margin.margin_rad) continue;
        margin = {room.room_rad, moments.line[i], moments.path_index[i], room.of_sum};
      }
    }
    for (int j = 0; j < joints; ++j) AddMarginFault(j);
  }

  // A range left between lines that are themselves inside it.
  void AddMarginFault(const int joint) {
    const JointMargin& margin = motion_.joint_margins[static_cast<std::size_t>(joint)];
    if (margin.margin_rad >= 0.0) return;
    for (const PlanFault& fault : motion_.faults) {
      if (fault.kind == PlanFaultKind::kOutOfRange && fault.joint == joint) return;
    }
    motion_.faults.push_back(FaultOfMargin(*request_.arm, joint, margin));
  }

  void Time() {
    TimedMotion timed = builder_.Finish();
    timed.track.name = "main";
    motion_.tracks.push_back(std::move(timed.track));
    motion_.cut_below_feed_s = timed.cut_below_feed_s;
    motion_.corners = std::move(timed.corners);
    motion_.line_feeds = std::move(timed.line_feeds);
    motion_.times = timed.times;
  }

  const PlanRequest& request_;
  PathTargets targets_;
  MotionBuilder builder_;
  PostureChoice choice_;
  Motion motion_;
  std::optional<PlanFault> obstructed_;   // the last obstructed move
};

}  // namespace

bool HasFreedom(const PlanRequest& request) {
  const std::vector<bool>& axes = request.external_free;
  return request.spin == SpinRule::kFree || std::find(axes.begin(), axes.end(), true) != axes.end();
}

Motion PlanMotion(const PlanRequest& request) {
  const PathTargets targets(request);   // refuses what contradicts itself
  const BranchFollower follower(*request.arm);
  return Planner(request, targets, follower).Plan();
}

}  // namespace aircut::kinematics
