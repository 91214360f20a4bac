#include "kinematics/posture_choice.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>
#include <utility>

#include "kinematics/joint_room.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

// Margins and travels nearer than this are equal [rad].
constexpr double kEqual_rad = 1e-9;
constexpr std::size_t kProgressEvery = 4096;
constexpr double kTurn_rad = 2.0 * kPi;
// Changes of two joints that share a range, in turns; each is tried this often.
constexpr std::pair<int, int> kPairsOfTurns[] = {{-1, 0}, {1, 0}, {-1, 1}, {-1, -1}, {1, 1}};
constexpr int kMostRounds = 4;

// One posture held over the whole path, turns counted from the first line.
struct Chain {
  int posture = 0;
  std::vector<JointVector> q;
  std::vector<LineState> state;
};

// Lines [begin, end) reached from one another by straight moves only, or by
// the rapid at `begin`.
struct Run {
  std::size_t begin = 0, end = 0;
};

// What one chain costs on one run, with the turns that suit the run best.
struct RunCost {
  JointVector turns_rad;        // whole turns added to the chain
  int faulty_lines = 0;
  int unsolved_lines = 0;
  double margin_rad = 0.0;      // smallest over joints and lines
  double travel_rad = 0.0;
};

std::vector<PoseSolutions> SolveLines(const PathTargets& targets, const BranchFollower& follower,
                                      const std::function<void(double)>& progress) {
  std::vector<PoseSolutions> solutions;
  solutions.reserve(targets.size());
  for (std::size_t i = 0; i < targets.size(); ++i) {
    solutions.push_back(follower.Solve(targets.X_AF(i), targets.external(i)));
    if (progress && i % kProgressEvery == 0) {
      progress(static_cast<double>(i) / static_cast<double>(targets.size()));
    }
  }
  return solutions;
}

// Where the chain starts: a line with a straight wrist leaves joint 4 open, so
// the first line that does not is asked.
JointVector Seed(const std::vector<PoseSolutions>& solutions, const int posture,
                 const std::size_t first) {
  const auto id = static_cast<std::size_t>(posture);
  JointVector q = JointVector::Zero(6);
  for (std::size_t i = first; i < solutions.size(); ++i) {
    if (!solutions[i].found[id]) continue;
    for (Eigen::Index j = 0; j < 6; ++j) q[j] = solutions[i].q[id][static_cast<std::size_t>(j)];
    if (solutions[i].wrist_sin[id] >= BranchFollower::kStraightWristSin) return q;
  }
  return q;
}

// One line of a chain; `last` is the last line that was reached.
void FollowLine(const PathTargets& targets, const BranchFollower& follower,
                const PoseSolutions& solutions, const std::size_t i, Chain& chain,
                const JointVector& q_last) {
  const std::optional<JointVector> nearest = follower.Near(solutions, chain.posture, q_last);
  if (!nearest) {
    chain.state[i] = LineState::kNoSolution;
    return;
  }
  chain.q[i] = *nearest;
  const bool straight = i > 0 && chain.state[i - 1] != LineState::kNoSolution &&
                        targets.TravelTo(i) == Travel::kStraight;
  if (!straight || LargestStep(q_last, *nearest) <= BranchFollower::kTrustedStep_rad) return;
  const std::optional<JointVector> followed =
      follower.Follow(targets.MoveTo(i), chain.posture, q_last, solutions);
  if (followed) {
    chain.q[i] = *followed;
  } else {
    chain.state[i] = LineState::kJump;
  }
}

Chain FollowPath(const PathTargets& targets, const BranchFollower& follower,
                 const std::vector<PoseSolutions>& solutions, const int posture) {
  Chain chain;
  chain.posture = posture;
  chain.q.assign(targets.size(), JointVector::Zero(6 + targets.external(0).size()));
  chain.state.assign(targets.size(), LineState::kFollowed);
  JointVector q_last = Seed(solutions, posture, 0);
  for (std::size_t i = 0; i < targets.size(); ++i) {
    FollowLine(targets, follower, solutions[i], i, chain, q_last);
    if (chain.state[i] != LineState::kNoSolution) q_last = chain.q[i];
  }
  return chain;
}

