// Oracles: springs by hand (force over stiffness, external check STF-05 for springs in
// series), the arm's own compliance, and laws: stiffer never gives more.

#include "sim/displacement.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "kinematics/joint_compliance.h"
#include "kinematics/units.h"
#include "sim/springs.h"
#include "tests/support/sample_arm.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Phase;
using kinematics::Pose;

constexpr double kFloat = 1e-6;   // relative: displacements are kept in float

// Two sweeps of a 6 mm ball by the sample arm; the first cuts with a given force.
struct Scene {
  Job job;
  kinematics::MotionTrack motion;
  ToolTrack track;
  CuttingLoad load;
  std::set<ErrorLayer> without;

  Displacements Ask() const {
    return ComputeDisplacements({job, motion, track, load, Pose::Identity(), without, 2});
  }
  Vector3d Of(ErrorLayer layer, BandEnd end = kNominal, std::size_t sweep = 0) const {
    for (const LayerShift& shift : Ask().layers) {
      if (shift.layer == layer) return shift.of_sweep[sweep][end].cast<double>();
    }
    return Vector3d::Constant(-1e9);   // not there: no test expects this
  }
};

const Vector3d kForce_n(12, -5, 20);

Scene MakeScene() {
  Scene scene;
  Cell& cell = scene.job.cell;
  cell.arm = std::make_shared<const kinematics::ArmModel>(support::SampleArm());
  cell.X_FH = kinematics::MakePose(Eigen::AngleAxisd(kinematics::kPi, Vector3d::UnitX()).toRotationMatrix(), {0, 0, 150});
  CellCutter cutter;
  cutter.number = 1;
  cutter.cutter = Cutter::Ball(6.0, 22.0);
  cutter.shank_diameter_mm = 6.0;
  cutter.stick_out_mm = cutter.measured_stick_out_mm = 40.0;
  cell.cutters.emplace(1, cutter);
  scene.motion.q = {support::PanelFromDeg({10, 20, 30, 15, 60, 40}), support::PanelFromDeg({11, 20, 30, 15, 60, 40}),
                    support::PanelFromDeg({12, 20, 30, 15, 60, 40})};
  scene.motion.time_s = {0, 1, 2};
  scene.motion.phase.assign(3, Phase::kCut);
  scene.track.tools = {{1, cutter.cutter, {}}};
  scene.track.time_s = scene.motion.time_s;
  scene.track.p_ST = {{0, 0, 0}, {1, 0, 0}, {2, 0, 0}};
  scene.track.axis_S.assign(3, Vector3d::UnitZ());
  scene.track.sweeps.resize(2);
  SweepLoad load;
  load.height_mm = 0.5F;
  for (int end = 0; end < kBandEnds; ++end) {
    const double share = 0.5 + 0.5 * end;   // 50, 100 and 150 %
    load.mean_S_n[static_cast<std::size_t>(end)] = (share * kForce_n).cast<float>();
    load.peak_S_n[static_cast<std::size_t>(end)] = (1.2 * share * kForce_n).cast<float>();
  }
  scene.load.sweeps = {load};
  scene.load.of_sweep = {0, -1};
  scene.load.force.emplace();
  return scene;
}

void ExpectNear(const Vector3d& a, const Vector3d& b) { EXPECT_LE((a - b).norm(), kFloat * b.norm() + 1e-9) << a.transpose(); }

TEST(DisplacementTest, FixtureGivesForceOverStiffnessWithTheBand) {
  Scene scene = MakeScene();
  scene.job.cell.fixture_n_per_mm = Vector3d(2000, 1000, 5);
  ExpectNear(scene.Of(ErrorLayer::kFixture), Vector3d(12.0 / 2000, -5.0 / 1000, 20.0 / 5));
  ExpectNear(scene.Of(ErrorLayer::kFixture, kMost), 1.5 * Vector3d(12.0 / 2000, -5.0 / 1000, 20.0 / 5));
  ExpectNear(scene.Of(ErrorLayer::kFixture, kLeast), 0.5 * Vector3d(12.0 / 2000, -5.0 / 1000, 20.0 / 5));
  EXPECT_EQ(scene.Of(ErrorLayer::kFixture, kNominal, 1).norm(), 0.0);   // a sweep without a load
}

