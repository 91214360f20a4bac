#include "kinematics/straight_stretches.h"

#include <cmath>

#include "kinematics/motion_planner.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

constexpr double kMostTurn_rad = RadFromDeg(0.5);
constexpr double kMostStep_rad = RadFromDeg(1.0);
constexpr double kMostTravel_mm = 100.0;
// 1/16384 of a move is the shortest stretch.
constexpr int kMostHalvings = 14;

class Splitter {
 public:
  explicit Splitter(const StraightTask& task)
      : task_(task) {}

  StraightStretches Split(const Station& from, const Station& to) {
    Refine(from, to, kMostHalvings);
    return std::move(result_);
  }

 private:
  void Refine(const Station& from, const Station& to, const int halvings_left) {
    if (result_.obstruction != Obstruction::kNone) return;
    if (!IsLong(from, to)) return Append(from, to);
    if (halvings_left == 0) {
      const bool moved = LargestStep(from.q, to.q) <= BranchFollower::kTrustedStep_rad;
      return moved ? Append(from, to) : Stop(Obstruction::kJump);
    }
    const std::optional<Station> middle = Middle(from, to);
    if (!middle) return Stop(Obstruction::kNoSolution);
    Refine(from, *middle, halvings_left - 1);
    Refine(*middle, to, halvings_left - 1);
  }

  bool IsLong(const Station& from, const Station& to) const {
    const double share = to.share - from.share;
    if (share * task_.move.turn_rad() > kMostTurn_rad) return true;
    if (share * task_.move.travel_mm() > kMostTravel_mm) return true;
    if (LargestStep(from.q, to.q) > kMostStep_rad) return true;
    if (!from.rates || !to.rates) return false;
    // A curve whose slope changes by d over a length leaves its chord by d * length / 8.
    const double length = share * task_.move.length();
    return LargestStep(*from.rates, *to.rates) * length / 8.0 > kJointChord_rad;
  }

  std::optional<Station> Middle(const Station& from, const Station& to) const {
    Station middle;
    middle.share = 0.5 * (from.share + to.share);
    const PoseSolutions solutions = task_.follower.Solve(
        task_.move.FlangePose(middle.share), task_.move.External(middle.share));
    const JointVector q_near = 0.5 * (from.q + to.q);
    const std::optional<JointVector> q = task_.follower.Near(solutions, task_.posture, q_near);
    if (!q) return std::nullopt;
    middle.q = *q;
    const Eigen::Vector3d p_FT = task_.move.X_FT().translation();
    middle.rates = JointRates(task_.arm, *q, p_FT)
                       .Solve(task_.move.TwistInFoot(middle.share), task_.move.ExternalRates());
    return middle;
  }

  void Append(const Station& from, const Station& to) {
    if (!from.rates || !to.rates) return Stop(Obstruction::kSingular);
    Stretch stretch;
    stretch.share_to = to.share;
    stretch.length = (to.share - from.share) * task_.move.length();
    stretch.q_to = to.q;
    stretch.rates_from = *from.rates;
    stretch.rates_to = *to.rates;
    stretch.bounds = BoundRates(to.q - from.q, *from.rates, *to.rates, stretch.length);
    result_.stretches.push_back(stretch);
  }

  void Stop(const Obstruction obstruction) { result_.obstruction = obstruction; }

  const StraightTask& task_;
  StraightStretches result_;
};

}  // namespace

StraightStretches SplitStraightMove(const StraightTask& task, const Station& from,
                                    const Station& to) {
  return Splitter(task).Split(from, to);
}

}  // namespace aircut::kinematics
