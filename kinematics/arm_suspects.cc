#include "kinematics/arm_suspects.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

constexpr double kRoundedPose = 1e-6;
// Scales that turn lengths of one unit into those of another.
constexpr double kScales[] = {25.4, 1.0 / 25.4, 1000.0, 1.0 / 1000.0};
// Starts of the fits: near enough for the nearest minimum to be the lowest.
constexpr int kZeroStarts = 24;
constexpr double kMostRatio = 2.0, kRatioStep = 0.1;
constexpr int kMostSteps = 12;
constexpr double kDifference = 1e-6;   // of the fitted amount, for the slope
constexpr double kSettled = 1e-10;
// Misfits below this share of the model's own are rounding.
constexpr double kRounding = 1e-9;
// A fitted amount must explain this much better than one with nothing fitted.
constexpr double kFittedHandicap = 1.5;

void CheckReadouts(const ArmModel& arm, const std::vector<ArmReadout>& readouts) {
  for (std::size_t i = 0; i < readouts.size(); ++i) {
    const std::string place = "read-out " + std::to_string(i + 1) + ": ";
    if (readouts[i].q.size() != arm.joint_count()) {
      throw std::invalid_argument(place + "q.size = " + std::to_string(readouts[i].q.size()) +
                                  " must be the number of joints, " +
                                  std::to_string(arm.joint_count()));
    }
    if (!std::isfinite(readouts[i].q.sum())) {
      throw std::invalid_argument(place + "q must be finite");
    }
    if (!IsRigid(readouts[i].X_BF, kRoundedPose)) {
      throw std::invalid_argument(place + "X_BF must be a rigid pose");
    }
  }
}

// Chordal distance: smooth everywhere, and the angle itself where it is small.
double TurnBetween(const Eigen::Matrix3d& R1, const Eigen::Matrix3d& R2) {
  return 2.0 * std::asin(std::min(1.0, (R1 - R2).norm() / (2.0 * std::sqrt(2.0))));
}

ReadoutResidual Between(const Pose& X_a, const Pose& X_b) {
  return {(X_a.translation() - X_b.translation()).norm(),
          TurnBetween(X_a.linear(), X_b.linear())};
}

// The same external axes behind another chain.
ArmModel WithAxesOf(const ArmModel& arm, std::vector<ChainJoint> chain, std::vector<JointSpec> joints) {
  const auto first = joints.begin() + static_cast<std::ptrdiff_t>(chain.size());
  const std::vector<JointSpec> of_axes(first, joints.end());
  joints.erase(first, joints.end());
  const ArmModel changed = ArmModel::FromChain(std::move(chain), std::move(joints));
  return arm.externals().empty() ? changed : changed.WithExternals(arm.externals(), of_axes);
}

// Joints of the chain, and the external axes that carry its foot: what a pose of
// the flange in B can speak of.
bool MovesFlange(const ArmModel& arm, const int joint) {
  const int external = joint - static_cast<int>(arm.chain().size());
  return external < 0 || arm.externals()[static_cast<std::size_t>(external)].side == ExternalSide::kTool;
}

// The model with one thing changed.
ArmModel Changed(const ArmModel& arm, const Suspect& change) {
  std::vector<ChainJoint> chain = arm.chain();
  std::vector<JointSpec> joints = arm.joints();
  if (change.kind == SuspectKind::kScale) {
    for (ChainJoint& joint : chain) {
      joint.before.translation() *= change.amount;
      joint.after.translation() *= change.amount;
    }
    return WithAxesOf(arm, std::move(chain), std::move(joints));
  }
  JointSpec& joint = joints[static_cast<std::size_t>(change.joint)];
  if (change.kind == SuspectKind::kSign) joint.sign = change.amount;
  if (change.kind == SuspectKind::kZero) joint.zero_rad += change.amount;
  if (change.kind == SuspectKind::kCoupling) {
    joint.follows = JointFollow{change.driver, change.amount};
  }
  return WithAxesOf(arm, std::move(chain), std::move(joints));
}

class Ranker {
 public:
  Ranker(const ArmModel& arm, const std::vector<ArmReadout>& readouts)
      : arm_(arm), readouts_(readouts) {
    for (const ArmReadout& readout : readouts) {
      length_mm_ = std::max(length_mm_, readout.X_BF.translation().norm());
    }
    if (!(length_mm_ > 0.0)) length_mm_ = 1.0;
    own_misfit_ = Misfit(arm);
  }

