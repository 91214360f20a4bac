#include "kinematics/spin_lattice.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "kinematics/forward_kinematics.h"
#include "kinematics/jacobian.h"
#include "kinematics/joint_room.h"
#include "kinematics/manipulability.h"
#include "kinematics/singularity.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kTurn_rad = 2.0 * kPi;
// Between stations no joint turns farther than this in one posture.
constexpr double kMostStep_rad = 1.0;
// Stations are not farther apart than this in line of travel, whatever the spin
// may do, and the tool axis turns no more between them.
constexpr double kMostSpacing_mm = 40.0;
constexpr double kMostAxisTurn_rad = RadFromDeg(10.0);
// Steps of the lattice that must be open between two stations.
constexpr double kLeastSteps = 2.0;
// Room [rad] and sine at which nearness costs 1; both fade with the square.
constexpr double kNearRange_rad = RadFromDeg(25.0);
constexpr double kNearSingular = 0.3;
// A spin that turns by one radian counts as this many seconds.
constexpr double kSpinTravel_s = 0.05;
// Makes rates of the tip and of its turn comparable where there is no closed form.
constexpr double kLength_mm = 1000.0;
// A softness of 1 mm a kN costs 1 [mm/N].
constexpr double kSoft_mm_n = 1e-3;

double Square(double value) { return value * value; }

// Every combination of the values that free axes may take; the others stand.
std::vector<JointVector> Settings(const PlanRequest& request) {
  std::vector<JointVector> settings{request.external};
  for (std::size_t k = 0; k < request.external_free.size(); ++k) {
    if (!request.external_free[k]) continue;
    const JointSpec& joint = request.arm->joints()[request.arm->chain().size() + k];
    std::vector<JointVector> more;
    for (const JointVector& setting : settings) {
      for (int n = 0; n < request.external_samples; ++n) {
        const double share = (n + 0.5) / request.external_samples;
        more.push_back(setting);
        more.back()[static_cast<Eigen::Index>(k)] =
            joint.lower_rad + share * (joint.upper_rad - joint.lower_rad);
      }
    }
    settings = std::move(more);
  }
  return settings;
}

}  // namespace

SpinLattice::SpinLattice(const PathTargets& targets, const BranchFollower& follower, const int spins)
    : targets_(targets), follower_(follower), arm_(*targets.request().arm),
      geometry_(follower.searches() ? OrthoParallelGeometry{} : ReadOrthoParallelGeometry(arm_)),
      spins_(spins), step_rad_(kTurn_rad / spins), external_(Settings(targets.request())) {
  const std::optional<KeptChoice>& kept = targets.request().kept;
  if (kept && !kept->spin_rad.empty()) {
    phase_rad_ = kept->spin_rad.back() - step_rad_ * std::floor(kept->spin_rad.back() / step_rad_);
  }
  travel_mm_.push_back(0.0);
  for (std::size_t i = 1; i < targets.size(); ++i) {
    const double step = (targets.X_ST(i).translation() - targets.X_ST(i - 1).translation()).norm();
    travel_mm_.push_back(travel_mm_.back() + step);
  }
}

double SpinLattice::Travel_mm(const std::size_t from, const std::size_t to) const {
  return travel_mm_[to] - travel_mm_[from];
}

int SpinLattice::Steps(const int from, const int to) const {
  const int ahead = (to - from + spins_) % spins_;
  return ahead > spins_ / 2 ? ahead - spins_ : ahead;
}

int SpinLattice::MostSteps(const double travel_mm) const {
  const double most = targets_.request().freedom.spin_per_mm_rad * travel_mm / step_rad_ + 1e-9;
  return static_cast<int>(std::fmin(most, spins_ / 2));
}

