#include "sim/fixture_push.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>
#include <fmt/format.h>

namespace aircut::sim {
namespace {

using Vector6 = Eigen::Matrix<double, 6, 1>;

constexpr double kSamePlace_mm = 0.5, kSameDirection = 1e-3;
constexpr double kSquare = 0.05;        // cosine: lines within 3 degrees of square count as square
constexpr double kRank = 1e-3;          // weaker than this share of the strongest: not told by the data
constexpr double kFits = 0.25;          // a model that leaves more of a push than this is not the fixture

bool SameSeries(const PushRow& a, const PushRow& b) {
  return (a.p_S - b.p_S).norm() < kSamePlace_mm && (a.p_SG - b.p_SG).norm() < kSamePlace_mm &&
         (a.direction_S - b.direction_S).norm() < kSameDirection && a.stands_on == b.stands_on;
}

bool SameLine(const Eigen::Vector3d& a, const Eigen::Vector3d& b) { return a.cross(b).norm() < kSquare; }

struct Point {
  double force_n = 0, shown_mm = 0;
};

// Slope through `from` by least squares; nothing where no force differs from it.
std::optional<double> SlopeFrom(const Point& from, const std::vector<Point>& points) {
  double products = 0, squares = 0;
  for (const Point& p : points) {
    products += (p.force_n - from.force_n) * (p.shown_mm - from.shown_mm);
    squares += (p.force_n - from.force_n) * (p.force_n - from.force_n);
  }
  if (!(squares > 0)) return std::nullopt;
  return products / squares;
}

// Ways there and back: a row with less force than the one before it is on the way back.
struct Ways {
  Point start, turn;
  std::vector<Point> there, back;
};

Ways WaysOf(const std::vector<const PushRow*>& rows) {
  Ways ways;
  if (!rows.empty() && rows.front()->force_n == 0) ways.start = {0, rows.front()->displacement_mm};
  double before_n = 0;
  for (const PushRow* row : rows) {
    const Point p{row->force_n, row->displacement_mm};
    if (row->force_n > 0 && row->force_n >= before_n) ways.there.push_back(p);
    if (row->force_n < before_n) ways.back.push_back(p);
    if (p.force_n > ways.turn.force_n) ways.turn = p;
    before_n = row->force_n;
  }
  return ways;
}

// The way there at a force, straight between its rows.
double ThereAt(const Ways& ways, double force_n) {
  std::vector<Point> points = ways.there;
  points.push_back(ways.start);
  std::stable_sort(points.begin(), points.end(), [](const Point& a, const Point& b) { return a.force_n < b.force_n; });
  for (std::size_t i = 1; i < points.size(); ++i) {
    const Point &a = points[i - 1], &b = points[i];
    if (force_n > b.force_n || !(b.force_n > a.force_n)) continue;
    return a.shown_mm + (b.shown_mm - a.shown_mm) * (force_n - a.force_n) / (b.force_n - a.force_n);
  }
  return points.back().shown_mm;
}

void AddWayBack(const Ways& ways, PushSeries& series) {
  if (ways.back.empty()) return;
  series.unloading_mm_n = SlopeFrom(ways.turn, ways.back);
  double hysteresis_mm = 0;
  for (const Point& p : ways.back) hysteresis_mm = std::max(hysteresis_mm, p.shown_mm - ThereAt(ways, p.force_n));
  series.hysteresis_mm = hysteresis_mm;
  const double at_zero_mm = ways.back.back().force_n == 0
                                ? ways.back.back().shown_mm
                                : ways.turn.shown_mm - series.unloading_mm_n.value_or(0) * ways.turn.force_n;
  series.slip_mm = std::max(0.0, at_zero_mm - ways.start.shown_mm);
}

PushSeries MakeSeries(const std::vector<const PushRow*>& rows) {
  PushSeries series;
  const PushRow& first = *rows.front();
  series.first_line = first.line;
  series.last_line = rows.back()->line;
  series.p_S = first.p_S;
  series.direction_S = first.direction_S;
  series.p_SG = first.p_SG;
  series.stands_on = first.stands_on;
  const Ways ways = WaysOf(rows);
  series.force_n = ways.turn.force_n;
  series.displacement_mm = ways.turn.shown_mm - ways.start.shown_mm;
  series.loading_mm_n = SlopeFrom(ways.start, ways.there).value_or(0);
  for (const Point& p : ways.there) {
    series.scatter_mm =
        std::max(series.scatter_mm, std::abs(p.shown_mm - ways.start.shown_mm - series.loading_mm_n * p.force_n));
  }
  AddWayBack(ways, series);
  return series;
}

// Row of the linear system: what entry (i, j) of a symmetric matrix adds to a' C b.
template <int N>
Eigen::RowVectorXd SymmetricRow(const Eigen::Matrix<double, N, 1>& a, const Eigen::Matrix<double, N, 1>& b) {
  Eigen::RowVectorXd row(N * (N + 1) / 2);
  Eigen::Index at = 0;
  for (int i = 0; i < N; ++i) {
    for (int j = i; j < N; ++j) row[at++] = i == j ? a[i] * b[i] : a[i] * b[j] + a[j] * b[i];
  }
  return row;
}

template <int N>
Eigen::Matrix<double, N, N> SymmetricOf(const Eigen::VectorXd& entries) {
  Eigen::Matrix<double, N, N> C;
  Eigen::Index at = 0;
  for (int i = 0; i < N; ++i) {
    for (int j = i; j < N; ++j) C(i, j) = C(j, i) = entries[at++];
  }
  return C;
}

// Solves for a symmetric matrix, where the data tell all of it and it fits them.
template <int N>
struct Solved {
  Eigen::Matrix<double, N, N> C;
  double worst_share = 0;   // of a push that is left over
};

template <int N>
std::optional<Solved<N>> SolveSymmetric(const Eigen::MatrixXd& A, const Eigen::VectorXd& b) {
  if (A.rows() < A.cols()) return std::nullopt;
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(A, Eigen::ComputeThinU | Eigen::ComputeThinV);
  const Eigen::VectorXd& s = svd.singularValues();
  if (!(s[s.size() - 1] > kRank * s[0])) return std::nullopt;
  const Eigen::VectorXd x = svd.solve(b);
  const Eigen::VectorXd left = A * x - b;
  double worst = 0;
  for (Eigen::Index i = 0; i < b.size(); ++i) {
    if (b[i] > 0) worst = std::max(worst, std::abs(left[i]) / b[i]);
  }
  if (!(worst <= kFits)) return std::nullopt;
  return Solved<N>{SymmetricOf<N>(x), worst};
}

// No spring pushes back the way it was pushed.
bool IsSpring(const Eigen::Matrix3d& C) {
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(C);
  return eigen.eigenvalues()[0] > -1e-9 * eigen.eigenvalues()[2];
}

bool IsUpright(const Eigen::Vector3d& direction) { return SameLine(direction, Eigen::Vector3d::UnitZ()); }

// The lines pushed along, each once.
std::vector<Eigen::Vector3d> LinesOf(const std::vector<PushSeries>& series) {
  std::vector<Eigen::Vector3d> lines;
  for (const PushSeries& s : series) {
    const bool known = std::any_of(lines.begin(), lines.end(),
                                   [&](const Eigen::Vector3d& line) { return SameLine(line, s.direction_S); });
    if (!known) lines.push_back(s.direction_S);
  }
  return lines;
}

bool AllSquare(const std::vector<Eigen::Vector3d>& lines) {
  for (std::size_t i = 0; i < lines.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      if (std::abs(lines[i].dot(lines[j])) > kSquare) return false;
    }
  }
  return true;
}

// Unit vectors that complete `lines` to all of space.
std::vector<Eigen::Vector3d> Complement(const std::vector<Eigen::Vector3d>& lines) {
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  for (const Eigen::Vector3d& line : lines) spread += line * line.transpose();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(spread);
  std::vector<Eigen::Vector3d> rest;
  for (int i = 0; i < 3; ++i) {
    if (eigen.eigenvalues()[i] < kSquare) rest.push_back(eigen.eigenvectors().col(i));
  }
  return rest;
}

}  // namespace