struct Spread {
  JointVector lowest, highest;
  bool empty = true;
};

Spread SpreadOf(const Chain& chain, const Run& run) {
  const Eigen::Index joints = chain.q.front().size();
  Spread spread{JointVector::Constant(joints, std::numeric_limits<double>::infinity()),
                JointVector::Constant(joints, -std::numeric_limits<double>::infinity()), true};
  for (std::size_t i = run.begin; i < run.end; ++i) {
    if (chain.state[i] == LineState::kNoSolution) continue;
    spread.empty = false;
    spread.lowest = spread.lowest.cwiseMin(chain.q[i]);
    spread.highest = spread.highest.cwiseMax(chain.q[i]);
  }
  return spread;
}

int LinesOutside(const Chain& chain, const Run& run, const Eigen::Index joint,
                 const JointSpec& shifted) {
  int count = 0;
  for (std::size_t i = run.begin; i < run.end; ++i) {
    if (chain.state[i] == LineState::kNoSolution) continue;
    const double q_rad = chain.q[i][joint];
    if (q_rad < shifted.lower_rad || q_rad > shifted.upper_rad) ++count;
  }
  return count;
}

// The middle of the spread nearest to the middle of the range has the largest
// margin; where that is negative the copy with the fewest lines outside counts.
double BestTurns(const Chain& chain, const Run& run, const Eigen::Index j, const JointSpec& joint,
                 const Spread& spread) {
  const double turn_rad = 2.0 * kPi;
  const double off_rad =
      0.5 * (joint.lower_rad + joint.upper_rad) - 0.5 * (spread.lowest[j] + spread.highest[j]);
  const double centred = std::round(off_rad / turn_rad) * turn_rad;
  if (spread.lowest[j] + centred >= joint.lower_rad &&
      spread.highest[j] + centred <= joint.upper_rad) {
    return centred;
  }
  double best = centred;
  int fewest = std::numeric_limits<int>::max();
  for (const double turns : {0.0, -1.0, 1.0}) {
    JointSpec shifted = joint;
    shifted.lower_rad -= centred + turns * turn_rad;
    shifted.upper_rad -= centred + turns * turn_rad;
    const int outside = LinesOutside(chain, run, j, shifted);
    if (outside >= fewest) continue;
    fewest = outside;
    best = centred + turns * turn_rad;
  }
  return best;
}

// Of the joints that a posture moves.
double MarginOf(const ArmModel& arm, const JointVector& q) {
  double margin_rad = std::numeric_limits<double>::infinity();
  for (int j = 0; j < static_cast<int>(arm.chain().size()); ++j) {
    margin_rad = std::min(margin_rad, RoomOf(arm, q, j).room_rad);
  }
  return margin_rad;
}

// Joints that share a range with another one: their turns must be chosen together.
std::vector<Eigen::Index> SharingJoints(const ArmModel& arm, const BranchFollower& follower) {
  std::array<bool, kMaxJoints> shares{};
  for (std::size_t j = 0; j < arm.joints().size(); ++j) {
    const auto& limit = arm.joints()[j].sum_limit;
    if (limit) shares[j] = shares[static_cast<std::size_t>(limit->joint)] = true;
  }
  std::vector<Eigen::Index> joints;
  for (Eigen::Index j = 0; j < arm.joint_count(); ++j) {
    if (shares[static_cast<std::size_t>(j)] && follower.turns_freely(j)) joints.push_back(j);
  }
  return joints;
}

// What counts of a run under some turns: lines outside, then the smallest margin.
struct Fit {
  int outside = 0;
  double margin_rad = std::numeric_limits<double>::infinity();
};

Fit FitOf(const ArmModel& arm, const Chain& chain, const Run& run, const JointVector& turns_rad) {
  Fit fit;
  for (std::size_t i = run.begin; i < run.end; ++i) {
    if (chain.state[i] == LineState::kNoSolution) continue;
    const double margin_rad = MarginOf(arm, chain.q[i] + turns_rad);
    if (margin_rad < 0.0) ++fit.outside;
    fit.margin_rad = std::min(fit.margin_rad, margin_rad);
  }
  return fit;
}

