#include "sim/cell_tables.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Geometry>
#include <Eigen/SVD>
#include <fmt/format.h>

#include "kinematics/units.h"
#include "sim/fixture_push.h"
#include "sim/joint_columns.h"
#include "sim/named_table.h"

namespace aircut::sim {
namespace {

using kinematics::JointVector;
using kinematics::kMaxJoints;

constexpr double kInch_mm = kinematics::MmFromInch(1);
constexpr int kX = kMaxJoints, kQw = kX + 3;
constexpr double kUnitQuaternion_tolerance = 1e-3;   // panels show a few digits
constexpr int kFewestReadouts = 3, kFewestFitPoints = 3;
// Points within a hundredth of their spread from a line leave the turn about it open.
constexpr double kLeastSpread_ratio = 0.01;

std::vector<KnownColumn> ReadoutColumns(const std::vector<bool>& slides) {
  std::vector<KnownColumn> columns = JointColumns(slides);
  columns.insert(columns.end(), {{"x_mm", kX, 1.0},
                                 {"y_mm", kX + 1, 1.0},
                                 {"z_mm", kX + 2, 1.0},
                                 {"x_in", kX, kInch_mm},
                                 {"y_in", kX + 1, kInch_mm},
                                 {"z_in", kX + 2, kInch_mm},
                                 {"qw", kQw, 1.0},
                                 {"qx", kQw + 1, 1.0},
                                 {"qy", kQw + 2, 1.0},
                                 {"qz", kQw + 3, 1.0}});
  return columns;
}

// Of the joints that take part.
double CoarsestJoint(const NamedTable& table, const std::vector<bool>& takes_part) {
  double coarsest = 0.0;
  for (std::size_t j = 0; j < takes_part.size(); ++j) {
    const int column = static_cast<int>(j);
    if (takes_part[j]) coarsest = std::max(coarsest, HalfLastDigit(table.Text(column)) * table.Scale(column));
  }
  return coarsest;
}

Readout ReadReadout(const NamedTable& table, int joint_count) {
  Readout row;
  row.line = table.line();
  row.q = JointsIn(table, joint_count);
  const Eigen::Quaterniond turn(table.Value(kQw), table.Value(kQw + 1), table.Value(kQw + 2), table.Value(kQw + 3));
  if (!(std::abs(turn.norm() - 1.0) <= kUnitQuaternion_tolerance)) {
    table.Fail(fmt::format("quaternion qw,qx,qy,qz has length {:.6g}, must be 1 within {:g}: write it as shown",
                           turn.norm(), kUnitQuaternion_tolerance));
  }
  row.X_BF = kinematics::MakePose(turn.normalized().toRotationMatrix(), table.Point(kX));
  return row;
}

double CoarsestDigit(const NamedTable& table, int low, int high) {
  double coarsest = 0.0;
  for (int column = low; column <= high; ++column) {
    coarsest = std::max(coarsest, HalfLastDigit(table.Text(column)) * table.Scale(column));
  }
  return coarsest;
}

bool OnALine(const std::vector<FitPoint>& points, Eigen::Vector3d FitPoint::*place) {
  Eigen::Matrix3Xd p(3, static_cast<Eigen::Index>(points.size()));
  for (std::size_t i = 0; i < points.size(); ++i) p.col(static_cast<Eigen::Index>(i)) = points[i].*place;
  const Eigen::Vector3d middle = p.rowwise().mean();
  p.colwise() -= middle;
  const Eigen::Vector3d spread = Eigen::JacobiSVD<Eigen::MatrixXd>(p).singularValues();
  return !(spread[1] > kLeastSpread_ratio * spread[0]);
}

enum FitColumn { kName, kFitX, kWx = kFitX + 3 };
enum PushColumn { kPx, kDx = kPx + 3, kForce = kDx + 3, kGx, kShown = kGx + 3, kStandsOn };

}  // namespace

double HalfLastDigit(std::string_view number) {
  const std::size_t mark = number.find_first_of("eE");
  const std::string_view digits = number.substr(0, mark);
  const std::size_t point = digits.find('.');
  int exponent = point == std::string_view::npos ? 0 : static_cast<int>(point) - static_cast<int>(digits.size()) + 1;
  if (mark != std::string_view::npos) exponent += std::atoi(std::string(number.substr(mark + 1)).c_str());
  return 0.5 * std::pow(10.0, exponent);
}

ReadoutTable ReadReadouts(const std::filesystem::path& file, const std::vector<bool>& slides) {
  const std::vector<KnownColumn> known = ReadoutColumns(slides);
  NamedTable table(file, known);
  RequireJoints(table, slides);
  const auto joint_count = static_cast<int>(slides.size());
  table.Require(kX, kQw + 3);
  table.RequireOneUnit(kX, kX + 2);
  std::vector<bool> turns = slides;
  turns.flip();
  ReadoutTable out;
  double largest_rad = 0.0;
  while (table.Next()) {
    out.rows.push_back(ReadReadout(table, joint_count));
    largest_rad = std::max(largest_rad, LargestTurn(out.rows.back().q, slides));
    out.joint_rounding_rad = std::max(out.joint_rounding_rad, CoarsestJoint(table, turns));
    out.slide_rounding_mm = std::max(out.slide_rounding_mm, CoarsestJoint(table, slides));
    out.position_rounding_mm = std::max(out.position_rounding_mm, CoarsestDigit(table, kX, kX + 2));
    out.rotation_rounding = std::max(out.rotation_rounding, CoarsestDigit(table, kQw, kQw + 3));
  }
  if (static_cast<int>(out.rows.size()) < kFewestReadouts) {
    table.Fail(fmt::format("the table has {} read-outs, must have {} or more: read out poses that differ in every "
                           "joint", out.rows.size(), kFewestReadouts));
  }
  RequireDegrees(table, largest_rad);
  return out;
}

std::vector<RunsAs::LogRow> ReadJointLog(const std::filesystem::path& file, const std::vector<bool>& slides) {
  const std::vector<KnownColumn> known = JointColumns(slides);
  NamedTable table(file, known);
  RequireJoints(table, slides);
  const auto joint_count = static_cast<int>(slides.size());
  std::vector<RunsAs::LogRow> rows;
  double largest_rad = 0.0;
  while (table.Next()) {
    rows.push_back({table.line(), JointsIn(table, joint_count)});
    largest_rad = std::max(largest_rad, LargestTurn(rows.back().q, slides));
  }
  if (rows.empty()) table.Fail("the log is empty: log the joints while the arm runs the path in the air");
  RequireDegrees(table, largest_rad);
  return rows;
}

std::vector<FitPoint> ReadFitPoints(const std::filesystem::path& file) {
  static const std::vector<KnownColumn> known = {
      {"name", kName, 1.0},          {"x_mm", kFitX, 1.0},         {"y_mm", kFitX + 1, 1.0},
      {"z_mm", kFitX + 2, 1.0},      {"x_in", kFitX, kInch_mm},    {"y_in", kFitX + 1, kInch_mm},
      {"z_in", kFitX + 2, kInch_mm}, {"wx_mm", kWx, 1.0},          {"wy_mm", kWx + 1, 1.0},
      {"wz_mm", kWx + 2, 1.0},       {"wx_in", kWx, kInch_mm},     {"wy_in", kWx + 1, kInch_mm},
      {"wz_in", kWx + 2, kInch_mm}};
  NamedTable table(file, known);
  table.Require(kName, kWx + 2);
  table.RequireOneUnit(kFitX, kFitX + 2);
  table.RequireOneUnit(kWx, kWx + 2);
  std::vector<FitPoint> points;
  while (table.Next()) {
    FitPoint point{std::string(table.Text(kName)), table.line(), table.Point(kFitX), table.Point(kWx)};
    if (point.name.empty()) table.Fail("name is empty: name the point as it is marked on the plate");
    for (const FitPoint& other : points) {
      if (other.name == point.name) table.Fail(fmt::format("name = {:.60} stands in line {} already: keep one", point.name, other.line));
    }
    points.push_back(std::move(point));
  }
  if (static_cast<int>(points.size()) < kFewestFitPoints || OnALine(points, &FitPoint::p_S) ||
      OnALine(points, &FitPoint::p_W)) {
    table.Fail(fmt::format("the {} points leave the frame open, must be {} or more that do not lie on a line: touch "
                           "more points", points.size(), kFewestFitPoints));
  }
  return points;
}

std::vector<PushRow> ReadPushTest(const std::filesystem::path& file) {
  static const std::vector<KnownColumn> known = {
      {"px", kPx, 1.0},          {"py", kPx + 1, 1.0},          {"pz", kPx + 2, 1.0},
      {"px_mm", kPx, 1.0},       {"py_mm", kPx + 1, 1.0},       {"pz_mm", kPx + 2, 1.0},
      {"px_in", kPx, kInch_mm},  {"py_in", kPx + 1, kInch_mm},  {"pz_in", kPx + 2, kInch_mm},
      {"dx", kDx, 1.0},          {"dy", kDx + 1, 1.0},          {"dz", kDx + 2, 1.0},
      {"force_n", kForce, 1.0},  {"gx", kGx, 1.0},              {"gy", kGx + 1, 1.0},
      {"gz", kGx + 2, 1.0},      {"gx_mm", kGx, 1.0},           {"gy_mm", kGx + 1, 1.0},
      {"gz_mm", kGx + 2, 1.0},   {"gx_in", kGx, kInch_mm},      {"gy_in", kGx + 1, kInch_mm},
      {"gz_in", kGx + 2, kInch_mm}, {"displacement_mm", kShown, 1.0}, {"displacement_in", kShown, kInch_mm},
      {"stands_on", kStandsOn, 1.0}};
  NamedTable table(file, known);
  table.Require(kPx, kStandsOn);
  table.RequireOneUnit(kPx, kPx + 2);
  table.RequireOneUnit(kGx, kGx + 2);
  std::vector<PushRow> rows;
  while (table.Next()) {
    PushRow row;
    row.line = table.line();
    row.p_S = table.Point(kPx);
    row.direction_S = table.Point(kDx);
    if (!(row.direction_S.norm() > 1e-9)) table.Fail("dx,dy,dz = (0, 0, 0) has no direction: write where it was pushed to");
    row.direction_S.normalize();
    row.force_n = table.Value(kForce);
    if (!(row.force_n >= 0)) table.Fail(fmt::format("force_n = {} must be >= 0: write the force of the push, 0 for the dial before or after it", table.Text(kForce)));
    row.p_SG = table.Point(kGx);
    row.displacement_mm = table.Value(kShown);
    row.stands_on = std::string(table.Text(kStandsOn));
    if (row.stands_on.empty()) table.Fail("stands_on is empty: write what the dial stands on, such as floor or table");
    rows.push_back(std::move(row));
  }
  if (rows.empty()) table.Fail("the push test is empty: push once along each direction, or take the key out");
  if (const auto fault = FindPushFault(rows)) table.FailAt(fault->line, fault->what);
  return rows;
}

std::vector<DriftRow> ReadDriftTest(const std::filesystem::path& file) {
  constexpr double kMinute_s = 60.0;
  static const std::vector<KnownColumn> known = {{"time_min", 0, kMinute_s}, {"x_mm", 1, 1.0},      {"y_mm", 2, 1.0},
                                                 {"z_mm", 3, 1.0},           {"x_in", 1, kInch_mm}, {"y_in", 2, kInch_mm},
                                                 {"z_in", 3, kInch_mm}};
  NamedTable table(file, known);
  table.Require(0, 3);
  table.RequireOneUnit(1, 3);
  std::vector<DriftRow> rows;
  while (table.Next()) {
    const DriftRow row{table.line(), table.Value(0), table.Point(1)};
    if (row.time_s < 0 || (!rows.empty() && !(row.time_s > rows.back().time_s))) {
      table.Fail(fmt::format("time_min = {} must be >= 0 and rise from row to row: mend the time", table.Text(0)));
    }
    rows.push_back(row);
  }
  if (rows.size() < 2) table.Fail("the drift test has fewer than two rows: read the dial cold and warm");
  return rows;
}

TouchedPoints ReadTouched(const std::filesystem::path& file) {
  static const std::vector<KnownColumn> known = {{"x_mm", 0, 1.0},      {"y_mm", 1, 1.0},      {"z_mm", 2, 1.0},
                                                 {"x_in", 0, kInch_mm}, {"y_in", 1, kInch_mm}, {"z_in", 2, kInch_mm}};
  NamedTable table(file, known);
  table.Require(0, 2);
  table.RequireOneUnit(0, 2);
  TouchedPoints points;
  while (table.Next()) {
    points.p_W.push_back(table.Point(0));
    points.lines.push_back(table.line());
  }
  return points;
}

}  // namespace aircut::sim
