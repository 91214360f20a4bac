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

constexpr int kMostRounds = 16;
constexpr int kSmoothings = 30;
// A smoothed spin may cost this much more at a station than the lattice's.
constexpr double kValley = 1.02;

JointVector ComesFrom(const PlanRequest& request) {
  if (request.start_posture) return *request.start_posture;
  return request.approach.empty() ? request.home : request.approach.back();
}

LatticeEnds EndsOf(const PlanRequest& request) {
  return {ComesFrom(request), request.retreat.empty() ? request.home : request.retreat.front()};
}

/// Stations [begin, end) of one run.
struct StationRun {
  std::size_t begin = 0, end = 0;
};

// All runs; after kept lines what is left, from the last kept line on.
std::vector<LatticeRun> RunsToChoose(const PathTargets& targets) {
  std::vector<LatticeRun> runs = StraightRuns(targets);
  if (!targets.request().kept) return runs;
  const std::size_t last = targets.request().kept->lines() - 1;
  while (runs.front().end <= last) runs.erase(runs.begin());
  runs.front().begin = last;
  return runs;
}

class PathChooser {
 public:
  PathChooser(const PathTargets& targets, const BranchFollower& follower, const SpinLattice& lattice)
      : targets_(targets), follower_(follower), lattice_(lattice), search_(lattice),
        runs_(RunsToChoose(targets)), extra_(runs_.size()) {}

  WholePathChoice Choose(const std::function<void(double)>& progress) {
    WholePathChoice choice;
    for (int round = 0; round < kMostRounds; ++round) {
      const LatticeWay way = search_.Solve(Stations(), EndsOf(targets_.request()), forbidden_);
      if (progress) progress(1.0 - std::pow(0.5, round + 1));
      choice.broken = way.broken;
      if (!way.complete) return choice;
      choice.freedom = Interpolated(way, Smoothed(way));
      choice.postures = Followed(way, choice.freedom);
      if (const auto barred = Bar(way, choice)) {
        choice.broken = *barred;
        continue;
      }
      choice.complete = true;
      return choice;
    }
    return choice;
  }

 private:
  std::vector<LatticeStation> Stations() {
    std::vector<LatticeStation> stations;
    station_runs_.clear();
    for (std::size_t r = 0; r < runs_.size(); ++r) {
      const std::vector<LatticeStation> more = lattice_.Stations(runs_[r], extra_[r]);
      station_runs_.push_back({stations.size(), stations.size() + more.size()});
      stations.insert(stations.end(), more.begin(), more.end());
    }
    return stations;
  }

  // What stands in the way of a choice is barred, one line a run, or else every
  // refused station. @returns the first of them, nothing where there is none.
  std::optional<std::size_t> Bar(const LatticeWay& way, const WholePathChoice& choice) {
    std::optional<std::size_t> first;
    for (std::size_t r = 0; r < runs_.size(); ++r) {
      const std::optional<std::size_t> failed = FirstFailure(runs_[r], choice.postures);
      if (!failed) continue;
      AddStation(*failed, r, way);
      if (!first) first = failed;
    }
    return first ? first : BarRefused(way, choice.postures);
  }

  // The line that failed becomes a station; if it is one already, its node is barred.
  void AddStation(const std::size_t line, const std::size_t run, const LatticeWay& way) {
    for (std::size_t s = station_runs_[run].begin; s < station_runs_[run].end; ++s) {
      if (way.stations[s].line == line) return BarNode(way, s);
    }
    std::vector<std::size_t>& extra = extra_[run];
    extra.insert(std::lower_bound(extra.begin(), extra.end(), line), line);
  }

  void BarNode(const LatticeWay& way, const std::size_t s) {
    const LatticeNode& node = way.nodes[s];
    forbidden_.push_back({way.stations[s].line, node.posture, node.spin, node.setting});
  }

  // At stations whose clearance is below 0 every spin of the posture that is
  // refused too is barred at once.
  std::optional<std::size_t> BarRefused(const LatticeWay& way, const PostureChoice& postures) {
    const auto& clearance_mm = targets_.request().clearance_mm;
    std::optional<std::size_t> first;
    if (!clearance_mm) return first;
    for (std::size_t s = 0; s < way.stations.size(); ++s) {
      const std::size_t line = way.stations[s].line;
      if (clearance_mm(postures.q[line], line) >= 0.0) continue;
      BarNode(way, s);
      BarAlike(way.nodes[s], line);
      if (!first) first = line;
    }
    return first;
  }

  // A turn more or less of a joint leaves the bodies where they are: one count of
  // turns stands for all.
  void BarAlike(const LatticeNode& refused, const std::size_t line) {
    int last_spin = -1;
    for (const LatticeNode& node : lattice_.Nodes(line)) {
      if (node.posture != refused.posture || node.setting != refused.setting) continue;
      if (node.spin == last_spin || node.spin == refused.spin) continue;
      last_spin = node.spin;
      if (targets_.request().clearance_mm(node.q, line) >= 0.0) continue;
      forbidden_.push_back({line, node.posture, node.spin, node.setting});
    }
  }

