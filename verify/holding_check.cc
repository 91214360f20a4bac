#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "sim/shape_extent.h"
#include "verify/load_support.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using sim::SweepLoad;

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kSameWay = 1e-3;      // clamps that press along one line work together
constexpr double kRounding = 1e-9;     // of a quotient of forces

enum class Way { kSlips, kLifts, kTips };

const char* WordFor(Way way) {
  switch (way) {
    case Way::kSlips: return "slips";
    case Way::kLifts: return "lifts off";
    case Way::kTips: return "tips over";
  }
  return "";
}

// What holds over what pulls, and how it would give way; both infinite where nothing pulls.
struct Factor {
  double value = kInfinity;
  Way way = Way::kSlips;
};

Factor Smaller(const Factor& a, const Factor& b) { return b.value < a.value ? b : a; }

// Clamps that press the piece one way, on what it rests on. What the others add is left out:
// the piece is held if one group holds it alone.
class ClampGroup {
 public:
  ClampGroup(std::vector<const sim::Clamp*> clamps, const CheckInputs& in)
      : clamps_(std::move(clamps)), up_S_(-clamps_.front()->direction_S) {
    for (const sim::Clamp* clamp : clamps_) {
      force_n_ += clamp->force_n;
      friction_n_ += clamp->friction * clamp->force_n;
    }
    Rest(in);
  }

  double force_n() const { return force_n_; }

  // Against a force on the piece at a place.
  Factor Against(const Vector3d& pull_n, const Vector3d& p_S) const {
    const double lift_n = std::max(0.0, pull_n.dot(up_S_));
    const double across_n = (pull_n - pull_n.dot(up_S_) * up_S_).norm();
    const double friction = friction_n_ / force_n_;
    const double slip_n = across_n + friction * lift_n;   // a lifted clamp holds less across
    Factor factor{slip_n > 0.0 ? friction_n_ / slip_n : kInfinity, Way::kSlips};
    if (lift_n > 0.0) factor = Smaller(factor, {force_n_ / lift_n, Way::kLifts});
    return Smaller(factor, {TipOver(pull_n, p_S), Way::kTips});
  }

 private:
  // Outline of the rest, as a rectangle square to the clamps: what piece and fixture have in
  // common, seen along the clamps.
  void Rest(const CheckInputs& in) {
    const Vector3d aside = std::abs(up_S_.x()) < 0.9 ? Vector3d::UnitX() : Vector3d::UnitY();
    sides_[0] = (aside - aside.dot(up_S_) * up_S_).normalized();
    sides_[1] = up_S_.cross(sides_[0]);
    sides_[2] = -sides_[0];
    sides_[3] = -sides_[1];
    base_mm_ = -Highest(in, -up_S_);
    for (std::size_t i = 0; i < sides_.size(); ++i) reach_mm_[i] = Highest(in, sides_[i]);
    if (in.job.cell.fixture_S.empty()) return;
    std::array<double, 4> fixture_mm;
    fixture_mm.fill(-kInfinity);
    for (const sim::Shape& shape : in.job.cell.fixture_S) {
      const sim::PreparedShape prepared = sim::Prepare(shape);
      for (std::size_t i = 0; i < sides_.size(); ++i) {
        fixture_mm[i] = std::max(fixture_mm[i], sim::HighestAlong(prepared, sides_[i]));
      }
    }
    for (std::size_t i = 0; i < sides_.size(); ++i) reach_mm_[i] = std::min(reach_mm_[i], fixture_mm[i]);
  }

  // Of the uncut piece.
  static double Highest(const CheckInputs& in, const Vector3d& way) {
    double highest = -kInfinity;
    for (const Vector3d& p : in.job.stock_S->mesh().vertices) highest = std::max(highest, way.dot(p));
    return highest;
  }

  // Moments about each edge of the rest: what the clamps hold over what the force turns.
  double TipOver(const Vector3d& pull_n, const Vector3d& p_S) const {
    double factor = kInfinity;
    for (std::size_t i = 0; i < sides_.size(); ++i) {
      const double inside_mm = reach_mm_[i] - sides_[i].dot(p_S), above_mm = up_S_.dot(p_S) - base_mm_;
      const double turns = pull_n.dot(sides_[i]) * above_mm + pull_n.dot(up_S_) * inside_mm;
      if (!(turns > 0.0)) continue;
      double holds = 0.0;
      for (const sim::Clamp* clamp : clamps_) holds += clamp->force_n * (reach_mm_[i] - sides_[i].dot(clamp->p_S));
      factor = std::min(factor, std::max(0.0, holds) / turns);
    }
    return factor;
  }

  std::vector<const sim::Clamp*> clamps_;
  Vector3d up_S_;                       // against the clamps
  std::array<Vector3d, 4> sides_;       // unit, outwards
  std::array<double, 4> reach_mm_{};    // of the rest, along each
  double base_mm_ = 0, force_n_ = 0, friction_n_ = 0;
};

std::vector<ClampGroup> GroupsOf(const CheckInputs& in) {
  std::vector<std::vector<const sim::Clamp*>> sorted;
  for (const sim::Clamp& clamp : in.job.cell.clamps) {
    const auto same = std::find_if(sorted.begin(), sorted.end(), [&](const auto& group) {
      return (group.front()->direction_S - clamp.direction_S).norm() < kSameWay;
    });
    if (same != sorted.end()) same->push_back(&clamp);
    else sorted.push_back({&clamp});
  }
  std::vector<ClampGroup> groups;
  for (auto& clamps : sorted) groups.emplace_back(std::move(clamps), in);
  return groups;
}

