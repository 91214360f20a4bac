#include "kinematics/numeric_ik.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/LU>

#include "kinematics/axis_lines.h"
#include "kinematics/inverse_kinematics.h"
#include "kinematics/near_spherical_wrist.h"
#include "kinematics/reach_shell.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

using Vector3 = Eigen::Vector3d;
using Matrix3 = Eigen::Matrix3d;
using Vector6 = Eigen::Matrix<double, 6, 1>;
using Matrix6 = Eigen::Matrix<double, 6, 6>;

// Poses off by more than this from a rotation have no solution.
constexpr double kRigidTolerance = 1e-9;
// Postures of the table of starts.
constexpr int kTable = 512;
// Lengths are measured in this share of the reach, so that a miss in place and
// one in orientation count alike.
constexpr double kLengthShare = 0.5;
// Largest Jacobian determinant over the table, lengths as above, below which the
// chain is degenerate.
constexpr double kDegenerate = 1e-8;
// Damped steps a start may take, and the largest turn of a joint in one.
constexpr int kDampedSteps = 40;
constexpr double kMostStep_rad = 1.0;
constexpr double kLeastDamping = 1e-7;
// A step that leaves more than this of the squared miss gains nothing; so many of
// them one after the other end a start.
constexpr double kNoGain = 0.97;
constexpr int kIdleSteps = 4;
// A miss from which Newton takes over, and its steps: at a double root each
// only halves the miss of the joints.
constexpr double kNearEnough = 1e-3;
constexpr int kNewtonSteps = 30;
constexpr double kSolved_mm = 5e-10;
constexpr double kSolved_rad = 5e-13;
// Solutions nearer than this are one.
constexpr double kSame_rad = 1e-5;
// Continuation.
constexpr double kTrustedStep_rad = 0.2;
constexpr double kContraction = 0.25;
constexpr double kFollowed = 1e-9;
constexpr double kLeastShare = 1.0 / 512.0;
constexpr int kMostFailures = 24;
constexpr int kCorrections = 6;

// Digits of `index` mirrored at the point: evenly spread over [0, 1).
// Source: van der Corput and Halton sequences, textbook.
double Spread(int index, const int base) {
  double value = 0.0, share = 1.0;
  for (; index > 0; index /= base) {
    share /= base;
    value += share * (index % base);
  }
  return value;
}

// Where a posture puts the flange and the axes.
struct Placed {
  Matrix3 R = Matrix3::Identity();
  Vector3 p = Vector3::Zero();
  std::array<Vector3, 6> axis, origin;
};

struct Target {
  Matrix3 R;
  Vector3 p;
};

// Rotation vector of R, for turns up to half a turn.
Vector3 RotationVector(const Matrix3& R) {
  const Vector3 doubled(R(2, 1) - R(1, 2), R(0, 2) - R(2, 0), R(1, 0) - R(0, 1));
  const double sine = 0.5 * doubled.norm(), cosine = 0.5 * (R.trace() - 1.0);
  if (cosine > 0.0) {
    // The ratio of the angle to its sine goes to 1.
    return sine < 1e-9 ? Vector3(0.5 * doubled) : Vector3(std::atan2(sine, cosine) * 0.5 / sine * doubled);
  }
  const Eigen::AngleAxisd turn(R);
  return turn.angle() * turn.axis();
}

// An orthonormal frame whose z is `axis`.
Matrix3 FrameAlong(const Vector3& axis) {
  return Eigen::Quaterniond::FromTwoVectors(Vector3::UnitZ(), axis).toRotationMatrix();
}

void Require(const bool holds, const std::string& condition, const double value, const std::string& bound) {
  if (holds) return;
  std::ostringstream text;
  text << "No inverse kinematics for this arm: " << condition << " is " << value << ", must be " << bound;
  throw std::invalid_argument(text.str());
}

}  // namespace

