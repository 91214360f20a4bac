#include "kinematics/joint_move.h"

#include <cmath>
#include <limits>

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

// Smaller moves of a joint count as none [rad].
constexpr double kNoStep_rad = 1e-12;
constexpr double kMostStep_rad = RadFromDeg(5.0);
constexpr double kMostStep_mm = 50.0;
constexpr int kMostHalvings = 12;
// The sag is looked at in three places; between them it is a little larger.
constexpr double kSagShare = 0.9;

struct TipSample {
  double share = 0.0;
  Eigen::Vector3d p_KT;  // in B as the work side carries it: at rest with the work
};

class Sampler {
 public:
  Sampler(const ArmModel& arm, const JointMove& move, const Eigen::Vector3d& p_FT,
          const double sag_mm)
      : arm_(arm), move_(move), p_FT_(p_FT), sag_mm_(sag_mm) {}

  std::vector<double> Sample() {
    const int parts = std::max(1, static_cast<int>(std::ceil(LargestStep())));
    TipSample from = At(0.0);
    for (int i = 1; i <= parts; ++i) {
      const TipSample to = At(i == parts ? 1.0 : static_cast<double>(i) / parts);
      Refine(from, to, kMostHalvings);
      from = to;
    }
    return std::move(shares_);
  }

 private:
  // Over what is allowed between two moments.
  double LargestStep() const {
    double largest = 0.0;
    for (int j = 0; j < arm_.joint_count(); ++j) {
      const double step = std::abs(move_.q_to[j] - move_.q_from[j]);
      largest = std::fmax(largest, step / (IsSlide(arm_, j) ? kMostStep_mm : kMostStep_rad));
    }
    return largest;
  }

  TipSample At(const double share) const {
    const JointVector q = move_.At(share);
    const Eigen::Vector3d p_BT = FlangePose(arm_, q) * p_FT_;
    if (arm_.externals().empty()) return {share, p_BT};
    return {share, TableMotion(arm_, ExternalPart(arm_, q)).inverse() * p_BT};
  }

  double SagOf(const TipSample& from, const TipSample& to, const TipSample& between) const {
    const Eigen::Vector3d chord = to.p_KT - from.p_KT, spoke = between.p_KT - from.p_KT;
    const double length2 = chord.squaredNorm();
    if (!(length2 > 0.0)) return spoke.norm();
    const double along = std::fmin(std::fmax(spoke.dot(chord) / length2, 0.0), 1.0);
    return (spoke - along * chord).norm();
  }

  void Refine(const TipSample& from, const TipSample& to, const int halvings_left) {
    const double span = to.share - from.share;
    const TipSample middle = At(from.share + 0.5 * span);
    double sag = SagOf(from, to, middle);
    for (const double part : {0.25, 0.75}) {
      sag = std::fmax(sag, SagOf(from, to, At(from.share + part * span)));
    }
    if (sag <= kSagShare * sag_mm_ || halvings_left == 0) {
      shares_.push_back(to.share);
      return;
    }
    Refine(from, middle, halvings_left - 1);
    Refine(middle, to, halvings_left - 1);
  }

  const ArmModel& arm_;
  const JointMove& move_;
  Eigen::Vector3d p_FT_;
  double sag_mm_;
  std::vector<double> shares_;
};

}  // namespace

PieceLimits LimitsOf(const ArmModel& arm, const JointMove& move) {
  PieceLimits limits{0.0, std::numeric_limits<double>::max(), std::numeric_limits<double>::max()};
  for (Eigen::Index j = 0; j < move.q_to.size(); ++j) {
    const double step_rad = std::abs(move.q_to[j] - move.q_from[j]);
    if (step_rad <= kNoStep_rad) continue;
    const JointSpec& joint = arm.joints()[static_cast<std::size_t>(j)];
    limits.length = 1.0;
    limits.v_max = std::fmin(limits.v_max, joint.speed_rad_s / step_rad);
    limits.a_max = std::fmin(limits.a_max, joint.acceleration_rad_s2 / step_rad);
  }
  return limits;
}

std::vector<double> SampleJointMove(const ArmModel& arm, const JointMove& move,
                                    const Eigen::Vector3d& p_FT, const double sag_mm) {
  return Sampler(arm, move, p_FT, sag_mm).Sample();
}

}  // namespace aircut::kinematics
