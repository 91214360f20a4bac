#include "kinematics/inverse_kinematics.h"

#include <cmath>
#include <cstddef>
#include <optional>
#include <stdexcept>

#include "kinematics/atan2_lanes.h"
#include "kinematics/ortho_parallel.h"
#include "kinematics/units.h"

namespace aircut::kinematics {

namespace {

// Poses off by more than this from a rotation have no solution.
constexpr double kRigidTolerance = 1e-9;
// Beyond the reach by this part still counts as stretched: rounding of the pose.
constexpr double kReachTolerance = 1e-12;
// Below this sine of the wrist bend the direction of the bend is rounding noise.
constexpr double kStraightSine = 1e-12;
// Squared distance from an axis below which the direction from it is open.
constexpr double kOnAxis_mm2 = 1e-24;

// Panel value = slope * canonical angle + shift - coupling * panel value of `driver`.
struct PanelMap {
  double slope = 1.0;
  double shift_rad = 0.0;
  double coupling = 0.0;
  std::size_t driver = 0;
  double middle_rad = 0.0;
};

struct Constants {
  OrthoParallelGeometry arm;
  double k_mm = 0, psi_rad = 0, sin_psi = 0, cos_psi = 0;
  double near_mm2 = 0, far_mm2 = 0, slack_mm2 = 0;  // squared reach of c2 and k, and its tolerance
  double sin_straight4 = 0, cos_straight4 = 1;      // joint 4 at model angle 0
  std::array<PanelMap, 6> panel{};
};

// Shoulder s in {0, 1} and elbow e in {0, 1} make the branch b = 2 s + e.
constexpr std::size_t kShoulders = 2;
constexpr std::size_t kBranches = 4;

// One lane per angle that a pose needs, so that all arc tangents run side by side.
constexpr std::size_t kBaseLane = 0;       // angle 1, by s
constexpr std::size_t kElbowLane = 2;      // abs(angle 3 + psi), by s
constexpr std::size_t kUpperArmLane = 4;   // angle 2, by b
constexpr std::size_t kWristLane4 = 8;     // by b
constexpr std::size_t kWristLane5 = 12;
constexpr std::size_t kWristLane6 = 16;
constexpr std::size_t kLanes = 20;

struct Branches {
  double y[kLanes];
  double x[kLanes];
  double angle_rad[kLanes];
  std::array<bool, kShoulders> reached{};
  std::array<double, kBranches> wrist_sin{};  // exactly 0: straight, no flipped twin

  void SetLane(std::size_t lane, double y_value, double x_value) {
    y[lane] = y_value;
    x[lane] = x_value;
  }
};

struct Direction {
  double sine = 0.0;
  double cosine = 1.0;
};

// Rows of R_PC turned back by angle 1: the wrist as the arm's plane sees it.
Eigen::Matrix3d TurnBack(const Direction& turn1, const Eigen::Matrix3d& R_PC) {
  Eigen::Matrix3d R;
  R.row(0) = turn1.cosine * R_PC.row(0) + turn1.sine * R_PC.row(1);
  R.row(1) = turn1.cosine * R_PC.row(1) - turn1.sine * R_PC.row(0);
  R.row(2) = R_PC.row(2);
  return R;
}

// Fills the lanes of all branches of one pose.
class BranchSolver {
 public:
  BranchSolver(const Constants& constants, const Pose& X_PC) : c_(constants), X_PC_(X_PC) {}

  // @returns nothing where no branch reaches the pose.
  std::optional<Branches> Solve();

 private:
  void SolveShoulder(double rho_mm, std::size_t s);
  void SolveTriangle(const Eigen::Vector2d& target, const Eigen::Matrix3d& plane, std::size_t s);
  void SolveWrist(const Direction& forearm, const Eigen::Matrix3d& plane, std::size_t branch);

