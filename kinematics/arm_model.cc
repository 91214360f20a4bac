#include "kinematics/arm_model.h"

#include <cmath>
#include <sstream>
#include <stdexcept>
#include <utility>

namespace aircut::kinematics {

namespace {

constexpr int kWristJoints = 6;
// Rounding of a unit axis.
constexpr double kUnitSlack = 1e-9;

// Every bound is a condition that NaN fails.
void Require(bool holds, const std::string& place, double value, const std::string& bound) {
  if (holds) return;
  std::ostringstream text;
  text.precision(17);
  text << place << " = " << value << " must be " << bound;
  throw std::invalid_argument(text.str());
}

std::string JointField(std::size_t index, const std::string& field) {
  return "joint " + std::to_string(index + 1) + ": " + field;
}

void RequireFinite(std::size_t index, const std::string& field, double value) {
  Require(std::isfinite(value), JointField(index, field), value, "finite");
}

void CheckFollow(const JointFollow& follow, std::size_t index) {
  Require(follow.joint >= 0 && static_cast<std::size_t>(follow.joint) < index,
          JointField(index, "follows.joint"), follow.joint,
          "the index (from 0) of an earlier joint, in [0, " + std::to_string(index) + ")");
  RequireFinite(index, "follows.ratio", follow.ratio);
}

void CheckSumLimit(const SumLimit& limit, std::size_t index) {
  Require(limit.joint >= 0 && static_cast<std::size_t>(limit.joint) < index,
          JointField(index, "sum_limit.joint"), limit.joint,
          "the index (from 0) of an earlier joint, in [0, " + std::to_string(index) + ")");
  RequireFinite(index, "sum_limit.ratio", limit.ratio);
  Require(limit.ratio != 0.0, JointField(index, "sum_limit.ratio"), limit.ratio, "other than 0");
  RequireFinite(index, "sum_limit.lower_rad", limit.lower_rad);
  RequireFinite(index, "sum_limit.upper_rad", limit.upper_rad);
  Require(limit.upper_rad > limit.lower_rad, JointField(index, "sum_limit.upper_rad"),
          limit.upper_rad, "> sum_limit.lower_rad = " + std::to_string(limit.lower_rad));
}

void CheckJoint(const JointSpec& joint, std::size_t index) {
  RequireFinite(index, "lower_rad", joint.lower_rad);
  RequireFinite(index, "upper_rad", joint.upper_rad);
  Require(joint.upper_rad > joint.lower_rad, JointField(index, "upper_rad"), joint.upper_rad,
          "> lower_rad = " + std::to_string(joint.lower_rad));
  Require(std::isfinite(joint.speed_rad_s) && joint.speed_rad_s > 0,
          JointField(index, "speed_rad_s"), joint.speed_rad_s, "finite and > 0");
  Require(std::isfinite(joint.acceleration_rad_s2) && joint.acceleration_rad_s2 > 0,
          JointField(index, "acceleration_rad_s2"), joint.acceleration_rad_s2, "finite and > 0");
  Require(joint.sign == 1.0 || joint.sign == -1.0, JointField(index, "sign"), joint.sign,
          "+1 or -1");
  RequireFinite(index, "zero_rad", joint.zero_rad);
  if (joint.follows) CheckFollow(*joint.follows, index);
  if (joint.sum_limit) CheckSumLimit(*joint.sum_limit, index);
}

void CheckJoints(const std::vector<JointSpec>& joints) {
  for (std::size_t i = 0; i < joints.size(); ++i) CheckJoint(joints[i], i);
}

Pose Shift(double x_mm, double y_mm, double z_mm) {
  return MakePose(Eigen::Matrix3d::Identity(), Eigen::Vector3d(x_mm, y_mm, z_mm));
}

ChainJoint JointOfDhRow(const DhRow& row) {
  ChainJoint joint;
  joint.before.rotate(Eigen::AngleAxisd(row.theta_offset_rad, Eigen::Vector3d::UnitZ()));
  joint.after = Shift(row.a_mm, 0, row.d_mm);
  joint.after.rotate(Eigen::AngleAxisd(row.alpha_rad, Eigen::Vector3d::UnitX()));
  return joint;
}

// The row's lengths lie before the joint, its offset about the joint's own axis.
ChainJoint JointOfDhRow(const ModifiedDhRow& row) {
  ChainJoint joint;
  joint.before.rotate(Eigen::AngleAxisd(row.alpha_rad, Eigen::Vector3d::UnitX()));
  joint.before = joint.before * Shift(row.a_mm, 0, 0);
  joint.before.rotate(Eigen::AngleAxisd(row.theta_offset_rad, Eigen::Vector3d::UnitZ()));
  joint.after = Shift(0, 0, row.d_mm);
  return joint;
}

template <typename Row>
void CheckDhRow(const Row& row, std::size_t index) {
  RequireFinite(index, "a_mm", row.a_mm);
  RequireFinite(index, "alpha_rad", row.alpha_rad);
  RequireFinite(index, "d_mm", row.d_mm);
  RequireFinite(index, "theta_offset_rad", row.theta_offset_rad);
}

void CheckChainJoint(const ChainJoint& joint, std::size_t index) {
  Require(IsRigid(joint.before), JointField(index, "before, determinant"),
          joint.before.linear().determinant(), "that of a rigid pose");
  Require(IsRigid(joint.after), JointField(index, "after, determinant"),
          joint.after.linear().determinant(), "that of a rigid pose");
  Require(std::abs(joint.axis.norm() - 1.0) <= kUnitSlack, JointField(index, "axis, length"),
          joint.axis.norm(), "1");
}

// `name`: of what stands for the joints: rows or chain.
void CheckCounts(std::size_t entries, std::size_t joints, const std::string& name) {
  Require(entries >= 1 && entries <= static_cast<std::size_t>(kMaxJoints), name + ".size()",
          static_cast<double>(entries), "in [1, " + std::to_string(kMaxJoints) + "]");
  Require(joints == entries, "joints.size()", static_cast<double>(joints),
          "the number of entries of " + name + ", " + std::to_string(entries));
}

template <typename Row>
std::vector<ChainJoint> ChainOfRows(const std::vector<Row>& rows,
                                    const std::vector<JointSpec>& joints) {
  CheckCounts(rows.size(), joints.size(), "rows");
  std::vector<ChainJoint> chain;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    CheckDhRow(rows[i], i);
    chain.push_back(JointOfDhRow(rows[i]));
  }
  CheckJoints(joints);
  return chain;
}

void RequireSize(const JointVector& q, int joint_count, const std::string& place) {
  Require(q.size() == joint_count, place, static_cast<double>(q.size()),
          "the number of joints, " + std::to_string(joint_count));
}

}  // namespace

