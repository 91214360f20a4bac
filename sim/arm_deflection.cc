#include "sim/arm_deflection.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>
#include <fmt/format.h>

#include "kinematics/external_axes.h"
#include "kinematics/joint_compliance.h"
#include "sim/input_error.h"
#include "sim/joint_columns.h"
#include "sim/named_table.h"

namespace aircut::sim {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::Vector3d;
using Eigen::VectorXd;

constexpr int kForce = kinematics::kMaxJoints, kMass = kForce + 3, kShift = kMass + 1;
constexpr double kGravity_m_s2 = 9.80665;   // standard value
constexpr std::size_t kFewest = 10;         // two poses in each of the five parts
constexpr std::size_t kParts = 5;
constexpr double kShare = 0.95;
// Singular values below this share of the largest: poses that differ too little.
constexpr double kTooAlike = 1e-3;
// Past this a soft end of the band says nothing any more.
constexpr double kMostBand = 0.9;

std::vector<KnownColumn> Columns(const std::vector<bool>& slides) {
  std::vector<KnownColumn> columns = JointColumns(slides);
  columns.insert(columns.end(), {{"fx_n", kForce, 1.0},          {"fy_n", kForce + 1, 1.0},
                                 {"fz_n", kForce + 2, 1.0},      {"mass_kg", kMass, 1.0},
                                 {"dx_mm", kShift, 1.0},         {"dy_mm", kShift + 1, 1.0},
                                 {"dz_mm", kShift + 2, 1.0},     {"dx_m", kShift, 1000.0},
                                 {"dy_m", kShift + 1, 1000.0},   {"dz_m", kShift + 2, 1000.0},
                                 {"dx_in", kShift, 25.4},        {"dy_in", kShift + 1, 25.4},
                                 {"dz_in", kShift + 2, 25.4}});
  return columns;
}

Vector3d ForceIn(const NamedTable& table, const Cell& cell) {
  if (!table.Has(kMass)) return table.Point(kForce);
  const double mass_kg = table.Value(kMass);
  if (!(mass_kg > 0.0)) table.Fail(fmt::format("mass_kg = {}, must be > 0: write what was hung there", table.Text(kMass)));
  return cell.X_WB.linear().transpose() * Vector3d(0.0, 0.0, -kGravity_m_s2 * mass_kg);
}

void RequireForce(const NamedTable& table) {
  if (table.Has(kMass) && table.Has(kForce)) table.Fail("has both mass_kg and fx_n, must have one: take the other out");
  if (!table.Has(kMass)) table.Require(kForce, kForce + 2);
}

// What each joint gives for one unit of its compliance [rad/(N mm)], in B.
Eigen::Matrix3Xd SharesOf(const ArmPush& push, const kinematics::ArmModel& arm, const Vector3d& p_FQ) {
  const std::size_t joints = arm.chain().size();
  Eigen::Matrix3d R_BA = Eigen::Matrix3d::Identity();
  if (!arm.externals().empty()) R_BA = kinematics::FootPose(arm, kinematics::ExternalPart(arm, push.q)).linear();
  const Eigen::Matrix3Xd travel_B = R_BA * kinematics::JointShifts(arm, push.q, p_FQ, std::vector<double>(joints, 1.0));
  Eigen::Matrix3Xd shares(3, travel_B.cols());
  for (Index j = 0; j < shares.cols(); ++j) shares.col(j) = travel_B.col(j) * travel_B.col(j).dot(push.force_B);
  return shares;
}

// Rows of three a pose.
struct Equations {
  MatrixXd shares;
  VectorXd shifts;
};

Equations EquationsOf(const std::vector<ArmPush>& pushes, const kinematics::ArmModel& arm, const Vector3d& p_FQ) {
  const auto rows = 3 * static_cast<Index>(pushes.size());
  Equations all{MatrixXd(rows, static_cast<Index>(arm.chain().size())), VectorXd(rows)};
  for (std::size_t i = 0; i < pushes.size(); ++i) {
    all.shares.middleRows<3>(3 * static_cast<Index>(i)) = SharesOf(pushes[i], arm, p_FQ);
    all.shifts.segment<3>(3 * static_cast<Index>(i)) = pushes[i].shift_B;
  }
  return all;
}

Equations WithoutPart(const Equations& all, std::size_t part) {
  const auto poses = static_cast<std::size_t>(all.shifts.size()) / 3;
  Equations kept{MatrixXd(all.shares.rows(), all.shares.cols()), VectorXd(all.shifts.size())};
  Index row = 0;
  for (std::size_t i = 0; i < poses; ++i) {
    if (i % kParts == part) continue;
    kept.shares.middleRows<3>(row) = all.shares.middleRows<3>(3 * static_cast<Index>(i));
    kept.shifts.segment<3>(row) = all.shifts.segment<3>(3 * static_cast<Index>(i));
    row += 3;
  }
  kept.shares.conservativeResize(row, Eigen::NoChange);
  kept.shifts.conservativeResize(row);
  return kept;
}

VectorXd Compliances(const std::string& label, const Equations& e) {
  MatrixXd scaled = e.shares;
  for (Index j = 0; j < scaled.cols(); ++j) {
    const double norm = scaled.col(j).norm();
    if (!(norm > 0.0)) throw InputError(fmt::format("{}: no pose loads joint {}, must load every joint: push where "
                                                    "the force has a lever about its axis, such as on a bar at the flange", label, j + 1));
    scaled.col(j) /= norm;
  }
  const VectorXd values = scaled.jacobiSvd().singularValues();
  if (!(values(values.size() - 1) > kTooAlike * values(0))) {
    throw InputError(fmt::format("{}: the poses are too much alike to tell the joints apart, must differ in every joint "
                                 "and in the direction of the force: add poses", label));
  }
  return e.shares.colPivHouseholderQr().solve(e.shifts);
}

// By how much of its own deflection each pose is missed where it took no part in the fit.
std::vector<double> HeldOutErrors(const std::string& label, const Equations& all) {
  std::vector<double> errors(static_cast<std::size_t>(all.shifts.size()) / 3);
  for (std::size_t part = 0; part < kParts; ++part) {
    const VectorXd found = Compliances(label, WithoutPart(all, part));
    for (std::size_t i = part; i < errors.size(); i += kParts) {
      const auto row = 3 * static_cast<Index>(i);
      const Vector3d shift = all.shifts.segment<3>(row), told = all.shares.middleRows<3>(row) * found;
      errors[i] = (shift - told).norm() / shift.norm();
    }
  }
  return errors;
}

double BandOf(const std::string& label, std::vector<double> errors) {
  std::sort(errors.begin(), errors.end());
  const auto rank = static_cast<std::size_t>(std::ceil(kShare * static_cast<double>(errors.size())));
  const double missed = errors[rank - 1];
  if (missed < kMostBand) return std::max(kLeastArmBand, missed);
  throw InputError(fmt::format("{}: poses held out of the fit are missed by {:.0f} % of their deflection, must be under "
                               "{:.0f} %: look at the units of the joints, at point_in_flange, and whether force and "
                               "displacement are in the base frame of the arm", label, 100 * missed, 100 * kMostBand));
}

}  // namespace

