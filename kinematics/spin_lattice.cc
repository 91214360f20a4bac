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
constexpr double kNearRange_rad = RadFromDeg(6.0);
constexpr double kNearSingular = 0.12;
// A spin that turns by one radian counts as this many seconds.
constexpr double kSpinTravel_s = 0.05;
// Makes rates of the tip and of its turn comparable where there is no closed form.
constexpr double kLength_mm = 1000.0;
// A softness of 1 mm a kN costs 1 [mm/N].
constexpr double kSoft_mm_n = 1e-3;

double Square(double value) { return value * value; }

}  // namespace

SpinLattice::SpinLattice(const PathTargets& targets, const BranchFollower& follower, const int spins)
    : targets_(targets), follower_(follower), arm_(*targets.request().arm),
      geometry_(follower.searches() ? OrthoParallelGeometry{} : ReadOrthoParallelGeometry(arm_)),
      spins_(spins), step_rad_(kTurn_rad / spins) {
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

std::vector<std::size_t> SpinLattice::Stations(const LatticeRun& run,
                                               const std::vector<std::size_t>& extra) const {
  const double per_mm = targets_.request().freedom.spin_per_mm_rad;
  const double wanted = spins_ > 1 ? kLeastSteps * step_rad_ / per_mm : kMostSpacing_mm;
  std::vector<std::size_t> stations{run.begin};
  for (std::size_t i = run.begin + 1; i < run.end; ++i) {
    const std::size_t last = stations.back();
    const double turn = std::acos(std::fmin(1.0, std::fmax(-1.0, targets_.X_ST(last).linear().col(2).dot(
                                                                     targets_.X_ST(i).linear().col(2)))));
    const bool is_far = Travel_mm(last, i) >= wanted || turn > kMostAxisTurn_rad;
    const bool is_extra = std::binary_search(extra.begin(), extra.end(), i);
    if (is_far || is_extra || i + 1 == run.end) stations.push_back(i);
  }
  return stations;
}

// Every count of whole turns that lies inside the ranges.
void SpinLattice::AddCopies(const JointVector& q, const int spin,
                            std::vector<LatticeNode>& nodes) const {
  std::vector<JointVector> copies{q};
  for (Eigen::Index j = 0; j < q.size(); ++j) {
    if (j >= 6 || !follower_.turns_freely(j)) continue;
    const JointSpec& joint = arm_.joints()[static_cast<std::size_t>(j)];
    const int lowest = static_cast<int>(std::ceil((joint.lower_rad - q[j]) / kTurn_rad));
    const int highest = static_cast<int>(std::floor((joint.upper_rad - q[j]) / kTurn_rad));
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
    if (arm_.InRange(copy)) nodes.push_back({spin, copy});
  }
}

std::vector<LatticeNode> SpinLattice::Nodes(const std::size_t line, const int posture) const {
  std::vector<LatticeNode> nodes;
  const auto id = static_cast<std::size_t>(posture);
  const JointVector& external = targets_.external(line);
  for (int spin = 0; spin < spins_; ++spin) {
    const PoseSolutions solutions =
        follower_.Solve(targets_.FlangeAt(line, {spin * step_rad_, external}), external);
    // A straight wrist leaves its turn open: no node.
    if (!solutions.found[id] || solutions.wrist_sin[id] < BranchFollower::kStraightWristSin) continue;
    JointVector q(6 + external.size());
    for (Eigen::Index j = 0; j < 6; ++j) q[j] = solutions.q[id][static_cast<std::size_t>(j)];
    q.tail(external.size()) = external;
    AddCopies(q, spin, nodes);
  }
  return nodes;
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
  const double turn_rad = std::abs(Steps(from.spin, to.spin)) * step_rad_;
  const double slack = 1e-9;
  if (turn_rad > targets_.request().freedom.spin_per_mm_rad * travel_mm + slack) return std::nullopt;
  double travel_s = 0.0;
  for (Eigen::Index j = 0; j < from.q.size(); ++j) {
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

struct SpinLattice::Layer {
  std::vector<LatticeNode> nodes;
  std::vector<double> cost;            // of the cheapest way there, infinite where there is none
  std::vector<std::int32_t> before;
  std::vector<std::vector<std::int32_t>> at_spin;   // nodes by spin
};

LatticeWay SpinLattice::SolvePosture(const std::vector<std::size_t>& stations, const int posture,
                                     const JointVector& q_before,
                                     const std::vector<ForbiddenNode>& forbidden) const {
  LatticeWay way;
  way.posture = posture;
  way.furthest = stations.front();
  std::vector<Layer> layers;
  layers.reserve(stations.size());
  for (std::size_t s = 0; s < stations.size(); ++s) {
    Layer layer;
    layer.nodes = Nodes(stations[s], posture);
    layer.cost.assign(layer.nodes.size(), kInfinity);
    layer.before.assign(layer.nodes.size(), -1);
    layer.at_spin.resize(static_cast<std::size_t>(spins_));
    const double travel = s == 0 ? 0.0 : Travel_mm(stations[s - 1], stations[s]);
    const int most = static_cast<int>(
        std::fmin(targets_.request().freedom.spin_per_mm_rad * travel / step_rad_ + 1e-9, spins_ / 2));
    bool reached = false;
    for (std::size_t n = 0; n < layer.nodes.size(); ++n) {
      const LatticeNode& node = layer.nodes[n];
      layer.at_spin[static_cast<std::size_t>(node.spin)].push_back(static_cast<std::int32_t>(n));
      const bool barred = std::any_of(forbidden.begin(), forbidden.end(), [&](const ForbiddenNode& f) {
        return f.line == stations[s] && f.posture == posture && f.spin == node.spin;
      });
      if (barred) continue;
      double best = s == 0 ? LinkCost(q_before, node.q) : kInfinity;
      if (s > 0) {
        const Layer& last = layers.back();
        for (int d = -most; d <= most; ++d) {
          const auto spin = static_cast<std::size_t>((node.spin + d + spins_) % spins_);
          for (const std::int32_t b : last.at_spin[spin]) {
            const auto from = static_cast<std::size_t>(b);
            if (!(last.cost[from] < best)) continue;
            const std::optional<double> edge = EdgeCost(last.nodes[from], node, travel);
            if (!edge || !(last.cost[from] + *edge < best)) continue;
            best = last.cost[from] + *edge;
            layer.before[n] = b;
          }
        }
      }
      if (best == kInfinity) continue;
      layer.cost[n] = best + NodeCost(node);
      reached = true;
    }
    if (!reached) return way;
    way.furthest = stations[s];
    layers.push_back(std::move(layer));
  }
  const Layer& end = layers.back();
  std::size_t n = static_cast<std::size_t>(std::min_element(end.cost.begin(), end.cost.end()) - end.cost.begin());
  way.complete = true;
  way.cost = end.cost[n];
  way.stations = stations;
  way.q.resize(stations.size());
  std::vector<int> spin(stations.size());
  for (std::size_t s = stations.size(); s-- > 0;) {
    way.q[s] = layers[s].nodes[n].q;
    spin[s] = layers[s].nodes[n].spin;
    if (s > 0) n = static_cast<std::size_t>(layers[s].before[n]);
  }
  way.spin.push_back(spin[0]);
  for (std::size_t s = 1; s < spin.size(); ++s) {
    way.spin.push_back(way.spin.back() + Steps(spin[s - 1], spin[s]));
  }
  return way;
}

LatticeWay SpinLattice::Solve(const std::vector<std::size_t>& stations, const JointVector& q_before,
                              const std::vector<ForbiddenNode>& forbidden) const {
  LatticeWay best;
  best.furthest = stations.front();
  for (int posture = 0; posture < kPostures; ++posture) {
    LatticeWay way = SolvePosture(stations, posture, q_before, forbidden);
    const std::size_t furthest = std::max(best.furthest, way.furthest);
    if (way.complete && (!best.complete || way.cost < best.cost)) best = std::move(way);
    best.furthest = furthest;
  }
  return best;
}

}  // namespace aircut::kinematics
