#include "sim/yaml_reader.h"

#include <algorithm>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/nearest_word.h"

namespace aircut::sim {
namespace {

constexpr double kUnitQuaternion_tolerance = 1e-6;

std::string Joined(const std::vector<std::string>& words) {
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i) {
    text += (i == 0 ? "" : i + 1 == words.size() ? " or " : ", ") + words[i];
  }
  return text;
}

std::string KindWord(const YamlNode& node) {
  switch (node.kind) {
    case YamlNode::Kind::kNull: return "nothing";
    case YamlNode::Kind::kSequence: return "a list";
    case YamlNode::Kind::kMap: return "a map";
    case YamlNode::Kind::kScalar: break;
  }
  return fmt::format("{:.60}", node.scalar);
}

std::string BoundWords(const Bound& bound, std::string_view unit) {
  const double none = std::numeric_limits<double>::max();
  const std::string suffix = unit.empty() ? "" : fmt::format(" {}", unit);
  const bool has_low = bound.low > -none;
  const bool has_high = bound.high < none;
  if (has_low && has_high) {
    return fmt::format("must be {} {:.6g} and <= {:.6g}{}", bound.open_low ? ">" : ">=", bound.low,
                       bound.high, suffix);
  }
  if (has_low) return fmt::format("must be {} {:.6g}{}", bound.open_low ? ">" : ">=", bound.low, suffix);
  if (has_high) return fmt::format("must be <= {:.6g}{}", bound.high, suffix);
  return "must be a finite number";
}

// `cutters.12.holder[3]` -> `cutters.N.holder[]`: the key whatever its place.
std::string Generic(std::string_view path) {
  std::string out;
  bool in_part = false;   // past the first character of a part between dots
  for (std::size_t i = 0; i < path.size(); ++i) {
    const std::size_t end = std::min(path.find_first_not_of("0123456789", i), path.size());
    const bool ends_part = end == path.size() || path[end] == '.' || path[end] == '[' || path[end] == ']';
    if (end > i && !in_part && ends_part) {
      if (i == 0 || path[i - 1] != '[') out += 'N';
      i = end - 1;
      continue;
    }
    in_part = path[i] != '.' && path[i] != '[';
    out += path[i];
  }
  return out;
}

std::string Below(const std::string& path, const std::string& key) {
  return path.empty() ? key : path + "." + key;
}

}  // namespace

Bound Bound::Any(std::string mend) {
  Bound bound;
  bound.mend = std::move(mend);
  return bound;
}

Bound Bound::Positive(std::string mend, double high) {
  Bound bound;
  bound.low = 0.0;
  bound.open_low = true;
  bound.high = high;
  bound.mend = std::move(mend);
  return bound;
}

Bound Bound::Within(double low, double high, std::string mend) {
  Bound bound;
  bound.low = low;
  bound.high = high;
  bound.mend = std::move(mend);
  return bound;
}

void YamlValue::Fail(const std::string& what) const {
  throw InputError(fmt::format("{}:{}: {}{}{}", file_->label, node_->line, path_,
                               path_.empty() ? "" : " ", what));
}

std::string YamlValue::Text() const {
  if (!IsScalar() || node_->scalar.empty()) {
    Fail(fmt::format("= {} must be a text: write a word or a line", KindWord(*node_)));
  }
  return node_->scalar;
}

std::string YamlValue::Word(const std::vector<std::string>& words) const {
  if (!IsScalar() || std::find(words.begin(), words.end(), node_->scalar) == words.end()) {
    Fail(fmt::format("= {} must be {}: write one of these words", KindWord(*node_), Joined(words)));
  }
  return node_->scalar;
}

bool YamlValue::IsNone() const { return IsScalar() && !node_->quoted && node_->scalar == "none"; }

