#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"
#include "verify/checks.h"
#include "verify/logged_walk.h"
#include "verify/motion_faults.h"
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

// A slide counted in angles, so that both limits of a log are one.
double SlideScale(const CheckInputs& in) {
  return RadFromDeg(in.job.accept.read_back_deg.value) / in.job.accept.read_back_mm.value;
}

JointVector Counted(const CheckInputs& in, JointVector q) {
  for (Eigen::Index j = 0; j < q.size(); ++j) {
    if (SlidesIn(in.job, static_cast<int>(j))) q[j] *= SlideScale(in);
  }
  return q;
}

// A counted value as the panel shows it.
std::string Shown(const CheckInputs& in, int joint, double counted_rad) {
  return SlidesIn(in.job, joint) ? fmt::format("{:.1f} mm", counted_rad / SlideScale(in))
                                 : fmt::format("{:.1f} deg", DegFromRad(counted_rad));
}

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

CheckResult ByStart(const CheckInputs& in, const PlannedJoints& planned) {
  const JointVector start = Counted(in, *in.job.runs.start_posture);
  const JointVector q = Counted(in, planned.q.front());
  if (start.size() != q.size()) {
    return Unproven("The start posture has another number of joints than the arm.",
                    {"`runs.start_posture`: one value per joint"});
  }
  const Apart apart = FarthestJoint(start, q);
  CheckResult r = Measured({apart.deg, 1e-6, kStart_deg, Sense::kAtMost, "deg"});
  r.assumed = true;
  if (r.result == Result::kFail) {
    r.why = fmt::format(
        "At the first line the arm starts with {} at {}, computed was {}: another posture, so another "
        "motion than the one checked.",
        JointName(in.job, apart.joint), Shown(in, apart.joint, start[apart.joint]),
        Shown(in, apart.joint, q[apart.joint]));
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

// The flange in B as the axes under the work carry it.
kinematics::Pose FlangeFromWork(const kinematics::ArmModel& arm, const JointVector& q) {
  return kinematics::TableMotion(arm, kinematics::ExternalPart(arm, q)).inverse() *
         kinematics::FlangePose(arm, q);
}

// A row that brings the tip to the first line with other joints.
const sim::RunsAs::LogRow* SamePlaceOtherJoints(const CheckInputs& in,
                                                const PlannedJoints& planned) {
  constexpr double kSamePlace_mm = 5.0;   // rows of a log are that far apart at a slow feed
  const sim::Cell& cell = in.job.cell;
  if (cell.arm == nullptr || in.job.path.empty()) return nullptr;
  const Eigen::Vector3d p_KT = cell.X_WB.inverse() * (cell.X_WS * in.job.path.front().p_ST);
  const Eigen::Vector3d p_FT = FlangeFromWork(*cell.arm, planned.q.front()).inverse() * p_KT;
  for (const sim::RunsAs::LogRow& row : in.job.runs.read_back) {
    if (row.q.size() != planned.q.front().size()) continue;
    if ((FlangeFromWork(*cell.arm, row.q) * p_FT - p_KT).norm() <= kSamePlace_mm) return &row;
  }
  return nullptr;
}

CheckResult OtherPosture(const CheckInputs& in, const PlannedJoints& planned,
                         const sim::RunsAs::LogRow& row) {
  const JointVector q_row = Counted(in, row.q), q = Counted(in, planned.q.front());
  const Apart apart = FarthestJoint(q_row, q);
  const sim::Limit& limit = in.job.accept.read_back_deg;
  CheckResult r = Measured({apart.deg, 1e-6, limit.value, Sense::kAtMost, "deg"});
  r.assumed = !limit.given;
  r.result = Result::kFail;
  r.why =
      fmt::format("Row {} of the log is at the first line with {} at {}, computed was {}: another posture.",
                  row.line, JointName(in.job, apart.joint), Shown(in, apart.joint, q_row[apart.joint]),
                  Shown(in, apart.joint, q[apart.joint]));
  AddFinding(in, planned.line.front(), "the controller takes another posture than was computed; "
             "start from the joint values of moments.csv", &r);
  return r;
}

CheckResult ByLog(const CheckInputs& in, const PlannedJoints& planned) {
  const sim::Limit& limit = in.job.accept.read_back_deg;
  PlannedJoints counted = planned;
  for (JointVector& q : counted.q) q = Counted(in, q);
  std::vector<RunsAs::LogRow> rows = in.job.runs.read_back;
  for (RunsAs::LogRow& row : rows) row.q = Counted(in, row.q);
  const LoggedWalk walk = WalkLog(counted, rows, RadFromDeg(limit.value));
  CheckResult r = Measured({DegFromRad(walk.worst_rad), 0.0, limit.value, Sense::kAtMost, "deg"});
  const auto slides = in.job.cell.arm ? kinematics::SlidesOf(*in.job.cell.arm) : std::vector<bool>();
  const bool slides_too = std::find(slides.begin(), slides.end(), true) != slides.end();
  r.assumed = !limit.given || (slides_too && !in.job.accept.read_back_mm.given);
  const std::string limit_text = LimitText(limit, fmt::format("{:g} deg", limit.value));
  if (walk.end == LoggedWalk::End::kLeft) {
    r.result = Result::kFail;
    r.why = fmt::format("Row {} of the log leaves the computed motion at {}: {} shows {}, computed {}{}.",
                        walk.log_line, Lines(walk.line, walk.line), JointName(in.job, walk.joint),
                        Shown(in, walk.joint, walk.logged_rad), Shown(in, walk.joint, walk.planned_rad),
                        limit_text);
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
  if (runs.start_posture) return ByStart(in, planned);
  return Unproven("The controller works out the joints itself; which posture and which way it takes "
                  "was not seen.", {kReadBackNeed});
}

}  // namespace aircut::verify