  std::vector<Suspect> Rank() {
    for (int j = 0; j < arm_.joint_count(); ++j) {
      if (!MovesFlange(arm_, j)) continue;
      const JointSpec& joint = arm_.joints()[static_cast<std::size_t>(j)];
      Consider({SuspectKind::kSign, j, -1, -joint.sign}, 1.0);
      ConsiderZero(j);
      if (j >= static_cast<int>(arm_.chain().size())) continue;  // nothing drives an external axis
      for (int driver = 0; driver < j; ++driver) ConsiderCoupling(j, driver);
    }
    for (const double scale : kScales) Consider({SuspectKind::kScale, -1, -1, scale}, 1.0);
    std::stable_sort(ranked_.begin(), ranked_.end(),
                     [](const Ranked& a, const Ranked& b) { return a.score < b.score; });
    std::vector<Suspect> suspects;
    for (const Ranked& ranked : ranked_) suspects.push_back(ranked.suspect);
    return suspects;
  }

 private:
  struct Ranked {
    Suspect suspect;
    double score = 0.0;
  };
  using Misses = Eigen::VectorXd;   // 12 a row: position / length, rotation / sqrt 2

  Misses MissesOf(const ArmModel& arm) const {
    Misses misses(static_cast<Eigen::Index>(12 * readouts_.size()));
    Eigen::Index at = 0;
    for (const ArmReadout& readout : readouts_) {
      const Pose X_BF = FlangePose(arm, readout.q);
      misses.segment<3>(at) = (X_BF.translation() - readout.X_BF.translation()) / length_mm_;
      const Eigen::Matrix3d turn = (X_BF.linear() - readout.X_BF.linear()) / std::sqrt(2.0);
      misses.segment<9>(at + 3) = Eigen::Map<const Eigen::Matrix<double, 9, 1>>(turn.data());
      at += 12;
    }
    return misses;
  }

  double Misfit(const ArmModel& arm) const {
    return MissesOf(arm).norm() / std::sqrt(static_cast<double>(readouts_.size()));
  }

  // One-dimensional Gauss-Newton from the best of the starts.
  Suspect Fit(Suspect suspect, const std::vector<double>& starts) const {
    const auto misses_at = [&](const double amount) {
      suspect.amount = amount;
      return MissesOf(Changed(arm_, suspect));
    };
    double amount = starts.front(), least = misses_at(amount).squaredNorm();
    for (const double start : starts) {
      const double here = misses_at(start).squaredNorm();
      if (here >= least) continue;
      least = here;
      amount = start;
    }
    for (int step = 0; step < kMostSteps; ++step) {
      const Misses slope =
          (misses_at(amount + kDifference) - misses_at(amount - kDifference)) /
          (2.0 * kDifference);
      const double steepness = slope.squaredNorm();
      if (!(steepness > 0.0)) break;   // nothing in these rows moves with it
      const double change = -slope.dot(misses_at(amount)) / steepness;
      amount += change;
      if (std::abs(change) <= kSettled) break;
    }
    suspect.amount = amount;
    return suspect;
  }

  void ConsiderZero(const int joint) {
    const bool slides = IsSlide(arm_, joint);
    std::vector<double> starts{0.0};
    for (int i = 1; i < kZeroStarts && !slides; ++i) starts.push_back(2.0 * kPi * i / kZeroStarts);
    Suspect fitted = Fit({SuspectKind::kZero, joint}, starts);
    if (!slides) fitted.amount = std::remainder(fitted.amount, 2.0 * kPi);
    Consider(fitted, kFittedHandicap);
  }