// The chain with every axis turned to z, so that a joint costs one sine.
class NumericIk::Chain {
 public:
  explicit Chain(const ArmModel& arm) : joints_(arm.joints().begin(), arm.joints().begin() + 6) {
    Pose X_LA = Pose::Identity();   // the last axis frame back to its link, then on
    for (std::size_t i = 0; i < 6; ++i) {
      const ChainJoint& joint = arm.chain()[i];
      const Pose turned(FrameAlong(joint.axis));
      const Pose X = X_LA * joint.before * turned;
      R_[i] = X.linear();
      p_[i] = X.translation();
      X_LA = turned.inverse() * joint.after;
    }
    R_end_ = X_LA.linear();
    p_end_ = X_LA.translation();
    length_mm_ = std::fmax(kLengthShare * ChainReach(arm).outer_mm(), 1.0);
    ReadWristPoint();
  }

  double length_mm() const { return length_mm_; }

  Placed Place(const Vector6& theta) const {
    Placed at;
    for (std::size_t i = 0; i < 6; ++i) {
      at.p += at.R * p_[i];
      at.R = at.R * R_[i];
      at.origin[i] = at.p;
      at.axis[i] = at.R.col(2);
      const double angle = theta[static_cast<Eigen::Index>(i)];
      const double c = std::cos(angle), s = std::sin(angle);
      const Vector3 x = at.R.col(0), y = at.R.col(1);
      at.R.col(0) = c * x + s * y;
      at.R.col(1) = c * y - s * x;
    }
    at.p += at.R * p_end_;
    at.R = at.R * R_end_;
    return at;
  }

  // Seen from the flange, lengths in length_mm.
  Matrix6 JacobianAt(const Placed& at) const {
    Matrix6 J;
    for (std::size_t i = 0; i < 6; ++i) {
      const auto column = static_cast<Eigen::Index>(i);
      J.col(column).head<3>() = at.axis[i].cross(at.p - at.origin[i]) / length_mm_;
      J.col(column).tail<3>() = at.axis[i];
    }
    return J;
  }

  Vector6 Miss(const Placed& at, const Target& target) const {
    Vector6 miss;
    miss.head<3>() = (target.p - at.p) / length_mm_;
    miss.tail<3>() = RotationVector(target.R * at.R.transpose());
    return miss;
  }

  bool IsSolved(const Vector6& miss) const {
    return miss.head<3>().norm() * length_mm_ <= kSolved_mm && miss.tail<3>().norm() <= kSolved_rad;
  }

  Vector6 Model(const JointVector& q) const {
    Vector6 theta;
    for (std::size_t i = 0; i < 6; ++i) {
      const auto row = static_cast<Eigen::Index>(i);
      const JointSpec& joint = joints_[i];
      theta[row] = joint.sign * q[row] + joint.zero_rad;
      if (joint.follows) theta[row] += joint.follows->ratio * q[joint.follows->joint];
    }
    return theta;
  }

  // @param wrap: each within pi of the middle of its range.
  JointVector Panel(const Vector6& theta, const bool wrap) const {
    JointVector q(6);
    for (std::size_t i = 0; i < 6; ++i) {
      const auto row = static_cast<Eigen::Index>(i);
      const JointSpec& joint = joints_[i];
      double model_rad = theta[row] - joint.zero_rad;
      if (joint.follows) model_rad -= joint.follows->ratio * q[joint.follows->joint];
      q[row] = joint.sign * model_rad;
      const double middle_rad = 0.5 * (joint.lower_rad + joint.upper_rad);
      if (wrap) q[row] -= 2.0 * kPi * std::round((q[row] - middle_rad) / (2.0 * kPi));
    }
    return q;
  }

  // Posture `index` of an endless row spread over the ranges, at most one turn of each.
  JointVector SpreadPosture(const int index) const {
    constexpr std::array<int, 6> kBases = {2, 3, 5, 7, 11, 13};
    JointVector q(6);
    for (std::size_t i = 0; i < 6; ++i) {
      const JointSpec& joint = joints_[i];
      const double middle_rad = 0.5 * (joint.lower_rad + joint.upper_rad);
      const double span_rad = std::fmin(joint.upper_rad - joint.lower_rad, 2.0 * kPi);
      q[static_cast<Eigen::Index>(i)] = middle_rad + span_rad * (Spread(index + 1, kBases[i]) - 0.5);
    }
    return q;
  }

