// Oracles: closed form of a planar arm (STF-06), published predictions and measurements of
// a heavy six-axis arm (STF-07 to STF-12, the table's own source stands in its file), and
// laws that a spring obeys.

#include "kinematics/joint_compliance.h"

#include <cmath>
#include <fstream>
#include <random>
#include <sstream>
#include <stdexcept>

#include <Eigen/Dense>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "tests/support/sample_arm.h"

namespace aircut::kinematics {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;
using support::PlainJoints;

constexpr double kClosedForm = 1e-12;

ArmModel PlanarArm() {
  return ArmModel::FromDhStandard({{1000, 0, 0, 0}, {1000, 0, 0, 0}}, PlainJoints(2));
}

// STF-06: 2R, links of 1 m, second joint at 90 degrees, 1e6 N m/rad each:
// C = [[2, -1], [-1, 1]] 1e-6 m/N, and 100 N along x give (2, -1) e-4 m.
TEST(JointComplianceTest, PlanarArmIsThatOfTheClosedForm) {
  const Matrix3d C = JointCompliance(PlanarArm(), support::PanelFromDeg({0, 90}), Vector3d::Zero(), Vector3d::Zero(),
                                     {1e6, 1e6});
  Matrix3d expected = Matrix3d::Zero();
  expected.topLeftCorner<2, 2>() << 2e-3, -1e-3, -1e-3, 1e-3;   // mm/N
  EXPECT_NEAR((C - expected).norm(), 0.0, kClosedForm);
  EXPECT_NEAR(((C * Vector3d(100, 0, 0)) - Vector3d(0.2, -0.1, 0)).norm(), 0.0, 100 * kClosedForm);
  // K = J^-T K J^-1 of the same row: [[1, 1], [1, 2]] 1e6 N/m.
  const Eigen::Matrix2d K = C.topLeftCorner<2, 2>().inverse();
  EXPECT_NEAR((K - (Eigen::Matrix2d() << 1e3, 1e3, 1e3, 2e3).finished()).norm(), 0.0, 1e-8);
}

// STF-08: geometry of the measured arm, in metres there; its joint mapping is in `Pose`.
ArmModel MeasuredArm() {
  constexpr double kRight = kPi / 2;
  return ArmModel::FromDhModified({{0, 0, 670, 0}, {312, -kRight, 0, -kRight}, {1075, 0, 0, 0},
                                   {225, -kRight, 1280, 0}, {0, kRight, 0, 0}, {0, -kRight, 215, 0}},
                                  PlainJoints(6));
}
const Vector3d kTool_F(6.9, 245.3, 319.3);
const std::vector<double> kPublished_nm_rad = {9.3394e5, 4.1293e6, 1.9075e6, 2.3320e5, 4.0436e5, 7.9618e4};   // STF-07

struct Pose43 {
  JointVector q;      // of the model
  Vector3d force_n, shift_mm;
};

std::vector<Pose43> MeasuredPoses() {
  std::ifstream file(AIRCUT_TEST_DATA "/arm_deflection.csv");
  std::vector<Pose43> poses;
  std::string line;
  while (std::getline(file, line)) {
    if (line.empty() || line[0] == '#' || line[0] == 'q') continue;
    std::stringstream fields(line);
    std::vector<double> v;
    for (std::string field; std::getline(fields, field, ',');) v.push_back(std::stod(field));
    Pose43 pose;
    pose.q.resize(6);
    pose.q << v[0], v[1], -(v[1] + v[2]), -v[3], -v[4], -v[5];
    pose.force_n = {v[6], v[7], v[8]};
    pose.shift_mm = 1000.0 * Vector3d(v[9], v[10], v[11]);
    poses.push_back(pose);
  }
  return poses;
}

Vector3d Predicted_mm(const Pose43& pose, const std::vector<double>& stiffness_nm_rad) {
  return JointCompliance(MeasuredArm(), pose.q, kTool_F, kTool_F, stiffness_nm_rad) * pose.force_n;
}

double Residual(const std::vector<Pose43>& poses, const std::vector<double>& stiffness_nm_rad) {
  double left = 0, all = 0;
  for (const Pose43& pose : poses) {
    left += (pose.shift_mm - Predicted_mm(pose, stiffness_nm_rad)).squaredNorm();
    all += pose.shift_mm.squaredNorm();
  }
  return std::sqrt(left / all);
}

// Least squares over the joints' compliances, each joint's share being linear in its own.
std::vector<double> Identified(const std::vector<Pose43>& poses) {
  Eigen::MatrixXd A(3 * static_cast<Eigen::Index>(poses.size()), 6);
  Eigen::VectorXd b(A.rows());
  for (Eigen::Index i = 0; i < b.size() / 3; ++i) {
    const Pose43& pose = poses[static_cast<std::size_t>(i)];
    for (int j = 0; j < 6; ++j) {
      std::vector<double> only(6, 1e30);   // rigid
      only[static_cast<std::size_t>(j)] = 1e6;
      A.block<3, 1>(3 * i, j) = Predicted_mm(pose, only);
    }
    b.segment<3>(3 * i) = pose.shift_mm;
  }
  const Eigen::VectorXd x = A.colPivHouseholderQr().solve(b);
  std::vector<double> stiffness_nm_rad;
  for (int j = 0; j < 6; ++j) stiffness_nm_rad.push_back(1e6 / x[j]);
  return stiffness_nm_rad;
}

// STF-09, STF-10, STF-11: published predictions to 1e-3 mm, and how far the measured ones
// lie from them: 15 and 20 % of the norm; sample 17 is a poor fit and stays one.
TEST(JointComplianceTest, PublishedPredictionsComeOut) {
  const std::vector<Pose43> poses = MeasuredPoses();
  ASSERT_EQ(poses.size(), 43u);
  const struct { int sample; Vector3d predicted_mm; double share; } rows[] = {
      {9, {-3.0823, -1.1587, -1.5727}, 0.15}, {43, {.2675, .3418, -1.6602}, 0.20}, {17, {1.6543, -.9032, -.1303}, 0.45}};
  for (const auto& row : rows) {
    const Pose43& pose = poses[static_cast<std::size_t>(row.sample - 1)];
    const Vector3d predicted_mm = Predicted_mm(pose, kPublished_nm_rad);
    EXPECT_NEAR((predicted_mm - row.predicted_mm).norm(), 0.0, 1e-3) << row.sample;
    EXPECT_LE((predicted_mm - pose.shift_mm).norm(), row.share * pose.shift_mm.norm()) << row.sample;
  }
  const Pose43& poor = poses[16];
  EXPECT_LT(Predicted_mm(poor, kPublished_nm_rad).norm(), 0.7 * poor.shift_mm.norm());
}

// STF-12: .245 with the published stiffness, .216 and its own six by plain least squares.
TEST(JointComplianceTest, ResidualsOverAllPosesArePublishedAndOurOwn) {
  const std::vector<Pose43> poses = MeasuredPoses();
  EXPECT_NEAR(Residual(poses, kPublished_nm_rad), 0.245, 0.005);
  const std::vector<double> own = Identified(poses);
  EXPECT_NEAR(Residual(poses, own), 0.216, 0.0005);
  const double printed[] = {8.61e5, 2.72e6, 1.96e6, 2.71e5, 4.25e5, 2.06e5};
  for (std::size_t j = 0; j < 6; ++j) EXPECT_NEAR(own[j] / printed[j], 1.0, 0.003) << j;
}

// Every fifth pose is left out of the fit and predicted from the others: what is left there
// stays under the 40 % that arm stiffness carries, and is no better than the fit itself.
TEST(JointComplianceTest, PosesThatWereHeldOutLieWithinTheBandOfArmStiffness) {
  const std::vector<Pose43> poses = MeasuredPoses();
  for (std::size_t first = 0; first < 5; ++first) {
    std::vector<Pose43> kept, held;
    for (std::size_t i = 0; i < poses.size(); ++i) (i % 5 == first ? held : kept).push_back(poses[i]);
    const std::vector<double> stiffness_nm_rad = Identified(kept);
    const double residual = Residual(held, stiffness_nm_rad);
    EXPECT_LT(residual, 0.40) << first;
    RecordProperty("held_out_" + std::to_string(first), std::to_string(residual));
  }
}

JointVector RandomPosture(std::mt19937_64& rng) {
  std::uniform_real_distribution<double> turn_rad(-2, 2);
  JointVector q(6);
  for (int j = 0; j < 6; ++j) q[j] = turn_rad(rng);
  return q;
}

// A force does work on its own spring, and what P does to Q, Q does to P (Maxwell, Betti).
TEST(JointComplianceTest, IsASpringAndMutual) {
  std::mt19937_64 rng(20260501);
  const ArmModel arm = support::SampleArm();
  const std::vector<double> k = {1.4e6, 3.0e6, 2.5e6, 3.5e5, 3.0e5, 4.0e5};
  for (int i = 0; i < 200; ++i) {
    const JointVector q = RandomPosture(rng);
    const Vector3d p_FQ = 200 * Vector3d::Random(), p_FP = 200 * Vector3d::Random();
    const Matrix3d C = JointCompliance(arm, q, p_FQ, p_FQ, k);
    EXPECT_GE(Eigen::SelfAdjointEigenSolver<Matrix3d>(C).eigenvalues()[0], -1e-15);
    const Matrix3d there = JointCompliance(arm, q, p_FQ, p_FP, k), back = JointCompliance(arm, q, p_FP, p_FQ, k);
    EXPECT_NEAR((there - back.transpose()).norm(), 0.0, 1e-15);
  }
}

// A stiffer joint never gives more, whatever the posture and the force.
TEST(JointComplianceTest, StifferJointGivesNoMore) {
  std::mt19937_64 rng(20260502);
  const ArmModel arm = support::SampleArm();
  for (int i = 0; i < 200; ++i) {
    const JointVector q = RandomPosture(rng);
    std::vector<double> k(6, 1e6), stiffer = k;
    stiffer[static_cast<std::size_t>(i % 6)] *= 1.5;
    const Vector3d tip(10, 20, 190), force_n = Vector3d::Random();
    EXPECT_LE(force_n.dot(JointCompliance(arm, q, tip, tip, stiffer) * force_n),
              force_n.dot(JointCompliance(arm, q, tip, tip, k) * force_n) + 1e-15);
  }
}

// Oracle: the flange pose of the turned joints themselves.
TEST(JointComplianceTest, ShiftOfAJointIsThatOfForwardKinematics) {
  const ArmModel arm = support::SampleArm();
  const JointVector q = support::PanelFromDeg({10, 20, 30, 15, 60, 40});
  const Vector3d tip(0, 30, 190);
  constexpr double kTurn_rad = 1e-6;
  const Eigen::Matrix3Xd shifts = JointShifts(arm, q, tip, std::vector<double>(6, kTurn_rad));
  for (int j = 0; j < 6; ++j) {
    JointVector turned = q;
    turned[j] += kTurn_rad;
    const Vector3d moved = FlangePose(arm, turned) * tip - FlangePose(arm, q) * tip;
    EXPECT_NEAR((shifts.col(j) - moved).norm(), 0.0, 1e-8) << j;
  }
}

TEST(JointComplianceTest, WrongStiffnessIsRefused) {
  const auto ask = [](std::vector<double> k) {
    return JointCompliance(PlanarArm(), support::PanelFromDeg({0, 90}), Vector3d::Zero(), Vector3d::Zero(), k);
  };
  EXPECT_THROW(ask({1e6}), std::invalid_argument);
  EXPECT_THROW(ask({1e6, -1}), std::invalid_argument);
  EXPECT_THROW(ask({1e6, std::nan("")}), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::kinematics
