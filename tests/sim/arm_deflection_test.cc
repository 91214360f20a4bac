// Oracles: published deflections of a heavy six-axis arm with the stiffness that least squares
// give (STF-07, STF-08, STF-12; the table's own source stands in its file), pushes made from
// an arm whose stiffness is known, and laws: worse poses never narrow the band.

#include "sim/arm_deflection.h"

#include <cmath>
#include <fstream>
#include <random>
#include <sstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/joint_compliance.h"
#include "sim/job.h"
#include "sim/springs.h"
#include "tests/support/sample_arm.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using testing::HasSubstr;

constexpr char kCell[] = "tiny.cell.yaml";

// STF-08: angles of the model, in which the joints have their springs, are (q1, q2, -(q2 + q3),
// -q4, -q5, -q6).
std::string PublishedTable() {
  std::ifstream file(AIRCUT_TEST_DATA "/arm_deflection.csv");
  std::ostringstream table;
  table.precision(12);
  std::string line;
  while (std::getline(file, line)) {
    if (line.empty() || line[0] == '#') continue;
    if (line[0] == 'q') {
      table << line << "\n";
      continue;
    }
    std::istringstream fields(line);
    std::vector<double> v;
    for (std::string field; std::getline(fields, field, ',');) v.push_back(std::stod(field));
    table << v[0] << "," << v[1] << "," << -(v[1] + v[2]) << "," << -v[3] << "," << -v[4] << "," << -v[5];
    for (std::size_t i = 6; i < v.size(); ++i) table << "," << v[i];
    table << "\n";
  }
  return table.str();
}

// STF-08: the measured arm.
test::TinyJob WithPublishedArm() {
  test::TinyJob tiny;
  const std::string row = ", speed: 100, acceleration: 200, sign: 1, zero: 0}\n";
  std::string& cell = tiny.files.at(kCell);
  const std::size_t from = cell.find("  joints:\n"), to = cell.find("  links:\n");
  cell.replace(from, to - from,
               "  joints:\n    - {range: [-180, 180]" + row + "    - {range: [-100, 120]" + row + "    - {range: [-180, 180]" +
                   row + "    - {range: [-360, 360]" + row + "    - {range: [-125, 125]" + row + "    - {range: [-360, 360]" + row);
  tiny.Change(kCell, test::TinyArmForm(),
              "{form: dh_modified, rows: [{a: 0, alpha: 0, d: 670, theta_offset: 0}, "
              "{a: 312, alpha: -90, d: 0, theta_offset: -90}, {a: 1075, alpha: 0, d: 0, theta_offset: 0}, "
              "{a: 225, alpha: -90, d: 1280, theta_offset: 0}, {a: 0, alpha: 90, d: 0, theta_offset: 0}, "
              "{a: 0, alpha: -90, d: 215, theta_offset: 0}]}");
  tiny.Change(kCell, "  home: [0, 25, 109, 0, 46, 0]",
              "  deflection_test: {file: poses.csv, point_in_flange: [6.9, 245.3, 319.3]}\n  home: [0, 0, 0, 0, 60, 0]");
  tiny.files["poses.csv"] = PublishedTable();
  return tiny;
}

Cell LoadCell(const test::TinyJob& tiny) {
  const test::TempFolder folder;
  return LoadJob(tiny.WriteTo(folder), {}).cell;
}

// STF-12: plain least squares over the 43 poses leave .216 and give these six.
TEST(ArmDeflectionTest, PublishedPosesGiveTheStiffnessOfLeastSquares) {
  const Cell cell = LoadCell(WithPublishedArm());
  ASSERT_TRUE(cell.arm_fit.has_value());
  EXPECT_EQ(cell.arm_fit->poses, 43);
  EXPECT_EQ(cell.arm_fit->file, "poses.csv");
  EXPECT_NEAR(cell.arm_fit->residual, 0.216, 0.0005);
  const double printed[] = {8.61e5, 2.72e6, 1.96e6, 2.71e5, 4.25e5, 2.06e5};
  for (std::size_t j = 0; j < 6; ++j) EXPECT_NEAR(cell.arm_fit->stiffness_nm_rad[j] / printed[j], 1.0, 0.003) << j;
  EXPECT_EQ(*ArmStiffnessOf(cell), cell.arm_fit->stiffness_nm_rad);
}

// What the band says is true of the measured poses themselves: predicted by the whole fit, no
// worse than held out, at least 95 % of them lie within it.
TEST(ArmDeflectionTest, BandHoldsForPublishedPoses) {
  const Cell cell = LoadCell(WithPublishedArm());
  const test::TempFolder folder;
  int within = 0, count = 0;
  for (const ArmPush& push : ReadArmPushes(folder.Write("poses.csv", PublishedTable()), cell)) {
    const Vector3d p_FQ(6.9, 245.3, 319.3);
    const Vector3d told = kinematics::JointCompliance(*cell.arm, push.q, p_FQ, p_FQ, cell.arm_fit->stiffness_nm_rad) * push.force_B;
    within += (told - push.shift_B).norm() <= cell.arm_fit->band * push.shift_B.norm() ? 1 : 0;
    ++count;
  }
  EXPECT_GE(within, std::ceil(0.95 * count));
  EXPECT_EQ(ArmBandOf(cell), cell.arm_fit->band);
  RecordProperty("band", std::to_string(cell.arm_fit->band));
}