double YamlValue::PlainNumber() const {
  if (!IsScalar() || node_->quoted) {
    Fail(fmt::format("= {} must be a number: write it plainly, without quotes or brackets", KindWord(*node_)));
  }
  std::string_view digits = node_->scalar;
  if (digits.size() > 1 && digits.front() == '+' && digits[1] != '-') digits.remove_prefix(1);
  double value = 0.0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  const bool is_number = error == std::errc() && end == digits.data() + digits.size();
  const bool is_special = node_->scalar == ".nan" || node_->scalar == ".NaN" || node_->scalar == ".NAN" ||
                          node_->scalar == ".inf" || node_->scalar == "-.inf";
  if (is_special || (is_number && !std::isfinite(value)) || error == std::errc::result_out_of_range) {
    Fail(fmt::format("= {} must be a finite number: write the value", KindWord(*node_)));
  }
  if (!is_number && digits.find(',') != std::string_view::npos) {
    Fail(fmt::format("= {} must be a number: write a decimal point, not a comma", KindWord(*node_)));
  }
  if (!is_number) Fail(fmt::format("= {} must be a number: write digits only", KindWord(*node_)));
  return value;
}

double YamlValue::Scaled(double factor, std::string_view unit, const Bound& bound) const {
  const double value = PlainNumber() * factor;
  const bool is_low_enough = bound.open_low ? value > bound.low : value >= bound.low;
  if (!(is_low_enough && value <= bound.high)) {
    const std::string converted = factor == 1.0 ? "" : fmt::format(" ({:.6g} {})", value, unit);
    Fail(fmt::format("= {}{} {}: {}", node_->scalar, converted, BoundWords(bound, unit), bound.mend));
  }
  return value;
}

int YamlValue::Integer(int low, int high, const std::string& mend) const {
  const double value = Scaled(1.0, "", Bound::Within(low, high, mend));
  if (value != std::floor(value)) Fail(fmt::format("= {} must be a whole number: {}", node_->scalar, mend));
  return static_cast<int>(value);
}

double YamlValue::Number(const Bound& bound) const { return Scaled(1.0, "", bound); }
double YamlValue::Length_mm(const Bound& bound) const { return Scaled(file_->units.length_mm, "mm", bound); }

double YamlValue::Angle_rad(const Bound& bound) const { return Scaled(file_->units.angle_rad, "rad", bound); }

double YamlValue::Feed_mm_s(const Bound& bound) const {
  if (!file_->units.feed_mm_s) {
    Fail("cannot be read: units.feed is missing: write units: {feed: mm/min} (or mm/s, in/min)");
  }
  return Scaled(*file_->units.feed_mm_s, "mm/s", bound);
}

std::vector<YamlValue> YamlValue::Items(std::optional<std::size_t> count) const {
  if (node_->kind != YamlNode::Kind::kSequence) {
    Fail(fmt::format("= {} must be a list: write [..]", KindWord(*node_)));
  }
  if (count && node_->items.size() != *count) {
    Fail(fmt::format("has {} {}, must have {}: write all of them", node_->items.size(),
                     node_->items.size() == 1 ? "value" : "values", *count));
  }
  std::vector<YamlValue> items;
  for (std::size_t i = 0; i < node_->items.size(); ++i) {
    items.emplace_back(*file_, node_->items[i], fmt::format("{}[{}]", path_, i + 1));
  }
  return items;
}

Eigen::Vector3d YamlValue::Point_mm() const {
  const std::vector<YamlValue> items = Items(3);
  Eigen::Vector3d p;
  for (std::size_t i = 0; i < 3; ++i) {
    p[static_cast<Eigen::Index>(i)] =
        items[i].Length_mm(Bound::Within(-1e6, 1e6, "write the place within a kilometre"));
  }
  return p;
}

Eigen::Vector3d YamlValue::Direction() const {
  const std::vector<YamlValue> items = Items(3);
  Eigen::Vector3d v;
  for (std::size_t i = 0; i < 3; ++i) {
    v[static_cast<Eigen::Index>(i)] = items[i].Number(Bound::Within(-1e6, 1e6, "write a direction"));
  }
  if (!(v.norm() > 1e-9)) Fail("= [0, 0, 0] has no direction: write a vector that is not zero");
  return v.normalized();
}

kinematics::Pose YamlValue::RigidPose() const { return Map({"position", "rotation"}).RigidPose(); }

