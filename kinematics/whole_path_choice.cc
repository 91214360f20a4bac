#include "kinematics/whole_path_choice.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <optional>
#include <string>
#include <utility>

#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

constexpr int kMostRounds = 8;
constexpr int kSmoothings = 30;
// A smoothed spin may cost this much more at a station than the lattice's.
constexpr double kValley = 1.02;

struct RunChoice {
  bool complete = false;
  std::vector<double> spin_rad;     // one per line of the run
  PostureChoice postures;
  std::size_t furthest = 0;
};

class RunChooser {
 public:
  RunChooser(const PathTargets& targets, const BranchFollower& follower, const SpinLattice& lattice)
      : targets_(targets), follower_(follower), lattice_(lattice) {}

  RunChoice Choose(const LatticeRun& run, const JointVector& q_before) {
    std::vector<std::size_t> extra;
    std::vector<ForbiddenNode> forbidden;
    RunChoice choice;
    for (int round = 0; round < kMostRounds; ++round) {
      const std::vector<std::size_t> stations = lattice_.Stations(run, extra);
      const LatticeWay way = lattice_.Solve(stations, q_before, forbidden);
      choice.furthest = way.furthest;
      if (!way.complete) return choice;
      choice.spin_rad = Interpolated(run, way, Smoothed(way));
      choice.postures = Followed(run, way, choice.spin_rad);
      const std::optional<std::size_t> failed = FirstFailure(run, choice.postures);
      if (failed) {
        AddStation(*failed, way, extra, forbidden);
        continue;
      }
      if (Forbid(way, choice, run, forbidden)) continue;
      choice.complete = true;
      return choice;
    }
    return choice;
  }

 private:
  // The line that failed becomes a station; if it is one already, its node is barred.
  void AddStation(const std::size_t line, const LatticeWay& way, std::vector<std::size_t>& extra,
                  std::vector<ForbiddenNode>& forbidden) const {
    const auto at = std::lower_bound(way.stations.begin(), way.stations.end(), line);
    if (at != way.stations.end() && *at == line) {
      forbidden.push_back(NodeOf(way, static_cast<std::size_t>(at - way.stations.begin())));
      return;
    }
    extra.insert(std::lower_bound(extra.begin(), extra.end(), line), line);
  }

  ForbiddenNode NodeOf(const LatticeWay& way, const std::size_t s) const {
    const int spins = static_cast<int>(std::lround(2.0 * kPi / lattice_.step_rad()));
    return {way.stations[s], way.posture, ((way.spin[s] % spins) + spins) % spins};
  }

  // Bars the stations whose clearance is below 0. @returns true if there were any.
  bool Forbid(const LatticeWay& way, const RunChoice& choice, const LatticeRun& run,
              std::vector<ForbiddenNode>& forbidden) const {
    const auto& clearance_mm = targets_.request().clearance_mm;
    if (!clearance_mm) return false;
    bool any = false;
    for (std::size_t s = 0; s < way.stations.size(); ++s) {
      const JointVector& q = choice.postures.q[way.stations[s] - run.begin];
      if (clearance_mm(q, way.stations[s]) >= 0.0) continue;
      forbidden.push_back(NodeOf(way, s));
      any = true;
    }
    return any;
  }

  double CostAt(const LatticeWay& way, const std::size_t s, const double spin_rad) const {
    const std::size_t line = way.stations[s];
    const JointVector& external = targets_.external(line);
    const PoseSolutions solutions =
        follower_.Solve(targets_.FlangeAt(line, {spin_rad, external}), external);
    const std::optional<JointVector> q = follower_.Near(solutions, way.posture, way.q[s]);
    if (!q || !targets_.request().arm->InRange(*q)) return std::numeric_limits<double>::infinity();
    return lattice_.NodeCost({0, *q});
  }

