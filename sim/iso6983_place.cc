#include "sim/iso6983_place.h"

#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/path_fault.h"

namespace aircut::sim {
namespace {

// Coordinates that may be known: X Y Z, A B C, and the tool axis as one.
constexpr std::string_view kTurnLetters = "ABC";
constexpr unsigned kAxisBit = 1u << 6;
constexpr double kMaxPlace_mm = 1e6;
constexpr double kMaxTurn_deg = 1e6;
constexpr double kUnitLength_tolerance = 1e-6;
// A vector this close to unit length is taken as written, so that it is read back
// to the last bit.
constexpr double kUnitLength_rounding = 4 * std::numeric_limits<double>::epsilon();

unsigned PlaceBit(int i) { return 1u << i; }
unsigned TurnBit(int i) { return 1u << (3 + i); }
char PlaceLetter(int i) { return static_cast<char>('X' + i); }
char TurnLetter(int i) { return static_cast<char>('A' + i); }

}  // namespace

IsoPlace::IsoPlace(const PathRules& rules) : rules_(rules) {
  if (!rules.rotary) return;
  order_ = rules.rotary->order;
  turns_work_ = rules.rotary->turns == RotaryRule::Turns::kWork;
  vector_words_ = order_.empty();
  for (std::size_t i = 0; i < order_.size(); ++i) {
    if (kTurnLetters.find(order_[i]) == std::string_view::npos || order_.find(order_[i]) != i) {
      throw PathFault(fmt::format("path.rotary.order = {:.20} must hold A, B and C at most once each, from the base "
                                  "outwards, or nothing for vector words: mend the order",
                                  order_));
    }
  }
  if (vector_words_ && turns_work_) {
    throw PathFault("path.rotary.turns = work must come with an order of A, B, C: vector words give the tool axis");
  }
}

void IsoPlace::RequireRotary(char letter) const {
  if (!rules_.rotary) {
    throw PathFault(fmt::format("{} turns a rotary axis, whose meaning differs between machines: give path.rotary with "
                                "its order and what turns in the job",
                                letter));
  }
  if (order_.find(letter) == std::string::npos) {
    throw PathFault(fmt::format("{} is not in path.rotary.order = {}: add it at its place, or take the word out", letter,
                                order_.empty() ? "(vector words)" : order_));
  }
}

void IsoPlace::TakeAxis(const IsoBlock& block, IsoPoint& point) const {
  if (!block.HasAny("IJK")) return;
  if (!vector_words_) {
    throw PathFault("I J K stand in a straight move: they give the tool axis only if path.rotary with an empty order "
                    "says so in the job");
  }
  if (!(block.Has('I') && block.Has('J') && block.Has('K'))) {
    throw PathFault("the tool axis must be given by I, J and K together: write all three");
  }
  const Eigen::Vector3d axis(block['I'], block['J'], block['K']);
  const double length = axis.norm();
  if (!(std::abs(length - 1.0) <= kUnitLength_tolerance)) {
    throw PathFault(fmt::format("tool axis I J K = ({}, {}, {}) has length {:.7g}, must be 1 within {}: normalise it",
                                axis.x(), axis.y(), axis.z(), length, kUnitLength_tolerance));
  }
  point.axis = std::abs(length - 1.0) <= kUnitLength_rounding ? axis : Eigen::Vector3d(axis / length);
}

IsoPoint IsoPlace::TakeWords(const IsoBlock& block, double scale_mm, IsoDistance distance) const {
  IsoPoint point = point_;
  const bool is_incremental = distance == IsoDistance::kIncremental;
  for (int i = 0; i < 3; ++i) {
    const char letter = PlaceLetter(i);
    if (!block.Has(letter)) continue;
    if (is_incremental && (known_ & PlaceBit(i)) == 0) RequireKnown(block);
    point.p_mm[i] = (is_incremental ? point_.p_mm[i] : 0.0) + block[letter] * scale_mm;
    if (!(std::abs(point.p_mm[i]) <= kMaxPlace_mm)) {
      throw PathFault(fmt::format("{} = {} leads to {} mm, must lie within +-{} mm: mend the value or the units", letter,
                                  block[letter], point.p_mm[i], kMaxPlace_mm));
    }
  }
  if (!block.HasAny(kTurnLetters)) return point;
  for (int i = 0; i < 3; ++i) {
    const char letter = TurnLetter(i);
    if (!block.Has(letter)) continue;
    RequireRotary(letter);
    if (is_incremental && (known_ & TurnBit(i)) == 0) RequireKnown(block);
    point.turn_deg[i] = (is_incremental ? point_.turn_deg[i] : 0.0) + block[letter];
    if (!(std::abs(point.turn_deg[i]) <= kMaxTurn_deg)) {
      throw PathFault(fmt::format("{} = {} leads to {} degrees, must lie within +-{}: mend the value", letter,
                                  block[letter], point.turn_deg[i], kMaxTurn_deg));
    }
  }
  return point;
}

void IsoPlace::RequireKnown(const IsoBlock& block) const {
  for (int i = 0; i < 3 + static_cast<int>(order_.size()); ++i) {
    const int letter = i < 3 ? i : 3 + static_cast<int>(kTurnLetters.find(order_[static_cast<std::size_t>(i - 3)]));
    if ((known_ & PlaceBit(letter)) != 0) continue;
    const char name = letter < 3 ? PlaceLetter(letter) : TurnLetter(letter - 3);
    throw PathFault(fmt::format("{} is not known here: the first move {} must give {} by absolute coordinates (G90); "
                                "{}",
                                name, lost_after_.empty() ? std::string("of the path") : "after " + lost_after_, name,
                                lost_after_.empty() ? "or say where the path starts under path.modal, e.g. X0 Y0 Z300"
                                                    : "add the word to that block"));
  }
  if (vector_words_ && (known_ & kAxisBit) == 0 && !block.HasAny("IJK")) {
    throw PathFault("the tool axis is not known here: the first move must give I, J and K");
  }
}

IsoPoint IsoPlace::StraightTarget(const IsoBlock& block, double scale_mm, IsoDistance distance) const {
  IsoPoint point = TakeWords(block, scale_mm, distance);
  TakeAxis(block, point);
  if (!IsKnown()) {
    IsoPlace after = *this;
    after.Declare(block, scale_mm);
    after.RequireKnown(block);
  }
  return point;
}

IsoPoint IsoPlace::ArcTarget(const IsoBlock& block, double scale_mm, IsoDistance distance) const {
  if (!IsKnown()) RequireKnown(IsoBlock{});
  const IsoPoint point = TakeWords(block, scale_mm, distance);
  if (point.turn_deg != point_.turn_deg) {
    throw PathFault("an arc turns a rotary axis, which leaves open what curve is meant: write short G01 moves");
  }
  return point;
}

void IsoPlace::MoveTo(const IsoPoint& point) {
  point_ = point;
  known_ = ~0u;
}

void IsoPlace::Declare(const IsoBlock& block, double scale_mm) {
  IsoPoint point = TakeWords(block, scale_mm, IsoDistance::kAbsolute);
  TakeAxis(block, point);
  point_ = point;
  for (int i = 0; i < 3; ++i) {
    if (block.Has(PlaceLetter(i))) known_ |= PlaceBit(i);
    if (block.Has(TurnLetter(i))) known_ |= TurnBit(i);
  }
  if (block.HasAny("IJK")) known_ |= kAxisBit;
}

void IsoPlace::Forget(Lost lost, std::string_view after) {
  lost_after_ = after;
  // Along a tilted axis a new length moves the point in all three directions.
  const bool is_upright = order_.empty() && !vector_words_;
  known_ = lost == Lost::kEverything ? 0u : known_ & (is_upright ? ~PlaceBit(2) : ~0b111u);
}

void IsoPlace::SetWorkOffset(int number) {
  if (work_offset_ == number) return;
  const auto found = rules_.work_offsets.find(number);
  if (found == rules_.work_offsets.end()) {
    throw PathFault(fmt::format("G{} needs the value of that work offset: give path.work_offsets.{} in the job", number,
                                number));
  }
  const kinematics::Pose X_S0 = found->second;
  if (!turns_work_ && (X_S0.linear() - X_S0_.linear()).isZero(0.0)) {
    // Nothing moves: the same place in the coordinates of the new zero.
    point_.p_mm += X_S0.linear().transpose() * (X_S0_.translation() - X_S0.translation());
  } else {
    Forget(Lost::kEverything, fmt::format("G{}", number));
  }
  X_S0_ = X_S0;
  work_offset_ = number;
}

bool IsoPlace::IsKnown() const {
  unsigned needed = 0b111u;
  for (const char letter : order_) needed |= TurnBit(letter - 'A');
  if (vector_words_) needed |= kAxisBit;
  return (known_ & needed) == needed;
}

Eigen::Matrix3d IsoPlace::Turn(const Eigen::Vector3d& turn_deg) const {
  Eigen::Matrix3d turn = Eigen::Matrix3d::Identity();
  for (const char letter : order_) {
    const int i = letter - 'A';
    turn = turn * Eigen::AngleAxisd(kinematics::RadFromDeg(turn_deg[i]), Eigen::Vector3d::Unit(i)).toRotationMatrix();
  }
  return turn;
}

IsoPose IsoPlace::InStock(const IsoPoint& point) const {
  if (!rules_.work_offsets.empty() && !work_offset_) {
    throw PathFault("path.work_offsets are given but none is in force: write G54 to G59 before the first move, or give "
                    "it under path.modal");
  }
  IsoPose pose{point.p_mm, point.axis, std::nullopt};
  if (!order_.empty()) {
    const Eigen::Matrix3d turn = Turn(point.turn_deg);
    pose.axis_S = turns_work_ ? Eigen::Vector3d(turn.row(2).transpose()) : Eigen::Vector3d(turn.col(2));
    if (turns_work_) pose.p_SQ = turn.transpose() * point.p_mm;
    if (order_.size() == kTurnLetters.size()) {
      pose.R_ST = turns_work_ ? Eigen::Matrix3d(turn.transpose()) : turn;
    }
  }
  if (!work_offset_) return pose;
  pose.p_SQ = X_S0_ * pose.p_SQ;
  pose.axis_S = X_S0_.linear() * pose.axis_S;
  if (pose.R_ST) pose.R_ST = X_S0_.linear() * *pose.R_ST;
  return pose;
}

}  // namespace aircut::sim