  void ConsiderCoupling(const int joint, const int driver) {
    const auto& follows = arm_.joints()[static_cast<std::size_t>(joint)].follows;
    const double ratio_now = follows && follows->joint == driver ? follows->ratio : 0.0;
    std::optional<Ranked> best;
    const auto take = [&](const Suspect& suspect, const double handicap) {
      const std::optional<Ranked> ranked = Judge(suspect, handicap);
      if (ranked && (!best || ranked->score < best->score)) best = ranked;
    };
    for (const double whole : {1.0, -1.0, 0.0}) {
      if (whole != ratio_now) take({SuspectKind::kCoupling, joint, driver, whole}, 1.0);
    }
    std::vector<double> starts;
    const int count = static_cast<int>(std::lround(kMostRatio / kRatioStep));
    for (int i = -count; i <= count; ++i) starts.push_back(kRatioStep * i);
    take(Fit({SuspectKind::kCoupling, joint, driver}, starts), kFittedHandicap);
    if (best) ranked_.push_back(*best);
  }

  void Consider(const Suspect& suspect, const double handicap) {
    const std::optional<Ranked> ranked = Judge(suspect, handicap);
    if (ranked) ranked_.push_back(*ranked);
  }

  // Nothing where the change does not better the agreement.
  std::optional<Ranked> Judge(Suspect suspect, const double handicap) const {
    const ArmModel arm = Changed(arm_, suspect);
    const double misfit = Misfit(arm);
    if (!(misfit < own_misfit_)) return std::nullopt;
    for (const ReadoutResidual& residual : ReadoutResiduals(arm, readouts_)) {
      suspect.residual_mm = std::max(suspect.residual_mm, residual.position_mm);
      suspect.residual_rad = std::max(suspect.residual_rad, residual.turn_rad);
    }
    return Ranked{suspect, handicap * std::hypot(misfit, kRounding * own_misfit_)};
  }

  const ArmModel& arm_;
  const std::vector<ArmReadout>& readouts_;
  double length_mm_ = 0.0;    // weighs positions against turns
  double own_misfit_ = 0.0;
  std::vector<Ranked> ranked_;
};

Visibility VisibilityOfError(const ArmModel& arm, const std::vector<ArmReadout>& readouts,
                             const Suspect& error) {
  Visibility visibility{error.kind, error.joint, error.driver, error.amount, 0.0, 0.0};
  const ArmModel wrong = Changed(arm, error);
  for (const ArmReadout& readout : readouts) {
    const ReadoutResidual shown =
        Between(FlangePose(arm, readout.q), FlangePose(wrong, readout.q));
    visibility.shown_mm = std::max(visibility.shown_mm, shown.position_mm);
    visibility.shown_rad = std::max(visibility.shown_rad, shown.turn_rad);
  }
  return visibility;
}

}  // namespace

std::vector<ReadoutResidual> ReadoutResiduals(const ArmModel& arm,
                                              const std::vector<ArmReadout>& readouts) {
  CheckReadouts(arm, readouts);
  std::vector<ReadoutResidual> residuals;
  residuals.reserve(readouts.size());
  for (const ArmReadout& readout : readouts) {
    residuals.push_back(Between(FlangePose(arm, readout.q), readout.X_BF));
  }
  return residuals;
}

std::vector<Suspect> RankSuspects(const ArmModel& arm, const std::vector<ArmReadout>& readouts) {
  CheckReadouts(arm, readouts);
  if (readouts.empty()) return {};
  return Ranker(arm, readouts).Rank();
}

std::vector<Visibility> VisibilityOf(const ArmModel& arm,
                                     const std::vector<ArmReadout>& readouts) {
  CheckReadouts(arm, readouts);
  std::vector<Suspect> errors;
  for (int j = 0; j < arm.joint_count(); ++j) {
    if (!MovesFlange(arm, j)) continue;
    const JointSpec& joint = arm.joints()[static_cast<std::size_t>(j)];
    errors.push_back({SuspectKind::kSign, j, -1, -joint.sign});
    errors.push_back({SuspectKind::kZero, j, -1, IsSlide(arm, j) ? kZeroError_mm : kZeroError_rad});
  }
  if (arm.chain().size() > 2) {
    const auto& follows = arm.joints()[2].follows;
    if (follows && follows->joint == 1) {
      errors.push_back({SuspectKind::kCoupling, 2, 1, 0.0});
    } else {
      errors.push_back({SuspectKind::kCoupling, 2, 1, 1.0});
      errors.push_back({SuspectKind::kCoupling, 2, 1, -1.0});
    }
  }
  std::vector<Visibility> visible;
  for (const Suspect& error : errors) visible.push_back(VisibilityOfError(arm, readouts, error));
  return visible;
}

}  // namespace aircut::kinematics
