#include "sim/joint_columns.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"

namespace aircut::sim {
namespace {

using kinematics::JointVector;
using kinematics::kMaxJoints;

constexpr double kInch_mm = kinematics::MmFromInch(1);
constexpr double kDeg_rad = kinematics::RadFromDeg(1);

// Names of the joint columns by unit; a slide has lengths, all others angles.
constexpr std::array<std::array<const char*, 4>, kMaxJoints> kJointNames = {
    {{"q1_deg", "q1_rad", "q1_mm", "q1_in"},
     {"q2_deg", "q2_rad", "q2_mm", "q2_in"},
     {"q3_deg", "q3_rad", "q3_mm", "q3_in"},
     {"q4_deg", "q4_rad", "q4_mm", "q4_in"},
     {"q5_deg", "q5_rad", "q5_mm", "q5_in"},
     {"q6_deg", "q6_rad", "q6_mm", "q6_in"},
     {"q7_deg", "q7_rad", "q7_mm", "q7_in"},
     {"q8_deg", "q8_rad", "q8_mm", "q8_in"}}};
constexpr std::array<double, 4> kJointScales = {kDeg_rad, 1.0, 1.0, kInch_mm};

}  // namespace

std::vector<KnownColumn> JointColumns(const std::vector<bool>& slides) {
  std::vector<KnownColumn> columns;
  for (std::size_t j = 0; j < kJointNames.size(); ++j) {
    const std::size_t first = j < slides.size() && slides[j] ? 2 : 0;
    for (std::size_t unit = first; unit < first + 2; ++unit) {
      columns.push_back({kJointNames[j][unit], static_cast<int>(j), kJointScales[unit]});
    }
  }
  return columns;
}

void RequireJoints(const NamedTable& table, const std::vector<bool>& slides) {
  const auto joint_count = static_cast<int>(slides.size());
  table.Require(0, joint_count - 1);
  // The joints of the arm are turns and come first.
  const auto turns = static_cast<int>(std::find(slides.begin(), slides.end(), true) - slides.begin());
  table.RequireOneUnit(0, turns - 1);
  if (joint_count < kMaxJoints && table.Has(joint_count)) {
    table.Fail(fmt::format("column {} is one joint too many, the arm has {}: take it out",
                           table.Name(joint_count), joint_count));
  }
}

JointVector JointsIn(const NamedTable& table, int joint_count) {
  JointVector q(joint_count);
  for (int j = 0; j < joint_count; ++j) q[j] = table.Value(j);
  return q;
}

double LargestTurn(const JointVector& q, const std::vector<bool>& slides) {
  double largest = 0.0;
  for (std::size_t j = 0; j < slides.size(); ++j) {
    if (!slides[j]) largest = std::max(largest, std::abs(q[static_cast<Eigen::Index>(j)]));
  }
  return largest;
}

void RequireDegrees(const NamedTable& table, double largest_rad) {
  const double shown = largest_rad / kDeg_rad;
  if (table.Scale(0) == 1.0 || shown > 2 * kinematics::kPi || largest_rad == 0.0) return;
  table.Fail(fmt::format("every joint value of the table is below 6.2832, the largest is {:.6g}, must be degrees as "
                         "the header says: these look like radians, name the columns q1_rad, or read out poses "
                         "farther from zero", shown));
}

}  // namespace aircut::sim