ArmModel::ArmModel(std::vector<ChainJoint> chain, std::vector<JointSpec> joints)
    : chain_(std::move(chain)), joints_(std::move(joints)) {}

ArmModel ArmModel::FromDhStandard(const std::vector<DhRow>& rows, std::vector<JointSpec> joints) {
  std::vector<ChainJoint> chain = ChainOfRows(rows, joints);
  return ArmModel(std::move(chain), std::move(joints));
}

ArmModel ArmModel::FromDhModified(const std::vector<ModifiedDhRow>& rows,
                                  std::vector<JointSpec> joints) {
  std::vector<ChainJoint> chain = ChainOfRows(rows, joints);
  return ArmModel(std::move(chain), std::move(joints));
}

ArmModel ArmModel::FromChain(std::vector<ChainJoint> chain, std::vector<JointSpec> joints) {
  CheckCounts(chain.size(), joints.size(), "chain");
  for (std::size_t i = 0; i < chain.size(); ++i) CheckChainJoint(chain[i], i);
  CheckJoints(joints);
  return ArmModel(std::move(chain), std::move(joints));
}

ArmModel ArmModel::FromSphericalWrist(const SphericalWristParameters& parameters,
                                      std::vector<JointSpec> joints) {
  Require(joints.size() == static_cast<std::size_t>(kWristJoints), "joints.size()",
          static_cast<double>(joints.size()), std::to_string(kWristJoints));
  const SphericalWristParameters& p = parameters;
  const std::pair<const char*, double> lengths[] = {
      {"a1_mm", p.a1_mm}, {"a2_mm", p.a2_mm}, {"b_mm", p.b_mm},   {"c1_mm", p.c1_mm},
      {"c2_mm", p.c2_mm}, {"c3_mm", p.c3_mm}, {"c4_mm", p.c4_mm}};
  for (const auto& [name, value] : lengths) Require(std::isfinite(value), name, value, "finite");
  CheckJoints(joints);

  const Eigen::Vector3d y = Eigen::Vector3d::UnitY(), z = Eigen::Vector3d::UnitZ();
  const Pose none = Pose::Identity();
  return ArmModel({{Shift(0, 0, p.c1_mm), z, none},
                   {Shift(p.a1_mm, p.b_mm, 0), y, none},
                   {Shift(0, 0, p.c2_mm), y, none},
                   {Shift(p.a2_mm, 0, 0), z, none},
                   {Shift(0, 0, p.c3_mm), y, none},
                   {Shift(0, 0, p.c4_mm), z, none}},
                  std::move(joints));
}

