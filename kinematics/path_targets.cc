#include "kinematics/path_targets.h"

#include <cmath>
#include <stdexcept>
#include <string>

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

void CheckRequest(const PlanRequest& request) {
  if (request.arm == nullptr) throw std::invalid_argument("arm = null must be an arm");
  const int joint_count = request.arm->joint_count();
  const auto lines = static_cast<double>(request.path.size());
  Require(!request.path.empty(), "path.size", lines, ">= 1");
  Require(request.X_FT.size() == request.path.size(), "X_FT.size",
          static_cast<double>(request.X_FT.size()), "path.size, " + std::to_string(lines));
  Require(IsRigid(request.X_BS), "X_BS, determinant", request.X_BS.linear().determinant(),
          "a rigid pose");
  Require(request.controller.cycle_s > 0.0 && std::isfinite(request.controller.cycle_s),
          "controller.cycle_s", request.controller.cycle_s, "> 0 and finite");
  Require(request.sag_mm > 0.0 && std::isfinite(request.sag_mm), "sag_mm", request.sag_mm,
          "> 0 and finite");
  CheckJoints(request.home, joint_count, "home");
  for (const JointVector& q : request.approach) CheckJoints(q, joint_count, "approach");
  for (const JointVector& q : request.retreat) CheckJoints(q, joint_count, "retreat");
  for (const JointVector& q : request.tool_change) CheckJoints(q, joint_count, "tool_change");
  for (const PathLine& line : request.path) CheckLine(line, request.spin);
  for (const Pose& X_FT : request.X_FT) {
    Require(IsRigid(X_FT), "X_FT, determinant", X_FT.linear().determinant(), "a rigid pose");
  }
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

}  // namespace

PathTargets::PathTargets(const PlanRequest& request) : request_(request) {
  CheckRequest(request);
  X_ST_.reserve(request.path.size());
  for (const PathLine& line : request.path) {
    X_ST_.push_back(MakePose(Rotation(line, request), line.p_ST));
  }
}

Pose PathTargets::X_BF(const std::size_t i) const {
  return request_.X_BS * X_ST_[i] * request_.X_FT[i].inverse();
}

Travel PathTargets::TravelTo(const std::size_t i) const {
  const bool by_joints =
      line(i).move == MoveKind::kRapid && request_.controller.rapid == RapidRule::kJoint;
  return by_joints ? Travel::kJoint : Travel::kStraight;
}

bool PathTargets::ToolChangesBefore(const std::size_t i) const {
  return line(i).tool != line(i - 1).tool ||
         request_.X_FT[i].matrix() != request_.X_FT[i - 1].matrix();
}

StraightMove PathTargets::MoveTo(const std::size_t i) const {
  if (!ToolChangesBefore(i)) {
    return StraightMove(request_.X_BS, request_.X_FT[i], X_ST_[i - 1], X_ST_[i]);
  }
  const Pose X_ST_from = request_.X_BS.inverse() * X_BF(i - 1) * request_.X_FT[i];
  return StraightMove(request_.X_BS, request_.X_FT[i], X_ST_from, X_ST_[i]);
}

}  // namespace aircut::kinematics
