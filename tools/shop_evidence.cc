#include "tools/shop_evidence.h"

#include <array>
#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"
#include "tools/scene_files.h"

namespace aircut::tools {
namespace {

using kinematics::JointVector;
using kinematics::RadFromDeg;

// The arm of boat_shop.cell.yaml; a slip here fails the scene's arm-model check.
kinematics::ArmModel ShopArm() {
  kinematics::SphericalWristParameters p;
  p.a1_mm = 350;
  p.a2_mm = -60;
  p.c1_mm = 675;
  p.c2_mm = 1150;
  p.c3_mm = 1200;
  p.c4_mm = 215;
  std::vector<kinematics::JointSpec> joints(6);
  for (kinematics::JointSpec& joint : joints) {
    joint.lower_rad = RadFromDeg(-360);
    joint.upper_rad = RadFromDeg(360);
    joint.speed_rad_s = joint.acceleration_rad_s2 = 1.0;
  }
  joints[2].zero_rad = RadFromDeg(90);
  return kinematics::ArmModel::FromSphericalWrist(p, std::move(joints));
}

// Far apart, every joint turned from one to the next.
constexpr std::array<std::array<double, 6>, 5> kPostures_deg = {{
    {0.0, 33.6, 41.4, 0.0, -75.0, 0.0},
    {-42.5, 12.0, 58.25, 35.0, -60.0, -80.0},
    {38.75, 51.5, 12.0, -48.0, 62.5, 95.0},
    {75.0, -20.0, 75.0, 110.0, -35.0, 160.0},
    {-15.0, 60.0, -25.0, -95.0, 88.0, -140.0},
}};

// The scatter of a tracker that looks at the flange [mm].
constexpr std::array<std::array<double, 3>, 5> kFlangeScatter_mm = {{
    {0.008, -0.006, 0.011}, {-0.012, 0.009, -0.004}, {0.005, 0.013, -0.008},
    {-0.007, -0.010, 0.006}, {0.010, 0.004, -0.012}}};

std::vector<PanelReadout> Readouts() {
  const kinematics::ArmModel arm = ShopArm();
  std::vector<PanelReadout> rows;
  for (std::size_t i = 0; i < kPostures_deg.size(); ++i) {
    PanelReadout row;
    JointVector q(6);
    for (Eigen::Index j = 0; j < 6; ++j) {
      row.joints_deg.push_back(kPostures_deg[i][static_cast<std::size_t>(j)]);
      q[j] = RadFromDeg(row.joints_deg.back());
    }
    row.X_BF = kinematics::FlangePose(arm, q);
    row.X_BF.translation() += Eigen::Vector3d(kFlangeScatter_mm[i][0], kFlangeScatter_mm[i][1], kFlangeScatter_mm[i][2]);
    rows.push_back(row);
  }
  return rows;
}

// Pins of the cradle's table; the frame of the workpiece is where the cell file
// says, a quarter turn about z, origin at (1700, 0, 750).
std::vector<NamedPair> PlatePoints() {
  const std::vector<Eigen::Vector3d> points_S = {{-350, -250, -110}, {350, -250, -110}, {350, 250, -110},
                                                 {-350, 250, -110},  {0, -250, -110},   {0, 250, -110}};
  const std::array<std::array<double, 3>, 6> scatter_mm = {{{0.012, -0.008, 0.010}, {-0.009, 0.011, -0.013},
                                                            {0.007, 0.014, 0.006},  {-0.013, -0.006, -0.009},
                                                            {0.010, -0.012, 0.008}, {-0.007, 0.009, -0.004}}};
  std::vector<NamedPair> pairs;
  for (std::size_t i = 0; i < points_S.size(); ++i) {
    const Eigen::Vector3d& p = points_S[i];
    const Eigen::Vector3d off(scatter_mm[i][0], scatter_mm[i][1], scatter_mm[i][2]);
    pairs.push_back({"pin " + std::to_string(i + 1), p, Eigen::Vector3d(1700.0 - p.y(), p.x(), 750.0 + p.z()) + off});
  }
  return pairs;
}

}  // namespace

void WriteShopEvidence(const std::filesystem::path& folder) {
  WriteReadouts(folder / "readouts.csv", Readouts());
  WriteFitPoints(folder / "plate_points.csv", PlatePoints());
}

}  // namespace aircut::tools