double PushSeries::compliance_mm_n() const { return std::max(loading_mm_n, unloading_mm_n.value_or(0)); }

double PushSeries::band() const {
  const double off_mm = std::max({hysteresis_mm.value_or(0), slip_mm.value_or(0), scatter_mm});
  return displacement_mm > 0 ? off_mm / displacement_mm : 0;
}

std::vector<PushSeries> PushSeriesOf(const std::vector<PushRow>& rows) {
  std::vector<std::vector<const PushRow*>> groups;
  for (const PushRow& row : rows) {
    const auto same = std::find_if(groups.begin(), groups.end(),
                                   [&](const auto& group) { return SameSeries(*group.front(), row); });
    if (same != groups.end()) same->push_back(&row);
    else groups.push_back({&row});
  }
  std::vector<PushSeries> series;
  for (const auto& group : groups) series.push_back(MakeSeries(group));
  return series;
}

std::optional<PushFault> FindPushFault(const std::vector<PushRow>& rows) {
  const std::vector<PushSeries> series = PushSeriesOf(rows);
  for (const PushSeries& s : series) {
    if (!(s.force_n > 0)) {
      return PushFault{s.last_line, "the push has no row with a force, must have one or more: write the force of the push"};
    }
    if (!(s.compliance_mm_n() > 0) || !(s.displacement_mm > 0)) {
      return PushFault{s.last_line,
                       fmt::format("displacement_mm is {:g} at {:g} N, must be > 0 along the push: mend its sign or "
                                   "dx,dy,dz, or use a finer dial", s.displacement_mm, s.force_n)};
    }
  }
  const std::vector<Eigen::Vector3d> lines = LinesOf(series);
  if (lines.size() == 1) {
    return PushFault{series.back().last_line,
                     fmt::format("every push goes along {}, must be along three lines square to each other: push once "
                                 "along each of x, y and z", LineWord(lines.front()))};
  }
  const bool told = AllSquare(lines) || FixtureSpring::FromPushes(rows).model() != PushModel::kPerDirection;
  if (told) return std::nullopt;
  return PushFault{series.back().last_line,
                   fmt::format("the pushes go along {} lines that are neither square to each other nor enough for a "
                               "whole 3x3 stiffness: push along x, y and z, or along six lines at one place",
                               lines.size())};
}

