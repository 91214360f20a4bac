#include <cmath>

#include <fmt/format.h>

#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"
#include "verify/checks.h"
#include "verify/logged_walk.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using kinematics::DegFromRad;
using kinematics::JointVector;
using kinematics::RadFromDeg;
using sim::RunsAs;

const char* const kReadBackNeed =
    "`runs.read_back`: joint values logged on the arm while it runs the path slowly in the air";
// A start posture is typed to a degree or better; another posture is tens of degrees away.
constexpr double kStart_deg = 1.0;

CheckResult ByJointPath() {
  CheckResult r = Measured({0.0, 0.0, 0.0, Sense::kAtMost, "deg"});
  r.why = "The arm runs the joint path that this run writes (joint_path.csv); load that file and "
          "no other.";
  return r;
}

struct Apart {
  double deg = 0.0;
  int joint = 0;
};

// Full turns count: 350 degrees is another posture than -10.
Apart FarthestJoint(const JointVector& a, const JointVector& b) {
  Apart apart;
  for (Eigen::Index j = 0; j < a.size(); ++j) {
    const double deg = DegFromRad(std::abs(a[j] - b[j]));
    if (!(deg <= apart.deg)) apart = {deg, static_cast<int>(j)};
  }
  return apart;
}

void AddFinding(const CheckInputs& in, int line, const std::string& cause, CheckResult* r) {
  Finding f;
  f.text = r->why;
  f.line = line;
  f.value = *r->worst;
  f.limit = *r->limit;
  f.unit = "deg";
  f.cause = cause;
  for (const kinematics::PathLine& p : in.job.path) {
    if (p.line == line) f.at_S = p.p_ST;
  }
  r->findings = {f};
}

CheckResult ByStart(const CheckInputs& in, const PlannedJoints& planned, const JointVector& start) {
  const JointVector& q = planned.q.front();
  if (start.size() != q.size()) {
    return Unproven("The start posture has another number of joints than the arm.",
                    {"`runs.start_posture`: one value per joint"});
  }
  const Apart apart = FarthestJoint(start, q);
  CheckResult r = Measured({apart.deg, 1e-6, kStart_deg, Sense::kAtMost, "deg"});
  r.assumed = true;
  if (r.result == Result::kFail) {
    r.why = fmt::format(
        "At the first line the arm starts with joint {} at {:.1f} deg, computed was {:.1f} deg: "
        "another posture, so another motion than the one checked.", apart.joint + 1,
        DegFromRad(start[apart.joint]), DegFromRad(q[apart.joint]));
    AddFinding(in, planned.line.front(),
               "the controller's start posture is not the one computed here; start from the joint "
               "values of moments.csv", &r);
    return r;
  }
  r.result = Result::kUnproven;
  r.why = "The arm starts in the posture that was computed; which way it takes from line to line is "
          "the controller's affair and was not seen.";
  r.needs = {kReadBackNeed};
  return r;
}

// A row that brings the tip to the first line with other joints.
const sim::RunsAs::LogRow* SamePlaceOtherJoints(const CheckInputs& in,
                                                const PlannedJoints& planned) {
  constexpr double kSamePlace_mm = 5.0;   // rows of a log are that far apart at a slow feed
  const sim::Cell& cell = in.job.cell;
  if (cell.arm == nullptr || in.job.path.empty()) return nullptr;
  const Eigen::Vector3d p_BT =
      cell.X_WB.inverse() * (cell.X_WS * in.job.path.front().p_ST);
  const Eigen::Vector3d p_FT =
      kinematics::FlangePose(*cell.arm, planned.q.front()).inverse() * p_BT;
  for (const sim::RunsAs::LogRow& row : in.job.runs.read_back) {
    if (row.q.size() != planned.q.front().size()) continue;
    const Eigen::Vector3d tip_B = kinematics::FlangePose(*cell.arm, row.q) * p_FT;
    if ((tip_B - p_BT).norm() <= kSamePlace_mm) return &row;
  }
  return nullptr;
}