  const Constants& c_;
  const Pose& X_PC_;
  Branches out_;
};

std::optional<Branches> BranchSolver::Solve() {
  const double b2 = c_.arm.b_mm * c_.arm.b_mm;
  const double rho2 = X_PC_.translation().head<2>().squaredNorm() - b2;
  if (!(rho2 >= -kReachTolerance * b2)) return std::nullopt;
  // A lane that no branch fills must still hold a number.
  for (std::size_t lane = 0; lane < kLanes; ++lane) out_.SetLane(lane, 0.0, 1.0);
  const double rho_mm = std::sqrt(rho2 > 0 ? rho2 : 0.0);
  SolveShoulder(rho_mm, 0);
  SolveShoulder(-rho_mm, 1);
  if (!out_.reached[0] && !out_.reached[1]) return std::nullopt;
  return out_;
}

// `rho_mm`: distance of the wrist centre in front of axis 1, in the plane of the arm.
void BranchSolver::SolveShoulder(double rho_mm, std::size_t s) {
  const double x = X_PC_.translation().x(), y = X_PC_.translation().y();
  const double b = c_.arm.b_mm;
  const double r2 = x * x + y * y;
  Direction turn1{0.0, s == 0 ? 1.0 : -1.0};  // wrist centre on axis 1: any angle 1 will do
  if (r2 > kOnAxis_mm2) turn1 = {(y * rho_mm - x * b) / r2, (x * rho_mm + y * b) / r2};
  out_.SetLane(kBaseLane + s, turn1.sine, turn1.cosine);
  SolveTriangle({rho_mm - c_.arm.a1_mm, X_PC_.translation().z()},
                TurnBack(turn1, X_PC_.linear()), s);
}

// Triangle of upper arm c2 and forearm k to the target seen from axis 2.
// Products of sums instead of the cosine rule keep the digits of a folded arm.
void BranchSolver::SolveTriangle(const Eigen::Vector2d& target, const Eigen::Matrix3d& plane,
                                 std::size_t s) {
  const double u = target.x(), z = target.y();
  const double c2 = c_.arm.c2_mm, k = c_.k_mm;
  const double s2 = u * u + z * z;
  const double above = s2 - c_.near_mm2, below = c_.far_mm2 - s2;
  out_.reached[s] = above >= -c_.slack_mm2 && below >= -c_.slack_mm2;
  if (!out_.reached[s]) return;
  const double bend = std::sqrt(above > 0 && below > 0 ? above * below : 0.0);
  const double lift = s2 + c2 * c2 - k * k;  // 2 c2 (c2 + k cos E), bend = 2 c2 k sin E
  out_.SetLane(kElbowLane + s, bend, s2 - c2 * c2 - k * k);
  const bool open = s2 <= kOnAxis_mm2;  // wrist centre on axis 2: any angle 2 will do
  const double scale = open ? 0.0 : 1.0 / (2.0 * c2 * s2);
  for (std::size_t e = 0; e < 2; ++e) {
    const double turn = e == 0 ? bend : -bend;
    const double sine2 = scale * (u * lift - z * turn);
    const double cosine2 = open ? 1.0 : scale * (z * lift + u * turn);
    out_.SetLane(kUpperArmLane + 2 * s + e, sine2, cosine2);
    const double x_wrist = (u - c2 * sine2) / k, z_wrist = (z - c2 * cosine2) / k;
    SolveWrist({x_wrist * c_.cos_psi - z_wrist * c_.sin_psi,
                z_wrist * c_.cos_psi + x_wrist * c_.sin_psi},
               plane, 2 * s + e);
  }
}

// Rz(angle 4) Ry(angle 5) Rz(angle 6) = Ry(-angle 2 - angle 3) * plane.
void BranchSolver::SolveWrist(const Direction& forearm, const Eigen::Matrix3d& plane,
                              std::size_t branch) {
  const double cosine = forearm.cosine, sine = forearm.sine;
  const Eigen::RowVector3d row0 = cosine * plane.row(0) - sine * plane.row(2);
  const Eigen::RowVector3d row1 = plane.row(1);
  const double m22 = sine * plane(0, 2) + cosine * plane(2, 2);
  const double bend_sine = std::sqrt(row0[2] * row0[2] + row1[2] * row1[2]);
  const bool straight = bend_sine <= kStraightSine;
  const double s4 = straight ? c_.sin_straight4 : row1[2];
  const double c4 = straight ? c_.cos_straight4 : row0[2];
  out_.wrist_sin[branch] = straight ? 0.0 : bend_sine;
  out_.SetLane(kWristLane4 + branch, s4, c4);
  out_.SetLane(kWristLane5 + branch, out_.wrist_sin[branch], m22);
  // Angle 6 is measured from the angle 4 in use, so that rounding of angle 4
  // near the straight wrist cancels in their sum.
  out_.SetLane(kWristLane6 + branch, c4 * row1[0] - s4 * row0[0], c4 * row1[1] - s4 * row0[1]);
}

// All eight solutions side by side: row j holds joint j for posture ids 0 to 7.
struct Table {
  double value[6][8];
};

Table CanonicalAngles(const Constants& c, const Branches& in) {
  Table table;
  for (std::size_t id = 0; id < 8; ++id) {
    const std::size_t s = id / 4, b = id / 2;
    const double elbow = in.angle_rad[kElbowLane + s];
    const double flip = id % 2 == 0 ? 0.0 : kPi;
    table.value[0][id] = in.angle_rad[kBaseLane + s];
    table.value[1][id] = in.angle_rad[kUpperArmLane + b];
    table.value[2][id] = (b % 2 == 0 ? elbow : -elbow) - c.psi_rad;
    table.value[3][id] = in.angle_rad[kWristLane4 + b] + flip;
    table.value[4][id] = (id % 2 == 0 ? 1.0 : -1.0) * in.angle_rad[kWristLane5 + b];
    table.value[5][id] = in.angle_rad[kWristLane6 + b] + flip;
  }
  return table;
}

// Adding and taking away 1.5 * 2^52 rounds to the nearest whole number without a call.
double NearestWhole(double value) {
  constexpr double kShift = 6755399441055744.0;
  return (value + kShift) - kShift;
}

Table PanelValues(const Constants& c, const Table& canonical) {
  Table panel{};
  for (std::size_t j = 0; j < 6; ++j) {
    const PanelMap& map = c.panel[j];
    // A followed joint is an earlier one: its row holds panel values already.
    const double(&driver)[8] = panel.value[map.driver];
    for (std::size_t id = 0; id < 8; ++id) {
      const double q = map.slope * canonical.value[j][id] + map.shift_rad -
                       map.coupling * driver[id];
      const double turns = NearestWhole((q - map.middle_rad) * (0.5 / kPi));
      panel.value[j][id] = q - turns * (2.0 * kPi);
    }
  }
  return panel;
}

IkSolutions Collect(const Branches& branches, const Table& panel) {
  IkSolutions solutions;
  for (std::size_t id = 0; id < 8; ++id) {
    const double wrist_sin = branches.wrist_sin[id / 2];
    const bool twin_of_straight = id % 2 == 1 && wrist_sin == 0.0;
    if (!branches.reached[id / 4] || twin_of_straight) continue;
    IkSolution& solution = solutions.items[static_cast<std::size_t>(solutions.count++)];
    solution.q.resize(6);
    for (std::size_t j = 0; j < 6; ++j) {
      solution.q[static_cast<Eigen::Index>(j)] = panel.value[j][id];
    }
    solution.posture.id = static_cast<int>(id);
    solution.wrist_sin = wrist_sin;
  }
  return solutions;
}

// model angle = joint.sign * q + zero + ratio * q_driver; canonical = sign * model + offset.
PanelMap MapOfJoint(const JointSpec& joint, double sign, double offset_rad) {
  PanelMap map;
  map.slope = joint.sign * sign;
  map.shift_rad = -joint.sign * (sign * offset_rad + joint.zero_rad);
  map.middle_rad = 0.5 * (joint.lower_rad + joint.upper_rad);
  if (joint.follows) {
    map.coupling = joint.sign * joint.follows->ratio;
    map.driver = static_cast<std::size_t>(joint.follows->joint);
  }
  return map;
}

Constants MakeConstants(const ArmModel& arm) {
  Constants c;
  c.arm = ReadOrthoParallelGeometry(arm);
  const double c2 = c.arm.c2_mm;
  c.k_mm = std::hypot(c.arm.a2_mm, c.arm.c3_mm);
  c.psi_rad = std::atan2(c.arm.a2_mm, c.arm.c3_mm);
  c.sin_psi = c.arm.a2_mm / c.k_mm;
  c.cos_psi = c.arm.c3_mm / c.k_mm;
  c.near_mm2 = (c2 - c.k_mm) * (c2 - c.k_mm);
  c.far_mm2 = (c2 + c.k_mm) * (c2 + c.k_mm);
  c.slack_mm2 = kReachTolerance * 2.0 * c2 * c.k_mm;
  c.sin_straight4 = std::sin(c.arm.offset_rad[3]);
  c.cos_straight4 = std::cos(c.arm.offset_rad[3]);
  for (std::size_t j = 0; j < 6; ++j) {
    c.panel[j] = MapOfJoint(arm.joints()[j], c.arm.sign[j], c.arm.offset_rad[j]);
  }
  return c;
}

}  // namespace

struct InverseKinematics::Geometry {
  Constants constants;
};

InverseKinematics::InverseKinematics(const ArmModel& arm)
    : geometry_(std::make_shared<const Geometry>(Geometry{MakeConstants(arm)})) {}

bool HasClosedForm(const ArmModel& arm) {
  try {
    ReadOrthoParallelGeometry(arm);
    return true;
  } catch (const std::invalid_argument&) {
    return false;
  }
}

IkSolutions InverseKinematics::Solve(const Pose& X_BF) const {
  if (!IsRigid(X_BF, kRigidTolerance)) return {};
  const Constants& c = geometry_->constants;
  const Pose X_PC = c.arm.X_PB * X_BF * c.arm.X_FC;
  std::optional<Branches> branches = BranchSolver(c, X_PC).Solve();
  if (!branches) return {};
  Atan2Lanes(branches->y, branches->x, branches->angle_rad);
  return Collect(*branches, PanelValues(c, CanonicalAngles(c, *branches)));
}

}  // namespace aircut::kinematics