  bool IsInRange(const JointVector& q) const {
    for (std::size_t i = 0; i < 6; ++i) {
      const auto row = static_cast<Eigen::Index>(i);
      const JointSpec& joint = joints_[i];
      if (q[row] < joint.lower_rad || q[row] > joint.upper_rad) return false;
      if (!joint.sum_limit) continue;
      const double sum_rad = q[row] + joint.sum_limit->ratio * q[joint.sum_limit->joint];
      if (sum_rad < joint.sum_limit->lower_rad || sum_rad > joint.sum_limit->upper_rad) return false;
    }
    return true;
  }

  int Sides(const Placed& at) const {
    const Vector3 p_wrist = at.origin[4] + wrist_mm_ * at.axis[4];
    const Vector3& z2 = at.axis[1];
    const double ahead = at.axis[0].cross(p_wrist - at.origin[0]).dot(z2);
    const double bend = z2.dot((at.origin[2] - at.origin[1]).cross(p_wrist - at.origin[2]));
    const double lean = at.axis[3].cross(at.axis[5]).dot(at.axis[4]);
    return (ahead < 0.0 ? 4 : 0) + (bend < 0.0 ? 2 : 0) + (lean < 0.0 ? 1 : 0);
  }

 private:
  // The point of axis 5 that is nearest to axis 4, counted along axis 5.
  void ReadWristPoint() {
    const Placed at = Place(Vector6::Zero());
    const Vector3 &u = at.axis[3], &v = at.axis[4], w = at.origin[4] - at.origin[3];
    const double cosine = u.dot(v), square = 1.0 - cosine * cosine;
    wrist_mm_ = square > 1e-12 ? (cosine * u.dot(w) - v.dot(w)) / square : 0.0;
  }

  std::array<Matrix3, 6> R_;
  std::array<Vector3, 6> p_;
  Matrix3 R_end_;
  Vector3 p_end_;
  double length_mm_ = 1.0, wrist_mm_ = 0.0;
  std::vector<JointSpec> joints_;
};

struct NumericIk::Parts {
  Parts(const ArmModel& arm, const SearchRules& search_rules)
      : chain(arm), reach(arm), rules(search_rules) {
    double largest = 0.0;
    for (int k = 0; k < kTable; ++k) {
      table.push_back(chain.Model(chain.SpreadPosture(k)));
      placed.push_back(chain.Place(table.back()));
      largest = std::fmax(largest, std::abs(chain.JacobianAt(placed.back()).determinant()));
    }
    Require(largest > kDegenerate,
            "the Jacobian determinant, largest over postures all over the joint ranges (lengths in half the "
            "reach; 0 where the flange cannot be moved and turned every way),",
            largest, "> 1e-8");
    if (!rules.near_closed_form) return;
    const std::optional<ArmModel> near_arm = NearSphericalWrist(arm);
    if (!near_arm) return;
    try {
      near.emplace(*near_arm);
    } catch (const std::invalid_argument&) {
      // Links of no length: there is no such arm near.
    }
  }

  std::optional<Vector6> Newton(Vector6 theta, const Target& target) const;
  std::optional<Vector6> Search(Vector6 theta, const Target& target) const;
  std::optional<Vector6> Correct(Vector6 theta, const Target& target, bool positive) const;
  std::vector<int> NearestStarts(const Target& target) const;

  Chain chain;
  ChainReach reach;
  SearchRules rules;
  std::vector<Vector6> table;
  std::vector<Placed> placed;
  std::optional<InverseKinematics> near;
};

std::optional<Vector6> NumericIk::Parts::Newton(Vector6 theta, const Target& target) const {
  for (int k = 0; k < kNewtonSteps; ++k) {
    const Placed at = chain.Place(theta);
    const Vector6 miss = chain.Miss(at, target);
    if (chain.IsSolved(miss)) return theta;
    const Vector6 step = chain.JacobianAt(at).partialPivLu().solve(miss);
    const bool is_short = step.lpNorm<Eigen::Infinity>() <= kMostStep_rad;   // false where not finite
    if (!is_short) return std::nullopt;
    theta += step;
  }
  return std::nullopt;
}