  // Evened out by the mean of both neighbours, within a step of the lattice.
  std::vector<double> Smoothed(const LatticeWay& way) const {
    std::vector<double> spin_rad, most;
    for (std::size_t s = 0; s < way.spin.size(); ++s) {
      spin_rad.push_back(way.spin[s] * lattice_.step_rad());
      most.push_back(kValley * CostAt(way, s, spin_rad[s]));
    }
    const std::vector<double> lattice_rad = spin_rad;
    for (int round = 0; round < kSmoothings; ++round) {
      for (std::size_t s = 1; s + 1 < spin_rad.size(); ++s) {
        const double before = lattice_.Travel_mm(way.stations[s - 1], way.stations[s]);
        const double after = lattice_.Travel_mm(way.stations[s], way.stations[s + 1]);
        if (!(before + after > 0.0)) continue;
        const double mean = (after * spin_rad[s - 1] + before * spin_rad[s + 1]) / (before + after);
        if (std::abs(mean - lattice_rad[s]) > lattice_.step_rad()) continue;
        if (CostAt(way, s, mean) <= most[s]) spin_rad[s] = mean;
      }
    }
    return spin_rad;
  }

  // Even in travel from station to station.
  std::vector<double> Interpolated(const LatticeRun& run, const LatticeWay& way,
                                   const std::vector<double>& spin_rad) const {
    std::vector<double> lines_rad;
    std::size_t s = 0;
    for (std::size_t i = run.begin; i < run.end; ++i) {
      while (s + 1 < way.stations.size() && way.stations[s + 1] <= i) ++s;
      if (s + 1 == way.stations.size()) {
        lines_rad.push_back(spin_rad[s]);
        continue;
      }
      const double whole = lattice_.Travel_mm(way.stations[s], way.stations[s + 1]);
      const double part = whole > 0.0 ? lattice_.Travel_mm(way.stations[s], i) / whole : 0.0;
      lines_rad.push_back(spin_rad[s] + part * (spin_rad[s + 1] - spin_rad[s]));
    }
    return lines_rad;
  }

  PostureChoice Followed(const LatticeRun& run, const LatticeWay& way,
                         const std::vector<double>& spin_rad) const {
    std::vector<LineFreedom> freedom(targets_.size());
    for (std::size_t i = 0; i < freedom.size(); ++i) {
      const bool inside = i >= run.begin && i < run.end;
      freedom[i] = {inside ? spin_rad[i - run.begin] : 0.0, targets_.external(i)};
    }
    return FollowPosture(targets_.With(freedom), follower_, {run.begin, run.end, way.posture}, way.q.front());
  }

  std::optional<std::size_t> FirstFailure(const LatticeRun& run, const PostureChoice& postures) const {
    const ArmModel& arm = *targets_.request().arm;
    for (std::size_t i = 0; i < postures.q.size(); ++i) {
      if (postures.state[i] != LineState::kFollowed || !arm.InRange(postures.q[i])) return run.begin + i;
    }
    return std::nullopt;
  }

  const PathTargets& targets_;
  const BranchFollower& follower_;
  const SpinLattice& lattice_;
};

JointVector ComesFrom(const PlanRequest& request) {
  if (request.start_posture) return *request.start_posture;
  return request.approach.empty() ? request.home : request.approach.back();
}

void Append(const RunChoice& run, const PathTargets& targets, WholePathChoice& choice) {
  for (std::size_t i = 0; i < run.spin_rad.size(); ++i) {
    choice.freedom.push_back({run.spin_rad[i], targets.external(choice.freedom.size())});
  }
  PostureChoice& all = choice.postures;
  all.q.insert(all.q.end(), run.postures.q.begin(), run.postures.q.end());
  all.posture.insert(all.posture.end(), run.postures.posture.begin(), run.postures.posture.end());
  all.state.insert(all.state.end(), run.postures.state.begin(), run.postures.state.end());
}

struct WorkShift {
  const char* words;
  bool turns = false;
  Eigen::Vector3d along;
};

// Six ways to move the work, from the smallest step on.
constexpr double kShifts_mm[] = {20, 50, 100, 200, 400};
constexpr double kTurns_deg[] = {5, 10, 20, 45};

bool HelpsAt(const PlanRequest& request, const int spins, const Pose& X_SS) {
  PlanRequest moved = request;
  moved.X_BS = request.X_BS * X_SS;
  const PathTargets targets(moved);
  const BranchFollower follower(*moved.arm);
  const SpinLattice lattice(targets, follower, spins);
  return lattice.Solve(lattice.Stations({0, targets.size()}, {}), ComesFrom(moved), {}).complete;
}

