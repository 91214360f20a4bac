#include "sim/piece_location.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>

#include <Eigen/SVD>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;
using Vector6d = Eigen::Matrix<double, 6, 1>;

constexpr int kMostSteps = 100;
constexpr int kMostHalvings = 12;
// A step this small ends the fit.
constexpr double kSettled_mm = 1e-9;
// A way to lie that moves the points less than this share of the best-seen way
// is not settled by them.
constexpr double kSeenShare = 0.05;
// Nearer than this to the surface the triangle's own normal is the better one.
constexpr double kOnSurface_mm = 1e-6;

struct Touch {
  double distance_mm = 0.0;   // signed, + outside
  Vector3d out;               // unit, away from the piece, in its own coordinates
};

Touch TouchAt(const MeshIndex& stock, const Vector3d& p_A) {
  const MeshIndex::Closest closest = stock.ClosestPoint(p_A);
  Touch touch;
  touch.distance_mm = stock.SignedDistance(p_A);
  if (closest.distance_mm > kOnSurface_mm) {
    touch.out = (p_A - closest.point) / touch.distance_mm;
    return touch;
  }
  const Mesh& mesh = stock.mesh();
  const auto& corner = mesh.triangles[closest.triangle];
  const Vector3d a = mesh.vertices[corner[0]];
  touch.out = (mesh.vertices[corner[1]] - a).cross(mesh.vertices[corner[2]] - a).normalized();
  return touch;
}

struct Residuals {
  Eigen::VectorXd distance_mm;
  Eigen::MatrixXd out_S;    // 3 x n
  double squares() const { return distance_mm.squaredNorm(); }
};

Residuals ResidualsAt(const MeshIndex& stock, const std::vector<Vector3d>& touched_S,
                      const Pose& X_SA) {
  const auto n = static_cast<Eigen::Index>(touched_S.size());
  Residuals r{Eigen::VectorXd(n), Eigen::MatrixXd(3, n)};
  const Pose X_AS = X_SA.inverse();
  for (Eigen::Index i = 0; i < n; ++i) {
    const Touch touch = TouchAt(stock, X_AS * touched_S[i]);
    r.distance_mm[i] = touch.distance_mm;
    r.out_S.col(i) = X_SA.linear() * touch.out;
  }
  return r;
}

// The cloud's middle and radius: turns about the middle are counted in mm of
// movement at that radius, so that turns and shifts can be compared.
struct Cloud {
  Vector3d middle = Vector3d::Zero();
  double radius_mm = 0.0;
};

Cloud CloudOf(const std::vector<Vector3d>& points) {
  Cloud cloud;
  for (const Vector3d& p : points) cloud.middle += p;
  cloud.middle /= static_cast<double>(points.size());
  for (const Vector3d& p : points) cloud.radius_mm += (p - cloud.middle).squaredNorm();
  cloud.radius_mm = std::sqrt(cloud.radius_mm / static_cast<double>(points.size()));
  // One place only: no turn about it moves it, whatever the scale.
  if (!(cloud.radius_mm > 0)) cloud.radius_mm = 1.0;
  return cloud;
}

struct Step {
  Vector6d move = Vector6d::Zero();   // shift [mm], turn * radius [mm]
  int directions = 0;
};

// Least squares of the distances after a small move of the piece, only along
// the ways that the points see.
Step StepFrom(const Residuals& r, const std::vector<Vector3d>& touched_S, const Cloud& cloud) {
  const auto n = static_cast<Eigen::Index>(touched_S.size());
  Eigen::MatrixXd J(n, 6);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Vector3d out = r.out_S.col(i), arm = touched_S[i] - cloud.middle;
    // The piece moved towards a point leaves it less far outside.
    J.row(i) << -out.transpose(), -arm.cross(out).transpose() / cloud.radius_mm;
  }
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(J, Eigen::ComputeThinU | Eigen::ComputeThinV);
  const Eigen::VectorXd& size = svd.singularValues();
  Step step;
  for (Eigen::Index k = 0; k < size.size(); ++k) {
    if (!(size[k] > kSeenShare * size[0])) break;
    step.move -= svd.matrixV().col(k) * (svd.matrixU().col(k).dot(r.distance_mm) / size[k]);
    ++step.directions;
  }
  return step;
}

Pose Moved(const Pose& X_SA, const Vector6d& move, const Cloud& cloud) {
  const Vector3d turn = move.tail<3>() / cloud.radius_mm;
  const double angle = turn.norm();
  Pose X = Pose::Identity();
  X.translate(cloud.middle + move.head<3>());
  if (angle > 0) X.rotate(Eigen::AngleAxisd(angle, turn / angle));
  X.translate(-cloud.middle);
  return X * X_SA;
}

// What the points say where they were believed to be.
void FillBefore(const Residuals& r, const std::vector<Vector3d>& touched_S, PieceLocation* out) {
  Eigen::Index worst = 0;
  out->before_mm = r.distance_mm.cwiseAbs().maxCoeff(&worst);
  out->worst_p_S = touched_S[worst];
  out->worst_signed_mm = r.distance_mm[worst];
}

}  // namespace

PieceLocation LocatePiece(const MeshIndex& stock_S, const std::vector<Vector3d>& touched_S) {
  PieceLocation out;
  if (touched_S.empty()) return out;
  for (std::size_t i = 0; i < touched_S.size(); ++i) {
    if (touched_S[i].allFinite()) continue;
    throw std::invalid_argument("touched_S[" + std::to_string(i) + "] must be finite");
  }
  out.given = true;
  out.points = static_cast<int>(touched_S.size());
  const Cloud cloud = CloudOf(touched_S);
  Residuals r = ResidualsAt(stock_S, touched_S, out.X_SA);
  FillBefore(r, touched_S, &out);
  for (int k = 0; k < kMostSteps; ++k) {
    const Step step = StepFrom(r, touched_S, cloud);
    out.directions_seen = step.directions;
    if (step.move.norm() < kSettled_mm) break;
    // The surface bends: a step that makes things worse is shortened.
    bool better = false;
    double share = 1.0;
    for (int h = 0; h < kMostHalvings && !better; ++h, share *= 0.5) {
      const Pose next = Moved(out.X_SA, share * step.move, cloud);
      Residuals tried = ResidualsAt(stock_S, touched_S, next);
      better = tried.squares() < r.squares();
      if (!better) continue;
      out.X_SA = next;
      r = std::move(tried);
    }
    if (!better) break;
  }
  out.residual_mm = r.distance_mm.cwiseAbs().maxCoeff();
  out.rms_mm = std::sqrt(r.squares() / static_cast<double>(out.points));
  return out;
}

}  // namespace aircut::sim
