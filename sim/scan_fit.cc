#include "sim/scan_fit.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Eigenvalues>

#include "kinematics/units.h"

namespace aircut::sim {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;
using kinematics::Pose;

constexpr int kFewPoints = 2000, kManyPoints = 20000, kMostSteps = 40;
constexpr double kLeastFacing = 0.2;        // cosine: normals of a fine scan are rough
constexpr double kStill_mm = 1e-5;
constexpr double kTukey = 4.685;           // 95 % as good as least squares for normal errors
constexpr double kSigmaOfMedian = 1.4826;  // of absolute values, normal errors
// No scan is finer: below it nothing is weighted down as lying off.
constexpr double kLeastSigma_mm = 0.02;
// A direction that changes the mean square by less than this share is not held.
constexpr double kOpenShare = 1e-5;
// The cut's common offset is told apart from the pose from this share of uncut points on.
constexpr double kUncutShare = 0.05;
// Engineering judgement: most of a scan must lie on the piece; another turn is as good
// within these factors of what is left over.
constexpr double kLeastShare = 0.5, kAsGood = 1.3, kStaysAsItLay = 1.5;
constexpr double kAlike_mm = 0.005, kRimShare = 0.05;
constexpr double kOtherTurn_rad = 0.17;

using Parameters = Eigen::Matrix<double, 7, 1>;   // turn, shift, offset of the cut
using Normal = Eigen::Matrix<double, 7, 7>;

struct ScanPoint {
  Vector3d p, n;
};

Vector3d UnitNormal(const Mesh& mesh, std::size_t t) {
  const auto& at = mesh.triangles[t];
  const auto vertex = [&](int k) -> const Vector3d& {
    return mesh.vertices[static_cast<std::size_t>(at[static_cast<std::size_t>(k)])];
  };
  const Vector3d n = (vertex(1) - vertex(0)).cross(vertex(2) - vertex(0));
  const double length = n.norm();
  return length > 0 ? Vector3d(n / length) : Vector3d::Zero();
}

// The k-th of places spread evenly over a triangle (steps of the plastic number).
Vector3d InsideOf(const Mesh& mesh, std::size_t t, int k) {
  double u = std::fmod(0.7548776662466927 * (k + 1), 1.0), v = std::fmod(0.5698402909980532 * (k + 1), 1.0);
  if (u + v > 1.0) {
    u = 1.0 - u;
    v = 1.0 - v;
  }
  const auto& at = mesh.triangles[t];
  const Vector3d& a = mesh.vertices[static_cast<std::size_t>(at[0])];
  return a + u * (mesh.vertices[static_cast<std::size_t>(at[1])] - a) + v * (mesh.vertices[static_cast<std::size_t>(at[2])] - a);
}

// Evenly picked by area, so that a dense patch counts no more: corners of triangles, whose
// scatter is the scan's own, and places inside those that are large.
std::vector<ScanPoint> PickByArea(const Mesh& mesh, int count) {
  std::vector<double> until(mesh.triangles.size());
  double area = 0.0;
  for (std::size_t t = 0; t < until.size(); ++t) {
    const auto& at = mesh.triangles[t];
    const Vector3d& a = mesh.vertices[static_cast<std::size_t>(at[0])];
    area += 0.5 * (mesh.vertices[static_cast<std::size_t>(at[1])] - a)
                      .cross(mesh.vertices[static_cast<std::size_t>(at[2])] - a).norm();
    until[t] = area;
  }
  std::vector<ScanPoint> points;
  for (int k = 0; k < count && area > 0; ++k) {
    const double at = (k + 0.5) / count * area;
    const auto t = static_cast<std::size_t>(std::lower_bound(until.begin(), until.end(), at) - until.begin());
    const double share = (until[t] - (t > 0 ? until[t - 1] : 0.0)) * count / area;
    points.push_back({share > 2.0 ? InsideOf(mesh, t, k) : mesh.vertices[static_cast<std::size_t>(mesh.triangles[t][0])],
                      UnitNormal(mesh, t)});
  }
  return points;
}

double MedianOf(std::vector<double> values) {
  if (values.empty()) return 0.0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

struct Match {
  Vector3d p, n;        // of the scan, where the pose puts it; of the surface
  double off_mm;        // along n
  bool cut;
};

// One search from one start.
class Fitting {
 public:
  Fitting(const std::vector<ScanPoint>& points, const FitSurface& surface, const std::vector<Vector3d>& normals)
      : points_(points), surface_(surface), normals_(normals) {}

  // The reach shrinks step by step: what lies off is left out little by little.
  void Run(const Pose& start, double reach_mm, double least_reach_mm) {
    X_ = start;
    reach_mm_ = reach_mm;
    for (int step = 0; step < kMostSteps; ++step) {
      Collect();
      if (matches_.size() < 20) return;
      Scale();
      const double moved = Step();
      const double least = std::max(least_reach_mm, ReachOfSpread());
      if (reach_mm_ <= least && moved < kStill_mm) break;
      reach_mm_ = std::max(0.7 * reach_mm_, least);
    }
    Collect();
    Scale();
  }

  const Pose& X() const { return X_; }
  double Share() const { return points_.empty() ? 0.0 : static_cast<double>(matches_.size()) / static_cast<double>(points_.size()); }

  // What holds all that belongs to the piece.
  double ReachOfSpread() const { return 2.0 * std::abs(offset_mm_) + 8.0 * std::max(sigma_mm_[0], sigma_mm_[1]); }

  // Mean distance of all points, those that lie elsewhere counted as `cap_mm` off.
  double Cost(double cap_mm) const {
    double sum = cap_mm * static_cast<double>(points_.size() - matches_.size());
    for (const Match& m : matches_) sum += std::min(std::abs(Left(m)), cap_mm);
    return sum / static_cast<double>(points_.size());
  }

  void Tell(ScanFit* fit) const {
    double squares = 0.0;
    std::vector<double> uncut, all;
    for (const Match& m : matches_) {
      if (!(Weight(m) > 0)) continue;
      ++fit->used;
      squares += Left(m) * Left(m);
      all.push_back(std::abs(Left(m)));
      if (!m.cut) uncut.push_back(all.back());
    }
    fit->points = static_cast<int>(points_.size());
    fit->rms_mm = fit->used > 0 ? std::sqrt(squares / fit->used) : 0.0;
    fit->noise_mm = kSigmaOfMedian * MedianOf(offset_known_ ? std::move(uncut) : std::move(all));
    if (offset_known_) fit->cut_offset_mm = offset_mm_;
    fit->open_directions = open_;
  }

 private:
  double Left(const Match& m) const { return m.off_mm - (m.cut ? offset_mm_ : 0.0); }

  double Weight(const Match& m) const {
    const double u = Left(m) / (kTukey * sigma_mm_[m.cut ? 1 : 0]);
    return std::abs(u) < 1.0 ? (1.0 - u * u) * (1.0 - u * u) : 0.0;
  }

  // The common offset of the cut to begin with, and how far places scatter, those that
  // were cut and the others each for themselves.
  void Scale() {
    std::vector<double> off[2];
    for (const Match& m : matches_) off[m.cut ? 1 : 0].push_back(m.off_mm);
    const auto count = static_cast<double>(matches_.size());
    offset_known_ = static_cast<double>(off[0].size()) >= kUncutShare * count && off[0].size() >= 20;
    if (!offset_known_) offset_mm_ = 0.0;
    else if (!begun_) offset_mm_ = MedianOf(off[1]) - MedianOf(off[0]);
    begun_ = true;
    for (int cut = 0; cut < 2; ++cut) {
      for (double& v : off[cut]) v = std::abs(v - (cut == 1 ? offset_mm_ : 0.0));
      sigma_mm_[cut] = std::max(kSigmaOfMedian * MedianOf(std::move(off[cut])), kLeastSigma_mm);
    }
  }

  void Collect() {
    matches_.clear();
    for (const ScanPoint& point : points_) {
      const Vector3d p = X_ * point.p;
      const MeshIndex::Closest nearest = surface_.surface_S->ClosestPoint(p, reach_mm_);
      if (nearest.triangle < 0) continue;
      const Vector3d& n = normals_[static_cast<std::size_t>(nearest.triangle)];
      if (n.dot(X_.linear() * point.n) < kLeastFacing) continue;
      const Vector3d off = p - nearest.point;
      const double along = n.dot(off);
      // Beyond the rim of the surface: what it would be laid on is not there.
      if (off.norm() > 0.05 && std::abs(along) < 0.7 * off.norm()) continue;
      matches_.push_back({p, n, along, surface_.is_cut[static_cast<std::size_t>(nearest.triangle)] != 0});
    }
  }

  // One step of weighted least squares. @returns how far it moved [mm].
  double Step() {
    const auto count = static_cast<double>(matches_.size());
    Vector3d middle = Vector3d::Zero();
    for (const Match& m : matches_) middle += m.p / count;
    double arm2 = 0.0;
    for (const Match& m : matches_) arm2 += (m.p - middle).squaredNorm() / count;
    const double arm = std::sqrt(std::max(arm2, 1e-12));
    Normal H = Normal::Zero();
    Parameters g = Parameters::Zero();
    double total = 0.0;
    for (const Match& m : matches_) {
      const double w = Weight(m);
      Parameters J;
      J << (m.p - middle).cross(m.n) / arm, m.n, offset_known_ && m.cut ? -1.0 : 0.0;
      H += w * J * J.transpose();
      g += w * Left(m) * J;
      total += w;
    }
    if (!(total > 0)) return 0.0;
    const Parameters x = Solve(H / total, g / total);
    const Vector3d turn = x.head<3>() / arm;
    const double angle = turn.norm();
    Pose move = Pose::Identity();
    if (angle > 0) move.rotate(Eigen::AngleAxisd(angle, turn / angle));
    X_ = Eigen::Translation3d(middle + x.segment<3>(3)) * move * Eigen::Translation3d(-middle) * X_;
    offset_mm_ += x[6];
    return x.norm();
  }

  // Least squares over the directions that the surface holds.
  Parameters Solve(const Normal& H, const Parameters& g) {
    const Eigen::SelfAdjointEigenSolver<Normal> solver(H);
    Parameters x = Parameters::Zero();
    open_ = offset_known_ ? 0 : -1;   // the offset itself is then one
    for (int k = 0; k < 7; ++k) {
      const double held = solver.eigenvalues()[k];
      if (!(held > kOpenShare)) {
        ++open_;
        continue;
      }
      const Parameters direction = solver.eigenvectors().col(k);
      x -= direction.dot(g) / held * direction;
    }
    return x;
  }

  const std::vector<ScanPoint>& points_;
  const FitSurface& surface_;
  const std::vector<Vector3d>& normals_;
  Pose X_ = Pose::Identity();
  double reach_mm_ = 0.0, offset_mm_ = 0.0;
  double sigma_mm_[2] = {kLeastSigma_mm, kLeastSigma_mm};   // not cut, cut
  bool offset_known_ = false, begun_ = false;
  int open_ = 0;
  std::vector<Match> matches_;
};

// Middle and principal axes, the longest first; right-handed.
struct Spread {
  Vector3d middle = Vector3d::Zero();
  Matrix3d axes = Matrix3d::Identity();
};

Spread SpreadOf(const std::vector<ScanPoint>& points) {
  Spread spread;
  for (const ScanPoint& q : points) spread.middle += q.p / static_cast<double>(points.size());
  Matrix3d scatter = Matrix3d::Zero();
  for (const ScanPoint& q : points) scatter += (q.p - spread.middle) * (q.p - spread.middle).transpose();
  const Eigen::SelfAdjointEigenSolver<Matrix3d> solver(scatter);
  spread.axes.col(0) = solver.eigenvectors().col(2);
  spread.axes.col(1) = solver.eigenvectors().col(1);
  spread.axes.col(2) = spread.axes.col(0).cross(spread.axes.col(1));
  return spread;
}

// The turns that map a square plate onto itself, front or back.
std::vector<Matrix3d> Turns() {
  std::vector<Matrix3d> turns;
  for (int k = 0; k < 8; ++k) {
    Matrix3d turn(Eigen::AngleAxisd(0.5 * kinematics::kPi * (k % 4), Vector3d::UnitZ()));
    if (k >= 4) turn = turn * Vector3d(1, -1, -1).asDiagonal();
    turns.push_back(turn);
  }
  return turns;
}

std::vector<Pose> Starts(const std::vector<ScanPoint>& scan, const std::vector<ScanPoint>& surface) {
  std::vector<Pose> starts{Pose::Identity()};
  const Spread from = SpreadOf(scan), to = SpreadOf(surface);
  for (const Matrix3d& turn : Turns()) {
    const Matrix3d R = to.axes * turn * from.axes.transpose();
    starts.push_back(kinematics::MakePose(R, to.middle - R * from.middle));
  }
  return starts;
}

double TurnBetween(const Pose& a, const Pose& b) {
  return Eigen::AngleAxisd(a.linear().transpose() * b.linear()).angle();
}

}  // namespace

ScanFit FitScan(const Mesh& scan_Q, const FitSurface& surface) {
  const Mesh& mesh_S = surface.surface_S->mesh();
  std::vector<Vector3d> normals;
  for (std::size_t t = 0; t < mesh_S.triangles.size(); ++t) normals.push_back(UnitNormal(mesh_S, t));
  const std::vector<ScanPoint> few = PickByArea(scan_Q, kFewPoints), many = PickByArea(scan_Q, kManyPoints);
  ScanFit fit;
  if (few.empty()) return fit;
  const double size = surface.surface_S->box().diagonal().norm();
  const double cap = std::max(1.0, 0.005 * size);

  struct Candidate {
    Pose X;
    double cost, reach_mm;
  };
  std::vector<Candidate> candidates;
  for (const Pose& start : Starts(few, PickByArea(mesh_S, kFewPoints))) {
    Fitting fitting(few, surface, normals);
    fitting.Run(start, candidates.empty() ? 0.05 * size : 0.2 * size, cap);
    candidates.push_back({fitting.X(), fitting.Share() >= kLeastShare ? fitting.Cost(cap) : cap, fitting.ReachOfSpread()});
  }
  std::size_t best = 0;
  for (std::size_t k = 1; k < candidates.size(); ++k) {
    if (candidates[k].cost < candidates[best].cost) best = k;
  }
  if (!(candidates[best].cost < cap)) return fit;
  const bool stays = candidates[0].cost < cap && candidates[0].cost <= kStaysAsItLay * candidates[best].cost + kRimShare * cap;
  if (stays) best = 0;
  fit.as_it_lay = best == 0;
  for (const Candidate& rival : candidates) {
    const double turn = TurnBetween(rival.X, candidates[best].X);
    if (turn > kOtherTurn_rad && rival.cost < cap && rival.cost <= kAsGood * candidates[best].cost + kAlike_mm) {
      fit.rival_turn_deg = kinematics::DegFromRad(turn);
    }
  }
  Fitting fitting(many, surface, normals);
  fitting.Run(candidates[best].X, std::max(cap, candidates[best].reach_mm), 0.2 * cap);
  fitting.Tell(&fit);
  fit.X_SQ = fitting.X();
  fit.state = fit.rival_turn_deg && !fit.as_it_lay ? ScanFitState::kTwoWays : ScanFitState::kSettled;
  return fit;
}

}  // namespace aircut::sim