  double CostAt(const LatticeWay& way, const std::size_t s, const double spin_rad) const {
    const LatticeNode& node = way.nodes[s];
    const JointVector& external = lattice_.External(node.setting);
    const PoseSolutions solutions =
        follower_.Solve(targets_.FlangeAt(way.stations[s].line, {spin_rad, external}), external);
    const std::optional<JointVector> q = follower_.Near(solutions, node.posture, node.q);
    if (!q || !targets_.request().arm->InRange(*q)) return std::numeric_limits<double>::infinity();
    return lattice_.NodeCost({node.spin, node.posture, node.setting, *q});
  }

  // Evened out by the mean of both neighbours, within a step of the lattice.
  std::vector<double> Smoothed(const LatticeWay& way) const {
    std::vector<double> spin_rad, most;
    const double turned = WholeTurnsOfKept(way);
    for (std::size_t s = 0; s < way.spin.size(); ++s) {
      spin_rad.push_back(lattice_.SpinAt(way.spin[s]) + turned);
      most.push_back(lattice_.spins() > 1 ? kValley * CostAt(way, s, spin_rad[s]) : 0.0);
    }
    if (lattice_.spins() == 1) return spin_rad;
    const std::vector<double> lattice_rad = spin_rad;
    for (int round = 0; round < kSmoothings; ++round) {
      for (const StationRun& run : station_runs_) {
        for (std::size_t s = run.begin + 1; s + 1 < run.end; ++s) {
          const double mean = MeanOfNeighbours(way, spin_rad, s);
          if (mean == spin_rad[s] || std::abs(mean - lattice_rad[s]) > lattice_.step_rad()) continue;
          if (CostAt(way, s, mean) <= most[s]) spin_rad[s] = mean;
        }
      }
    }
    return spin_rad;
  }

  double MeanOfNeighbours(const LatticeWay& way, const std::vector<double>& spin_rad,
                          const std::size_t s) const {
    const double before = lattice_.Travel_mm(way.stations[s - 1].line, way.stations[s].line);
    const double after = lattice_.Travel_mm(way.stations[s].line, way.stations[s + 1].line);
    if (!(before + after > 0.0)) return spin_rad[s];
    return (after * spin_rad[s - 1] + before * spin_rad[s + 1]) / (before + after);
  }

  // The spin goes evenly in travel from station to station.
  std::vector<LineFreedom> Interpolated(const LatticeWay& way, const std::vector<double>& spin_rad) const {
    std::vector<LineFreedom> freedom = KeptFreedom();
    for (std::size_t r = 0; r < runs_.size(); ++r) {
      std::size_t s = station_runs_[r].begin;
      const JointVector& external = lattice_.External(way.nodes[s].setting);
      for (std::size_t i = std::max(runs_[r].begin, freedom.size()); i < runs_[r].end; ++i) {
        while (s + 1 < station_runs_[r].end && way.stations[s + 1].line <= i) ++s;
        double spin = spin_rad[s];
        if (s + 1 < station_runs_[r].end) {
          const double whole = lattice_.Travel_mm(way.stations[s].line, way.stations[s + 1].line);
          const double part = whole > 0.0 ? lattice_.Travel_mm(way.stations[s].line, i) / whole : 0.0;
          spin += part * (spin_rad[s + 1] - spin_rad[s]);
        }
        freedom.push_back({spin, external});
      }
    }
    return freedom;
  }

  PostureChoice Followed(const LatticeWay& way, const std::vector<LineFreedom>& freedom) const {
    const PathTargets chosen = targets_.With(freedom);
    const std::optional<KeptChoice>& kept = targets_.request().kept;
    PostureChoice all;
    if (kept) {
      all.q = kept->q;
      all.posture = kept->posture;
      all.state.assign(kept->lines(), LineState::kFollowed);
    }
    for (std::size_t r = 0; r < runs_.size(); ++r) {
      const LatticeNode& first = way.nodes[station_runs_[r].begin];
      const PostureChoice run = FollowPosture(
          chosen, follower_, {runs_[r].begin, runs_[r].end, first.posture}, first.q);
      const auto known = static_cast<std::ptrdiff_t>(all.q.size() - runs_[r].begin);   // 1 after kept lines
      all.q.insert(all.q.end(), run.q.begin() + known, run.q.end());
      all.posture.insert(all.posture.end(), run.posture.begin() + known, run.posture.end());
      all.state.insert(all.state.end(), run.state.begin() + known, run.state.end());
    }
    return all;
  }

