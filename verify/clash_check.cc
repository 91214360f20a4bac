#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "sim/clearance_limits.h"
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

using Pairs = std::vector<sim::PairClearance>;

// A check's pairs, each with the least distance that it must keep.
struct RuledPairs {
  Pairs pairs;
  std::vector<PairRule> rules;   // one per pair
};

double LowerEnd(const sim::PairClearance& p) { return p.clearance_mm - p.bound_mm; }

// The pair that decides: the worst result, then the least room above its limit.
std::size_t DecidingPair(const RuledPairs& ruled) {
  std::size_t worst = 0;
  for (std::size_t i = 1; i < ruled.pairs.size(); ++i) {
    const Result a = ResultOf(ruled.pairs[i], ruled.rules[i]), b = ResultOf(ruled.pairs[worst], ruled.rules[worst]);
    const double room_a = LowerEnd(ruled.pairs[i]) - ruled.rules[i].limit_mm;
    const double room_b = LowerEnd(ruled.pairs[worst]) - ruled.rules[worst].limit_mm;
    if (a > b || (a == b && room_a < room_b)) worst = i;
  }
  return worst;
}

std::string MomentText(const std::string& during, const sim::NearPlace& place) {
  if (!during.empty()) return during;
  return (place.line > 0 ? Lines(place.line, place.line) : std::string("the way to or from the path")) + ", " +
         Clock(place.time_s);
}
std::string MomentText(const sim::PairClearance& p) { return MomentText(p.during, p); }

// Where a pair passes too near: once or, in the job's own motion, again and again.
struct Encounter {
  const sim::PairClearance* pair = nullptr;
  sim::NearPlace nearest;
  const sim::ClosePass* pass = nullptr;   // null: only the nearest place of the pair is known
  double limit_mm = 0.0;
};

std::vector<Encounter> EncountersOf(const RuledPairs& ruled) {
  std::vector<Encounter> encounters;
  for (std::size_t i = 0; i < ruled.pairs.size(); ++i) {
    const sim::PairClearance& p = ruled.pairs[i];
    const PairRule& rule = ruled.rules[i];
    if (ResultOf(p, rule) != Result::kFail) continue;
    const auto& passes = rule.edge == PairRule::Edge::kTouchingFails ? p.clashes : p.close;
    const std::size_t before = encounters.size();
    for (const sim::ClosePass& pass : passes) {
      sim::PairClearance at = p;
      static_cast<sim::NearPlace&>(at) = pass.nearest;
      if (ResultOf(at, rule) == Result::kFail) encounters.push_back({&p, pass.nearest, &pass, rule.limit_mm});
    }
    if (encounters.size() == before) encounters.push_back({&p, p, nullptr, rule.limit_mm});
  }
  std::stable_sort(encounters.begin(), encounters.end(),
                   [](const Encounter& a, const Encounter& b) { return a.nearest.clearance_mm < b.nearest.clearance_mm; });
  return encounters;
}

Finding FindingOf(const sim::Run& run, const Encounter& e) {
  Finding f;
  f.line = e.nearest.line;
  if (e.pair->during.empty()) f.time_s = e.nearest.time_s;
  f.at_S = PlaceInWork(run, e.nearest);
  f.value = e.nearest.clearance_mm;
  f.limit = e.limit_mm;
  f.unit = "mm";
  return f;
}

// Whether it begins with the very first pose, and how long it lasts.
std::string SpanText(const sim::Run& run, const Encounter& e) {
  if (!e.pass || !e.pair->during.empty()) return "";
  const bool at_start = !run.motion.tracks.empty() && run.motion.tracks.front().size() > 0 &&
                        e.pass->from_s <= run.motion.tracks.front().time_s.front();
  if (at_start) return fmt::format(" It begins in the start pose and lasts until {}.", Clock(e.pass->to_s));
  if (e.pass->first_line == e.pass->last_line || e.pass->first_line <= 0 || e.pass->last_line <= 0) return "";
  return fmt::format(" It lasts from line {} to line {}.", Count(e.pass->first_line), Count(e.pass->last_line));
}

// The nearest points of both, as seen from the work.
std::string WitnessText(const sim::Run& run, const Encounter& e) {
  const kinematics::Pose X_SW = (e.nearest.work_motion_W * run.X_WS_actual).inverse();
  return fmt::format("between {} and {} on the workpiece's frame", Place(X_SW * e.nearest.p_WA),
                     Place(X_SW * e.nearest.p_WB));
}