bool IsBetter(const Fit& a, const Fit& b) {
  if (a.outside != b.outside) return a.outside < b.outside;
  return a.margin_rad > b.margin_rad + kEqual_rad;
}

// Each joint's own best turns, bettered where sums of joints are limited: one
// turn more or less of each joint that takes part, all together. Walks up by
// the best single or paired change until there is none.
JointVector SharedTurns(const ArmModel& arm, const BranchFollower& follower, const Chain& chain,
                        const Run& run, JointVector turns_rad) {
  const std::vector<Eigen::Index> joints = SharingJoints(arm, follower);
  if (joints.empty()) return turns_rad;
  Fit best = FitOf(arm, chain, run, turns_rad);
  const auto try_turns = [&](const JointVector& changed_rad) {
    const Fit fit = FitOf(arm, chain, run, changed_rad);
    if (!IsBetter(fit, best)) return false;
    best = fit;
    turns_rad = changed_rad;
    return true;
  };
  bool going = true;
  for (int round = 0; going && round < kMostRounds; ++round) {
    going = false;
    for (const Eigen::Index j : joints) {
      for (const Eigen::Index k : joints) {
        for (const auto& [of_j, of_k] : kPairsOfTurns) {
          JointVector changed_rad = turns_rad;
          changed_rad[j] += of_j * kTurn_rad;
          if (k != j) changed_rad[k] += of_k * kTurn_rad;
          going = try_turns(changed_rad) || going;
        }
      }
    }
  }
  return turns_rad;
}

RunCost CostOf(const ArmModel& arm, const BranchFollower& follower, const Chain& chain,
               const Run& run) {
  RunCost cost;
  cost.turns_rad = JointVector::Zero(arm.joint_count());
  cost.margin_rad = std::numeric_limits<double>::infinity();
  const Spread spread = SpreadOf(chain, run);
  if (!spread.empty) {
    for (Eigen::Index j = 0; j < 6; ++j) {
      if (!follower.turns_freely(j)) continue;
      const JointSpec& joint = arm.joints()[static_cast<std::size_t>(j)];
      cost.turns_rad[j] = BestTurns(chain, run, j, joint, spread);
    }
    cost.turns_rad = SharedTurns(arm, follower, chain, run, cost.turns_rad);
  }
  for (std::size_t i = run.begin; i < run.end; ++i) {
    const bool reached = chain.state[i] != LineState::kNoSolution;
    const double margin_rad = reached ? MarginOf(arm, chain.q[i] + cost.turns_rad) : 0.0;
    if (chain.state[i] != LineState::kFollowed || margin_rad < 0.0) ++cost.faulty_lines;
    if (!reached) ++cost.unsolved_lines;
    if (reached) cost.margin_rad = std::min(cost.margin_rad, margin_rad);
    if (i > run.begin && reached && chain.state[i - 1] != LineState::kNoSolution) {
      cost.travel_rad += (chain.q[i] - chain.q[i - 1]).lpNorm<1>();
    }
  }
  return cost;
}

bool IsBetter(const RunCost& a, const RunCost& b) {
  if (std::abs(a.margin_rad - b.margin_rad) > kEqual_rad) return a.margin_rad > b.margin_rad;
  return a.travel_rad < b.travel_rad - kEqual_rad;
}

PostureChoice ChoiceOf(Chain chain, const JointVector& turns_rad) {
  PostureChoice choice;
  choice.posture.assign(chain.q.size(), chain.posture);
  choice.q = std::move(chain.q);
  choice.state = std::move(chain.state);
  for (JointVector& q : choice.q) q += turns_rad;
  return choice;
}

std::optional<PostureChoice> OneForAll(const PathTargets& targets, const ArmModel& arm,
                                       const BranchFollower& follower,
                                       const std::vector<PoseSolutions>& solutions) {
  std::optional<Chain> best;
  RunCost best_cost;
  for (int posture = 0; posture < kPostures; ++posture) {
    Chain chain = FollowPath(targets, follower, solutions, posture);
    const RunCost cost = CostOf(arm, follower, chain, {0, targets.size()});
    if (cost.faulty_lines > 0 || (best && !IsBetter(cost, best_cost))) continue;
    best = std::move(chain);
    best_cost = cost;
  }
  if (!best) return std::nullopt;
  return ChoiceOf(std::move(*best), best_cost.turns_rad);
}

