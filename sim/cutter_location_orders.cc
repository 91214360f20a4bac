#include "sim/cutter_location_orders.h"

#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/path_limits.h"

namespace aircut::sim {
namespace {

using Statement = CutterLocationStatements;

constexpr double kMaxMovesPerMinute = 1e9;
constexpr double kMaxTool = 9999;

bool LooksLikeNumber(std::string_view text) {
  return !text.empty() && (text.find_first_of("0123456789") != std::string_view::npos);
}

// Index of the argument that is a number; fails unless there is exactly one.
std::size_t OnlyNumber(const Statement& statement, std::string_view form) {
  std::optional<std::size_t> found;
  for (std::size_t i = 0; i < statement.arguments().size(); ++i) {
    if (!LooksLikeNumber(statement.arguments()[i])) continue;
    if (found) {
      statement.Fail(fmt::format(
          "{} has more than one number, must be written as {}: mend the statement (decimals "
          "need a point, 1.5 and not 1,5)",
          statement.major(), form));
    }
    found = i;
  }
  if (!found)
    statement.Fail(fmt::format("{} has no number, must be written as {}: mend the statement",
                               statement.major(), form));
  return *found;
}

std::string_view OnlyWord(const Statement& statement, std::string_view form) {
  if (statement.arguments().size() == 1 && !LooksLikeNumber(statement.arguments()[0]))
    return statement.arguments()[0];
  statement.Fail(
      fmt::format("{} must be written as {}: mend the statement", statement.major(), form));
}

constexpr char kFeedForm[] = "FEDRAT/f,MMPM (or MMPR, IPM, IPR, INVERS)";
constexpr char kSpindleForm[] = "SPINDL/s,RPM,CLW (or CCLW), SPINDL/ON or SPINDL/OFF";

FeedOrder FeedIn(const Statement& statement, std::string_view unit, double value) {
  using Unit = FeedOrder::Unit;
  if (unit == "MMPM") return {Unit::kMmPerSecond, kinematics::MmPerSecFromMmPerMin(value)};
  if (unit == "IPM")
    return {Unit::kMmPerSecond, kinematics::MmPerSecFromMmPerMin(kinematics::MmFromInch(value))};
  if (unit == "MMPR") return {Unit::kMmPerTurn, value};
  if (unit == "IPR") return {Unit::kMmPerTurn, kinematics::MmFromInch(value)};
  if (unit == "INVERS") return {Unit::kMovesPerMinute, value};
  statement.Fail(fmt::format(
      "FEDRAT: unit {:.40} is not known, must be MMPM, MMPR, IPM, IPR or INVERS: mend the word",
      unit));
}

}  // namespace

FeedOrder ReadFeedOrder(const Statement& statement) {
  const std::size_t at = OnlyNumber(statement, kFeedForm);
  if (statement.arguments().size() == 1) {
    statement.Fail(
        fmt::format("the unit of the feed is missing, must be written as {}: add it", kFeedForm));
  }
  statement.RequireCount(2, kFeedForm);
  const double value = statement.Number(at);
  const FeedOrder order = FeedIn(statement, statement.arguments()[1 - at], value);
  const double largest =
      order.unit == FeedOrder::Unit::kMovesPerMinute ? kMaxMovesPerMinute : kMaxFeed_mm_s;
  if (!(order.value > 0 && order.value <= largest)) {
    statement.Fail(fmt::format("FEDRAT = {} must be > 0 and plausible: mend the feed", value));
  }
  return order;
}

SpindleOrder ReadSpindleOrder(const Statement& statement) {
  const auto& words = statement.arguments();
  if (words.size() == 1 && words[0] == "ON") return {SpindleOrder::What::kOn, 0.0};
  if (words.size() == 1 && words[0] == "OFF") return {SpindleOrder::What::kOff, 0.0};
  const std::size_t at = OnlyNumber(statement, kSpindleForm);
  bool has_unit = false;
  std::optional<double> turn;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i == at) continue;
    const bool is_turn = words[i] == "CLW" || words[i] == "CCLW";
    if (is_turn ? turn.has_value() : (words[i] != "RPM" || has_unit)) {
      statement.Fail(fmt::format(
          "SPINDL: {:.40} is not known or given twice, must be written as {}: mend the statement",
          words[i], kSpindleForm));
    }
    if (is_turn) turn = words[i] == "CLW" ? 1.0 : -1.0;
    has_unit = has_unit || words[i] == "RPM";
  }
  if (!has_unit)
    statement.Fail(fmt::format("the unit of the speed is missing, must be written as {}: add RPM",
                               kSpindleForm));
  if (!turn)
    statement.Fail(fmt::format(
        "the way the spindle turns is missing, must be written as {}: add it", kSpindleForm));
  const double speed_rpm = statement.Number(at);
  if (!(speed_rpm > 0 && speed_rpm <= kMaxSpeed_rpm)) {
    statement.Fail(fmt::format("SPINDL = {} must be > 0 rpm and <= {}: write SPINDL/OFF to stop it",
                               speed_rpm, kMaxSpeed_rpm));
  }
  return {SpindleOrder::What::kSpeed, *turn * speed_rpm};
}