CheckResult OtherPosture(const CheckInputs& in, const PlannedJoints& planned,
                         const sim::RunsAs::LogRow& row) {
  const Apart apart = FarthestJoint(row.q, planned.q.front());
  const sim::Limit& limit = in.job.accept.read_back_deg;
  CheckResult r = Measured({apart.deg, 1e-6, limit.value, Sense::kAtMost, "deg"});
  r.assumed = !limit.given;
  r.result = Result::kFail;
  r.why = fmt::format("Row {} of the log is at the first line with joint {} at {:.1f} deg, computed "
                      "was {:.1f} deg: another posture.", row.line, apart.joint + 1,
                      DegFromRad(row.q[apart.joint]),
                      DegFromRad(planned.q.front()[apart.joint]));
  AddFinding(in, planned.line.front(), "the controller takes another posture than was computed; "
             "start from the joint values of moments.csv", &r);
  return r;
}

CheckResult ByLog(const CheckInputs& in, const PlannedJoints& planned) {
  const sim::Limit& limit = in.job.accept.read_back_deg;
  const LoggedWalk walk = WalkLog(planned, in.job.runs.read_back, RadFromDeg(limit.value));
  CheckResult r = Measured({DegFromRad(walk.worst_rad), 0.0, limit.value, Sense::kAtMost, "deg"});
  r.assumed = !limit.given;
  const std::string limit_text = LimitText(limit, fmt::format("{:g} deg", limit.value));
  if (walk.end == LoggedWalk::End::kLeft) {
    r.result = Result::kFail;
    r.why = fmt::format(
        "Row {} of the log leaves the computed motion at {}: joint {} shows {:.1f} deg, computed "
        "{:.1f} deg{}.", walk.log_line, Lines(walk.line, walk.line), walk.joint + 1,
        DegFromRad(walk.logged_rad), DegFromRad(walk.planned_rad), limit_text);
    AddFinding(in, walk.line, "the controller took another posture or another way between lines, "
               "or the log is of another path", &r);
    return r;
  }
  if (walk.rows_used == 0) {
    if (const sim::RunsAs::LogRow* row = SamePlaceOtherJoints(in, planned)) {
      return OtherPosture(in, planned, *row);
    }
  }
  if (walk.end == LoggedWalk::End::kShort || r.result != Result::kPass) {
    r.result = Result::kUnproven;
    r.why = fmt::format("The log does not cover the path: {}.", walk.gap);
    r.needs = {"`runs.read_back`: a log from the first line to the last, without a gap"};
    return r;
  }
  r.why = fmt::format("All {} of the log along the path lie on the computed joint motion, in order; "
                      "the farthest {:.2f} deg off{}.", Plural(walk.rows_used, "row"),
                      DegFromRad(walk.worst_rad), limit_text);
  return r;
}

}  // namespace

CheckResult CheckJointPath(const CheckInputs& in) {
  const RunsAs& runs = in.job.runs;
  if (runs.how == RunsAs::How::kUnsaid) {
    return Unproven("Nothing says how the arm will run this path.",
                    {"`runs: {as: joint_path}`, or `runs: {as: poses, read_back: ...}`"});
  }
  const bool joint_path = runs.how == RunsAs::How::kJointPath;
  const PlannedJoints planned = PlannedAlongPath(in.run.motion);
  if (!Followed(in.run) || (!joint_path && planned.q.empty())) {
    return Unproven("The arm could not follow the path, so there is no motion to compare with.",
                    {"a path that the arm can follow"});
  }
  if (joint_path) return ByJointPath();
  if (!runs.read_back.empty()) return ByLog(in, planned);
  if (runs.start_posture) return ByStart(in, planned, *runs.start_posture);
  return Unproven("The controller works out the joints itself; which posture and which way it takes "
                  "was not seen.", {kReadBackNeed});
}

}  // namespace aircut::verify
