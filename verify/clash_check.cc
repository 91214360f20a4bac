#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

std::string NameOf(const sim::Run& run, int body) {
  if (run.world && body >= 0 && body < run.world->body_count()) return run.world->body(body).name;
  return fmt::format("body {}", body);
}

std::string PairText(const sim::Run& run, const sim::PairClearance& p) {
  return NameOf(run, p.a) + " and " + NameOf(run, p.b);
}

bool IsAbsent(sim::Declared said) { return said == sim::Declared::kNone; }

// What the cell must describe before "nothing touches" means anything.
std::vector<std::string> MissingBodies(const sim::Job& job) {
  std::vector<std::string> missing;
  const sim::Cell& cell = job.cell;
  if (cell.links.empty()) missing.push_back("`arm.links`");
  if (cell.housing_shapes_H.empty() && !IsAbsent(cell.housing)) missing.push_back("`spindle.housing`");
  const bool nothing_around = cell.fixture_S.empty() && cell.obstacles_W.empty() && !cell.floor_z_mm;
  const bool said = IsAbsent(cell.fixture) && IsAbsent(cell.obstacles) && IsAbsent(cell.floor);
  if (nothing_around && !said) missing.push_back("`fixture.parts`, `obstacles` or `bodies.floor`");
  return missing;
}

// One pair against a least distance. The distance found is an upper end of the
// true one, distance - bound a lower end; both ends have to agree.
struct PairRule {
  double limit_mm = 0.0;
  enum class Edge {
    kTouchingFails,    // at the limit is a clash
    kLimitPasses       // at the limit is allowed
  } edge = Edge::kTouchingFails;
};

Result ResultOf(const sim::PairClearance& p, const PairRule& rule) {
  if (!(p.bound_mm >= 0.0) || std::isnan(p.clearance_mm)) return Result::kUnproven;
  const double low_mm = p.clearance_mm - p.bound_mm;
  if (rule.edge == PairRule::Edge::kTouchingFails) {
    // The sign of an overlap is sure, and contact itself is the clash.
    if (p.clearance_mm <= rule.limit_mm) return Result::kFail;
    return low_mm > rule.limit_mm ? Result::kPass : Result::kUnproven;
  }
  const double high_mm = p.clearance_mm + sim::CollisionWorld::kDistanceBound_mm;
  if (high_mm < rule.limit_mm) return Result::kFail;
  return low_mm >= rule.limit_mm ? Result::kPass : Result::kUnproven;
}

// The pair that decides: the worst result, then the smallest lower end.
std::size_t DecidingPair(const std::vector<sim::PairClearance>& pairs, const PairRule& rule) {
  std::size_t worst = 0;
  for (std::size_t i = 1; i < pairs.size(); ++i) {
    const Result a = ResultOf(pairs[i], rule), b = ResultOf(pairs[worst], rule);
    const double low_a = pairs[i].clearance_mm - pairs[i].bound_mm;
    const double low_b = pairs[worst].clearance_mm - pairs[worst].bound_mm;
    if (a > b || (a == b && low_a < low_b)) worst = i;
  }
  return worst;
}

Finding FindingOf(const sim::Run& run, const sim::PairClearance& p, double limit_mm) {
  Finding f;
  f.line = p.line;
  if (p.during.empty()) f.time_s = p.time_s;
  f.at_S = PlaceInWork(run, p);
  f.value = p.clearance_mm;
  f.limit = limit_mm;
  f.unit = "mm";
  return f;
}

std::string MomentText(const sim::PairClearance& p) {
  if (!p.during.empty()) return p.during;
  return (p.line > 0 ? Lines(p.line, p.line) : std::string("the way to or from the path")) + ", " +
         Clock(p.time_s);
}

using Pairs = std::vector<sim::PairClearance>;