ArmModel ArmModel::WithExternals(std::vector<ExternalAxis> axes,
                                 std::vector<JointSpec> joints) const {
  const std::size_t total = joints_.size() + axes.size();
  Require(total <= static_cast<std::size_t>(kMaxJoints), "joints and external axes",
          static_cast<double>(total), "at most " + std::to_string(kMaxJoints));
  Require(joints.size() == axes.size(), "joints.size()", static_cast<double>(joints.size()),
          "the number of external axes, " + std::to_string(axes.size()));
  ArmModel arm = *this;
  for (std::size_t k = 0; k < axes.size(); ++k) {
    const std::size_t index = joints_.size() + k;
    Require(axes[k].p_B.allFinite(), JointField(index, "p_B"), axes[k].p_B.sum(), "finite");
    Require(std::abs(axes[k].direction_B.norm() - 1.0) <= kUnitSlack,
            JointField(index, "direction_B, length"), axes[k].direction_B.norm(), "1");
    CheckJoint(joints[k], index);
    Require(!joints[k].follows && !joints[k].sum_limit, JointField(index, "follows and sum_limit"),
            1.0, "left out for an external axis");
    arm.externals_.push_back(axes[k]);
    arm.joints_.push_back(joints[k]);
  }
  return arm;
}

JointVector ArmModel::ModelAngles(const JointVector& q) const {
  RequireSize(q, joint_count(), "ModelAngles: q.size()");
  JointVector theta(q.size());
  for (int i = 0; i < joint_count(); ++i) {
    const JointSpec& joint = joints_[static_cast<std::size_t>(i)];
    theta[i] = joint.sign * q[i] + joint.zero_rad;
    if (joint.follows) theta[i] += joint.follows->ratio * q[joint.follows->joint];
  }
  return theta;
}

JointVector ArmModel::PanelValues(const JointVector& theta) const {
  RequireSize(theta, joint_count(), "PanelValues: theta.size()");
  JointVector q(theta.size());
  for (int i = 0; i < joint_count(); ++i) {
    const JointSpec& joint = joints_[static_cast<std::size_t>(i)];
    // A followed joint is an earlier one: its panel value is already known.
    const double driven =
        joint.follows ? joint.follows->ratio * q[joint.follows->joint] : 0.0;
    q[i] = joint.sign * (theta[i] - joint.zero_rad - driven);
  }
  return q;
}

bool ArmModel::InRange(const JointVector& q, double margin_rad) const {
  RequireSize(q, joint_count(), "InRange: q.size()");
  for (int i = 0; i < joint_count(); ++i) {
    const JointSpec& joint = joints_[static_cast<std::size_t>(i)];
    const bool inside =
        q[i] >= joint.lower_rad + margin_rad && q[i] <= joint.upper_rad - margin_rad;
    if (!inside) return false;
    if (!joint.sum_limit) continue;
    const SumLimit& limit = *joint.sum_limit;
    const double sum_rad = q[i] + limit.ratio * q[limit.joint];
    const bool sum_inside =
        sum_rad >= limit.lower_rad + margin_rad && sum_rad <= limit.upper_rad - margin_rad;
    if (!sum_inside) return false;
  }
  return true;
}

}  // namespace aircut::kinematics
