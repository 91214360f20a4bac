#include "kinematics/path_targets.h"

#include <cmath>
#include <stdexcept>
#include <string>

#include "kinematics/external_axes.h"

namespace aircut::kinematics {
namespace {

// Rounding of a unit axis as files carry it.
constexpr double kUnitSlack = 1e-3;

void Require(const bool holds, const std::string& name, const double value,
             const std::string& bound) {
  if (!holds) {
    throw std::invalid_argument(name + " = " + std::to_string(value) + " must be " + bound);
  }
}

void CheckJoints(const JointVector& q, const int joint_count, const std::string& name) {
  Require(q.size() == joint_count, name + ".size", static_cast<double>(q.size()),
          "the number of joints, " + std::to_string(joint_count));
  for (Eigen::Index j = 0; j < q.size(); ++j) {
    Require(std::isfinite(q[j]), name + "[" + std::to_string(j) + "]", q[j], "finite");
  }
}

void CheckLine(const PathLine& line, const SpinRule spin) {
  const std::string place = "line " + std::to_string(line.line) + ": ";
  Require(line.p_ST.allFinite(), place + "p_ST", line.p_ST.sum(), "finite");
  Require(std::isfinite(line.feed_mm_s), place + "feed_mm_s", line.feed_mm_s, "finite");
  if (line.move == MoveKind::kCut) {
    Require(line.feed_mm_s > 0.0, place + "feed_mm_s", line.feed_mm_s, "> 0 for a cut");
  }
  Require(line.dwell_s >= 0.0 && std::isfinite(line.dwell_s), place + "dwell_s", line.dwell_s,
          ">= 0 and finite");
  if (line.duration_s) {
    Require(*line.duration_s > 0.0 && std::isfinite(*line.duration_s), place + "duration_s",
            *line.duration_s, "> 0 and finite");
  }
  if (spin == SpinRule::kAsWritten) {
    if (!line.R_ST) {
      throw std::invalid_argument(place + "R_ST is missing; SpinRule::kAsWritten needs it");
    }
    Require(IsRigid(MakePose(*line.R_ST, line.p_ST), 1e-6), place + "R_ST, determinant",
            line.R_ST->determinant(), "that of a rotation");
  } else {
    Require(std::abs(line.axis_S.norm() - 1.0) <= kUnitSlack, place + "axis_S, length",
            line.axis_S.norm(), "1");
  }
}

void CheckController(const ControllerRules& rules) {
  Require(rules.cycle_s > 0.0 && std::isfinite(rules.cycle_s), "controller.cycle_s",
          rules.cycle_s, "> 0 and finite");
  const double corner = rules.corner_distance_mm.value_or(0.0);
  Require(corner >= 0.0 && std::isfinite(corner), "controller.corner_distance_mm", corner,
          ">= 0 and finite");
  const int known = rules.look_ahead_moves.value_or(1);
  Require(known >= 1, "controller.look_ahead_moves", known, ">= 1");
  const double tool = rules.tool_acceleration_mm_s2.value_or(1.0);
  Require(tool > 0.0 && std::isfinite(tool), "controller.tool_acceleration_mm_s2", tool,
          "> 0 and finite");
}

void CheckFreedom(const FreedomRules& rules) {
  Require(rules.spins >= 8, "freedom.spins", rules.spins, ">= 8");
  Require(rules.spin_per_mm_rad > 0.0 && std::isfinite(rules.spin_per_mm_rad),
          "freedom.spin_per_mm_rad", rules.spin_per_mm_rad, "> 0 and finite");
}

void CheckKept(const KeptChoice& kept, const PlanRequest& request) {
  const auto lines = static_cast<double>(kept.lines());
  const bool spins_agree = kept.spin_rad.size() == (request.spin == SpinRule::kFree ? kept.lines() : 0);
  Require(kept.lines() >= 1 && kept.lines() <= request.path.size(), "kept.lines", lines, "from 1 to path.size");
  Require(kept.posture.size() == kept.lines() && spins_agree, "kept.posture, kept.spin_rad, size", lines,
          "one a kept line; no spin unless it is free");
  for (const JointVector& q : kept.q) CheckJoints(q, request.arm->joint_count(), "kept.q");
}

void CheckRequest(const PlanRequest& request) {
  if (request.arm == nullptr) throw std::invalid_argument("arm = null must be an arm");
  const int joint_count = request.arm->joint_count();
  const auto lines = static_cast<double>(request.path.size());
  Require(!request.path.empty(), "path.size", lines, ">= 1");
  Require(request.X_FT.size() == request.path.size(), "X_FT.size",
          static_cast<double>(request.X_FT.size()), "path.size, " + std::to_string(lines));
  Require(IsRigid(request.X_BS), "X_BS, determinant", request.X_BS.linear().determinant(),
          "a rigid pose");
  Require(request.sag_mm > 0.0 && std::isfinite(request.sag_mm), "sag_mm", request.sag_mm,
          "> 0 and finite");
  Require(request.external.size() == static_cast<Eigen::Index>(request.arm->externals().size()),
          "external.size", static_cast<double>(request.external.size()),
          "the number of external axes, " + std::to_string(request.arm->externals().size()));
  Require(request.external_free.empty() || request.external_free.size() == request.arm->externals().size(),
          "external_free.size", static_cast<double>(request.external_free.size()),
          "0 or the number of external axes, " + std::to_string(request.arm->externals().size()));
  Require(request.external_samples >= 2, "external_samples", request.external_samples, ">= 2");
  CheckController(request.controller);
  CheckFreedom(request.freedom);
  CheckJoints(request.home, joint_count, "home");
  if (request.start_posture) CheckJoints(*request.start_posture, joint_count, "start_posture");
  if (request.kept) CheckKept(*request.kept, request);
  for (const JointVector& q : request.approach) CheckJoints(q, joint_count, "approach");
  for (const JointVector& q : request.retreat) CheckJoints(q, joint_count, "retreat");
  for (const JointVector& q : request.tool_change) CheckJoints(q, joint_count, "tool_change");
  for (const PathLine& line : request.path) CheckLine(line, request.spin);
  for (const Pose& X_FT : request.X_FT) {
    Require(IsRigid(X_FT), "X_FT, determinant", X_FT.linear().determinant(), "a rigid pose");
  }
}

// Where `toward` is the axis itself any other direction will do: the spin is free.
Eigen::Matrix3d FirstReference(const Eigen::Vector3d& axis_S, const Eigen::Vector3d& toward_S) {
  const bool is_along = axis_S.cross(toward_S.normalized()).norm() < 1e-3;
  return RotationFromAxis(axis_S, is_along ? axis_S.unitOrthogonal() : toward_S);
}

// The nearest rotation; a file rounds its numbers.
Eigen::Matrix3d Rotation(const PathLine& line, const PlanRequest& request) {
  if (request.spin == SpinRule::kAsWritten) {
    return Eigen::Quaterniond(*line.R_ST).normalized().toRotationMatrix();
  }
  try {
    return RotationFromAxis(line.axis_S.normalized(), request.toward_S);
  } catch (const std::invalid_argument& error) {
    throw std::invalid_argument("line " + std::to_string(line.line) + ": " + error.what());
  }
}

// Each orientation is the one before, turned by the shortest arc.
std::vector<Eigen::Matrix3d> CarriedReferences(const PlanRequest& request) {
  std::vector<Eigen::Matrix3d> references;
  references.reserve(request.path.size());
  for (const PathLine& line : request.path) {
    const Eigen::Vector3d axis_S = line.axis_S.normalized();
    if (references.empty()) {
      references.push_back(FirstReference(axis_S, request.toward_S));
      continue;
    }
    const Eigen::Matrix3d& last = references.back();
    const Eigen::Quaterniond arc = Eigen::Quaterniond::FromTwoVectors(last.col(2), axis_S);
    const Eigen::Matrix3d carried = arc.toRotationMatrix() * last;
    references.push_back(RotationFromAxis(axis_S, carried.col(0)));
  }
  return references;
}

std::vector<Eigen::Matrix3d> References(const PlanRequest& request) {
  if (request.spin == SpinRule::kFree) return CarriedReferences(request);
  std::vector<Eigen::Matrix3d> references;
  references.reserve(request.path.size());
  for (const PathLine& line : request.path) references.push_back(Rotation(line, request));
  return references;
}

}  // namespace

PathTargets::PathTargets(const PlanRequest& request) : request_(&request) {
  CheckRequest(request);
  const std::vector<Eigen::Matrix3d> references = References(request);
  X_ST_.reserve(request.path.size());
  for (std::size_t i = 0; i < references.size(); ++i) {
    X_ST_.push_back(MakePose(references[i], request.path[i].p_ST));
  }
  external_.assign(request.path.size(), request.external);
}

PathTargets PathTargets::With(const std::vector<LineFreedom>& freedom) const {
  Require(freedom.size() == size(), "freedom.size", static_cast<double>(freedom.size()),
          "the number of lines");
  PathTargets chosen = *this;
  for (std::size_t i = 0; i < size(); ++i) {
    chosen.X_ST_[i] = X_ST_[i] * Eigen::AngleAxisd(freedom[i].spin_rad, Eigen::Vector3d::UnitZ());
    chosen.external_[i] = freedom[i].external;
  }
  return chosen;
}

Pose PathTargets::FlangeAt(const std::size_t i, const LineFreedom& freedom) const {
  const Pose X_AS = WorkInFoot(*request_->arm, request_->X_BS, freedom.external);
  const Eigen::AngleAxisd spin(freedom.spin_rad, Eigen::Vector3d::UnitZ());
  return X_AS * (X_ST_[i] * spin) * request_->X_FT[i].inverse();
}

Travel PathTargets::TravelTo(const std::size_t i) const {
  const bool by_joints =
      line(i).move == MoveKind::kRapid && request_->controller.rapid == RapidRule::kJoint;
  return by_joints ? Travel::kJoint : Travel::kStraight;
}

bool PathTargets::ToolChangesBefore(const std::size_t i) const {
  return line(i).tool != line(i - 1).tool ||
         request_->X_FT[i].matrix() != request_->X_FT[i - 1].matrix();
}

StraightMove PathTargets::MoveTo(const std::size_t i) const {
  const ExternalRun external{request_->arm, external_[i - 1], external_[i]};
  if (!ToolChangesBefore(i)) {
    return StraightMove(request_->X_BS, request_->X_FT[i], X_ST_[i - 1], X_ST_[i], external);
  }
  const Pose X_ST_from = X_ST_[i - 1] * request_->X_FT[i - 1].inverse() * request_->X_FT[i];
  return StraightMove(request_->X_BS, request_->X_FT[i], X_ST_from, X_ST_[i], external);
}

}  // namespace aircut::kinematics