std::vector<ArmPush> ReadArmPushes(const std::filesystem::path& file, const Cell& cell) {
  const std::vector<bool> slides = kinematics::SlidesOf(*cell.arm);
  const std::vector<KnownColumn> known = Columns(slides);
  NamedTable table(file, known);
  RequireJoints(table, slides);
  RequireForce(table);
  table.Require(kShift, kShift + 2);
  table.RequireOneUnit(kShift, kShift + 2);
  std::vector<ArmPush> pushes;
  double largest_rad = 0.0;
  while (table.Next()) {
    ArmPush push{table.line(), JointsIn(table, static_cast<int>(slides.size())), ForceIn(table, cell), table.Point(kShift)};
    if (!(push.force_B.norm() > 0.0)) table.Fail("the force is 0, must be that of the push: take rows without a force out");
    if (!(push.shift_B.norm() > 0.0)) table.Fail("the displacement is 0, must be what the dial showed: push harder, or take the row out");
    largest_rad = std::max(largest_rad, LargestTurn(push.q, slides));
    pushes.push_back(std::move(push));
  }
  RequireDegrees(table, largest_rad);
  return pushes;
}

ArmFit FitArmStiffness(const std::string& label, const std::vector<ArmPush>& pushes,
                       const kinematics::ArmModel& arm, const Vector3d& p_FQ) {
  if (pushes.size() < kFewest) {
    throw InputError(fmt::format("{}: {} pose{}, must be {} or more: every fifth is held out to see what the fit is worth",
                                 label, pushes.size(), pushes.size() == 1 ? "" : "s", kFewest));
  }
  const Equations all = EquationsOf(pushes, arm, p_FQ);
  const VectorXd found = Compliances(label, all);
  ArmFit fit;
  fit.poses = static_cast<int>(pushes.size());
  constexpr double kMm_m = 1000.0;
  for (Index j = 0; j < found.size(); ++j) {
    if (!(found(j) > 0.0)) {
      throw InputError(fmt::format("{}: joint {} gives against its load in the fit, must give along it: add poses that load "
                                   "it, or look at its sign and at the frame of force and displacement", label, j + 1));
    }
    fit.stiffness_nm_rad.push_back(1.0 / (kMm_m * found(j)));
  }
  fit.residual = (all.shares * found - all.shifts).norm() / all.shifts.norm();
  fit.band = BandOf(label, HeldOutErrors(label, all));
  return fit;
}

}  // namespace aircut::sim
