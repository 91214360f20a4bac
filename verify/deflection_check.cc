#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "sim/fixture_push.h"
#include "sim/springs.h"
#include "verify/layer_shares.h"
#include "verify/load_support.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using sim::ErrorLayer;
using sim::SweepLoad;

std::vector<ErrorLayer> Springs() { return {kSprings.begin(), kSprings.end()}; }

bool IsSpring(ErrorLayer layer) { return std::find(kSprings.begin(), kSprings.end(), layer) != kSprings.end(); }

const char* NameOf(ErrorLayer layer) {
  switch (layer) {
    case ErrorLayer::kArm: return "the arm";
    case ErrorLayer::kSpindle: return "the spindle";
    case ErrorLayer::kTool: return "the cutter";
    default: return "the fixture";
  }
}

// A carved sample, the sweep that decides its depth and what bends there.
struct Bent {
  int sample = -1;
  const SweepLoad* load = nullptr;
  ShiftAlong shift;
};

std::vector<Bent> BentSamples(const CheckInputs& in) {
  std::vector<Bent> bent;
  for (std::size_t i = 0; i < in.run.depths.size(); ++i) {
    const int sweep = in.run.depths[i].sweep;
    if (in.run.samples[i].role != sim::DesignSample::Role::kCarve || sweep < 0) continue;
    const SweepLoad* load = in.run.load.Of(static_cast<std::size_t>(sweep));
    if (load == nullptr) continue;
    bent.push_back({static_cast<int>(i), load,
                    ShiftOf(in.run.execution, static_cast<std::size_t>(sweep), in.run.samples[i].ray.up_S, Springs())});
  }
  return bent;
}

const Eigen::Vector3d& UpOf(const CheckInputs& in, const Bent& bent) {
  return in.run.samples[static_cast<std::size_t>(bent.sample)].ray.up_S;
}

ShiftAlong Of(const CheckInputs& in, const Bent& bent, ErrorLayer layer) {
  return ShiftOf(in.run.execution, static_cast<std::size_t>(bent.load->sweep), UpOf(in, bent), {layer});
}

ErrorLayer LargestLayer(const CheckInputs& in, const Bent& bent) {
  ErrorLayer largest = ErrorLayer::kFixture;
  double most_mm = -1.0;
  for (const ErrorLayer layer : kSprings) {
    if (in.run.execution.Of(layer) == nullptr) continue;
    const double mm = Of(in, bent, layer).largest();
    if (mm > most_mm) std::tie(most_mm, largest) = std::pair(mm, layer);
  }
  return largest;
}

std::string SharesText(const CheckInputs& in, const Bent& bent) {
  std::vector<std::string> parts;
  for (const ErrorLayer layer : kSprings) {
    if (in.run.execution.Of(layer) == nullptr) continue;
    parts.push_back(fmt::format("{} {:+.3f} mm", NameOf(layer), Of(in, bent, layer).nominal));
  }
  return List(parts);
}

// A tool that was pushed off stands less deep: with a stiffer spring the force comes back.
double ForceAtDepth(const Bent& bent) {
  const double off_mm = std::max(0.0, bent.shift.nominal);
  return bent.load->depth_mm > 0.0F ? 1.0 + off_mm / bent.load->depth_mm : 1.0;
}

// The line along which the fixture costs most depth there, and its compliance.
struct SoftLine {
  Eigen::Vector3d direction_S = Eigen::Vector3d::UnitZ();
  double mm_n = 0;
};

SoftLine SoftLineOf(const CheckInputs& in, const sim::FixtureSpring& spring, const Bent& bent) {
  const Eigen::Vector3d p_S = in.run.track.p_ST[static_cast<std::size_t>(bent.load->sweep) + 1];
  const Eigen::Matrix3d C = spring.ComplianceAt(p_S);
  const Eigen::Vector3d force_n = bent.load->mean_S_n[sim::kMost].cast<double>();
  SoftLine soft;
  double most_mm = -1.0;
  for (const Eigen::Vector3d& line : spring.SoftLines(p_S)) {
    const double mm_n = line.dot(C * line);
    const double cost_mm = std::abs(mm_n * line.dot(force_n) * line.dot(UpOf(in, bent)));
    if (cost_mm > most_mm) {
      most_mm = cost_mm;
      soft = {line.sum() < 0 ? Eigen::Vector3d(-line) : line, mm_n};
    }
  }
  return soft;
}

