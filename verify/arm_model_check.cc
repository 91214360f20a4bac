#include <cmath>
#include <set>

#include <fmt/format.h>

#include "kinematics/arm_suspects.h"
#include "kinematics/external_axes.h"
#include "kinematics/jacobian.h"
#include "kinematics/units.h"
#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using kinematics::ArmModel;
using kinematics::ArmReadout;
using kinematics::DegFromRad;
using kinematics::ReadoutResidual;
using kinematics::Suspect;
using kinematics::SuspectKind;
using kinematics::Visibility;

constexpr std::size_t kFewest = 3;   // source: domain notes A9
const char* const kReadoutNeed =
    "`arm.readouts`: three or more poses far apart, each with the joint values and the flange pose "
    "that the panel shows";

// Rotation error is 2 asin of the vector part, at most 2.1 times a small error of
// the four components.
constexpr double kTurnPerQuaternion = 2.1;

// What rounding on the panel alone can make of one row, with 95 %: the digits are
// rounded independently and evenly, so their squares add; an even error of half
// width h has the standard deviation h / sqrt(3).
struct Rounding {
  double position_mm = 0.0, turn_rad = 0.0;
};

Rounding RoundingOf(const ArmModel& arm, const sim::ReadoutTable& table,
                    const kinematics::JointVector& q) {
  const kinematics::Jacobian J = kinematics::GeometricJacobian(arm, q);
  double moved2_mm = 0.0, turned2_rad = 0.0;
  for (int j = 0; j < arm.joint_count(); ++j) {
    const double off = kinematics::IsSlide(arm, j) ? table.slide_rounding_mm : table.joint_rounding_rad;
    moved2_mm += off * off * J.col(j).head<3>().squaredNorm();
    turned2_rad += off * off * J.col(j).tail<3>().squaredNorm();
  }
  const double place = table.position_rounding_mm * table.position_rounding_mm;
  const double turn = kTurnPerQuaternion * table.rotation_rounding;
  const double two_sigma = 2.0 / std::sqrt(3.0);
  return {two_sigma * std::sqrt(moved2_mm + 3.0 * place),
          two_sigma * std::sqrt(turned2_rad + 4.0 * turn * turn)};
}

// The row that is farthest off, in one of the two measures.
struct Measure {
  double worst = 0.0, bound = 0.0;
  sim::Limit limit;
  const char* unit = "";
  int line = 0;
  Result result = Result::kPass;
};

struct Compared {
  std::vector<ArmReadout> rows;
  Measure position, turn;
};

void Take(double value, double bound, int line, Measure* m) {
  // The pair that comes nearest to failing; not a number counts as worst and stays.
  if (m->line != 0 && (value + bound <= m->worst + m->bound || std::isnan(m->worst + m->bound))) return;
  m->worst = value;
  m->bound = bound;
  m->line = line;
}

Compared Compare(const CheckInputs& in) {
  const sim::ReadoutTable& table = *in.job.cell.readouts;
  const ArmModel& arm = *in.job.cell.arm;
  Compared out;
  for (const sim::Readout& row : table.rows) out.rows.push_back({row.q, row.X_BF});
  const std::vector<ReadoutResidual> residuals = kinematics::ReadoutResiduals(arm, out.rows);
  out.position.limit = in.job.accept.arm_model_mm;
  out.position.unit = "mm";
  out.turn.limit = in.job.accept.arm_model_deg;
  out.turn.unit = "deg";
  for (std::size_t i = 0; i < residuals.size(); ++i) {
    const Rounding rounding = RoundingOf(arm, table, table.rows[i].q);
    const int line = table.rows[i].line;
    Take(residuals[i].position_mm, rounding.position_mm, line, &out.position);
    Take(DegFromRad(residuals[i].turn_rad), DegFromRad(rounding.turn_rad), line, &out.turn);
  }
  for (Measure* m : {&out.position, &out.turn}) {
    m->result = Decide(m->worst, m->bound, m->limit.value, Sense::kAtMost);
  }
  return out;
}

std::string NameOf(SuspectKind kind, int joint, int driver) {
  switch (kind) {
    case SuspectKind::kSign: return fmt::format("the sign of joint {}", joint + 1);
    case SuspectKind::kZero: return fmt::format("the zero of joint {}", joint + 1);
    case SuspectKind::kCoupling:
      return fmt::format("the coupling of joint {} to joint {}", joint + 1, driver + 1);
    case SuspectKind::kScale: break;
  }
  return "the unit of the arm's lengths";
}

std::string SizeOf(const ArmModel& arm, const Suspect& s) {
  switch (s.kind) {
    case SuspectKind::kSign: return fmt::format("should be {:+g}", s.amount);
    case SuspectKind::kZero:
      return kinematics::IsSlide(arm, s.joint) ? fmt::format("is off by {:.3f} mm", s.amount)
                                               : fmt::format("is off by {:.3f} deg", DegFromRad(s.amount));
    case SuspectKind::kCoupling: return fmt::format("should be {:g}", s.amount);
    case SuspectKind::kScale: break;
  }
  return fmt::format("is off by a factor of {:g}", s.amount);
}