const std::vector<double> kTrue_nm_rad = {1.4e6, 3.0e6, 2.5e6, 3.5e5, 3.0e5, 4.0e5};
const Vector3d kTool_F(10, 120, 190);

// Pushes on the sample arm, each displacement off by a share of itself in a random direction.
std::vector<ArmPush> MadePushes(int count, double off) {
  std::mt19937_64 rng(20260715);
  std::uniform_real_distribution<double> turn_rad(-1.5, 1.5), part(-1, 1);
  const kinematics::ArmModel arm = support::SampleArm();
  std::vector<ArmPush> pushes;
  for (int i = 0; i < count; ++i) {
    ArmPush push;
    push.q.resize(6);
    for (int j = 0; j < 6; ++j) push.q[j] = turn_rad(rng);
    push.force_B = 500 * Vector3d(part(rng), part(rng), part(rng));
    const Vector3d told = kinematics::JointCompliance(arm, push.q, kTool_F, kTool_F, kTrue_nm_rad) * push.force_B;
    const Vector3d way = Vector3d(part(rng), part(rng), part(rng)).normalized();
    push.shift_B = told + off * told.norm() * way;
    pushes.push_back(push);
  }
  return pushes;
}

TEST(ArmDeflectionTest, PushesWithoutErrorGiveTheTrueStiffnessAndTheLeastBand) {
  const ArmFit fit = FitArmStiffness("made", MadePushes(20, 0.0), support::SampleArm(), kTool_F);
  for (std::size_t j = 0; j < 6; ++j) EXPECT_NEAR(fit.stiffness_nm_rad[j] / kTrue_nm_rad[j], 1.0, 1e-9) << j;
  EXPECT_LT(fit.residual, 1e-9);
  EXPECT_EQ(fit.band, kLeastArmBand);
}

TEST(ArmDeflectionTest, WorsePosesWidenTheBand) {
  double before = 0.0;
  for (const double off : {0.0, 0.1, 0.2, 0.3}) {
    const ArmFit fit = FitArmStiffness("made", MadePushes(60, off), support::SampleArm(), kTool_F);
    EXPECT_GE(fit.band, std::max(before, off / (1 + off)));   // of the measured length, at most 1 + off of the true one
    before = fit.band;
  }
}

TEST(ArmDeflectionTest, MassHangsDownInTheWorld) {
  test::TinyJob tiny;
  const Cell cell = LoadCell(tiny.Change(kCell, "base_in_world: {position: [0, 0, 0], rotation: {axis: [0, 0, 1], angle: 0}}",
                                         "base_in_world: {position: [0, 0, 0], rotation: {axis: [1, 0, 0], angle: 90}}"));
  const test::TempFolder folder;
  const auto file = folder.Write("poses.csv", "q1_deg,q2_deg,q3_deg,q4_deg,q5_deg,q6_deg,mass_kg,dx_in,dy_in,dz_in\n"
                                              "10,20,30,0,40,0,10,0,0,0.1\n");
  const std::vector<ArmPush> pushes = ReadArmPushes(file, cell);
  ASSERT_EQ(pushes.size(), 1u);
  EXPECT_NEAR((pushes[0].force_B - Vector3d(0, -98.0665, 0)).norm(), 0.0, 1e-9);
  EXPECT_NEAR((pushes[0].shift_B - Vector3d(0, 0, 2.54)).norm(), 0.0, 1e-12);
}

std::string FaultOf(const std::vector<ArmPush>& pushes) {
  try {
    FitArmStiffness("poses.csv", pushes, support::SampleArm(), kTool_F);
  } catch (const std::exception& error) {
    return error.what();
  }
  return "";
}

TEST(ArmDeflectionTest, PosesThatDoNotTellAreRefused) {
  EXPECT_THAT(FaultOf({}), HasSubstr("0 poses, must be 10 or more"));
  EXPECT_THAT(FaultOf(MadePushes(1, 0.0)), HasSubstr("1 pose, must be 10 or more"));
  EXPECT_EQ(FaultOf(MadePushes(10, 0.0)), "");
  EXPECT_THAT(FaultOf(std::vector<ArmPush>(12, MadePushes(1, 0.0)[0])), HasSubstr("too much alike"));
  std::vector<ArmPush> turned = MadePushes(20, 0.0);   // displacements in another frame
  for (ArmPush& push : turned) push.shift_B = Vector3d(push.shift_B.y(), -push.shift_B.z(), push.shift_B.x());
  EXPECT_THAT(FaultOf(turned), testing::AnyOf(HasSubstr("against its load"), HasSubstr("held out of the fit")));
}

}  // namespace
}  // namespace aircut::sim