std::vector<LatticeStation> SpinLattice::Stations(const LatticeRun& run,
                                                  const std::vector<std::size_t>& extra) const {
  const double per_mm = targets_.request().freedom.spin_per_mm_rad;
  const double wanted = spins_ > 1 ? kLeastSteps * step_rad_ / per_mm : kMostSpacing_mm;
  std::vector<LatticeStation> stations{{run.begin, true}};
  for (std::size_t i = run.begin + 1; i < run.end; ++i) {
    const std::size_t last = stations.back().line;
    const double turned = targets_.X_ST(last).linear().col(2).dot(targets_.X_ST(i).linear().col(2));
    const bool is_far = Travel_mm(last, i) >= wanted || turned < std::cos(kMostAxisTurn_rad);
    const bool is_extra = std::binary_search(extra.begin(), extra.end(), i);
    if (is_far || is_extra || i + 1 == run.end) stations.push_back({i, false});
  }
  return stations;
}

// Every count of whole turns that lies inside the ranges.
void SpinLattice::AddCopies(const LatticeNode& node, std::vector<LatticeNode>& nodes) const {
  std::vector<JointVector> copies{node.q};
  for (Eigen::Index j = 0; j < 6; ++j) {
    if (!follower_.turns_freely(j)) continue;
    const JointSpec& joint = arm_.joints()[static_cast<std::size_t>(j)];
    const int lowest = static_cast<int>(std::ceil((joint.lower_rad - node.q[j]) / kTurn_rad));
    const int highest = static_cast<int>(std::floor((joint.upper_rad - node.q[j]) / kTurn_rad));
    std::vector<JointVector> turned;
    for (const JointVector& copy : copies) {
      for (int turns = lowest; turns <= highest; ++turns) {
        turned.push_back(copy);
        turned.back()[j] += turns * kTurn_rad;
      }
    }
    copies = std::move(turned);
  }
  for (const JointVector& copy : copies) {
    if (arm_.InRange(copy)) nodes.push_back({node.spin, node.posture, node.setting, copy});
  }
}

std::vector<LatticeNode> SpinLattice::Nodes(const std::size_t line) const {
  std::vector<LatticeNode> nodes;
  for (int setting = 0; setting < settings(); ++setting) {
    const JointVector& external = External(setting);
    std::vector<PoseSolutions> at_spin;
    for (int spin = 0; spin < spins_; ++spin) {
      at_spin.push_back(follower_.Solve(targets_.FlangeAt(line, {SpinAt(spin), external}), external));
    }
    for (int posture = 0; posture < kPostures; ++posture) {
      const auto id = static_cast<std::size_t>(posture);
      for (int spin = 0; spin < spins_; ++spin) {
        const PoseSolutions& solutions = at_spin[static_cast<std::size_t>(spin)];
        // A straight wrist leaves its turn open: no node.
        if (!solutions.found[id] || solutions.wrist_sin[id] < BranchFollower::kStraightWristSin) continue;
        JointVector q(6 + external.size());
        for (Eigen::Index j = 0; j < 6; ++j) q[j] = solutions.q[id][static_cast<std::size_t>(j)];
        q.tail(external.size()) = external;
        AddCopies({spin, posture, setting, q}, nodes);
      }
    }
  }
  const std::optional<KeptChoice>& kept = targets_.request().kept;
  if (kept && line + 1 == kept->lines()) {
    nodes.erase(std::remove_if(nodes.begin(), nodes.end(), [&](const LatticeNode& n) { return !IsKept(n); }),
                nodes.end());
  }
  return nodes;
}

bool SpinLattice::IsKept(const LatticeNode& node) const {
  constexpr double kSame = 1e-5;   // rad or mm: what solving the same pose again may change
  const KeptChoice& kept = *targets_.request().kept;
  const bool same_posture = !postures_have_ids() || node.posture == kept.posture.back();
  return same_posture && (node.q - kept.q.back()).cwiseAbs().maxCoeff() < kSame;
}