// The likeliest single error, and those that explain the read-outs about as well.
std::string CauseOf(const ArmModel& arm, const Compared& compared) {
  const std::vector<Suspect> suspects = kinematics::RankSuspects(arm, compared.rows);
  const auto fits = [&](const Suspect& s) {
    return s.residual_mm <= compared.position.limit.value + compared.position.bound &&
           DegFromRad(s.residual_rad) <= compared.turn.limit.value + compared.turn.bound;
  };
  if (suspects.empty() || !fits(suspects.front())) {
    return "no single sign, zero, coupling or unit explains the read-outs: link lengths, several "
           "errors, or the panel shows another frame than flange in base";
  }
  std::string cause = fmt::format("{} {}: with it mended the read-outs agree within {:.3f} mm",
                                  NameOf(suspects[0].kind, suspects[0].joint, suspects[0].driver),
                                  SizeOf(arm, suspects[0]), suspects[0].residual_mm);
  std::vector<std::string> rivals;
  for (std::size_t i = 1; i < suspects.size(); ++i) {
    if (!fits(suspects[i])) continue;
    rivals.push_back(NameOf(suspects[i].kind, suspects[i].joint, suspects[i].driver) + " " +
                     SizeOf(arm, suspects[i]));
  }
  if (!rivals.empty()) cause += "; it would also fit that " + List(rivals, 3);
  return cause;
}

// Single errors that these rows would not have shown, and the joints to move.
struct Unseen {
  std::vector<std::string> errors, joints;
};

Unseen UnseenBy(const ArmModel& arm, const Compared& compared) {
  Unseen unseen;
  std::set<int> joints;
  for (const Visibility& v : kinematics::VisibilityOf(arm, compared.rows)) {
    const Measure &p = compared.position, &t = compared.turn;
    // The error on top of what is left must fail.
    const bool shown = v.shown_mm > p.limit.value + p.worst + p.bound ||
                       DegFromRad(v.shown_rad) > t.limit.value + t.worst + t.bound;
    if (shown) continue;
    const std::string name = NameOf(v.kind, v.joint, v.driver);
    if (unseen.errors.empty() || unseen.errors.back() != name) unseen.errors.push_back(name);
    joints.insert(v.kind == SuspectKind::kCoupling ? v.driver : v.joint);
  }
  for (const int joint : joints) unseen.joints.push_back(std::to_string(joint + 1));
  return unseen;
}

// Position and rotation in one result: the measure that came out worse speaks.
CheckResult Joined(const Compared& compared) {
  const Measure &p = compared.position, &t = compared.turn;
  const auto rank = [](Result r) { return r == Result::kFail ? 2 : r == Result::kUnproven ? 1 : 0; };
  const Measure& m = rank(t.result) > rank(p.result) ? t : p;
  CheckResult r = Measured({m.worst, m.bound, m.limit.value, Sense::kAtMost, m.unit});
  r.assumed = !m.limit.given;
  r.where = fmt::format("row {}", m.line);
  r.why = fmt::format("{} agree with the model within {:.3f} mm{} and {:.4f} deg{}; the panel's "
                      "digits are worth {:.3f} mm and {:.4f} deg.",
                      Plural(static_cast<std::int64_t>(compared.rows.size()), "read-out"), p.worst,
                      LimitText(p.limit, fmt::format("{:g} mm", p.limit.value)), t.worst,
                      LimitText(t.limit, fmt::format("{:g} deg", t.limit.value)), p.bound, t.bound);
  return r;
}

}  // namespace

CheckResult CheckArmModel(const CheckInputs& in) {
  const sim::Cell& cell = in.job.cell;
  if (cell.arm == nullptr || !cell.readouts || cell.readouts->rows.size() < kFewest) {
    return Unproven(cell.readouts ? "Fewer than three read-outs do not settle the arm's model."
                                  : "Nothing from the real arm was held against its model.",
                    {kReadoutNeed});
  }
  const Compared compared = Compare(in);
  CheckResult r = Joined(compared);
  if (r.result == Result::kFail) {
    Finding f;
    f.text = fmt::format("Row {} of the read-outs lies {:.3f} mm from the model, row {} is turned by "
                         "{:.3f} deg.", compared.position.line, compared.position.worst,
                         compared.turn.line, compared.turn.worst);
    f.value = *r.worst;
    f.limit = *r.limit;
    f.unit = r.unit;
    f.cause = CauseOf(*cell.arm, compared);
    r.why = f.text;
    r.findings = {f};
    return r;
  }
  if (r.result == Result::kUnproven) {
    r.why += " That is too coarse for the limit.";
    r.needs = {"`arm.readouts` with more digits of the joint values"};
    return r;
  }
  const Unseen unseen = UnseenBy(*cell.arm, compared);
  if (unseen.errors.empty()) return r;
  r.result = Result::kUnproven;
  r.why += fmt::format(" They would not show {} if it were wrong.", List(unseen.errors, 4));
  r.needs = {fmt::format("`arm.readouts`: a further pose with joint {} turned well away from zero",
                         List(unseen.joints))};
  return r;
}

}  // namespace aircut::verify