TEST(DisplacementTest, ArmGivesByItsJointsSofterByTwoFifthsAtTheBadEnd) {
  Scene scene = MakeScene();
  scene.job.cell.drives.assign(6, JointDrive{1e6, std::nullopt});
  const Vector3d tip_F = scene.job.cell.X_FH * Vector3d(0, 0, -40);
  const Vector3d d = kinematics::JointCompliance(*scene.job.cell.arm, scene.motion.q[1], tip_F, tip_F,
                                                 std::vector<double>(6, 1e6)) * kForce_n;
  ExpectNear(scene.Of(ErrorLayer::kArm), d);
  ExpectNear(scene.Of(ErrorLayer::kArm, kMost), 1.5 * d / (1 - kArmBand));
  ExpectNear(scene.Of(ErrorLayer::kArm, kLeast), 0.5 * d / (1 + kArmBand));
}

// A band found from held-out poses takes the place of the two fifths, and its stiffness that of
// the joints.
TEST(DisplacementTest, ArmsBandIsThatOfItsDeflectionTest) {
  Scene scene = MakeScene();
  scene.job.cell.arm_fit = ArmFit{"poses.csv", 43, std::vector<double>(6, 2e6), 0.1, 0.25};
  const Vector3d fitted = scene.Of(ErrorLayer::kArm);
  ExpectNear(scene.Of(ErrorLayer::kArm, kMost), 1.5 * fitted / 0.75);
  ExpectNear(scene.Of(ErrorLayer::kArm, kLeast), 0.5 * fitted / 1.25);
  scene.job.cell.arm_fit.reset();
  scene.job.cell.drives.assign(6, JointDrive{1e6, std::nullopt});
  ExpectNear(fitted, 0.5 * scene.Of(ErrorLayer::kArm));
}

// Gravity counts as its difference from the mean over the cuts: of two postures with the same
// load, one hangs as much lower than the mean as the other stands above it. What it moves is
// the weight's own compliance, at its centre.
TEST(DisplacementTest, PayloadSagsByItsDifferenceFromTheMean) {
  Scene scene = MakeScene();
  Cell& cell = scene.job.cell;
  cell.drives.assign(6, JointDrive{1e6, std::nullopt});
  scene.motion.q[2] = support::PanelFromDeg({11, 60, 10, 15, 60, 40});
  scene.load.sweeps.push_back(scene.load.sweeps[0]);
  scene.load.sweeps[1].sweep = 1;
  scene.load.of_sweep = {0, 1};
  const auto without = [&](std::size_t sweep) { return scene.Of(ErrorLayer::kArm, kNominal, sweep); };
  const Vector3d bent[] = {without(0), without(1)};
  cell.payload = Payload{100, 20, Vector3d(0, 0, 130)};
  const Vector3d tip_F = cell.X_FH * Vector3d(0, 0, -40);
  Vector3d sag[2];
  for (std::size_t s = 0; s < 2; ++s) {
    sag[s] = kinematics::JointCompliance(*cell.arm, scene.motion.q[s + 1], tip_F, *cell.payload->centre_F,
                                         std::vector<double>(6, 1e6)) * Vector3d(0, 0, -20 * 9.80665);
  }
  const Vector3d half = 0.5 * (sag[0] - sag[1]);
  ASSERT_GT(half.norm(), 0.001);
  for (std::size_t s = 0; s < 2; ++s) {
    EXPECT_LE((scene.Of(ErrorLayer::kArm, kNominal, s) - bent[s] - (s == 0 ? half : Vector3d(-half))).norm(), 1e-6);
  }
}