FixtureSpring FixtureSpring::FromNumbers(const Eigen::Vector3d& n_per_mm) {
  FixtureSpring spring;
  spring.point_ = n_per_mm.cwiseInverse().asDiagonal();
  return spring;
}

FixtureSpring FixtureSpring::FromPushes(const std::vector<PushRow>& rows) {
  FixtureSpring spring;
  const std::vector<PushSeries> series = PushSeriesOf(rows);
  for (const PushSeries& s : series) spring.band_ = std::max(spring.band_, s.band());
  spring.NoteReach(series);
  if (!spring.FitRigidBody(series) && !spring.FitPoint(series)) spring.FitLines(series);
  return spring;
}

// A displacement at the dial is d' (t + turn x (g - O)), t and turn linear in the force
// and its moment about O. Lengths in units of the spread, so that all entries weigh alike.
// The trace of the block that couples both moves no place along a push (it drops out of
// d'(r x d)), nor a place by a force there: no push tells it and it is set to zero.
bool FixtureSpring::FitRigidBody(const std::vector<PushSeries>& series) {
  if (series.size() < 20) return false;
  middle_.setZero();
  for (const PushSeries& s : series) middle_ += s.p_S / static_cast<double>(series.size());
  double spread_mm = 0;
  for (const PushSeries& s : series) spread_mm = std::max(spread_mm, (s.p_S - middle_).norm());
  if (!(spread_mm > kSamePlace_mm)) return false;
  const auto count = static_cast<Eigen::Index>(series.size());
  Eigen::MatrixXd A = Eigen::MatrixXd::Zero(count + 1, 21);
  Eigen::VectorXd b = Eigen::VectorXd::Zero(count + 1);
  for (const Eigen::Index coupling : {3, 9, 14}) A(count, coupling) = 1;   // entries (0,3), (1,4), (2,5)
  for (Eigen::Index i = 0; i < count; ++i) {
    const PushSeries& s = series[static_cast<std::size_t>(i)];
    Vector6 load, seen;
    load << s.direction_S, (s.p_S - middle_).cross(s.direction_S) / spread_mm;
    seen << s.direction_S, (s.p_SG - middle_).cross(s.direction_S) / spread_mm;
    A.row(i) = SymmetricRow<6>(seen, load);
    b[i] = s.compliance_mm_n();
  }
  const auto solved = SolveSymmetric<6>(A, b);
  if (!solved) return false;
  band_ = std::max(band_, solved->worst_share);
  body_ = solved->C;
  body_.block<6, 3>(0, 3) /= spread_mm;
  body_.block<3, 6>(3, 0) /= spread_mm;
  model_ = PushModel::kRigidBody;
  const bool holds = std::all_of(series.begin(), series.end(),
                                 [this](const PushSeries& s) { return IsSpring(ComplianceAt(s.p_S)); });
  if (!holds) model_ = PushModel::kTyped;
  return holds;
}