// Shared by the checks: worst pair, result, and the open cases.
CheckResult PairsResult(const CheckInputs& in, const RuledPairs& ruled) {
  const std::size_t decides = DecidingPair(ruled);
  const sim::PairClearance& worst = ruled.pairs[decides];
  const PairRule& rule = ruled.rules[decides];
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

// A finding for every time that a pair passes too near, smallest distance first.
template <typename Describe>
void AddFindings(const CheckInputs& in, const RuledPairs& ruled, const Describe& describe, CheckResult* r) {
  for (const Encounter& e : EncountersOf(ruled)) {
    Finding f = FindingOf(in.run, e);
    describe(e, &f);
    f.text += SpanText(in.run, e);
    r->findings.push_back(f);
  }
  if (!r->findings.empty()) r->why = r->findings.front().text;
  TrimFindings(r);
}

RuledPairs AgainstContact(const sim::Run& run) {
  return {run.clearances, std::vector<PairRule>(run.clearances.size(), {0.0, PairRule::Edge::kTouchingFails})};
}

sim::ClearanceLimit LimitOf(const sim::Run& run, const sim::ClearanceLimits& limits, const sim::PairClearance& p) {
  const auto kind = [&](int body) {
    const bool known = body >= 0 && body < static_cast<int>(run.body_kinds.size());
    return known ? run.body_kinds[static_cast<std::size_t>(body)] : sim::BodyKind::kObstacle;
  };
  return limits.Between(kind(p.a), kind(p.b));
}

// What the cell says can never meet is not looked at; it is told wherever nothing
// else is.
std::string NotLookedAt(const sim::Cell& cell) {
  if (cell.never_meet.empty()) return "";
  std::vector<std::string> pairs;
  for (const auto& [a, b] : cell.never_meet) pairs.push_back(a + " and " + b);
  return " Not looked at, as the cell says: " + List(pairs) + ".";
}

}  // namespace

CheckResult CheckClash(const CheckInputs& in) {
  const std::optional<CheckResult> open = OpenReason(in);
  if (in.run.clearances.empty()) return *open;
  const RuledPairs ruled = AgainstContact(in.run);
  CheckResult r = PairsResult(in, ruled);
  if (r.result == Result::kFail) {
    AddFindings(in, ruled, [&](const Encounter& e, Finding* f) {
      f->text = fmt::format("{} would collide at {}, {} on the workpiece's frame.", PairText(in.run, *e.pair),
                            MomentText(e.pair->during, e.nearest), Place(*f->at_S));
      f->cause = "the spin, the posture or the height of the retract brings them together";
    }, &r);
    return r;
  }
  if (open) return *open;
  if (r.result == Result::kPass) {
    r.why = fmt::format("Nothing that the cell describes touches; nearest: {} at {}, {}.{}",
                        PairText(in.run, in.run.clearances[DecidingPair(ruled)]), Millimetres(*r.worst),
                        MomentText(in.run.clearances[DecidingPair(ruled)]), NotLookedAt(in.job.cell));
  }
  return r;
}

CheckResult CheckClearance(const CheckInputs& in) {
  const std::optional<CheckResult> open = OpenReason(in);
  if (in.run.clearances.empty()) return *open;
  const sim::ClearanceLimits limits(in.job);
  RuledPairs ruled{in.run.clearances, {}};
  for (const sim::PairClearance& p : ruled.pairs) {
    ruled.rules.push_back({LimitOf(in.run, limits, p).total_mm(), PairRule::Edge::kLimitPasses});
  }
  CheckResult r = PairsResult(in, ruled);
  const auto limit_text = [&](const sim::PairClearance& p) {
    const sim::ClearanceLimit limit = LimitOf(in.run, limits, p);
    std::string value = Millimetres(limit.asked_mm.value);
    if (limit.frame_mm > 0.0) value += fmt::format(" and {} for the frame of the work", Millimetres(limit.frame_mm));
    return LimitText(limit.asked_mm, value);
  };
  const sim::PairClearance& worst = ruled.pairs[DecidingPair(ruled)];
  r.assumed = !LimitOf(in.run, limits, worst).asked_mm.given;
  if (r.result == Result::kFail) {
    AddFindings(in, ruled, [&](const Encounter& e, Finding* f) {
      const std::string moment = MomentText(e.pair->during, e.nearest);
      f->text = e.nearest.clearance_mm > 0.0
                    ? fmt::format("{} pass each other at {}{} at {}, {}.", PairText(in.run, *e.pair),
                                  Millimetres(e.nearest.clearance_mm), limit_text(*e.pair), moment,
                                  WitnessText(in.run, e))
                    : fmt::format("{} would collide at {}.", PairText(in.run, *e.pair), moment);
    }, &r);
    return r;
  }
  if (open) return *open;
  if (r.result == Result::kPass) {
    r.why = fmt::format("Bodies keep at least {} apart{}: {}.{}", Millimetres(*r.worst - *r.bound), limit_text(worst),
                        r.where, NotLookedAt(in.job.cell));
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
  RuledPairs ruled{PairsAtClamps(in.run), {}};
  const Pairs& pairs = ruled.pairs;
  ruled.rules.assign(pairs.size(), {limit.value, PairRule::Edge::kLimitPasses});
  const std::vector<std::string> missing = MissingHolding(in.job.cell);
  const std::string limit_text = LimitText(limit, Millimetres(limit.value));
  CheckResult r = pairs.empty() ? Measured({0.0, 0.0, 0.0, Sense::kAtMost, "clamps"}) : PairsResult(in, ruled);
  r.assumed = !limit.given;
  if (r.result == Result::kFail) {
    AddFindings(in, ruled, [&](const Encounter& e, Finding* f) {
      f->text = fmt::format("{} come within {} of each other{} at {}.", PairText(in.run, *e.pair),
                            Millimetres(e.nearest.clearance_mm), limit_text, MomentText(e.pair->during, e.nearest));
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