std::optional<Vector6> NumericIk::Parts::Search(Vector6 theta, const Target& target) const {
  double last = std::numeric_limits<double>::infinity();
  int idle = 0;
  for (int k = 0; k < kDampedSteps; ++k) {
    const Placed at = chain.Place(theta);
    const Vector6 miss = chain.Miss(at, target);
    const double half_square = 0.5 * miss.squaredNorm();
    if (half_square <= 0.5 * kNearEnough * kNearEnough) return Newton(theta, target);
    idle = half_square > kNoGain * last ? idle + 1 : 0;
    if (idle == kIdleSteps) return std::nullopt;
    last = half_square;
    const Matrix6 J = chain.JacobianAt(at);
    Matrix6 A = J.transpose() * J;
    A.diagonal().array() += half_square + kLeastDamping;
    Vector6 step = A.llt().solve(J.transpose() * miss);
    const double largest_rad = step.lpNorm<Eigen::Infinity>();
    if (largest_rad > kMostStep_rad) step *= kMostStep_rad / largest_rad;
    theta += step;
  }
  return std::nullopt;
}

// One step of a continuation: nothing where it does not shrink fast enough to be sure.
std::optional<Vector6> NumericIk::Parts::Correct(Vector6 theta, const Target& target,
                                                 const bool positive) const {
  double last_rad = kTrustedStep_rad / kContraction;
  for (int k = 0; k < kCorrections; ++k) {
    const Placed at = chain.Place(theta);
    const Vector6 miss = chain.Miss(at, target);
    const auto lu = chain.JacobianAt(at).partialPivLu();
    const double determinant = lu.determinant();
    if (!((determinant > 0.0) == positive) || determinant == 0.0) return std::nullopt;
    if (k > 0 && miss.norm() <= kFollowed) return theta;
    const Vector6 step = lu.solve(miss);
    const double step_rad = step.lpNorm<Eigen::Infinity>();
    if (!(step_rad <= kContraction * last_rad)) return std::nullopt;
    last_rad = step_rad;
    theta += step;
  }
  return std::nullopt;
}

// Indices of the table, the nearest flange first.
std::vector<int> NumericIk::Parts::NearestStarts(const Target& target) const {
  const double per_mm2 = 1.0 / (chain.length_mm() * chain.length_mm());
  std::vector<std::pair<double, int>> order;
  order.reserve(placed.size());
  for (std::size_t k = 0; k < placed.size(); ++k) {
    // For small turns the squared difference of the matrices is twice the squared angle.
    const double away = per_mm2 * (placed[k].p - target.p).squaredNorm() +
                        0.5 * (placed[k].R - target.R).squaredNorm();
    order.emplace_back(away, static_cast<int>(k));
  }
  const auto most = static_cast<std::ptrdiff_t>(
      std::min(static_cast<std::size_t>(std::max(rules.most_starts, 0)), order.size()));
  std::partial_sort(order.begin(), order.begin() + most, order.end());
  std::vector<int> starts;
  for (auto one = order.begin(); one != order.begin() + most; ++one) starts.push_back(one->second);
  return starts;
}

namespace {

bool IsSame(const JointVector& a, const JointVector& b) {
  for (Eigen::Index j = 0; j < 6; ++j) {
    if (std::abs(std::remainder(a[j] - b[j], 2.0 * kPi)) > kSame_rad) return false;
  }
  return true;
}

// By side, inside the ranges first, then by joints; rounding does not decide.
bool IsBefore(const SearchedSolution& a, const SearchedSolution& b) {
  if (a.sides != b.sides) return a.sides < b.sides;
  if (a.in_range != b.in_range) return a.in_range;
  for (Eigen::Index j = 0; j < 6; ++j) {
    if (std::abs(a.q[j] - b.q[j]) > kSame_rad) return a.q[j] < b.q[j];
  }
  return false;
}

// @returns true if it is new.
bool Insert(SearchedSolution one, SearchedSolutions& all) {
  for (const SearchedSolution& other : all) {
    if (IsSame(one.q, other.q)) return false;
  }
  if (all.count == static_cast<int>(all.items.size())) return false;
  auto at = static_cast<std::size_t>(all.count++);
  for (; at > 0 && IsBefore(one, all.items[at - 1]); --at) all.items[at] = all.items[at - 1];
  all.items[at] = std::move(one);
  return true;
}

}  // namespace