// Of the group that holds best.
struct Held {
  Factor factor{0.0, Way::kSlips};
  double force_n = 0;
};

Held BestOf(const std::vector<ClampGroup>& groups, const Vector3d& pull_n, const Vector3d& p_S) {
  Held best;
  for (const ClampGroup& group : groups) {
    const Factor factor = group.Against(pull_n, p_S);
    if (factor.value >= best.factor.value) best = {factor, group.force_n()};
  }
  return best;
}

struct Worst {
  const SweepLoad* load = nullptr;
  std::array<Held, sim::kBandEnds> held;
};

// What the tool feels the piece feels the other way.
Worst WorstOf(const CheckInputs& in, const std::vector<ClampGroup>& groups) {
  Worst worst;
  for (const SweepLoad& load : in.run.load.sweeps) {
    const Vector3d& p_S = in.run.track.p_ST[static_cast<std::size_t>(load.sweep) + 1];
    std::array<Held, sim::kBandEnds> held;
    for (std::size_t end = 0; end < held.size(); ++end) {
      held[end] = BestOf(groups, -load.peak_S_n[end].cast<double>(), p_S);
    }
    if (worst.load == nullptr || held[sim::kMost].factor.value < worst.held[sim::kMost].factor.value) worst = {&load, held};
  }
  return worst;
}

std::string Times(double value) { return std::isfinite(value) ? fmt::format("{:.3g} times", value) : "any number of times"; }

std::string AdviceText(const CheckInputs& in, const std::vector<ClampGroup>& groups, const Held& held, double limit) {
  std::vector<std::string> ways;
  if (held.factor.value > 0.0) {
    ways.push_back(fmt::format("clamps of {:.0f} N together, now {:.0f}", std::ceil(held.force_n * limit / held.factor.value),
                               held.force_n));
  }
  std::vector<std::pair<double, std::size_t>> under;
  const auto factor = [&](const SweepLoad& load) {
    const Vector3d& p_S = in.run.track.p_ST[static_cast<std::size_t>(load.sweep) + 1];
    return BestOf(groups, -load.peak_S_n[sim::kMost].cast<double>(), p_S).factor.value;
  };
  for (const SweepLoad& load : in.run.load.sweeps) {
    if (!(factor(load) >= limit)) under.emplace_back(factor(load), static_cast<std::size_t>(load.sweep));
  }
  std::stable_sort(under.begin(), under.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<std::size_t> sweeps;
  for (const auto& [value, sweep] : under) sweeps.push_back(sweep);
  const auto holds = [&](const SweepLoad& load) { return factor(load) >= limit; };
  if (const auto feed = LargestFactor(in, sweeps, FeedBy, holds)) ways.push_back(fmt::format("{:.0f} % of the feed", 100 * *feed));
  if (const auto depth = LargestFactor(in, sweeps, DepthBy, holds)) {
    ways.push_back(fmt::format("{:.0f} % of the depth per pass", 100 * *depth));
  }
  return ways.empty() ? "" : fmt::format(" Would pass, at the bad end of the band: {}.", fmt::join(ways, ", or "));
}

}  // namespace

CheckResult CheckHolding(const CheckInputs& in) {
  if (in.job.cell.clamps.empty()) {
    return Unproven("How the piece is held was not said.",
                    {"`fixture.clamps`: at, direction, force_n and friction of each clamp"});
  }
  if (auto none = NoForces(in)) return *none;
  const std::vector<ClampGroup> groups = GroupsOf(in);
  const Worst worst = WorstOf(in, groups);
  const sim::Limit& limit = in.job.accept.holding_factor;
  const Held &bad = worst.held[sim::kMost], &stated = worst.held[sim::kNominal], &good = worst.held[sim::kLeast];
  CheckResult r = Measured({stated.factor.value, std::max(kRounding, stated.factor.value - bad.factor.value), limit.value,
                            Sense::kAtLeast, ""});
  if (!std::isfinite(stated.factor.value)) r.worst = r.bound = std::nullopt;
  // Where one group fails alone, several may still hold together.
  const bool surely_not = good.factor.value < limit.value && groups.size() == 1;
  r.result = bad.factor.value >= limit.value ? Result::kPass : surely_not ? Result::kFail : Result::kUnproven;
  r.assumed = !limit.given || !in.run.load.force->assumed.empty();
  const int line = in.run.track.sweeps[static_cast<std::size_t>(worst.load->sweep)].line;
  r.where = Lines(line, line);
  r.why = fmt::format("At {} the clamps hold {} what pulls ({} at the bad end of the material's band) before the piece {}{}. "
                      "It is taken to rest on all that it shares with the fixture's outline; its weight is left out.",
                      Lines(line, line), Times(stated.factor.value), Times(bad.factor.value), WordFor(bad.factor.way),
                      LimitText(limit, Times(limit.value)));
  if (r.result == Result::kPass) return NeedsFollowing(r, in.run);
  r.why += AdviceText(in, groups, bad, limit.value);
  if (r.result == Result::kUnproven) {
    r.needs = {NarrowerForces(in)};
    if (groups.size() > 1) r.needs.push_back("clamps of one direction that hold by themselves");
    return r;
  }
  Finding f = FindingAt(in, *worst.load);
  f.value = stated.factor.value;
  f.limit = limit.value;
  f.text = r.why;
  f.cause = "the clamps are too weak, too slippery or in the wrong place for this cut";
  r.findings = {f};
  return r;
}

}  // namespace aircut::verify