// Each closed-form factor against the size it has far from its family (KIN-26).
double SpinLattice::Singular(const JointVector& q) const {
  if (follower_.searches()) {
    const double smallest = SmallestSingularValue(arm_, q, Eigen::Vector3d::Zero(), kLength_mm);
    return Square(kNearSingular / std::fmax(smallest, 1e-6));
  }
  SphericalWristParameters p;
  p.a1_mm = geometry_.a1_mm;
  p.a2_mm = geometry_.a2_mm;
  p.b_mm = geometry_.b_mm;
  p.c2_mm = geometry_.c2_mm;
  p.c3_mm = geometry_.c3_mm;
  JointVector theta = arm_.ModelAngles(q).head(6);
  for (Eigen::Index j = 0; j < 6; ++j) {
    const auto i = static_cast<std::size_t>(j);
    theta[j] = geometry_.sign[i] * theta[j] + geometry_.offset_rad[i];
  }
  const SingularityFactors f = Singularity(p, theta);
  const double stretched_mm = p.c2_mm + std::hypot(p.a2_mm, p.c3_mm);
  return Square(kNearSingular / std::fmax(f.wrist_sin, 1e-6)) +
         Square(kNearSingular / std::fmax(f.elbow_sin, 1e-6)) +
         Square(kNearSingular / std::fmax(f.shoulder_mm / stretched_mm, 1e-6));
}

double SpinLattice::NodeCost(const LatticeNode& node) const {
  const PlanRequest& request = targets_.request();
  const ChoiceWeights& weights = request.weights;
  double cost = weights.singularity * Singular(node.q);
  for (int j = 0; j < 6; ++j) {
    const double room_rad = std::fmax(RoomOf(arm_, node.q, j).room_rad, 1e-6);
    cost += weights.range * Square(kNearRange_rad / room_rad);
  }
  if (weights.stiffness > 0.0 && request.stiffness_nm_rad.size() >= 6) {
    const Eigen::Vector3d p_FT = request.X_FT.front().translation();
    const Eigen::Vector3d axis_F = request.X_FT.front().linear().col(2);
    const Pose X_AF = FlangeFromFoot(arm_, node.q);
    const Eigen::RowVectorXd along =
        (X_AF.linear() * axis_F).transpose() * JacobianFromFoot(arm_, node.q, p_FT).topRows<3>();
    double soft_mm_n = 0.0;   // mm of the tip per N: (mm/rad)^2 / (N mm/rad)
    for (Eigen::Index j = 0; j < 6; ++j) {
      soft_mm_n += Square(along[j]) / (1000.0 * request.stiffness_nm_rad[static_cast<std::size_t>(j)]);
    }
    cost += weights.stiffness * soft_mm_n / kSoft_mm_n;
  }
  return cost;
}

std::optional<double> SpinLattice::EdgeCost(const LatticeNode& from, const LatticeNode& to,
                                            const double travel_mm) const {
  const int steps = std::abs(Steps(from.spin, to.spin));
  if (steps > MostSteps(travel_mm) || from.setting != to.setting) return std::nullopt;
  if (postures_have_ids() && from.posture != to.posture) return std::nullopt;
  const double turn_rad = steps * step_rad_;
  double travel_s = 0.0;
  for (Eigen::Index j = 0; j < 6; ++j) {   // external axes stand within a run
    const double step_rad = std::abs(to.q[j] - from.q[j]);
    if (step_rad > kMostStep_rad) return std::nullopt;
    travel_s += step_rad / arm_.joints()[static_cast<std::size_t>(j)].speed_rad_s;
  }
  return targets_.request().weights.travel * (travel_s + kSpinTravel_s * turn_rad);
}

double SpinLattice::LinkCost(const JointVector& q_from, const JointVector& q_to) const {
  double time_s = 0.0;
  for (Eigen::Index j = 0; j < q_from.size(); ++j) {
    const double speed = arm_.joints()[static_cast<std::size_t>(j)].speed_rad_s;
    time_s = std::fmax(time_s, std::abs(q_to[j] - q_from[j]) / speed);
  }
  return targets_.request().weights.travel * time_s;
}

}  // namespace aircut::kinematics