NumericIk::NumericIk(const ArmModel& arm, const SearchRules& rules) {
  Require(arm.chain().size() == 6, "the number of joints", static_cast<double>(arm.chain().size()), "6");
  parts_ = std::make_shared<const Parts>(arm, rules);
}

bool NumericIk::has_near_arm() const { return parts_->near.has_value(); }

SearchedSolutions NumericIk::Solve(const Pose& X_AF) const {
  SearchedSolutions all;
  const Parts& parts = *parts_;
  if (!IsRigid(X_AF, kRigidTolerance) || parts.reach.Beyond_mm(X_AF) > 0.0) return all;
  const Target target{Eigen::Quaterniond(X_AF.linear()).normalized().toRotationMatrix(), X_AF.translation()};
  const auto is_new = [&](const Vector6& start) {
    const std::optional<Vector6> theta = parts.Search(start, target);
    if (!theta) return false;
    const JointVector q = parts.chain.Panel(*theta, true);
    return Insert({q, parts.chain.Sides(parts.chain.Place(*theta)), parts.chain.IsInRange(q)}, all);
  };
  if (parts.near) {
    for (const IkSolution& start : parts.near->Solve(X_AF)) is_new(parts.chain.Model(start.q));
  }
  int quiet = 0;
  for (const int start : parts.NearestStarts(target)) {
    if (all.count > 0 && quiet >= parts.rules.quiet_starts) break;
    quiet = is_new(parts.table[static_cast<std::size_t>(start)]) ? 0 : quiet + 1;
  }
  return all;
}

std::optional<JointVector> NumericIk::Continue(const Pose& X_AF, const JointVector& q_from) const {
  if (!IsRigid(X_AF, kRigidTolerance)) return std::nullopt;
  const Parts& parts = *parts_;
  Vector6 theta = parts.chain.Model(q_from);
  const Placed from = parts.chain.Place(theta);
  const bool positive = parts.chain.JacobianAt(from).determinant() > 0.0;
  const Eigen::Quaterniond turn_from(from.R), turn_to(Eigen::Quaterniond(X_AF.linear()).normalized());
  const Target to{turn_to.toRotationMatrix(), X_AF.translation()};
  int failures = 0;
  double done = 0.0, step = 1.0;
  while (done < 1.0) {
    const double next = std::fmin(1.0, done + step);
    const Target target = next == 1.0 ? to
                                      : Target{turn_from.slerp(next, turn_to).toRotationMatrix(),
                                               (1.0 - next) * from.p + next * to.p};
    const std::optional<Vector6> there = parts.Correct(theta, target, positive);
    if (there) {
      theta = *there;
      done = next;
      step *= 2.0;
      continue;
    }
    step *= 0.5;
    if (step < kLeastShare || ++failures > kMostFailures) return std::nullopt;
  }
  const std::optional<Vector6> polished = parts.Newton(theta, to);
  if (!polished) return std::nullopt;
  return parts.chain.Panel(*polished, false);
}

SearchTrial NumericIk::Try(const int postures) const {
  const Chain& chain = parts_->chain;
  SearchTrial trial;
  for (int k = 0; k < postures; ++k) {
    const JointVector q = chain.SpreadPosture(kTable + k);
    if (!chain.IsInRange(q)) continue;
    const Placed at = chain.Place(chain.Model(q));
    ++trial.poses;
    if (Solve(MakePose(at.R, at.p)).count > 0) ++trial.found;
  }
  return trial;
}

int NumericIk::SidesOf(const JointVector& q) const {
  return parts_->chain.Sides(parts_->chain.Place(parts_->chain.Model(q)));
}

}  // namespace aircut::kinematics