// Shared by the checks: worst pair, result, and the open cases.
CheckResult PairsResult(const CheckInputs& in, const Pairs& pairs, const PairRule& rule) {
  const sim::PairClearance& worst = pairs[DecidingPair(pairs, rule)];
  CheckResult r = Measured({worst.clearance_mm, worst.bound_mm, rule.limit_mm, Sense::kAtLeast,
                            "mm"});
  r.result = ResultOf(worst, rule);
  r.where = PairText(in.run, worst) + ", " + MomentText(worst);
  if (r.result == Result::kUnproven) {
    r.why = fmt::format("{} pass each other at {} or up to {} less, at {}: too near to the limit "
                        "to tell.",
                        PairText(in.run, worst), Millimetres(worst.clearance_mm),
                        Millimetres(worst.bound_mm), MomentText(worst));
    r.needs = {"a little more room between " + PairText(in.run, worst)};
  }
  return r;
}

// What must hold before any pass: all bodies described, the whole motion seen.
std::optional<CheckResult> OpenReason(const CheckInputs& in) {
  const std::vector<std::string> missing = MissingBodies(in.job);
  if (!missing.empty()) {
    return Unproven("The cell does not describe " + List(missing) + ".", missing);
  }
  if (!Followed(in.run)) {
    return Unproven("The arm could not follow the path (see reach, joint-range, posture-change).",
                    {"a path that the arm can follow"});
  }
  if (in.run.clearances.empty()) {
    return Unproven("No pair of bodies was measured.", {"bodies in the cell"});
  }
  return std::nullopt;
}

// Findings for every pair that fails, smallest distance first.
struct PairsAgainst {
  const Pairs& pairs;
  const PairRule& rule;
};
template <typename Describe>
void AddFindings(const CheckInputs& in, const PairsAgainst& against, const Describe& describe,
                 CheckResult* r) {
  for (const sim::PairClearance& p : against.pairs) {
    if (ResultOf(p, against.rule) != Result::kFail) continue;
    Finding f = FindingOf(in.run, p, against.rule.limit_mm);
    describe(p, &f);
    r->findings.push_back(f);
  }
  std::stable_sort(r->findings.begin(), r->findings.end(),
                   [](const Finding& a, const Finding& b) { return a.value < b.value; });
  if (!r->findings.empty()) r->why = r->findings.front().text;
  TrimFindings(r);
}

}  // namespace

CheckResult CheckClash(const CheckInputs& in) {
  const PairRule rule{0.0, PairRule::Edge::kTouchingFails};
  const std::optional<CheckResult> open = OpenReason(in);
  if (in.run.clearances.empty()) return *open;
  CheckResult r = PairsResult(in, in.run.clearances, rule);
  if (r.result == Result::kFail) {
    AddFindings(in, {in.run.clearances, rule}, [&](const sim::PairClearance& p, Finding* f) {
      f->text = fmt::format("{} would collide at {}, {} on the workpiece's frame.",
                            PairText(in.run, p), MomentText(p), Place(*f->at_S));
      f->cause = "the spin, the posture or the height of the retract brings them together";
    }, &r);
    return r;
  }
  if (open) return *open;
  if (r.result == Result::kPass) {
    r.why = fmt::format("Nothing that the cell describes touches; nearest: {} at {}, {}.",
                        PairText(in.run, in.run.clearances[DecidingPair(in.run.clearances, rule)]),
                        Millimetres(*r.worst),
                        MomentText(in.run.clearances[DecidingPair(in.run.clearances, rule)]));
  }
  return r;
}

CheckResult CheckClearance(const CheckInputs& in) {
  const sim::Limit& limit = in.job.accept.clearance_mm;
  const PairRule rule{limit.value, PairRule::Edge::kLimitPasses};
  const std::optional<CheckResult> open = OpenReason(in);
  if (in.run.clearances.empty()) return *open;
  CheckResult r = PairsResult(in, in.run.clearances, rule);
  r.assumed = !limit.given;
  const std::string limit_text = LimitText(limit, Millimetres(limit.value));
  if (r.result == Result::kFail) {
    AddFindings(in, {in.run.clearances, rule}, [&](const sim::PairClearance& p, Finding* f) {
      f->text = p.clearance_mm > 0.0
                    ? fmt::format("{} pass each other at {}{} at {}.", PairText(in.run, p),
                                  Millimetres(p.clearance_mm), limit_text, MomentText(p))
                    : fmt::format("{} would collide at {}.", PairText(in.run, p), MomentText(p));
    }, &r);
    return r;
  }
  if (open) return *open;
  if (r.result == Result::kPass) {
    r.why = fmt::format("Bodies keep at least {} apart{}: {}.",
                        Millimetres(*r.worst - *r.bound), limit_text, r.where);
  }
  return r;
}