  std::vector<LineFreedom> KeptFreedom() const {
    std::vector<LineFreedom> freedom;
    const std::optional<KeptChoice>& kept = targets_.request().kept;
    for (std::size_t i = 0; kept && i < kept->lines(); ++i) {
      const Eigen::Index externals = targets_.request().external.size();
      freedom.push_back({kept->spin_rad.empty() ? 0.0 : kept->spin_rad[i], kept->q[i].tail(externals)});
    }
    return freedom;
  }

  // The kept spin is not reduced to one turn: what follows goes on from it.
  double WholeTurnsOfKept(const LatticeWay& way) const {
    const std::optional<KeptChoice>& kept = targets_.request().kept;
    if (!kept || kept->spin_rad.empty()) return 0.0;
    return kept->spin_rad.back() - lattice_.SpinAt(way.spin.front());
  }

  std::optional<std::size_t> FirstFailure(const LatticeRun& run, const PostureChoice& postures) const {
    const ArmModel& arm = *targets_.request().arm;
    for (std::size_t i = run.begin; i < run.end; ++i) {
      if (postures.state[i] != LineState::kFollowed || !arm.InRange(postures.q[i])) return i;
    }
    return std::nullopt;
  }

  const PathTargets& targets_;
  const BranchFollower& follower_;
  const SpinLattice& lattice_;
  LatticeSearch search_;
  std::vector<LatticeRun> runs_;
  std::vector<StationRun> station_runs_;             // of the last round
  std::vector<std::vector<std::size_t>> extra_;      // lines that must be stations, per run
  std::vector<ForbiddenNode> forbidden_;
};

struct WorkShift {
  const char* words;
  bool turns = false;
  Eigen::Vector3d along;
};

// Six ways to move the work, from the smallest step on.
constexpr double kShifts_mm[] = {20, 50, 100, 200, 400};
constexpr double kTurns_deg[] = {5, 10, 20, 45};

/// At stations only, or at every line between the last one that is reached and the
/// first that is not.
enum class Look { kCoarse, kEveryLine };

LatticeWay WayThrough(const PlanRequest& request, const int spins, const Look look) {
  const PathTargets targets(request);
  const BranchFollower follower(*request.arm);
  const SpinLattice lattice(targets, follower, spins);
  LatticeSearch search(lattice);
  const LatticeRun all{0, targets.size()};
  LatticeWay way = search.Solve(lattice.Stations(all, {}), EndsOf(request), {});
  if (way.complete || look == Look::kCoarse) return way;
  std::vector<std::size_t> between;
  for (std::size_t line = way.furthest + 1; line < way.broken; ++line) between.push_back(line);
  if (between.empty()) return way;
  const LatticeWay finer = search.Solve(lattice.Stations(all, between), EndsOf(request), {});
  return finer.furthest > way.furthest ? finer : way;
}

bool HelpsAt(const PlanRequest& request, const int spins, const Pose& X_SS) {
  PlanRequest moved = request;
  moved.X_BS = request.X_BS * X_SS;
  return WayThrough(moved, spins, Look::kCoarse).complete;
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
  part.kept.reset();
  part.path.assign(part.path.begin() + static_cast<std::ptrdiff_t>(run.begin),
                   part.path.begin() + static_cast<std::ptrdiff_t>(run.end));
  part.X_FT.assign(targets.request().X_FT.begin() + static_cast<std::ptrdiff_t>(run.begin),
                   targets.request().X_FT.begin() + static_cast<std::ptrdiff_t>(run.end));
  const LatticeWay way = WayThrough(part, spins, Look::kEveryLine);
  SplitAdvice advice;
  advice.first_line = part.path.front().line;
  advice.last_line = part.path.back().line;
  advice.split_line = part.path[way.furthest].line;
  const std::string lines =
      "Lines " + std::to_string(advice.first_line) + " to " + std::to_string(advice.last_line);
  if (way.complete) {
    advice.text = lines + " have no way that " + std::to_string(kMostRounds) +
                  " attempts found, though the coarse look at them shows one: another spin lattice may do.";
    return advice;
  }
  advice.text = lines + " have no unbroken run in one posture; the farthest that one gets from their start is line " +
                std::to_string(advice.split_line) + ": split the cut there.";
  // With searched arms every try of a shift would take minutes.
  if (!BranchFollower(*part.arm).searches()) advice.text += " " + HelpText(part, spins);
  return advice;
}

WholePathChoice ChooseWholePath(const PathTargets& targets, const BranchFollower& follower,
                                const std::function<void(double)>& progress) {
  const PlanRequest& request = targets.request();
  const int spins = request.spin == SpinRule::kFree ? request.freedom.spins : 1;
  const SpinLattice lattice(targets, follower, spins);
  WholePathChoice choice = PathChooser(targets, follower, lattice).Choose(progress);
  if (choice.complete) return choice;
  for (const LatticeRun& run : StraightRuns(targets)) {
    if (choice.broken < run.begin || choice.broken >= run.end) continue;
    choice.splits.push_back(AdviseSplit(targets, run, spins));
  }
  return choice;
}

}  // namespace aircut::kinematics
