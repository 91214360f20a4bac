#include "sim/frame_fit.h"

#include <cmath>
#include <limits>
#include <utility>

#include <Eigen/Eigenvalues>

#include "sim/point_fit.h"

namespace aircut::sim {
namespace {

using Eigen::Matrix3Xd;
using Eigen::Vector3d;

// Points whose cloud is thinner than this share of its length lie on a line.
constexpr double kLineShare = 1e-6;
// A point is named when the others without it fit this many times better, and
// better by half of that than without any other point. Engineering judgement:
// with honest points the ratio passes 5 in about one fit of twenty at five points.
constexpr double kOutlierShare = 5.0;
constexpr double kRivalShare = 2.5;

struct Pairs {
  Matrix3Xd S, W;
};

Pairs PairsOf(const std::vector<FitPoint>& points, std::size_t without) {
  const bool all = without >= points.size();
  const auto n = static_cast<Eigen::Index>(points.size() - (all ? 0 : 1));
  Pairs pairs{Matrix3Xd(3, n), Matrix3Xd(3, n)};
  Eigen::Index column = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (i == without) continue;
    pairs.S.col(column) = points[i].p_S;
    pairs.W.col(column++) = points[i].p_W;
  }
  return pairs;
}

// Principal axes of a cloud with its mean squares along them, rising.
struct Cloud {
  Vector3d middle;
  Eigen::Matrix3d axes;
  Vector3d along_mm2;
};

Cloud CloudOf(const Matrix3Xd& p) {
  Cloud cloud;
  cloud.middle = p.rowwise().mean();
  const Matrix3Xd arm = p.colwise() - cloud.middle;
  const Eigen::Matrix3d scatter = arm * arm.transpose() / static_cast<double>(p.cols());
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solver(scatter);
  cloud.axes = solver.eigenvectors();
  cloud.along_mm2 = solver.eigenvalues().cwiseMax(0.0);
  return cloud;
}

FitState StateOf(const Pairs& pairs) {
  if (pairs.S.cols() < 3) return FitState::kTooFew;
  for (const Matrix3Xd* side : {&pairs.S, &pairs.W}) {
    const Vector3d along_mm2 = CloudOf(*side).along_mm2;
    if (!(along_mm2[1] > kLineShare * kLineShare * along_mm2[2])) return FitState::kOnALine;
  }
  return FitState::kSettled;
}

double FleFromFre(double fre_mm, Eigen::Index n) {
  return fre_mm * std::sqrt(static_cast<double>(n) / static_cast<double>(n - 2));
}

// What the fit is without one point.
FitOutlier Without(const std::vector<FitPoint>& points, std::size_t left_out) {
  const Pairs rest = PairsOf(points, left_out);
  FitOutlier out;
  out.point = static_cast<int>(left_out);
  out.fle_mm = std::numeric_limits<double>::infinity();
  if (StateOf(rest) != FitState::kSettled) return out;
  const PointFit fit = FitPoints(rest.S, rest.W, FitScale::kOne);
  out.fle_mm = FleFromFre(std::sqrt(fit.mean_square), rest.S.cols());
  out.off_mm = (points[left_out].p_W - (fit.R * points[left_out].p_S + fit.t)).norm();
  return out;
}

// The one point whose leaving makes the rest agree. Where leaving another helps
// about as much (four points in a plane, one too high), nobody is named.
std::optional<FitOutlier> FindOutlier(const std::vector<FitPoint>& points, double fle_mm) {
  if (points.size() < 4) return std::nullopt;
  FitOutlier best, second;
  best.fle_mm = second.fle_mm = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < points.size(); ++i) {
    FitOutlier one = Without(points, i);
    if (one.fle_mm < best.fle_mm) std::swap(best, one);
    if (one.fle_mm < second.fle_mm) second = one;
  }
  const bool better = best.fle_mm * kOutlierShare < fle_mm;
  const bool alone = best.fle_mm * kRivalShare < second.fle_mm;
  return better && alone ? std::optional<FitOutlier>(best) : std::nullopt;
}

FitScaleGuess GuessScale(const Pairs& pairs) {
  const PointFit fit = FitPoints(pairs.S, pairs.W, FitScale::kFree);
  // One more number is fitted: 3N - 7 stay of 3N.
  const auto n = static_cast<double>(pairs.S.cols());
  return {fit.scale, std::sqrt(fit.mean_square * 3.0 * n / (3.0 * n - 7.0))};
}

// Quantile of chi-square over its degrees of freedom, by Wilson and Hilferty's
// cube root (Proc. Nat. Acad. Sci. 17, 1931): within 7 % from 3 degrees on, and on the safe side.
double ChiSquareShare(double normal_quantile, double freedom) {
  const double h = 2.0 / (9.0 * freedom);
  const double root = 1.0 - h + normal_quantile * std::sqrt(h);
  return root * root * root;
}

}  // namespace

FrameFit FitFrame(const std::vector<FitPoint>& points) {
  FrameFit out;
  out.points = static_cast<int>(points.size());
  const Pairs pairs = PairsOf(points, points.size());
  out.state = StateOf(pairs);
  if (out.state != FitState::kSettled) return out;
  const PointFit fit = FitPoints(pairs.S, pairs.W, FitScale::kOne);
  out.X_WS = kinematics::MakePose(fit.R, fit.t);
  for (const FitPoint& p : points) out.residual_W.emplace_back(p.p_W - out.X_WS * p.p_S);
  out.fre_mm = std::sqrt(fit.mean_square);
  out.fle_mm = FleFromFre(out.fre_mm, pairs.S.cols());
  out.outlier = FindOutlier(points, out.fle_mm);
  out.scale = GuessScale(pairs);
  const Cloud cloud = CloudOf(pairs.S);
  out.middle_S = cloud.middle;
  out.axes_S = cloud.axes;
  out.spread_mm2 = Vector3d::Constant(cloud.along_mm2.sum()) - cloud.along_mm2;
  return out;
}

double TargetErrorFactor(const FrameFit& fit, const Vector3d& p_S) {
  const Vector3d along = fit.axes_S.transpose() * (p_S - fit.middle_S);
  double sum = 0.0;
  for (int k = 0; k < 3; ++k) {
    const double off_mm2 = along.squaredNorm() - along[k] * along[k];
    sum += off_mm2 / fit.spread_mm2[k];
  }
  return std::sqrt((1.0 + sum / 3.0) / fit.points);
}

FleRange RangeOfFle(const FrameFit& fit) {
  constexpr double kFivePercent = 1.6448536269514722;   // normal quantile, 5 % beyond
  const double freedom = 3.0 * fit.points - 6.0;
  return {fit.fle_mm / std::sqrt(ChiSquareShare(kFivePercent, freedom)),
          fit.fle_mm / std::sqrt(ChiSquareShare(-kFivePercent, freedom))};
}

}  // namespace aircut::sim
