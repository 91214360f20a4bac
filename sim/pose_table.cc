#include "sim/pose_table.h"

#include <array>
#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/csv_rows.h"
#include "sim/input_error.h"
#include "sim/path_limits.h"

namespace aircut::sim {
namespace {

using kinematics::MmFromInch;
using kinematics::MmPerSecFromMmPerMin;

enum Column { kX, kY, kZ, kI, kJ, kK, kQw, kQx, kQy, kQz, kFeed, kRpm, kTool, kMove, kDwell, kColumns };

constexpr std::array<std::string_view, kColumns> kNames = {
    "x", "y", "z", "i", "j", "k", "qw", "qx", "qy", "qz", "feed", "spindle_rpm", "tool", "move", "dwell_s"};

const std::vector<KnownColumn>& KnownColumns() {
  static const std::vector<KnownColumn> known = {
      {"x_mm", kX, 1.0},          {"y_mm", kY, 1.0},          {"z_mm", kZ, 1.0},
      {"x_in", kX, MmFromInch(1)}, {"y_in", kY, MmFromInch(1)}, {"z_in", kZ, MmFromInch(1)},
      {"i", kI, 1.0},             {"j", kJ, 1.0},             {"k", kK, 1.0},
      {"qw", kQw, 1.0},           {"qx", kQx, 1.0},           {"qy", kQy, 1.0},
      {"qz", kQz, 1.0},           {"feed_mm_min", kFeed, MmPerSecFromMmPerMin(1)},
      {"feed_in_min", kFeed, MmPerSecFromMmPerMin(MmFromInch(1))},
      {"feed_mm_s", kFeed, 1.0},  {"spindle_rpm", kRpm, 1.0}, {"tool", kTool, 1.0},
      {"move", kMove, 1.0},       {"dwell_s", kDwell, 1.0}};
  return known;
}

class PoseReader {
 public:
  PoseReader(const std::filesystem::path& file, const PathDefaults& defaults, const PathSink& sink)
      : rows_(file), defaults_(defaults), sink_(sink) {
    columns_ = ReadHeader(rows_, KnownColumns());
    for (std::size_t i = 0; i < columns_.size(); ++i) {
      place_[static_cast<std::size_t>(columns_[i].column)] = static_cast<int>(i);
    }
    CheckHeader();
  }

  void ReadAll() {
    while (rows_.Next()) {
      RequireFieldCount(rows_, columns_.size());
      HandOut(ReadRow(), Dwell());
    }
    if (count_ == 0) Fail("the path is empty: at least one pose line must follow the header");
  }

 private:
  [[noreturn]] void Fail(const std::string& what) const {
    throw InputError(rows_.Place() + ": " + what);
  }

  bool Has(Column column) const { return place_[column] >= 0; }
  std::string_view Field(Column column) const {
    return rows_.fields()[static_cast<std::size_t>(place_[column])];
  }
  double Scale(Column column) const { return columns_[static_cast<std::size_t>(place_[column])].scale; }

  // The value in inside units; refuses NaN and what no table can mean.
  double Value(Column column, double largest) const {
    const double value = NumberIn(rows_, kNames[column], Field(column)) * Scale(column);
    if (!(std::abs(value) <= largest)) {
      Fail(fmt::format("{} = {} must lie within +-{} (in mm, mm/s, rpm or s): mend the value",
                       kNames[column], Field(column), largest));
    }
    return value;
  }

  void CheckHeader() const {
    for (const Column column : {kX, kY, kZ}) {
      if (!Has(column)) {
        Fail(fmt::format("column {}_mm (or {}_in) is missing: the header must name x, y and z with their unit",
                         kNames[column], kNames[column]));
      }
    }
    if (Scale(kX) != Scale(kY) || Scale(kX) != Scale(kZ)) {
      Fail("x, y and z are in different units: give all three in mm or all three in inches");
    }
    const int axes = int{Has(kI)} + int{Has(kJ)} + int{Has(kK)};
    const int turns = int{Has(kQw)} + int{Has(kQx)} + int{Has(kQy)} + int{Has(kQz)};
    if (axes > 0 && turns > 0) {
      Fail("i,j,k and qw,qx,qy,qz are both given: keep the one that is meant");
    }
    if (!(axes == 3 || turns == 4)) {
      Fail("the orientation is missing: give the tool axis i,j,k (tip to spindle) or the turn qw,qx,qy,qz");
    }
  }

  void Tell(PathEventKind kind, double value) const {
    PathEvent event;
    event.kind = kind;
    event.line = rows_.line();
    event.before = count_;
    event.value = value;
    sink_.event(event);
  }

  void HandOut(const PoseRow& row, double dwell_s) {
    if (tool_ != row.tool) Tell(PathEventKind::kTool, row.tool);
    if (spindle_rpm_ != row.spindle_rpm) Tell(PathEventKind::kSpindle, row.spindle_rpm);
    tool_ = row.tool;
    spindle_rpm_ = row.spindle_rpm;
    sink_.row(row);
    ++count_;
    if (dwell_s > 0) Tell(PathEventKind::kDwell, dwell_s);
  }

