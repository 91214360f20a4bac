#include "verify/side_files.h"

#include <algorithm>
#include <iterator>

#include <fmt/format.h>

#include "kinematics/external_axes.h"
#include "kinematics/units.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using Text = fmt::memory_buffer;

bool Slides(const kinematics::ArmModel* arm, Eigen::Index joint) {
  return arm != nullptr && joint < arm->joint_count() && kinematics::IsSlide(*arm, static_cast<int>(joint));
}

// Empty places where the values are not known.
void PutJoints(Text& text, const kinematics::JointVector& q, Eigen::Index joints,
               const kinematics::ArmModel* arm) {
  for (Eigen::Index j = 0; j < joints; ++j) {
    text.push_back(',');
    if (j < q.size()) fmt::format_to(std::back_inserter(text), "{}", InColumn(q, j, arm));
  }
}

std::string NameOf(const sim::Run& run, int body) {
  return run.world && body < run.world->body_count() ? run.world->body(body).name : fmt::format("body {}", body);
}

std::string WordsFor(const sim::Run& run, const sim::SideResult& side) {
  if (side.move.fault) {
    switch (side.move.fault->kind) {
      case kinematics::PlanFaultKind::kOutOfRange: return "out of range";
      case kinematics::PlanFaultKind::kAtSingularity: return "singular";
      case kinematics::PlanFaultKind::kOutOfReach:
      case kinematics::PlanFaultKind::kPostureBreak: return "out of reach";
    }
  }
  if (!side.nearest) return "not measured";
  const sim::PairClearance& pair = *side.nearest;
  const std::string bodies = NameOf(run, pair.a) + " and " + NameOf(run, pair.b);
  if (pair.clearance_mm <= 0.0) return "clash: " + bodies;
  return pair.clearance_mm - pair.bound_mm > 0.0 ? "clear" : "too near to tell: " + bodies;
}

void PutSide(Text& text, const sim::Run& run, const kinematics::ArmModel* arm, const char* kind,
             const sim::SideResult& side) {
  const kinematics::SideMove& move = side.move;
  const Eigen::Index joints = run.motion.tracks.front().q.front().size();
  fmt::format_to(std::back_inserter(text), "{},{},{}", kind, move.line, move.posture);
  PutJoints(text, move.q_line, joints, arm);
  PutJoints(text, move.q_back, joints, arm);
  const std::string apart_mm =
      side.nearest ? fmt::format("{:.2f}", side.nearest->clearance_mm - side.nearest->bound_mm) : "";
  // Names of bodies are the user's own: quotes keep a comma in them from being a bound.
  std::string words = WordsFor(run, side);
  std::replace(words.begin(), words.end(), '"', '\'');
  fmt::format_to(std::back_inserter(text), ",{},\"{}\"\n", apart_mm, words);
}

// Nobody is handed a pass that is known to be wrong.
bool MayBeRun(const ReportContext& context) {
  if (!context.run.air_pass || !context.run.air_pass->planned()) return false;
  const auto check = std::find_if(context.checks.begin(), context.checks.end(),
                                  [](const CheckResult& c) { return c.id == "slow-air-pass"; });
  return check != context.checks.end() && check->result != Result::kFail;
}

}  // namespace

const std::vector<std::string>& SideFileNames() {
  static const std::vector<std::string> names = {
      "slow_air_pass.csv", "slow_air_pass_joints.csv", "restarts.csv", sim::NameOfCopy(sim::PathCopy::kPoseTable),
      sim::NameOfCopy(sim::PathCopy::kIso6983), sim::NameOfCopy(sim::PathCopy::kCutterLocation)};   // immutable
  return names;
}

std::string JointColumnNames(const std::string& before, Eigen::Index joints,
                             const kinematics::ArmModel* arm) {
  std::string names;
  for (Eigen::Index j = 0; j < joints; ++j) {
    names += fmt::format(",{}{}_{}", before, j + 1, Slides(arm, j) ? "mm" : "deg");
  }
  return names;
}

double InColumn(const kinematics::JointVector& q, Eigen::Index joint, const kinematics::ArmModel* arm) {
  return Slides(arm, joint) ? q[joint] : kinematics::DegFromRad(q[joint]);
}

std::string JointTable(const kinematics::MotionTrack& track, const kinematics::ArmModel* arm) {
  Text text;
  const Eigen::Index joints = track.q.front().size();
  fmt::format_to(std::back_inserter(text), "time_s{},line\n", JointColumnNames("q", joints, arm));
  for (std::size_t i = 0; i < track.size(); ++i) {
    fmt::format_to(std::back_inserter(text), "{}", track.time_s[i]);
    PutJoints(text, track.q[i], joints, arm);
    fmt::format_to(std::back_inserter(text), ",{}\n", track.line[i]);
  }
  return fmt::to_string(text);
}

std::string RestartsCsv(const sim::Run& run, const kinematics::ArmModel* arm) {
  Text text;
  const Eigen::Index joints = run.motion.tracks.front().q.front().size();
  fmt::format_to(std::back_inserter(text),
                 "# drawn back: {} mm along the tool axis\nkind,line,posture{}{},apart_at_least_mm,result\n",
                 run.restarts->back_mm, JointColumnNames("at_q", joints, arm),
                 JointColumnNames("back_q", joints, arm));
  for (const sim::SideResult& side : run.restarts->restarts) PutSide(text, run, arm, "restart", side);
  for (const sim::SideResult& side : run.restarts->withdrawals) PutSide(text, run, arm, "withdrawal", side);
  return fmt::to_string(text);
}

std::vector<SideFile> SideFiles(const ReportContext& context) {
  std::vector<SideFile> files;
  if (MayBeRun(context)) {
    const sim::AirPass& pass = *context.run.air_pass;
    files.push_back({"slow_air_pass.csv", sim::AirPassTable(context.job, pass)});
    if (context.job.runs.how == sim::RunsAs::How::kJointPath) {
      files.push_back(
          {"slow_air_pass_joints.csv", JointTable(pass.motion.tracks.front(), context.job.cell.arm.get())});
    }
  }
  if (context.run.restarts && context.run.motion.complete())
    files.push_back({"restarts.csv", RestartsCsv(context.run, context.job.cell.arm.get())});
  for (const sim::PathCopyFile& copy : context.run.path_copies) {
    if (!copy.text.empty()) files.push_back({copy.file, copy.text});
  }
  return files;
}

}  // namespace aircut::verify
