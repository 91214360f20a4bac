#include "verify/side_moves.h"

#include <algorithm>

#include <fmt/format.h>

#include "kinematics/joint_room.h"
#include "kinematics/units.h"
#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using kinematics::DegFromRad;

// Differences of angles in double.
constexpr double kAngleBound_deg = 1e-6;

std::vector<const kinematics::SideMove*> MovesOf(const sim::Run& run) {
  std::vector<const kinematics::SideMove*> moves;
  if (!run.restarts) return moves;
  for (const sim::SideResult& side : run.restarts->restarts) moves.push_back(&side.move);
  for (const sim::SideResult& side : run.restarts->withdrawals) moves.push_back(&side.move);
  return moves;
}

Finding FindingOf(const CheckInputs& in, const kinematics::SideMove& move) {
  Finding f;
  f.line = move.line;
  if (move.path_index >= 0 && move.path_index < static_cast<int>(in.job.path.size())) {
    f.at_S = in.job.path[static_cast<std::size_t>(move.path_index)].p_ST;
  }
  return f;
}

// A sum leaves the even run with both of its joints.
double MarginBound_deg(const CheckInputs& in, const kinematics::SideMove& move) {
  double joints = 1.0;
  if (move.margin.of_sum) {
    joints += std::abs(in.job.cell.arm->joints()[static_cast<std::size_t>(move.margin_joint)].sum_limit->ratio);
  }
  return DegFromRad(joints * kinematics::kJointChord_rad) + kAngleBound_deg;
}

}  // namespace

std::vector<Finding> SideFaults(const CheckInputs& in, const std::vector<kinematics::PlanFaultKind>& kinds) {
  std::vector<Finding> findings;
  for (const kinematics::SideMove* move : MovesOf(in.run)) {
    if (!move->fault || std::find(kinds.begin(), kinds.end(), move->fault->kind) == kinds.end()) continue;
    Finding f = FindingOf(in, *move);
    f.text = move->fault->text;
    f.value = move->fault->value;
    f.limit = move->fault->limit;
    f.sure = IsSure(in.job, *move->fault);
    findings.push_back(f);
  }
  return findings;
}

CheckResult WithSideMargins(const CheckInputs& in, CheckResult main) {
  const double limit_deg = in.job.accept.joint_margin_deg.value;
  const kinematics::SideMove* worst = nullptr;
  std::vector<Finding> findings;
  CheckResult side;
  for (const kinematics::SideMove* move : MovesOf(in.run)) {
    if (move->track.size() == 0 || move->fault) continue;
    const double margin_deg = DegFromRad(move->margin.margin_rad);
    CheckResult r = Measured({margin_deg, MarginBound_deg(in, *move), limit_deg, Sense::kAtLeast, "deg"});
    if (r.result == Result::kFail) {
      Finding f = FindingOf(in, *move);
      f.value = margin_deg;
      f.limit = limit_deg;
      f.unit = "deg";
      f.text = fmt::format("The {} brings {} within {:.1f} deg of the end of its range{}.", move->name,
                           kinematics::NameOfJoint(move->margin_joint), margin_deg,
                           LimitText(in.job.accept.joint_margin_deg, fmt::format("{:.1f} deg", limit_deg)));
      f.cause = "`restarts.back` draws the tool back so far that a joint comes near its end";
      findings.push_back(f);
    }
    if (worst != nullptr && !(r.result > side.result || (r.result == side.result && margin_deg < *side.worst))) continue;
    worst = move;
    side = std::move(r);
  }
  if (worst == nullptr || side.result <= main.result) return main;
  side.assumed = !in.job.accept.joint_margin_deg.given;
  side.where = kinematics::NameOfJoint(worst->margin_joint) + ", " + worst->name;
  side.why = findings.empty() ? fmt::format("The {} comes too near to the margin to tell.", worst->name) : findings.front().text;
  side.findings = std::move(findings);
  if (side.result == Result::kUnproven) side.needs = {"a margin farther from the limit"};
  TrimFindings(&side);
  return side;
}

std::string SideMovesText(const sim::Run& run) {
  if (!run.restarts) return "";
  const sim::RestartRun& r = *run.restarts;
  return fmt::format(" Solved besides: {} of {} and drawing back by {}{} from {} of {}.",
                     Plural(static_cast<std::int64_t>(r.restarts.size()), "restart"), Plural(r.cuts, "cut"),
                     Millimetres(r.back_mm), r.back_assumed ? " (default)" : "",
                     Count(static_cast<std::int64_t>(r.withdrawals.size())), Plural(r.cut_lines, "cut line"));
}

}  // namespace aircut::verify
