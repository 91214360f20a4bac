#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/hold_words.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using kinematics::LineFeed;

// Of the length of all cuts, at 90 % of the written feed or more. Domain
// knowledge, row 29 (engineering judgement, no source).
constexpr double kHeldPercent = 90.0;
// Of the length of all cuts that may leave the chip's range, at starts and stops.
constexpr double kStrayPercent = 1.0;

struct Lengths {
  double cut_mm = 0.0, slow_mm = 0.0;
  std::map<std::string, double> slow_by;   // length of slow lines by what held them most
};

Lengths LengthsOf(const std::vector<LineFeed>& feeds) {
  Lengths lengths;
  for (const LineFeed& feed : feeds) {
    lengths.cut_mm += feed.length_mm;
    lengths.slow_mm += feed.slow_mm;
    if (feed.slow_mm > 0.0) lengths.slow_by[WordsFor(feed.hold)] += feed.slow_mm;
  }
  return lengths;
}

std::string Reasons(const Lengths& lengths) {
  std::vector<std::pair<double, std::string>> order;
  for (const auto& [words, mm] : lengths.slow_by) order.emplace_back(-mm, words);
  std::sort(order.begin(), order.end());
  std::vector<std::string> told;
  for (const auto& [mm, words] : order) {
    told.push_back(fmt::format("{} {:.0f} %", words, 100.0 * -mm / lengths.slow_mm));
  }
  return List(told, 4);
}

const sim::CellCutter* CutterOf(const CheckInputs& in, const LineFeed& feed) {
  const auto index = static_cast<std::size_t>(feed.path_index);
  return index < in.job.path.size() ? FindCutter(in.job.cell, in.job.path[index].tool) : nullptr;
}

// Feed per tooth at a speed of the tip; not a number without a turning cutter.
double Chip_mm(const CheckInputs& in, const LineFeed& feed, double speed_mm_s) {
  const sim::CellCutter* cutter = CutterOf(in, feed);
  const double rpm = std::abs(in.job.path[static_cast<std::size_t>(feed.path_index)].spindle_rpm);
  return cutter == nullptr ? std::nan("") : 60.0 * speed_mm_s / (rpm * cutter->flutes);
}

struct Stray {
  double length_mm = 0.0;                  // of lines that leave the range of their chip
  const LineFeed* worst = nullptr;         // by the smallest chip over the least one
  double worst_chip_mm = 0.0, worst_least_mm = 0.0;
  bool known = true;                       // every slow line's cutter states a range
};

Stray StrayOf(const CheckInputs& in) {
  Stray stray;
  double worst_share = 1.0;
  for (const LineFeed& feed : in.run.motion.line_feeds) {
    if (!(feed.slow_mm > 0.0)) continue;
    const sim::CellCutter* cutter = CutterOf(in, feed);
    if (cutter == nullptr || !cutter->chip_load) {
      stray.known = false;
      continue;
    }
    const double chip_mm = Chip_mm(in, feed, feed.lowest_mm_s);
    const double share = chip_mm / cutter->chip_load->least_mm;
    if (share >= 1.0) continue;
    stray.length_mm += feed.slow_mm;
    if (share >= worst_share) continue;
    worst_share = share;
    stray.worst = &feed;
    stray.worst_chip_mm = chip_mm;
    stray.worst_least_mm = cutter->chip_load->least_mm;
  }
  return stray;
}

Finding FindingOf(const CheckInputs& in, const Stray& stray) {
  const LineFeed& feed = *stray.worst;
  Finding f;
  f.line = feed.line;
  f.at_S = PlaceOf(in.job, feed.path_index);
  f.value = stray.worst_chip_mm;
  f.limit = stray.worst_least_mm;
  f.unit = "mm";
  f.text = fmt::format("At {} the feed falls to {:.1f} mm/s of {:.1f} mm/s: {:.3f} mm a tooth, less than the {:g} mm "
                       "that the cutter needs; held by {}.",
                       Lines(feed.line, feed.line), feed.lowest_mm_s, feed.written_mm_s, stray.worst_chip_mm,
                       stray.worst_least_mm, WordsFor(feed.hold));
  f.cause = "lines too short for the control, a corner, or a pose that asks much of one joint";
  return f;
}

}  // namespace

CheckResult CheckFeedHeld(const CheckInputs& in) {
  const kinematics::Motion& motion = in.run.motion;
  if (!motion.complete()) return NotFollowed(in.run);
  const Lengths lengths = LengthsOf(motion.line_feeds);
  if (!(lengths.cut_mm > 0.0 && std::isfinite(lengths.slow_mm))) {
    return Unproven("The path has no cut at a feed, so nothing can be held.", {"cut moves with a feed"});
  }
  const double held = 100.0 * (1.0 - lengths.slow_mm / lengths.cut_mm);
  CheckResult r = Measured({held, 0.0, kHeldPercent, Sense::kAtLeast, "%"});
  r.assumed = true;
  r.why = fmt::format("The control, as modelled, holds 90 % of the written feed or more on {:.0f} % of the cut", held);
  r.why += lengths.slow_mm > 0.0 ? "; the rest is held back by " + Reasons(lengths) + "." : ".";
  if (r.result != Result::kFail) return r;
  const Stray stray = StrayOf(in);
  if (stray.worst != nullptr && 100.0 * stray.length_mm > kStrayPercent * lengths.cut_mm) {
    r.result = Result::kFail;
    r.findings = {FindingOf(in, stray)};
    r.why += " " + r.findings.front().text;
  } else if (!stray.known) {
    r.result = Result::kUnproven;
    r.needs = {"`cutters.N.chip_load`: the least and the largest feed per tooth"};
  } else {
    r.result = Result::kPass;
    r.why += " The chip stays in its range.";
  }
  return r;
}

}  // namespace aircut::verify
