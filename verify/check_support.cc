#include <set>
#include <utility>

#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {

CheckResult Unproven(std::string why, std::vector<std::string> needs) {
  CheckResult result;
  result.result = Result::kUnproven;
  result.why = std::move(why);
  result.needs = std::move(needs);
  return result;
}

CheckResult Measured(const Measurement& m) {
  CheckResult result;
  result.result = Decide(m.worst, m.bound, m.limit, m.sense);
  result.worst = m.worst;
  result.bound = m.bound;
  result.limit = m.limit;
  result.sense = m.sense;
  result.unit = m.unit;
  return result;
}

bool Followed(const sim::Run& run) { return run.executed && run.motion.complete(); }

CheckResult NeedsFollowing(CheckResult result, const sim::Run& run) {
  if (result.result != Result::kPass || Followed(run)) return result;
  result.result = Result::kUnproven;
  result.why = "The arm could not follow the path (see reach, joint-range, posture-change); only "
               "the written path was cut, without the way there and back.";
  result.needs = {"a path that the arm can follow"};
  return result;
}

std::string LimitText(const sim::Limit& limit, const std::string& value) {
  return (limit.given ? " (limit " : " (default limit ") + value + ")";
}

sim::Limit LimitOr(const sim::Limit& limit, double fallback) {
  return limit.given ? limit : sim::Limit{fallback, false};
}

std::vector<int> CuttersUsed(const sim::Job& job) {
  std::set<int> used;
  for (const kinematics::PathLine& line : job.path) used.insert(line.tool);
  return {used.begin(), used.end()};
}

const sim::CellCutter* FindCutter(const sim::Cell& cell, int number) {
  const auto found = cell.cutters.find(number);
  return found != cell.cutters.end() ? &found->second : nullptr;
}

std::vector<Eigen::Vector3d> WorkPlaces(const CheckInputs& in) {
  std::vector<Eigen::Vector3d> places;
  for (const sim::DesignSample& s : in.run.samples) {
    if (s.role == sim::DesignSample::Role::kCarve) places.push_back(s.ray.p_SQ);
  }
  if (!places.empty()) return places;
  Eigen::AlignedBox3d box;
  for (const kinematics::PathLine& line : in.job.path) {
    if (line.move == kinematics::MoveKind::kCut) box.extend(line.p_ST);
  }
  if (box.isEmpty()) return places;
  for (int corner = 0; corner < 8; ++corner) {
    places.push_back(box.corner(static_cast<Eigen::AlignedBox3d::CornerType>(corner)));
  }
  return places;
}

void TrimFindings(CheckResult* result) {
  if (result->findings.size() <= kMostFindings) return;
  const std::size_t rest = result->findings.size() - kMostFindings;
  result->findings.resize(kMostFindings);
  result->why += " " + Plural(static_cast<std::int64_t>(rest), "further place") +
                 " not listed one by one.";
}

std::optional<double> TimeOfSweep(const sim::Run& run, std::size_t sweep) {
  if (!run.executed || sweep >= run.track.time_s.size()) return std::nullopt;
  return run.track.time_s[sweep];
}

double RiseOfPiece(const sim::PieceLocation& location, const Eigen::Vector3d& p_SQ,
                   const Eigen::Vector3d& up_S) {
  return up_S.dot(location.X_SA * p_SQ - p_SQ);
}

}  // namespace aircut::verify
