#pragma once

#include <cstdint>
#include <filesystem>
#include <initializer_list>
#include <limits>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include "kinematics/frame.h"
#include "sim/cell.h"

namespace aircut::sim {

/// One node of a parsed YAML text, free of the library that parsed it.
struct YamlNode {
  enum class Kind { kNull, kScalar, kSequence, kMap } kind = Kind::kNull;
  int line = 0;                                   ///< from 1
  std::string scalar;
  bool quoted = false;
  std::vector<YamlNode> items;                    ///< of a sequence
  std::vector<std::pair<std::string, YamlNode>> entries;   ///< of a map, in file order
};

/// Bounds that keep a hostile text harmless.
struct YamlLimits {
  std::int64_t max_bytes = std::int64_t{8} << 20;
  std::int64_t max_nodes = 100'000;   ///< with every alias counted as often as it is used
  int max_depth = 40;
};

/// Parses one YAML document. Keys of a map must be scalars and differ.
/// @param label how messages name the file.
/// @throws InputError naming file and line.
YamlNode ParseYaml(const std::string& label, const std::string& text, const YamlLimits& limits = {});

/// Units that a file declares: factors from its numbers to mm, rad, mm/s.
struct FileUnits {
  double length_mm = 1.0;
  double angle_rad = 1.0;
  std::optional<double> feed_mm_s;
};

/// A YAML file being read: what its values need to know.
struct YamlFile {
  std::string label;               ///< as messages name it
  std::string name;                ///< as the report names it
  FileUnits units;
  /// Dotted path of every key that the maps met so far may hold, with `[]` for
  /// the place in a list and `N` for a number that the user chose.
  std::set<std::string> known;
};

/// What a number must satisfy, in the unit it is read in (mm, rad, ...).
struct Bound {
  double low = -std::numeric_limits<double>::max();
  double high = std::numeric_limits<double>::max();
  bool open_low = false;           ///< `low` itself is not allowed
  std::string mend;                ///< what to do about it

  static Bound Any(std::string mend = "write a number");
  static Bound Positive(std::string mend, double high = std::numeric_limits<double>::max());
  static Bound Within(double low, double high, std::string mend);
};

/// Keys that a map may hold.
using YamlKeys = std::vector<std::string>;

class YamlMap;

/// A value at its place: node, file and dotted path. Cheap to copy; the file
/// and the node must outlive it. Every getter throws InputError with place,
/// path, value, bound and mend.
class YamlValue {
 public:
  YamlValue(YamlFile& file, const YamlNode& node, std::string path)
      : file_(&file), node_(&node), path_(std::move(path)) {}

  std::string Text() const;
  /// One of `words`.
  std::string Word(const std::vector<std::string>& words) const;
  int Integer(int low, int high, const std::string& mend) const;
  /// A number in its own unit, or a pure one.
  double Number(const Bound& bound) const;
  double Length_mm(const Bound& bound) const;
  double Angle_rad(const Bound& bound) const;
  double Feed_mm_s(const Bound& bound) const;
  /// A sequence of `count` values, or of any number of them.
  std::vector<YamlValue> Items(std::optional<std::size_t> count = std::nullopt) const;
  Eigen::Vector3d Point_mm() const;
  /// All entries of a map whose keys are whole numbers of the user's own, from
  /// `low` to `high`, in file order. @param mend what to write.
  std::vector<std::pair<int, YamlValue>> NumberedEntries(int low, int high, const std::string& mend) const;
  /// Three numbers that are not all zero. @returns the unit vector.
  Eigen::Vector3d Direction() const;
  /// A map of {position, rotation} alone; see design.md section 5 for the forms.
  kinematics::Pose RigidPose() const;
  /// The value of a key `rotation`.
  Eigen::Matrix3d Rotation() const;
  YamlMap Map(const YamlKeys& keys) const;

  bool IsMap() const { return node_->kind == YamlNode::Kind::kMap; }
  bool IsScalar() const { return node_->kind == YamlNode::Kind::kScalar; }
  /// True for the plain word `none`.
  bool IsNone() const;
  /// One of the plain words true and false.
  bool Truth() const;
  /// Items() of a list that must not be empty: `none` says that there are none.
  std::vector<YamlValue> ItemsOrNone() const;

  /// `file:line: path` followed by the text.
  [[noreturn]] void Fail(const std::string& what) const;
  const std::string& path() const { return path_; }
  const YamlNode& node() const { return *node_; }
  YamlFile& file() const { return *file_; }
  int line() const { return node_->line; }

 private:
  double PlainNumber() const;
  double Scaled(double factor, std::string_view unit, const Bound& bound) const;
  Eigen::Matrix3d AnglesRotation(const YamlMap& map) const;

  YamlFile* file_;
  const YamlNode* node_;
  std::string path_;
};

/// A map whose keys have been checked.
class YamlMap {
 public:
  /// @throws InputError for a key that is not known, suggesting the nearest.
  YamlMap(const YamlValue& value, const YamlKeys& keys);

  bool Has(std::string_view key) const { return Find(key).has_value(); }
  std::optional<YamlValue> Find(std::string_view key) const;
  /// Refuses the keys if they are there: `why` follows the key, such as
  /// `goes with shape v only: take it out`.
  void Refuse(const YamlKeys& keys, const std::string& why) const;
  /// @throws InputError if the key is missing: `mend` says what to write.
  YamlValue At(std::string_view key, std::string_view mend) const;
  /// {position, rotation} among the keys of this map; see design.md section 5 for
  /// the forms of rotation.
  kinematics::Pose RigidPose() const;
  const YamlValue& value() const { return value_; }

 private:
  YamlValue value_;
};

/// @throws InputError unless the top map says `aircut: kind`, such as `cell/1`;
/// asked before its keys are judged.
void RequireKind(const YamlValue& top, const std::string& kind);

/// Reads `units: {length:, angle:, feed:}` of a file's top map into the file.
void ReadUnits(const YamlMap& top);

}  // namespace aircut::sim