// A base that is turned turns the arm's displacement with it.
TEST(DisplacementTest, ArmsDisplacementIsTheWorkpiecesAffair) {
  Scene scene = MakeScene();
  scene.job.cell.drives.assign(6, JointDrive{1e6, std::nullopt});
  const Eigen::Matrix3d R = Eigen::AngleAxisd(0.7, Vector3d(1, 2, 3).normalized()).toRotationMatrix();
  const Vector3d tip_F = scene.job.cell.X_FH * Vector3d(0, 0, -40);
  const Eigen::Matrix3d C_A = kinematics::JointCompliance(*scene.job.cell.arm, scene.motion.q[1], tip_F, tip_F,
                                                          std::vector<double>(6, 1e6));
  scene.job.cell.X_WB.linear() = R;
  ExpectNear(scene.Of(ErrorLayer::kArm), R * C_A * R.transpose() * kForce_n);
}

// STF-05: arm 0.5, fixture 10, tool 5.5 N/um in series: 100 N give 228.1818 um. The arm's
// part is stood for by the spindle's spring, which is the same along every direction here.
TEST(DisplacementTest, SpringsInSeriesAddUp) {
  Scene scene = MakeScene();
  scene.job.cell.spindle_spring = SpindleSpring{500, 500};
  scene.job.cell.fixture_n_per_mm = Vector3d::Constant(10000);
  CellCutter& cutter = scene.job.cell.cutters.at(1);
  cutter.modulus_gpa = 600.0;
  *cutter.modulus_gpa *= CutterCompliance_mm_n(cutter, 600.0, 0.5) * 5500;   // 5.5 N/um across
  scene.load.sweeps[0].mean_S_n[kNominal] = Eigen::Vector3f(100, 0, 0);
  const Displacements found = scene.Ask();
  EXPECT_NEAR(SumOf(found.layers, kNominal)[0].x(), 0.2281818, 1e-5);
  EXPECT_NEAR(SumOf(found.layers, kNominal, ErrorLayer::kSpindle)[0].x(), 0.0281818, 1e-5);
}

TEST(DisplacementTest, CutterWithoutModulusTakesTheSoftEndOfItsBand) {
  Scene scene = MakeScene();
  const Vector3d assumed = scene.Of(ErrorLayer::kTool), good = scene.Of(ErrorLayer::kTool, kLeast);
  scene.job.cell.cutters.at(1).modulus_gpa = kSoftModulus_gpa;
  ExpectNear(assumed, scene.Of(ErrorLayer::kTool));
  scene.job.cell.cutters.at(1).modulus_gpa = kStiffModulus_gpa;
  ExpectNear(good, 0.5 * scene.Of(ErrorLayer::kTool));
  ExpectNear(scene.Of(ErrorLayer::kTool, kMost), 1.5 * 1.2 * scene.Of(ErrorLayer::kTool));   // the peak bends it
}

TEST(DisplacementTest, WhatIsNotKnownIsNamedAndWhatIsLeftOutIsNot) {
  Scene scene = MakeScene();
  std::vector<ErrorLayer> missing;
  for (const MissingLayer& m : scene.Ask().missing) {
    missing.push_back(m.layer);
    EXPECT_FALSE(m.needs.empty());
  }
  EXPECT_THAT(missing, testing::ElementsAre(ErrorLayer::kArm, ErrorLayer::kFixture, ErrorLayer::kLostMotion));
  scene.without = {ErrorLayer::kArm, ErrorLayer::kFixture, ErrorLayer::kLostMotion, ErrorLayer::kTool};
  EXPECT_TRUE(scene.Ask().missing.empty());
  EXPECT_TRUE(scene.Ask().layers.empty());
}

TEST(DisplacementTest, WithoutForcesNoSpringActs) {
  Scene scene = MakeScene();
  scene.job.cell.fixture_n_per_mm = Vector3d::Constant(10);
  scene.load.force.reset();
  EXPECT_TRUE(scene.Ask().layers.empty());
}

