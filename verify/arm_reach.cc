#include "verify/arm_reach.h"

#include <algorithm>
#include <array>
#include <functional>
#include <stdexcept>

#include "kinematics/forward_kinematics.h"
#include "kinematics/ortho_parallel.h"
#include "verify/cell_scene.h"

namespace aircut::verify {
namespace {

using kinematics::JointVector;

constexpr int kSeeds = 4096;              // postures spread evenly over the ranges
constexpr std::size_t kClimbs = 16;       // best of them are climbed from
constexpr double kFirstStep_rad = 0.3, kLastStep_rad = 1e-7;

using Aim = std::function<double(const JointVector& q)>;   // to be made as large as can be

struct Candidate {
  JointVector q;
  double value = 0.0;
};

// Digits of `index` mirrored at the point: evenly spread over [0, 1).
// Source: van der Corput and Halton sequences, textbook.
double Spread(int index, int base) {
  double value = 0.0, share = 1.0;
  for (; index > 0; index /= base) {
    share /= base;
    value += share * (index % base);
  }
  return value;
}

class Search {
 public:
  explicit Search(const kinematics::ArmModel& arm) : arm_(arm) {
    for (int i = 0; i < kSeeds; ++i) {
      const JointVector q = SeedPosture(i);
      if (Allowed(q)) seeds_.push_back(q);
    }
    for (int j = 0; j < arm.joint_count(); ++j) {
      JointVector one = JointVector::Zero(arm.joint_count());
      one[j] = 1.0;
      directions_.push_back(one);
      // Along the edge that a shared range cuts off both joints move.
      if (const auto& sum = arm.joints()[static_cast<std::size_t>(j)].sum_limit) {
        one[j] = -sum->ratio;
        one[sum->joint] = 1.0;
        directions_.push_back(one);
      }
    }
  }

  double Largest(const Aim& aim) const {
    std::vector<Candidate> best;
    for (const JointVector& q : seeds_) best.push_back({q, aim(q)});
    const std::size_t climbs = std::min(kClimbs, best.size());
    std::partial_sort(best.begin(), best.begin() + static_cast<std::ptrdiff_t>(climbs), best.end(),
                      [](const Candidate& a, const Candidate& b) { return a.value > b.value; });
    double largest = 0.0;
    for (std::size_t i = 0; i < climbs; ++i) {
      const double value = Climb(best[i], aim).value;
      if (i == 0 || value > largest) largest = value;
    }
    return largest;
  }

  bool empty() const { return seeds_.empty(); }

 private:
  JointVector SeedPosture(int index) const {
    constexpr std::array<int, kinematics::kMaxJoints> kBases = {2, 3, 5, 7, 11, 13, 17, 19};
    JointVector q(arm_.joint_count());
    for (int j = 0; j < arm_.joint_count(); ++j) {
      const kinematics::JointSpec& spec = arm_.joints()[static_cast<std::size_t>(j)];
      const double share = Spread(index + 1, kBases[static_cast<std::size_t>(j)]);
      q[j] = spec.lower_rad + share * (spec.upper_rad - spec.lower_rad);
    }
    return q;
  }

  bool Allowed(const JointVector& q) const {
    for (int j = 0; j < arm_.joint_count(); ++j) {
      const auto& sum = arm_.joints()[static_cast<std::size_t>(j)].sum_limit;
      if (!sum) continue;
      const double value = q[j] + sum->ratio * q[sum->joint];
      if (!(value >= sum->lower_rad && value <= sum->upper_rad)) return false;
    }
    return true;
  }

  JointVector Clamped(JointVector q) const {
    for (int j = 0; j < arm_.joint_count(); ++j) {
      const kinematics::JointSpec& spec = arm_.joints()[static_cast<std::size_t>(j)];
      q[j] = std::clamp(q[j], spec.lower_rad, spec.upper_rad);
    }
    return q;
  }

  // Steps along each direction while that gains; halves the step where none does.
  Candidate Climb(Candidate at, const Aim& aim) const {
    for (double step = kFirstStep_rad; step > kLastStep_rad;) {
      bool gained = false;
      for (const JointVector& direction : directions_) {
        for (const double way : {step, -step}) {
          const JointVector q = Clamped(at.q + way * direction);
          if (!Allowed(q)) continue;
          const double value = aim(q);
          if (!(value > at.value + 1e-9)) continue;
          at = {q, value};
          gained = true;
        }
      }
      if (!gained) step /= 2;
    }
    return at;
  }

  const kinematics::ArmModel& arm_;
  std::vector<JointVector> seeds_, directions_;
};

// Without external axes: the foot is A.
kinematics::ArmModel ArmProper(const kinematics::ArmModel& arm) {
  if (arm.externals().empty()) return arm;
  const auto& joints = arm.joints();
  const auto count = static_cast<std::ptrdiff_t>(arm.chain().size());
  return kinematics::ArmModel::FromChain(arm.chain(), {joints.begin(), joints.begin() + count});
}

}  // namespace

ArmReach FindReach(const sim::Cell& cell, const Eigen::Vector3d& p_FQ) {
  if (!cell.arm) throw std::invalid_argument("FindReach: the cell has no arm");
  const kinematics::ArmModel arm = ArmProper(*cell.arm);
  const kinematics::ChainJoint& first = arm.chain().front();
  const Eigen::Vector3d p_AC = first.before.translation(), axis_A = first.before.linear() * first.axis;
  const kinematics::Pose X_WA = FootInWorld(cell, HomePosture(cell));
  const auto place_A = [&](const JointVector& q) { return kinematics::FlangePose(arm, q) * p_FQ; };
  const auto height = [&](const JointVector& q) { return (X_WA * place_A(q)).z(); };
  const Search search(arm);
  if (search.empty()) throw std::invalid_argument("FindReach: no posture keeps all joint ranges");
  ArmReach reach;
  reach.farthest_mm =
      search.Largest([&](const JointVector& q) { return (place_A(q) - p_AC).cross(axis_A).norm(); });
  reach.highest_mm = search.Largest(height);
  reach.lowest_mm = -search.Largest([&](const JointVector& q) { return -height(q); });
  return reach;
}

std::optional<Eigen::Vector3d> WristCentreInFlange(const kinematics::ArmModel& arm) {
  try {
    return kinematics::ReadOrthoParallelGeometry(arm).X_FC.translation();
  } catch (const std::invalid_argument&) {
    return std::nullopt;
  }
}

}  // namespace aircut::verify