std::vector<Run> SplitIntoRuns(const PathTargets& targets) {
  std::vector<Run> runs{{0, targets.size()}};
  for (std::size_t i = 1; i < targets.size(); ++i) {
    if (targets.line(i).move != MoveKind::kRapid) continue;
    runs.back().end = i;
    runs.push_back({i, targets.size()});
  }
  return runs;
}

// Dynamic programming over runs and postures.
class RunPlanner {
 public:
  RunPlanner(const PathTargets& targets, const ArmModel& arm, const BranchFollower& follower,
             const std::vector<PoseSolutions>& solutions)
      : targets_(targets), runs_(SplitIntoRuns(targets)) {
    for (int posture = 0; posture < kPostures; ++posture) {
      chains_.push_back(FollowPath(targets, follower, solutions, posture));
      costs_.emplace_back();
      for (const Run& run : runs_) {
        costs_.back().push_back(CostOf(arm, follower, chains_.back(), run));
      }
    }
  }

  PostureChoice Choose() const { return Assemble(BestPostures()); }

 private:
  // Least first: faulty lines, of these the ones without a solution, how far
  // joints are outside their ranges, changes, travel between runs.
  using Total = std::tuple<int, int, double, int, double>;

  static Total Sum(const Total& a, const Total& b) {
    return {std::get<0>(a) + std::get<0>(b), std::get<1>(a) + std::get<1>(b),
            std::get<2>(a) + std::get<2>(b), std::get<3>(a) + std::get<3>(b),
            std::get<4>(a) + std::get<4>(b)};
  }

  static Total OnRun(const RunCost& cost) {
    return {cost.faulty_lines, cost.unsolved_lines, std::max(0.0, -cost.margin_rad), 0, 0.0};
  }

  bool Changes(const std::size_t run, const std::size_t from, const std::size_t to) const {
    return from != to || costs_[from][run - 1].turns_rad != costs_[to][run].turns_rad;
  }

  JointVector Joints(const std::size_t posture, const std::size_t run, const std::size_t i) const {
    return chains_[posture].q[i] + costs_[posture][run].turns_rad;
  }

  Total Step(const std::size_t run, const std::size_t from, const std::size_t to) const {
    const std::size_t begin = runs_[run].begin;
    const bool straight = targets_.TravelTo(begin) == Travel::kStraight;
    const bool changes = Changes(run, from, to);
    const double travel_rad =
        (Joints(to, run, begin) - Joints(from, run - 1, begin - 1)).lpNorm<1>();
    const int breaks = straight && changes ? 1 : 0;
    return Sum(OnRun(costs_[to][run]), {breaks, 0, 0.0, changes ? 1 : 0, travel_rad});
  }

  std::vector<std::size_t> BestPostures() const {
    std::vector<std::array<Total, kPostures>> totals(runs_.size());
    std::vector<std::array<std::size_t, kPostures>> before(runs_.size());
    for (std::size_t p = 0; p < kPostures; ++p) totals[0][p] = OnRun(costs_[p][0]);
    for (std::size_t run = 1; run < runs_.size(); ++run) {
      for (std::size_t to = 0; to < kPostures; ++to) {
        for (std::size_t from = 0; from < kPostures; ++from) {
          const Total total = Sum(totals[run - 1][from], Step(run, from, to));
          if (from > 0 && !(total < totals[run][to])) continue;
          totals[run][to] = total;
          before[run][to] = from;
        }
      }
    }
    std::vector<std::size_t> chosen(runs_.size());
    const auto& last = totals.back();
    chosen.back() = static_cast<std::size_t>(std::min_element(last.begin(), last.end()) -
                                             last.begin());
    for (std::size_t run = runs_.size(); run-- > 1;) chosen[run - 1] = before[run][chosen[run]];
    return chosen;
  }