namespace {

bool IsCutting(sim::BodyKind kind) { return kind == sim::BodyKind::kCutter || kind == sim::BodyKind::kTool; }
bool IsHolding(sim::BodyKind kind) { return kind == sim::BodyKind::kFixture || kind == sim::BodyKind::kClamp; }

// Cutter, shank and holder against clamps and fixture.
Pairs PairsAtClamps(const sim::Run& run) {
  Pairs pairs;
  const auto kind = [&](int body) { return run.body_kinds.at(static_cast<std::size_t>(body)); };
  for (const sim::PairClearance& p : run.clearances) {
    const bool at_clamp = (IsCutting(kind(p.a)) && IsHolding(kind(p.b))) ||
                          (IsCutting(kind(p.b)) && IsHolding(kind(p.a)));
    if (at_clamp) pairs.push_back(p);
  }
  return pairs;
}

// What must be said before "the cutter keeps away from the clamps" means anything.
std::vector<std::string> MissingHolding(const sim::Cell& cell) {
  std::vector<std::string> missing;
  if (cell.fixture == sim::Declared::kUnsaid) missing.push_back("`fixture`, or `fixture: none`");
  if (cell.fixture == sim::Declared::kGiven && cell.clamps_said == sim::Declared::kUnsaid) {
    missing.push_back("`fixture.clamps`, or `clamps: none`");
  }
  for (std::size_t i = 0; i < cell.clamps.size(); ++i) {
    if (cell.clamps[i].body_S.empty()) missing.push_back(fmt::format("a body of `fixture.clamps[{}]`", i + 1));
  }
  return missing;
}

}  // namespace

CheckResult CheckClampZone(const CheckInputs& in) {
  const sim::Limit& limit = in.job.accept.clamp_mm;
  const PairRule rule{limit.value, PairRule::Edge::kLimitPasses};
  const Pairs pairs = PairsAtClamps(in.run);
  const std::vector<std::string> missing = MissingHolding(in.job.cell);
  const std::string limit_text = LimitText(limit, Millimetres(limit.value));
  CheckResult r = pairs.empty() ? Measured({0.0, 0.0, 0.0, Sense::kAtMost, "clamps"}) : PairsResult(in, pairs, rule);
  r.assumed = !limit.given;
  if (r.result == Result::kFail) {
    AddFindings(in, {pairs, rule}, [&](const sim::PairClearance& p, Finding* f) {
      f->text = fmt::format("{} come within {} of each other{} at {}.", PairText(in.run, p),
                            Millimetres(p.clearance_mm), limit_text, MomentText(p));
      f->cause = "a clamp or a part of the fixture stands in the cutter's way: move it, or lift the path over it";
    }, &r);
    return r;
  }
  if (!missing.empty()) return Unproven("What holds the piece is not described: " + List(missing) + ".", missing);
  if (!Followed(in.run)) {
    return Unproven("The arm could not follow the path (see reach, joint-range, posture-change).",
                    {"a path that the arm can follow"});
  }
  if (r.result != Result::kPass) return r;
  r.why = pairs.empty() ? "The cell says that nothing holds the piece that the cutter could meet."
                        : fmt::format("Cutter and holder keep at least {} from clamps and fixture{}: {}.",
                                      Millimetres(*r.worst - *r.bound), limit_text, r.where);
  return r;
}

}  // namespace aircut::verify