std::string HelpText(const PlanRequest& request, const int spins) {
  const WorkShift shifts[] = {{"along x", false, Eigen::Vector3d::UnitX()}, {"along y", false, Eigen::Vector3d::UnitY()},
                              {"along z", false, Eigen::Vector3d::UnitZ()}, {"about x", true, Eigen::Vector3d::UnitX()},
                              {"about y", true, Eigen::Vector3d::UnitY()},  {"about z", true, Eigen::Vector3d::UnitZ()}};
  const std::size_t rungs = std::max(std::size(kShifts_mm), std::size(kTurns_deg));
  for (std::size_t rung = 0; rung < rungs; ++rung) {
    for (const WorkShift& shift : shifts) {
      if (rung >= (shift.turns ? std::size(kTurns_deg) : std::size(kShifts_mm))) continue;
      const double size = shift.turns ? kTurns_deg[rung] : kShifts_mm[rung];
      for (const double sign : {1.0, -1.0}) {
        Pose X_SS = Pose::Identity();
        if (shift.turns) X_SS.rotate(Eigen::AngleAxisd(RadFromDeg(sign * size), shift.along));
        else X_SS.translation() = sign * size * shift.along;
        if (!HelpsAt(request, spins, X_SS)) continue;
        const std::string amount = (sign > 0 ? "+" : "-") + std::to_string(static_cast<int>(size));
        return "The smallest move of the work that helps, of those tried: " + amount +
               (shift.turns ? " deg " : " mm ") + shift.words + " of its own frame.";
      }
    }
  }
  return "No shift of the work up to 400 mm and no turn up to 45 deg helps.";
}

}  // namespace

std::vector<LatticeRun> StraightRuns(const PathTargets& targets) {
  std::vector<LatticeRun> runs{{0, targets.size()}};
  for (std::size_t i = 1; i < targets.size(); ++i) {
    if (targets.TravelTo(i) != Travel::kJoint) continue;
    runs.back().end = i;
    runs.push_back({i, targets.size()});
  }
  return runs;
}

SplitAdvice AdviseSplit(const PathTargets& targets, const LatticeRun& run, const int spins) {
  PlanRequest part = targets.request();
  part.path.assign(part.path.begin() + static_cast<std::ptrdiff_t>(run.begin),
                   part.path.begin() + static_cast<std::ptrdiff_t>(run.end));
  part.X_FT.assign(targets.request().X_FT.begin() + static_cast<std::ptrdiff_t>(run.begin),
                   targets.request().X_FT.begin() + static_cast<std::ptrdiff_t>(run.end));
  const PathTargets own(part);
  const BranchFollower follower(*part.arm);
  const SpinLattice lattice(own, follower, spins);
  const LatticeWay way = lattice.Solve(lattice.Stations({0, own.size()}, {}), ComesFrom(part), {});
  SplitAdvice advice;
  advice.first_line = part.path.front().line;
  advice.last_line = part.path.back().line;
  advice.split_line = part.path[way.furthest].line;
  advice.text = "Lines " + std::to_string(advice.first_line) + " to " + std::to_string(advice.last_line) +
                " have no unbroken run in one posture; the farthest that one gets from their start is line " +
                std::to_string(advice.split_line) + ": split the cut there." +
                (follower.searches() ? "" : " " + HelpText(part, spins));   // a search would take minutes
  return advice;
}

WholePathChoice ChooseWholePath(const PathTargets& targets, const BranchFollower& follower,
                                const std::function<void(double)>& progress) {
  const PlanRequest& request = targets.request();
  const SpinLattice lattice(targets, follower, request.freedom.spins);
  RunChooser chooser(targets, follower, lattice);
  WholePathChoice choice;
  choice.complete = true;
  JointVector q_before = ComesFrom(request);
  for (const LatticeRun& run : StraightRuns(targets)) {
    const RunChoice chosen = chooser.Choose(run, q_before);
    if (!chosen.complete) {
      choice.complete = false;
      choice.splits.push_back(AdviseSplit(targets, run, request.freedom.spins));
      return choice;
    }
    q_before = chosen.postures.q.back();
    Append(chosen, targets, choice);
    if (progress) progress(static_cast<double>(run.end) / static_cast<double>(targets.size()));
  }
  return choice;
}

}  // namespace aircut::kinematics