// What the layer may bend where the rest takes its share of the limit.
double RoomFor(const CheckInputs& in, const Bent& bent, ErrorLayer layer) {
  std::vector<ErrorLayer> rest = Springs();
  rest.erase(std::find(rest.begin(), rest.end(), layer));
  const ShiftAlong others =
      ShiftOf(in.run.execution, static_cast<std::size_t>(bent.load->sweep), UpOf(in, bent), rest);
  return in.job.accept.deflection_mm.value - ForceAtDepth(bent) * others.largest();
}

// Stiffness of the fixture at the cut with which every sample stays inside the limit.
std::string FixtureText(const CheckInputs& in, const std::vector<Bent>& bent, const Bent& worst) {
  const auto spring = sim::FixtureSpringOf(in.job.cell);
  if (!spring || in.run.execution.Of(ErrorLayer::kFixture) == nullptr) return "";
  const SoftLine soft = SoftLineOf(in, *spring, worst);
  double needed_n_mm = 0.0;
  for (const Bent& b : bent) {
    const double room_mm = RoomFor(in, b, ErrorLayer::kFixture);
    if (!(room_mm > 0.0)) return fmt::format("no fixture is stiff enough: the rest bends {:.3f} mm by itself",
                                             in.job.accept.deflection_mm.value - room_mm);
    const double now_mm = ForceAtDepth(b) * Of(in, b, ErrorLayer::kFixture).largest();
    needed_n_mm = std::max(needed_n_mm, now_mm / room_mm / soft.mm_n);
  }
  return fmt::format("a fixture of {:.3g} N/mm along {} at the cut, now {:.3g}", needed_n_mm,
                     sim::LineWord(soft.direction_S), 1.0 / soft.mm_n);
}

// A cantilever gives by the cube of its length.
std::string StickOutText(const CheckInputs& in, const Bent& worst) {
  const sim::CellCutter* cutter = CutterOf(in, *worst.load);
  const double room_mm = RoomFor(in, worst, ErrorLayer::kTool), now_mm = Of(in, worst, ErrorLayer::kTool).largest();
  if (cutter == nullptr || !(room_mm > 0.0) || !(now_mm > room_mm)) return "";
  const double stick_out_mm = std::floor(cutter->stick_out_mm * std::cbrt(room_mm / now_mm));
  if (stick_out_mm < cutter->cutter.flute_length_mm()) return "";
  return fmt::format("a stick-out of {:g} mm of cutter {}", stick_out_mm, cutter->number);
}

// The limit by a factor on all forces: each load is held against that of its own sweep.
std::string FactorText(const CheckInputs& in, std::vector<Bent> bent) {
  const double limit_mm = in.job.accept.deflection_mm.value;
  std::stable_sort(bent.begin(), bent.end(),
                   [](const Bent& a, const Bent& b) { return a.shift.largest() > b.shift.largest(); });
  std::vector<std::size_t> sweeps;
  std::map<std::int32_t, double> bend_mm;   // the worst sample of each sweep
  for (const Bent& b : bent) {
    const double full_mm = ForceAtDepth(b) * b.shift.largest();
    const auto [at, is_new] = bend_mm.emplace(b.load->sweep, full_mm);
    at->second = std::max(at->second, full_mm);
    if (is_new && full_mm > limit_mm) sweeps.push_back(static_cast<std::size_t>(b.load->sweep));
  }
  const auto holds = [&](const SweepLoad& changed) {
    const SweepLoad* now = in.run.load.Of(static_cast<std::size_t>(changed.sweep));
    const float before = now->mean_S_n[sim::kMost].norm();
    if (!(before > 0.0F)) return true;
    return bend_mm.at(changed.sweep) * changed.mean_S_n[sim::kMost].norm() / before <= limit_mm;
  };
  std::vector<std::string> parts;
  if (const auto feed = LargestFactor(in, sweeps, FeedBy, holds)) parts.push_back(fmt::format("{:.0f} % of the feed", 100 * *feed));
  if (const auto depth = LargestFactor(in, sweeps, DepthBy, holds)) {
    parts.push_back(fmt::format("{:.0f} % of the depth per pass", 100 * *depth));
  }
  return fmt::format("{}", fmt::join(parts, ", or "));
}