  PoseRow ReadRow() const {
    PoseRow row;
    row.line = rows_.line();
    row.p_SQ = {Value(kX, kMaxPlace_mm), Value(kY, kMaxPlace_mm), Value(kZ, kMaxPlace_mm)};
    if (Has(kI)) {
      ReadAxis(row);
    } else {
      ReadTurn(row);
    }
    row.move = Move();
    row.feed_mm_s = Feed(row.move);
    row.spindle_rpm = Speed();
    row.tool = Tool();
    return row;
  }

  void ReadAxis(PoseRow& row) const {
    const Eigen::Vector3d axis(Value(kI, 2), Value(kJ, 2), Value(kK, 2));
    const auto unit = UnitAxis(axis);
    if (!unit) {
      Fail(fmt::format("tool axis i,j,k = ({}, {}, {}) has length {:.7g}, must be 1 within {}: normalise it",
                       Field(kI), Field(kJ), Field(kK), axis.norm(), kUnitLength_tolerance));
    }
    row.axis_S = *unit;
  }

  void ReadTurn(PoseRow& row) const {
    Eigen::Quaterniond turn(Value(kQw, 2), Value(kQx, 2), Value(kQy, 2), Value(kQz, 2));
    const double length = turn.norm();
    if (!(std::abs(length - 1.0) <= kUnitLength_tolerance)) {
      Fail(fmt::format("quaternion qw,qx,qy,qz has length {:.7g}, must be 1 within {}: normalise it",
                       length, kUnitLength_tolerance));
    }
    turn.normalize();
    row.R_ST = turn.toRotationMatrix();
    row.axis_S = row.R_ST->col(2);
  }

  kinematics::MoveKind Move() const {
    if (!Has(kMove)) return kinematics::MoveKind::kCut;
    const std::string_view word = Field(kMove);
    if (word == "cut") return kinematics::MoveKind::kCut;
    if (word == "rapid") return kinematics::MoveKind::kRapid;
    Fail(fmt::format("move = {:.40} must be cut or rapid: mend the value", word));
  }

  double Feed(kinematics::MoveKind move) const {
    const bool is_cut = move == kinematics::MoveKind::kCut;
    if (!Has(kFeed) && !defaults_.feed_mm_s) {
      if (!is_cut) return 0.0;
      Fail("the feed of this cut is missing: add a column feed_mm_min or give path.feed in the job");
    }
    if (!Has(kFeed)) return *defaults_.feed_mm_s;
    // A rapid moves as fast as the arm can; its feed may be left empty.
    if (!is_cut && Field(kFeed).empty()) return 0.0;
    const double feed_mm_s = Value(kFeed, kMaxFeed_mm_s);
    if (is_cut ? !(feed_mm_s > 0) : !(feed_mm_s >= 0)) {
      Fail(fmt::format("feed = {} must be {} 0: a cut needs a feed", Field(kFeed), is_cut ? ">" : ">="));
    }
    return feed_mm_s;
  }

  double Speed() const {
    if (Has(kRpm)) return Value(kRpm, kMaxSpeed_rpm);
    if (!defaults_.spindle_rpm) {
      Fail("the spindle speed is missing: add a column spindle_rpm or give path.spindle_rpm in the job");
    }
    return *defaults_.spindle_rpm;
  }

  int Tool() const {
    if (!Has(kTool)) {
      if (!defaults_.tool) {
        Fail("the cutter is missing: add a column tool or give path.tool in the job");
      }
      return *defaults_.tool;
    }
    const double number = Value(kTool, 1e6);
    if (!(number >= 0) || number != std::floor(number)) {
      Fail(fmt::format("tool = {} must be the whole number of a cutter in the cell", Field(kTool)));
    }
    return static_cast<int>(number);
  }

  double Dwell() const {
    if (!Has(kDwell) || Field(kDwell).empty()) return 0.0;
    const double dwell_s = Value(kDwell, kMaxDwell_s);
    if (!(dwell_s >= 0)) Fail(fmt::format("dwell_s = {} must be >= 0 s: mend the value", Field(kDwell)));
    return dwell_s;
  }

  CsvRows rows_;
  const PathDefaults& defaults_;
  const PathSink& sink_;
  int count_ = 0;                        // rows handed out
  std::optional<int> tool_;              // as last told
  std::optional<double> spindle_rpm_;
  std::vector<CsvColumn> columns_;
  std::array<int, kColumns> place_ = [] {
    std::array<int, kColumns> none{};
    none.fill(-1);
    return none;
  }();
};

}  // namespace

void ReadPoseTable(const std::filesystem::path& file, const PathRules& rules, const PathSink& sink) {
  PoseReader(file, rules.defaults, sink).ReadAll();
}

}  // namespace aircut::sim