TEST(DisplacementTest, CutsBeyondThePushedHeightsAreNamed) {
  Scene scene = MakeScene();
  PushRow row;
  row.force_n = 50;
  row.displacement_mm = 0.1;
  row.stands_on = "floor";
  for (int axis = 0; axis < 3; ++axis) {
    row.direction_S = Vector3d::Unit(axis);
    scene.job.cell.push_test.push_back(row);
  }
  const auto names_fixture = [&] {
    for (const MissingLayer& m : scene.Ask().missing) {
      if (m.layer == ErrorLayer::kFixture) return true;
    }
    return false;
  };
  EXPECT_FALSE(names_fixture());
  for (PushRow& push : scene.job.cell.push_test) push.p_S.z() = push.p_SG.z() = 30;
  EXPECT_TRUE(names_fixture());
}

// Joint 1 turns forwards, so it lies half its lost motion behind.
TEST(DisplacementTest, LostMotionLiesBehindTheLastWay) {
  Scene scene = MakeScene();
  scene.job.cell.drives.assign(6, JointDrive{std::nullopt, 2e-4});
  const Vector3d tip_F = scene.job.cell.X_FH * Vector3d(0, 0, -40);
  kinematics::JointVector behind = scene.motion.q[1];
  behind[0] -= 1e-4;
  const Vector3d d = kinematics::FlangePose(*scene.job.cell.arm, behind) * tip_F -
                     kinematics::FlangePose(*scene.job.cell.arm, scene.motion.q[1]) * tip_F;
  EXPECT_LE((scene.Of(ErrorLayer::kLostMotion) - d).norm(), 1e-4 * d.norm());
  EXPECT_EQ(scene.Of(ErrorLayer::kLostMotion, kLeast).norm(), 0.0);
  scene.motion.q[2] = scene.motion.q[0];   // and turns back
  EXPECT_LT(scene.Of(ErrorLayer::kLostMotion, kNominal, 1).dot(d), 0.0);
}

TEST(DisplacementTest, DriftGoesStraightBetweenItsRowsAndEndsWithThem) {
  Scene scene = MakeScene();
  scene.job.cell.drift = {{2, 0, {0, 0, 0}}, {3, 4, {0, 0, 0.4}}};
  ExpectNear(scene.Of(ErrorLayer::kDrift), Vector3d(0, 0, 0.1));
  ExpectNear(scene.Of(ErrorLayer::kDrift, kMost, 1), Vector3d(0, 0, 0.2));
  scene.job.cell.drift.pop_back();
  scene.job.cell.drift.push_back({3, 1.5, {0, 0, 0.4}});
  EXPECT_EQ(scene.Ask().missing.back().layer, ErrorLayer::kDrift);
}

// Work done by the force never falls when a spring gets softer.
TEST(DisplacementTest, StifferNeverGivesMore) {
  Scene scene = MakeScene();
  scene.job.cell.drives.assign(6, JointDrive{1e6, std::nullopt});
  scene.job.cell.fixture_n_per_mm = Vector3d(300, 400, 500);
  const double soft = kForce_n.dot(SumOf(scene.Ask().layers, kNominal)[0]);
  for (int j = 0; j < 6; ++j) {
    Scene stiffer = scene;
    stiffer.job.cell.drives[static_cast<std::size_t>(j)].stiffness_nm_rad = 1.3e6;
    EXPECT_LE(kForce_n.dot(SumOf(stiffer.Ask().layers, kNominal)[0]), soft * (1 + kFloat));
  }
  for (int axis = 0; axis < 3; ++axis) {
    Scene stiffer = scene;
    (*stiffer.job.cell.fixture_n_per_mm)[axis] *= 1.3;
    EXPECT_LT(kForce_n.dot(SumOf(stiffer.Ask().layers, kNominal)[0]), soft);
  }
}

TEST(DisplacementTest, MomentTakesTheLargerOfItsSweeps) {
  const Scene scene = MakeScene();
  const ToolTrack moved = Displaced(scene.track, {{0, 0, 1}, {0, 0, 0}});
  EXPECT_EQ(moved.p_ST[0], Vector3d(0, 0, 1));
  EXPECT_EQ(moved.p_ST[1], Vector3d(1, 0, 1));
  EXPECT_EQ(moved.p_ST[2], Vector3d(2, 0, 0));
}

}  // namespace
}  // namespace aircut::sim