ToolOrder ReadToolOrder(const Statement& statement) {
  const std::string form = fmt::format("{0}/n or {0}/n,LENGTH,l", statement.major());
  const auto& words = statement.arguments();
  const bool has_length = words.size() == 3 && words[1] == "LENGTH";
  if (words.size() != 1 && !has_length) {
    statement.Fail(
        fmt::format("{} must be written as {}: mend the statement", statement.major(), form));
  }
  const double number = statement.Number(0);
  if (!(number >= 0 && number <= kMaxTool) || number != std::floor(number)) {
    statement.Fail(
        fmt::format("{} = {} must be the whole number of a cutter in the cell: mend the number",
                    statement.major(), number));
  }
  ToolOrder order;
  order.tool = static_cast<int>(number);
  if (has_length) {
    order.length = statement.Number(2);
    if (!(*order.length > 0 && *order.length <= kMaxPlace_mm)) {
      statement.Fail(fmt::format("{}: LENGTH = {} must be > 0: write the length of the cutter",
                                 statement.major(), *order.length));
    }
  }
  return order;
}

std::array<double, 7> ReadCutterShape(const Statement& statement, double mm_per_unit) {
  const std::size_t count = statement.arguments().size();
  if (count != 1 && count != 2)
    statement.RequireCount(7, "CUTTER/d,r,e,f,alpha,beta,h (or CUTTER/d or CUTTER/d,r)");
  std::array<double, 7> shape{};
  for (std::size_t i = 0; i < count; ++i) {
    const double value = statement.Number(i);
    shape[i] = i == 4 || i == 5 ? kinematics::RadFromDeg(value) : value * mm_per_unit;
    if (!(std::abs(shape[i]) <= kMaxPlace_mm))
      statement.Fail(
          fmt::format("CUTTER: argument {} = {} is too large: mend the value", i + 1, value));
  }
  if (count < 7) {
    shape[2] = 0.5 * shape[0] - shape[1];
    shape[3] = shape[1];
  }
  const double square = 0.5 * kinematics::kPi;
  if (!(shape[0] > 0 && shape[1] >= 0 && shape[6] >= 0)) {
    statement.Fail(
        "CUTTER: the diameter must be > 0, the corner radius and the height >= 0: mend the values");
  }
  if (count == 2 && !(shape[2] >= 0)) {
    statement.Fail(
        fmt::format("CUTTER: corner radius {} must be <= half the diameter {}: mend the values",
                    statement.Number(1), statement.Number(0)));
  }
  if (!(std::abs(shape[4]) < square && std::abs(shape[5]) < square)) {
    statement.Fail(
        "CUTTER: the angles alpha and beta must lie within +-90 degrees: mend the values");
  }
  return shape;
}

double ReadDelay(const Statement& statement) {
  statement.RequireCount(1, "DELAY/seconds");
  const double time_s = statement.Number(0);
  if (!(time_s >= 0 && time_s <= kMaxDwell_s)) {
    statement.Fail(
        fmt::format("DELAY = {} must be within 0 and {} s: mend the time", time_s, kMaxDwell_s));
  }
  return time_s;
}

double ReadCoolant(const Statement& statement) {
  const std::string_view word = OnlyWord(statement, "COOLNT/ON, FLOOD, MIST or OFF");
  if (word == "ON" || word == "FLOOD" || word == "MIST") return 1.0;
  if (word == "OFF") return 0.0;
  statement.Fail(fmt::format(
      "COOLNT: {:.40} is not known, must be ON, FLOOD, MIST or OFF: mend the word", word));
}

}  // namespace aircut::sim