bool FixtureSpring::FitPoint(const std::vector<PushSeries>& series) {
  Eigen::MatrixXd A(static_cast<Eigen::Index>(series.size()), 6);
  Eigen::VectorXd b(A.rows());
  for (Eigen::Index i = 0; i < A.rows(); ++i) {
    const PushSeries& s = series[static_cast<std::size_t>(i)];
    if (std::abs(s.p_S.z() - series.front().p_S.z()) > kHeight_mm) return false;
    A.row(i) = SymmetricRow<3>(s.direction_S, s.direction_S);
    b[i] = s.compliance_mm_n();
  }
  const auto solved = SolveSymmetric<3>(A, b);
  if (!solved || !IsSpring(solved->C)) return false;
  band_ = std::max(band_, solved->worst_share);
  point_ = solved->C;
  model_ = PushModel::kPoint;
  return true;
}

// Of several pushes along one line at one height the softest counts.
void FixtureSpring::FitLines(const std::vector<PushSeries>& series) {
  model_ = PushModel::kPerDirection;
  for (const Eigen::Vector3d& direction : LinesOf(series)) {
    Line line{direction, {}};
    for (const PushSeries& s : series) {
      if (!SameLine(direction, s.direction_S)) continue;
      const auto same = std::find_if(line.at.begin(), line.at.end(), [&](const AtHeight& at) {
        return IsUpright(direction) || std::abs(at.z_mm - s.p_S.z()) < kSamePlace_mm;
      });
      if (same != line.at.end()) same->mm_n = std::max(same->mm_n, s.compliance_mm_n());
      else line.at.push_back({s.p_S.z(), s.compliance_mm_n()});
    }
    std::stable_sort(line.at.begin(), line.at.end(), [](const AtHeight& a, const AtHeight& b) { return a.z_mm < b.z_mm; });
    lines_.push_back(line);
  }
  untold_ = Complement(LinesOf(series));
}

