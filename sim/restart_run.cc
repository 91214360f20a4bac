#include "sim/restart_run.h"

#include <algorithm>
#include <map>

#include "sim/clearance_limits.h"
#include "sim/remaining_piece.h"

namespace aircut::sim {
namespace {

using kinematics::MotionTrack;
using kinematics::MoveKind;
using kinematics::SideMove;
using kinematics::ToolPath;

// At most `most` of them, ends included, evenly over the list.
std::vector<std::size_t> Evenly(const std::vector<std::size_t>& all, std::size_t most) {
  if (all.size() <= most) return all;
  if (most == 1) return {all.front()};
  std::vector<std::size_t> chosen;
  for (std::size_t k = 0; k < most; ++k) chosen.push_back(all[k * (all.size() - 1) / (most - 1)]);
  return chosen;
}

bool IsCut(const ToolPath& path, std::size_t i) { return path[i].move == MoveKind::kCut; }
bool StartsCut(const ToolPath& path, std::size_t i) {
  return IsCut(path, i) && (i == 0 || !IsCut(path, i - 1));
}
bool EndsCut(const ToolPath& path, std::size_t i) {
  return IsCut(path, i) && (i + 1 == path.size() || !IsCut(path, i + 1));
}

std::vector<std::size_t> AllStarts(const ToolPath& path) {
  std::vector<std::size_t> starts;
  for (std::size_t i = 0; i < path.size(); ++i) {
    if (StartsCut(path, i)) starts.push_back(i);
  }
  return starts;
}

double LowerEnd(const PairClearance& pair) { return pair.clearance_mm - pair.bound_mm; }

// The nearer of two results; what is not a number counts as nearest.
bool IsNearer(const PairClearance& a, const PairClearance& b) { return !(LowerEnd(a) >= LowerEnd(b)); }

// The part of a track up to a moment, as far as the search needs it.
MotionTrack UpTo(const MotionTrack& track, std::size_t last) {
  const auto count = static_cast<std::ptrdiff_t>(last) + 1;
  MotionTrack part;
  part.name = track.name;
  part.time_s.assign(track.time_s.begin(), track.time_s.begin() + count);
  part.q.assign(track.q.begin(), track.q.begin() + count);
  part.line.assign(track.line.begin(), track.line.begin() + count);
  part.phase.assign(track.phase.begin(), track.phase.begin() + count);
  part.path_index.assign(track.path_index.begin(), track.path_index.begin() + count);
  return part;
}

// Pairs in which no tool is that is out of the spindle on this move.
std::vector<ClearancePair> PairsWithTool(const RestartTask& task, const std::vector<ClearancePair>& pairs, int tool) {
  std::vector<ClearancePair> there;
  const auto is_there = [&](int body) {
    const int number = task.cell.mounts[static_cast<std::size_t>(body)].tool;
    return number == 0 || number == tool;
  };
  for (const ClearancePair& pair : pairs) {
    if (is_there(pair.a) && is_there(pair.b)) there.push_back(pair);
  }
  return there;
}

class SideSurvey {
 public:
  SideSurvey(const RestartTask& task, RestartRun& run)
      : task_(task), run_(run), most_limit_mm_(ClearanceLimits(task.cell.job).most_mm()) {}

  void AddRestart(SideMove move) {
    std::vector<PairClearance> pairs;
    if (move.track.size() > 0) {
      const int tool = ToolOf(move);
      // The line itself is still to be cut.
      const RemainingPiece piece = PieceBefore(FirstMoment(move.path_index) - 1);
      const TrackClearanceTask cell = CellWith(piece);
      pairs = ClearancesAlong(cell, move.track, PairsWithTool(task_, task_.pairs, tool)).pairs;
      const std::vector<ClearancePair> on_piece = PairsWithTool(task_, ToolAgainstPiece(task_.kinds), tool);
      for (PairClearance& pair : ClearancesAlong(cell, UpTo(move.track, move.back_moment), on_piece).pairs) {
        pairs.push_back(std::move(pair));
      }
    }
    run_.restarts.push_back(Taken(std::move(move), pairs, nearest_restarts_));
  }
  void AddWithdrawal(SideMove move) {
    std::vector<PairClearance> pairs;
    if (move.track.size() > 0) {
      const RemainingPiece piece = PieceBefore(LastMoment(move.path_index));
      pairs = ClearancesAlong(CellWith(piece), move.track, PairsWithTool(task_, task_.pairs, ToolOf(move))).pairs;
    }
    run_.withdrawals.push_back(Taken(std::move(move), pairs, nearest_withdrawals_));
  }
  void Finish() {
    for (const auto* nearest : {&nearest_restarts_, &nearest_withdrawals_}) {
      for (const auto& [bodies, pair] : *nearest) run_.clearances.push_back(pair);
    }
  }

