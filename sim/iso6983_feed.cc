#include "sim/iso6983_feed.h"

#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/path_fault.h"

namespace aircut::sim {
namespace {

constexpr double kMaxFeed_mm_s = 1e5;
constexpr double kMaxDuration_s = 1e6;
// For a cut that moves nothing: a feed must be > 0, and the written time rules.
constexpr double kFeedWithoutTravel_mm_s = 1.0;

}  // namespace

void IsoFeed::Take(const IsoBlock& block) {
  if (block.HasCode(IsoGroup::kFeedMode)) {
    const int mode = block.Code(IsoGroup::kFeedMode).number;
    if (mode != mode_) value_.reset();
    mode_ = mode;
  }
  if (!block.Has('F')) return;
  if (mode_ == 0) {
    throw PathFault("what F means is not said: G93, G94 or G95 must stand before the first F, or under path.modal");
  }
  if (!(block['F'] > 0)) throw PathFault(fmt::format("F = {} must be > 0: write the feed", block['F']));
  value_ = block['F'];
  has_seen_f_ = true;
}

IsoPace IsoFeed::InverseTime(const IsoBlock& block, const IsoTravel& travel) const {
  if (!block.Has('F')) {
    throw PathFault("F is missing: under G93 every cut must give its own F, 1 / its time in minutes");
  }
  const double duration_s = 60.0 / block['F'];
  const double feed_mm_s = travel.stock_mm > 0 ? travel.stock_mm / duration_s : kFeedWithoutTravel_mm_s;
  if (!(duration_s <= kMaxDuration_s && feed_mm_s <= kMaxFeed_mm_s)) {
    throw PathFault(fmt::format("F = {} under G93 gives {:.6g} s and {:.6g} mm/s, must be at most {} s and {} mm/s: "
                                "F is 1 / the time in minutes",
                                block['F'], duration_s, feed_mm_s, kMaxDuration_s, kMaxFeed_mm_s));
  }
  return {feed_mm_s, duration_s};
}

IsoPace IsoFeed::PaceOf(const IsoBlock& block, const IsoTravel& travel, double scale_mm, double spindle_rpm) const {
  if (IsInverseTime()) return InverseTime(block, travel);
  if (!value_ && !has_seen_f_ && default_mm_s_) return {*default_mm_s_, std::nullopt};
  if (!value_) {
    throw PathFault(has_seen_f_ ? "the feed of this cut is missing: F must be given anew after the units or G93 to G95 change"
                                : "the feed of this cut is missing: F must stand before it, or path.feed in the job");
  }
  const bool is_per_turn = mode_ == 95;
  if (is_per_turn && spindle_rpm == 0) {
    throw PathFault("the feed a turn (G95) needs a turning spindle: write S and M03 or M04 before the cut");
  }
  const double feed_mm_s = *value_ * scale_mm / 60.0 * (is_per_turn ? std::abs(spindle_rpm) : 1.0);
  if (!(feed_mm_s <= kMaxFeed_mm_s)) {
    throw PathFault(fmt::format("F = {} gives {:.6g} mm/s, must be at most {} mm/s: mend the value or the units", *value_,
                                feed_mm_s, kMaxFeed_mm_s));
  }
  if (!(travel.turn_deg > 0)) return {feed_mm_s, std::nullopt};
  if (travel.words_mm > 0) {
    // The words' own travel sets the time; where the work turns, S sees another length.
    if (travel.stock_mm == travel.words_mm || !(travel.stock_mm > 0)) return {feed_mm_s, std::nullopt};
    const double duration_s = travel.words_mm / feed_mm_s;
    return {travel.stock_mm / duration_s, duration_s};
  }
  if (is_per_turn) throw PathFault("a move of rotary words alone has no feed a turn (G95): write G93 or G94");
  const double duration_s = travel.turn_deg / (*value_ / 60.0);
  return {travel.stock_mm > 0 ? travel.stock_mm / duration_s : feed_mm_s, duration_s};
}

}  // namespace aircut::sim