Eigen::Matrix3d YamlValue::Rotation() const {
  const YamlMap map = Map({"axis", "angle", "quaternion", "angles", "order", "about"});
  const int forms = int{map.Has("axis")} + int{map.Has("quaternion")} + int{map.Has("angles")};
  if (forms != 1) {
    Fail("must have one of {axis, angle}, {quaternion} or {angles, order, about}: keep the one that is meant");
  }
  if (map.Has("angles")) return AnglesRotation(map);
  map.Refuse({"order", "about"}, "goes with angles only: take it out");
  if (map.Has("axis")) {
    const double angle_rad = map.At("angle", "write the angle about the axis").Angle_rad(
        Bound::Within(-8 * kinematics::kPi, 8 * kinematics::kPi, "write an angle of a few turns at most"));
    return Eigen::AngleAxisd(angle_rad, map.At("axis", "").Direction()).toRotationMatrix();
  }
  if (const auto stray = map.Find("angle")) stray->Fail("goes with axis only: take it out");
  const YamlValue quaternion = map.At("quaternion", "");
  const YamlMap parts = quaternion.Map({"w", "x", "y", "z"});
  const Bound part = Bound::Within(-2, 2, "normalise the quaternion");
  const Eigen::Quaterniond q(
      parts.At("w", "write w, x, y, z").Number(part), parts.At("x", "write w, x, y, z").Number(part),
      parts.At("y", "write w, x, y, z").Number(part), parts.At("z", "write w, x, y, z").Number(part));
  if (!(std::abs(q.norm() - 1.0) <= kUnitQuaternion_tolerance)) {
    quaternion.Fail(fmt::format("has length {:.7g}, must be 1 within {}: normalise it", q.norm(),
                                kUnitQuaternion_tolerance));
  }
  return q.normalized().toRotationMatrix();
}

Eigen::Matrix3d YamlValue::AnglesRotation(const YamlMap& map) const {
  if (const auto stray = map.Find("angle")) stray->Fail("goes with axis only: take it out");
  const std::vector<YamlValue> angles = map.At("angles", "").Items(3);
  const YamlValue order_value = map.At("order", "write the order of the axes, such as zyx");
  const std::string order = order_value.Text();
  const bool is_order = order.size() == 3 && order.find_first_not_of("xyz") == std::string::npos &&
                        order[0] != order[1] && order[1] != order[2];
  if (!is_order) {
    order_value.Fail(fmt::format("= {:.40} must be three of x, y, z, no two neighbours alike: write it such "
                                 "as zyx", order));
  }
  const bool about_moving =
      map.At("about", "write about: moving or about: fixed").Word({"moving", "fixed"}) == "moving";
  Eigen::Matrix3d R = Eigen::Matrix3d::Identity();
  for (std::size_t i = 0; i < 3; ++i) {
    const double angle_rad = angles[i].Angle_rad(
        Bound::Within(-8 * kinematics::kPi, 8 * kinematics::kPi, "write an angle of a few turns at most"));
    const Eigen::Vector3d axis = Eigen::Vector3d::Unit(order[i] - 'x');
    const Eigen::Matrix3d turn = Eigen::AngleAxisd(angle_rad, axis).toRotationMatrix();
    R = about_moving ? Eigen::Matrix3d(R * turn) : Eigen::Matrix3d(turn * R);
  }
  return R;
}

YamlMap YamlValue::Map(const YamlKeys& keys) const { return YamlMap(*this, keys); }

bool YamlValue::Truth() const { return Word({"true", "false"}) == "true"; }

std::vector<YamlValue> YamlValue::ItemsOrNone() const {
  if (node_->kind != YamlNode::Kind::kSequence) {
    Fail(fmt::format("= {} must be none or a list: write none or [..]", KindWord(*node_)));
  }
  std::vector<YamlValue> items = Items();
  if (items.empty()) Fail("is empty: list what is there, or write none if nothing is");
  return items;
}