  PostureChoice Assemble(const std::vector<std::size_t>& chosen) const {
    PostureChoice choice;
    for (std::size_t run = 0; run < runs_.size(); ++run) {
      const Chain& chain = chains_[chosen[run]];
      for (std::size_t i = runs_[run].begin; i < runs_[run].end; ++i) {
        choice.q.push_back(Joints(chosen[run], run, i));
        choice.posture.push_back(chain.posture);
        choice.state.push_back(chain.state[i]);
      }
      const std::size_t begin = runs_[run].begin;
      LineState& first = choice.state[begin];
      if (run == 0 || first == LineState::kNoSolution) continue;
      if (!Changes(run, chosen[run - 1], chosen[run])) continue;
      const bool straight = targets_.TravelTo(begin) == Travel::kStraight;
      first = straight ? LineState::kPostureChange : LineState::kFollowed;
    }
    return choice;
  }

  const PathTargets& targets_;
  std::vector<Run> runs_;
  std::vector<Chain> chains_;
  std::vector<std::vector<RunCost>> costs_;  // by posture, by run
};

}  // namespace

PostureChoice FollowPosture(const PathTargets& targets, const BranchFollower& follower,
                            const PostureRun& run, const JointVector& q_first) {
  Chain chain;
  chain.posture = run.posture;
  chain.q.assign(run.end, q_first);
  chain.state.assign(run.end, LineState::kFollowed);
  JointVector q_last = q_first;
  // What comes before the run is not followed from: no straight move leads in.
  if (run.begin > 0) chain.state[run.begin - 1] = LineState::kNoSolution;
  for (std::size_t i = run.begin; i < run.end; ++i) {
    FollowLine(targets, follower, follower.Solve(targets.X_AF(i), targets.external(i)), i, chain, q_last);
    if (chain.state[i] != LineState::kNoSolution) q_last = chain.q[i];
  }
  const auto begin = static_cast<std::ptrdiff_t>(run.begin);
  PostureChoice choice;
  choice.q.assign(chain.q.begin() + begin, chain.q.end());
  choice.state.assign(chain.state.begin() + begin, chain.state.end());
  choice.posture.assign(run.end - run.begin, run.posture);
  return choice;
}

std::optional<PostureChoice> HoldPosture(const PathTargets& targets, const ArmModel& arm,
                                         const BranchFollower& follower,
                                         const JointVector& q_start) {
  const PoseSolutions first = follower.Solve(targets.X_AF(0), targets.external(0));
  std::optional<int> nearest;
  double nearest_rad = std::numeric_limits<double>::infinity();
  for (int posture = 0; posture < kPostures; ++posture) {
    const std::optional<JointVector> q = follower.Near(first, posture, q_start);
    if (!q || !(LargestStep(q_start, *q) < nearest_rad)) continue;
    nearest_rad = LargestStep(q_start, *q);
    nearest = posture;
  }
  if (!nearest) return std::nullopt;
  PostureChoice choice = FollowPosture(targets, follower, {0, targets.size(), *nearest}, q_start);
  for (std::size_t i = 0; i < choice.q.size(); ++i) {
    if (choice.state[i] != LineState::kFollowed || !arm.InRange(choice.q[i])) return std::nullopt;
  }
  return choice;
}

PostureChoice GoOnFrom(const KeptChoice& kept, const PathTargets& targets,
                       const BranchFollower& follower) {
  const std::size_t last = kept.lines() - 1;
  PostureChoice choice{kept.q, kept.posture, std::vector<LineState>(kept.lines(), LineState::kFollowed)};
  const PostureChoice on =
      FollowPosture(targets, follower, {last, targets.size(), kept.posture.back()}, kept.q.back());
  choice.q.insert(choice.q.end(), on.q.begin() + 1, on.q.end());
  choice.posture.insert(choice.posture.end(), on.posture.begin() + 1, on.posture.end());
  choice.state.insert(choice.state.end(), on.state.begin() + 1, on.state.end());
  return choice;
}

PostureChoice ChoosePostures(const PathTargets& targets, const ArmModel& arm,
                             const BranchFollower& follower,
                             const std::function<void(double)>& progress) {
  const std::vector<PoseSolutions> solutions = SolveLines(targets, follower, progress);
  if (auto choice = OneForAll(targets, arm, follower, solutions)) return *std::move(choice);
  return RunPlanner(targets, arm, follower, solutions).Choose();
}

}  // namespace aircut::kinematics