std::string AdviceText(const CheckInputs& in, const std::vector<Bent>& bent, const Bent& worst) {
  const ErrorLayer largest = LargestLayer(in, worst);
  std::vector<std::string> parts;
  const std::string own = largest == ErrorLayer::kFixture ? FixtureText(in, bent, worst)
                          : largest == ErrorLayer::kTool  ? StickOutText(in, worst)
                                                          : std::string();
  if (!own.empty()) parts.push_back(own);
  const std::string factor = FactorText(in, bent);
  if (!factor.empty()) parts.push_back(factor);
  if (parts.empty()) return " Neither less feed nor less depth a pass is enough.";
  return fmt::format(" Would pass, at the bad end of the bands: {}.", fmt::join(parts, ", or "));
}

// What is not known of the springs, with what would settle it.
void NameMissing(const CheckInputs& in, CheckResult* r) {
  for (const sim::MissingLayer& missing : in.run.execution.missing) {
    if (!IsSpring(missing.layer)) continue;
    r->why += (r->why.empty() ? "" : " ") + missing.why;
    r->needs.insert(r->needs.end(), missing.needs.begin(), missing.needs.end());
    if (r->result == Result::kPass) r->result = Result::kUnproven;
  }
}

std::string WorstText(const CheckInputs& in, const Bent& worst) {
  const int line = in.run.track.sweeps[static_cast<std::size_t>(worst.load->sweep)].line;
  return fmt::format("At {} the tool stands {:.3f} mm {} ({:.3f} to {:.3f} mm by the bands of force and stiffness), most of "
                     "it by {}: {}{}.", Lines(line, line), std::abs(worst.shift.nominal),
                     worst.shift.nominal < 0 ? "too deep" : "off the cut", worst.shift.smallest(), worst.shift.largest(),
                     NameOf(LargestLayer(in, worst)), SharesText(in, worst),
                     LimitText(in.job.accept.deflection_mm, fmt::format("{:.3f} mm", in.job.accept.deflection_mm.value)));
}

bool AnyAssumed(const CheckInputs& in, const SweepLoad& load) {
  const sim::CellCutter* cutter = CutterOf(in, load);
  return !in.job.accept.deflection_mm.given || !in.run.load.force->assumed.empty() ||
         (cutter != nullptr && !cutter->modulus_gpa);
}

void Tell(const CheckInputs& in, const std::vector<Bent>& bent, const Bent& worst, CheckResult* r) {
  if (r->result == Result::kPass) return;
  r->why += AdviceText(in, bent, worst);
  if (r->result == Result::kUnproven) {
    r->needs.push_back(NarrowerForces(in));
    return;
  }
  Finding f = FindingAt(in, *worst.load);
  f.at_S = in.run.samples[static_cast<std::size_t>(worst.sample)].ray.p_SQ;
  f.value = *r->worst;
  f.limit = *r->limit;
  f.unit = "mm";
  f.text = r->why;
  f.cause = LargestLayer(in, worst) == ErrorLayer::kFixture
                ? "the fixture is too soft for this cut: " + FixtureText(in, bent, worst)
                : fmt::format("{} is too soft for this cut", NameOf(LargestLayer(in, worst)));
  r->findings = {f};
}

}  // namespace

CheckResult CheckDeflection(const CheckInputs& in) {
  if (!in.run.executed) return NeedsFollowing(Measured({0.0, 0.0, 1.0, Sense::kAtMost, "mm"}), in.run);
  if (auto none = NoForces(in)) return *none;
  const std::vector<Bent> bent = BentSamples(in);
  if (bent.empty()) {
    CheckResult r = Unproven("No place of the design is carved by a cut whose load is known.", {});
    NameMissing(in, &r);
    if (r.needs.empty()) r.needs = {"a design that the path carves"};
    return r;
  }
  const Bent& worst = *std::max_element(bent.begin(), bent.end(), [](const Bent& a, const Bent& b) {
    return a.shift.largest() < b.shift.largest();
  });
  const double limit_mm = in.job.accept.deflection_mm.value;
  CheckResult r = MeasuredBand({worst.shift.smallest(), std::abs(worst.shift.nominal), worst.shift.largest(), limit_mm, limit_mm}, "mm");
  r.assumed = AnyAssumed(in, *worst.load);
  const int line = in.run.track.sweeps[static_cast<std::size_t>(worst.load->sweep)].line;
  r.where = Lines(line, line);
  r.why = WorstText(in, worst);
  Tell(in, bent, worst, &r);
  NameMissing(in, &r);
  if (!in.run.execution.settled && r.result == Result::kPass) {
    r.result = Result::kUnproven;
    r.why += " Forces and displacements did not settle.";
    r.needs.push_back("a stiffer fixture or arm, or less depth a pass");
  }
  return NeedsFollowing(r, in.run);
}

}  // namespace aircut::verify