std::vector<std::pair<int, YamlValue>> YamlValue::NumberedEntries(int low, int high,
                                                                  const std::string& mend) const {
  if (!IsMap()) Fail(fmt::format("= {} must be a map: {}", KindWord(*node_), mend));
  std::vector<std::pair<int, YamlValue>> entries;
  for (const auto& [key, child] : node_->entries) {
    const YamlValue value(*file_, child, Below(path_, key));
    int number = 0;
    const auto [end, error] = std::from_chars(key.data(), key.data() + key.size(), number);
    if (error != std::errc() || end != key.data() + key.size() || number < low || number > high) {
      value.Fail(fmt::format("must be named by a whole number from {} to {}: {}", low, high, mend));
    }
    for (const auto& [earlier, ignored] : entries) {
      if (earlier == number) value.Fail(fmt::format("is a second {}: take one out", number));
    }
    entries.emplace_back(number, value);
  }
  return entries;
}

YamlMap::YamlMap(const YamlValue& value, const YamlKeys& keys) : value_(value) {
  const YamlNode& node = value.node();
  if (node.kind != YamlNode::Kind::kMap) {
    value.Fail(fmt::format("= {} must be a map: write {{key: value, ..}}", KindWord(node)));
  }
  for (const std::string& key : keys) value.file().known.insert(Generic(Below(value.path(), key)));
  for (const auto& [key, child] : node.entries) {
    if (std::find(keys.begin(), keys.end(), key) != keys.end()) continue;
    const YamlValue at(value.file(), child, Below(value.path(), key));
    at.Fail("is not a known key" + DidYouMean(key, keys) + ": mend the key or take it out");
  }
}

std::optional<YamlValue> YamlMap::Find(std::string_view key) const {
  for (const auto& [name, child] : value_.node().entries) {
    if (name == key) return YamlValue(value_.file(), child, Below(value_.path(), name));
  }
  return std::nullopt;
}

YamlValue YamlMap::At(std::string_view key, std::string_view mend) const {
  if (auto found = Find(key)) return *found;
  throw InputError(fmt::format("{}:{}: {} is missing: {}", value_.file().label, value_.line(),
                               Below(value_.path(), std::string(key)), mend));
}

kinematics::Pose YamlMap::RigidPose() const {
  const Eigen::Vector3d p = At("position", "write position: [x, y, z]").Point_mm();
  const Eigen::Matrix3d R =
      At("rotation", "write rotation: {axis: [0, 0, 1], angle: 0} if it is not turned").Rotation();
  return kinematics::MakePose(R, p);
}

void YamlMap::Refuse(const YamlKeys& keys, const std::string& why) const {
  for (const std::string& key : keys) {
    if (const auto stray = Find(key)) stray->Fail(why);
  }
}

void RequireKind(const YamlValue& top, const std::string& kind) {
  if (!top.IsMap()) {
    top.Fail(fmt::format("the file is {}, must be a map: write aircut: {} and the keys", KindWord(top.node()), kind));
  }
  for (const auto& [key, child] : top.node().entries) {
    if (key != "aircut") continue;
    const YamlValue value(top.file(), child, key);
    if (value.Text() != kind) {
      value.Fail(fmt::format("= {:.40} must be {}: name a {} file", value.Text(), kind,
                             kind.substr(0, kind.find('/'))));
    }
    return;
  }
  top.Fail(fmt::format("aircut is missing: write aircut: {} as the first line", kind));
}

void ReadUnits(const YamlMap& top) {
  const YamlMap units = top.At("units", "write units: {length: mm, angle: deg}")
                            .Map({"length", "angle", "feed"});
  FileUnits& of_file = top.value().file().units;
  const std::string length =
      units.At("length", "write length: mm or length: in").Word({"mm", "in"});
  of_file.length_mm = length == "mm" ? 1.0 : kinematics::MmFromInch(1.0);
  const std::string angle = units.At("angle", "write angle: deg or angle: rad").Word({"deg", "rad"});
  of_file.angle_rad = angle == "deg" ? kinematics::RadFromDeg(1.0) : 1.0;
  if (const auto feed = units.Find("feed")) {
    const std::string word = feed->Word({"mm/min", "mm/s", "in/min"});
    of_file.feed_mm_s = word == "mm/s"     ? 1.0
                        : word == "mm/min" ? kinematics::MmPerSecFromMmPerMin(1.0)
                                           : kinematics::MmPerSecFromMmPerMin(kinematics::MmFromInch(1.0));
  }
}

}  // namespace aircut::sim