 private:
  using Nearest = std::map<std::pair<int, int>, PairClearance>;

  int ToolOf(const SideMove& move) const { return task_.main.path[static_cast<std::size_t>(move.path_index)].tool; }

  // Of the job's own motion, between which and the one before a line is run.
  int FirstMoment(int path_index) const {
    const std::vector<int>& of = task_.motion.tracks.front().path_index;
    return static_cast<int>(std::find(of.begin(), of.end(), path_index) - of.begin());
  }
  int LastMoment(int path_index) const {
    const std::vector<int>& of = task_.motion.tracks.front().path_index;
    return static_cast<int>(of.rend() - std::find(of.rbegin(), of.rend(), path_index)) - 1;
  }

  RemainingPiece PieceBefore(int sweep) const { return task_.cell.cut_body.piece->FrozenBefore(sweep); }
  TrackClearanceTask CellWith(const RemainingPiece& piece) const {
    TrackClearanceTask cell = task_.cell;
    cell.cut_body.piece = &piece;
    return cell;
  }

  // Beyond what the search tells apart, and what the job accepts: no check asks.
  bool IsFar(const PairClearance& pair) const {
    return pair.clearance_mm >= task_.cell.enough_mm && LowerEnd(pair) >= most_limit_mm_;
  }

  // The nearest of each pair is listed once, at the end; another one only where it
  // is not surely clear.
  void List(const PairClearance& pair) {
    if (!(LowerEnd(pair) > 0.0)) run_.clearances.push_back(pair);
  }

  SideResult Taken(SideMove move, std::vector<PairClearance>& pairs, Nearest& nearest) {
    SideResult result;
    for (PairClearance& pair : pairs) {
      pair.line = move.line;
      pair.during = move.name;
      if (!result.nearest || IsNearer(pair, *result.nearest)) result.nearest = pair;
      if (IsFar(pair)) continue;
      const auto [at, is_new] = nearest.emplace(std::make_pair(pair.a, pair.b), pair);
      if (is_new) continue;
      if (IsNearer(pair, at->second)) std::swap(pair, at->second);
      List(pair);
    }
    result.move = std::move(move);
    return result;
  }

  const RestartTask& task_;
  RestartRun& run_;
  const double most_limit_mm_;
  Nearest nearest_restarts_, nearest_withdrawals_;
};

}  // namespace

std::vector<std::size_t> StartsOfCuts(const ToolPath& path, int most) {
  return Evenly(AllStarts(path), static_cast<std::size_t>(most));
}

std::vector<std::size_t> StopsInCuts(const ToolPath& path, int most) {
  const auto count = static_cast<std::size_t>(most);
  std::vector<std::size_t> ends, between;
  for (std::size_t i = 0; i < path.size(); ++i) {
    if (!IsCut(path, i)) continue;
    (StartsCut(path, i) || EndsCut(path, i) ? ends : between).push_back(i);
  }
  std::vector<std::size_t> stops = Evenly(ends, count);
  if (stops.size() < count) {
    for (const std::size_t i : Evenly(between, count - stops.size())) stops.push_back(i);
  }
  std::sort(stops.begin(), stops.end());
  return stops;
}

RestartRun SolveRestarts(const RestartTask& task) {
  const RestartRule& rule = task.cell.job.restarts;
  const ToolPath& path = task.main.path;
  RestartRun run;
  run.back_mm = rule.back_mm;
  run.back_assumed = !rule.back_given;
  run.cuts = static_cast<int>(AllStarts(path).size());
  run.cut_lines = static_cast<int>(
      std::count_if(path.begin(), path.end(), [](const auto& line) { return line.move == MoveKind::kCut; }));
  const kinematics::SidePlanner planner(task.main, task.motion, rule.back_mm);
  SideSurvey survey(task, run);
  for (const std::size_t i : StartsOfCuts(path, rule.most)) survey.AddRestart(planner.Restart(i));
  for (const std::size_t i : StopsInCuts(path, rule.withdrawals)) survey.AddWithdrawal(planner.Withdrawal(i));
  survey.Finish();
  return run;
}

}  // namespace aircut::sim