// Heights matter for pushes across them. A line that was pushed at fewer heights narrows
// what all of them speak for.
void FixtureSpring::NoteReach(const std::vector<PushSeries>& series) {
  places_.emplace();
  for (const PushSeries& s : series) places_->extend(s.p_S);
  for (const Eigen::Vector3d& line : LinesOf(series)) {
    if (IsUpright(line)) continue;
    double low = 1e9, high = -1e9;
    for (const PushSeries& s : series) {
      if (!SameLine(line, s.direction_S)) continue;
      low = std::min(low, s.p_S.z());
      high = std::max(high, s.p_S.z());
    }
    heights_ = heights_ ? std::pair(std::max(heights_->first, low), std::min(heights_->second, high)) : std::pair(low, high);
  }
}

Eigen::Matrix3d FixtureSpring::ComplianceAt(const Eigen::Vector3d& p_S) const {
  if (model_ == PushModel::kTyped || model_ == PushModel::kPoint) return point_;
  if (model_ == PushModel::kRigidBody) {
    Eigen::Matrix<double, 6, 3> load;   // of a force at p about the middle
    const Eigen::Vector3d r = p_S - middle_;
    Eigen::Matrix3d moment;
    moment << 0, -r.z(), r.y(), r.z(), 0, -r.x(), -r.y(), r.x(), 0;
    load << Eigen::Matrix3d::Identity(), moment;
    return load.transpose() * body_ * load;
  }
  Eigen::Matrix3d C = Eigen::Matrix3d::Zero();
  for (const Line& line : lines_) {
    double mm_n = p_S.z() <= line.at.front().z_mm ? line.at.front().mm_n : line.at.back().mm_n;
    for (std::size_t i = 1; i < line.at.size(); ++i) {
      const AtHeight &a = line.at[i - 1], &b = line.at[i];
      if (p_S.z() < a.z_mm || p_S.z() > b.z_mm) continue;
      mm_n = a.mm_n + (b.mm_n - a.mm_n) * (p_S.z() - a.z_mm) / (b.z_mm - a.z_mm);
    }
    C += mm_n * line.direction_S * line.direction_S.transpose();
  }
  return C;
}

std::vector<Eigen::Vector3d> FixtureSpring::SoftLines(const Eigen::Vector3d& p_S) const {
  const Eigen::Matrix3d C = ComplianceAt(p_S);
  std::vector<Eigen::Vector3d> lines;
  for (const Line& line : lines_) lines.push_back(line.direction_S);
  if (lines.empty()) lines = {Eigen::Vector3d::UnitX(), Eigen::Vector3d::UnitY(), Eigen::Vector3d::UnitZ()};
  std::stable_sort(lines.begin(), lines.end(), [&](const Eigen::Vector3d& a, const Eigen::Vector3d& b) {
    return a.dot(C * a) > b.dot(C * b);
  });
  return lines;
}

bool FixtureSpring::Covers(const Eigen::Vector3d& p_S) const {
  if (heights_ && !(p_S.z() >= heights_->first - kHeight_mm && p_S.z() <= heights_->second + kHeight_mm)) return false;
  if (!places_) return true;
  const Eigen::Vector3d aside = (p_S - places_->min()).cwiseMin(places_->max() - p_S);
  return aside.x() >= -kAside_mm && aside.y() >= -kAside_mm;
}

std::optional<FixtureSpring> FixtureSpringOf(const Cell& cell) {
  if (cell.fixture_n_per_mm) return FixtureSpring::FromNumbers(*cell.fixture_n_per_mm);
  if (!cell.push_test.empty()) return FixtureSpring::FromPushes(cell.push_test);
  return std::nullopt;
}

std::string LineWord(const Eigen::Vector3d& direction_S) {
  constexpr const char* kAxes[] = {"x", "y", "z"};
  for (int axis = 0; axis < 3; ++axis) {
    if (std::abs(direction_S[axis]) > 0.9999 * direction_S.norm()) {
      return std::string(direction_S[axis] < 0 ? "-" : "") + kAxes[axis];
    }
  }
  const Eigen::Vector3d d = direction_S.normalized();
  return fmt::format("({:.2g}, {:.2g}, {:.2g})", d.x(), d.y(), d.z());
}

}  // namespace aircut::sim
