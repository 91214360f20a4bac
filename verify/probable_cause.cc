#include "verify/probable_cause.h"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

namespace aircut::verify {
namespace {

constexpr std::size_t kFewestPlaces = 30;
constexpr double kLeastSignal = 0.2;      // of the sum of squares: below, it is the cut's roughness
constexpr double kSameMode = 0.9;         // squared correlation beyond which two modes are one
constexpr double kFirstOrderOff = 0.5;    // of a size, between both slopes
constexpr double kInch = 25.4, kInchWithin = 0.1;

// A ridge is one-sided: the mean of a parabola over its rms about that mean.
const double kRidgeMean = (1.0 / 3.0) / std::sqrt(1.0 / 5.0 - 1.0 / 9.0);

// What the field says for every fit: modes by place, weights, errors without their ridges.
struct Fitting {
  const CauseField& field;
  Eigen::MatrixXd modes;       // places by kinds
  Eigen::MatrixXd first_normal;   // the same two of the modes by the design's slope alone
  Eigen::VectorXd first_right;
  Eigen::VectorXd error, weight, squares_weight;   // squares_weight: 0 where unreached
  Eigen::MatrixXd normal;      // of the reached places
  Eigen::VectorXd right;
  double signal = 0.0;         // weighted squares over the roughness
  bool quiet = true;
};

Fitting Prepare(const CauseField& field) {
  const std::vector<CauseKind>& kinds = FittedKinds();
  const auto count = static_cast<Eigen::Index>(field.places.size());
  Fitting f{field, Eigen::MatrixXd(count, static_cast<Eigen::Index>(kinds.size())), {}, {}, Eigen::VectorXd(count),
            Eigen::VectorXd(count), Eigen::VectorXd(count), {}, {}};
  Eigen::MatrixXd first = f.modes;
  double all = 0.0;
  for (Eigen::Index i = 0; i < count; ++i) {
    const FieldPlace& place = field.places[static_cast<std::size_t>(i)];
    for (std::size_t k = 0; k < kinds.size(); ++k) {
      f.modes(i, static_cast<Eigen::Index>(k)) = ModeAt(kinds[k], field, place, place.n_S);
      first(i, static_cast<Eigen::Index>(k)) = ModeAt(kinds[k], field, place, place.design_n_S);
    }
    f.error[i] = place.error_mm - kRidgeMean * place.rough_mm;
    f.weight[i] = place.weight;
    f.squares_weight[i] = place.reached ? place.weight : 0.0;
    all += place.weight * place.error_mm * place.error_mm;
    f.signal += place.weight * (f.error[i] * f.error[i] - place.rough_mm * place.rough_mm);
  }
  f.normal = f.modes.transpose() * f.squares_weight.asDiagonal() * f.modes;
  f.right = f.modes.transpose() * f.squares_weight.cwiseProduct(f.error);
  f.first_normal = first.transpose() * f.squares_weight.asDiagonal() * first;
  f.first_right = first.transpose() * f.squares_weight.cwiseProduct(f.error);
  f.quiet = !(f.signal > kLeastSignal * all);
  return f;
}

// Share of the field that a prediction explains; what was not cut cannot stand higher
// than it did before.
double ShareOf(const Fitting& f, const Eigen::VectorXd& predicted) {
  double explained = 0.0;
  for (Eigen::Index i = 0; i < predicted.size(); ++i) {
    const double ceiling = f.field.places[static_cast<std::size_t>(i)].ceiling_mm;
    const double left = f.error[i] - std::min(predicted[i], ceiling);
    explained += f.weight[i] * (f.error[i] * f.error[i] - left * left);
  }
  return std::clamp(explained / f.signal, 0.0, 1.0);
}

using Columns = std::vector<Eigen::Index>;

struct Solution {
  Eigen::VectorXd x;
  Eigen::MatrixXd inverse;
};

// Normal equations of one or two columns; nothing where they cannot be told apart.
std::optional<Solution> Solve(const Eigen::MatrixXd& normal, const Eigen::VectorXd& right, const Columns& columns) {
  const Eigen::MatrixXd a = normal(columns, columns);
  const double least = 1e-9 * normal.diagonal().maxCoeff();
  if (!(a.diagonal().minCoeff() > least)) return {};
  if (a.rows() == 2 && a(0, 1) * a(0, 1) > kSameMode * a(0, 0) * a(1, 1)) return {};
  Solution s;
  s.inverse = a.inverse();
  s.x = s.inverse * right(columns);
  return s;
}

// The mean slope of design and cut holds the error itself, and could explain what it
// should not: its sizes must be near those by the design alone.
bool Near(const Solution& a, const Solution& b) {
  return ((a.x - b.x).array().abs() <= kFirstOrderOff * a.x.array().abs()).all();
}

// Least squares of one or two modes.
std::optional<CauseFit> FitOf(const Fitting& f, const Columns& columns) {
  const auto first = Solve(f.first_normal, f.first_right, columns), solution = Solve(f.normal, f.right, columns);
  if (!first || !solution || !Near(*solution, *first)) return {};
  const Eigen::VectorXd& x = solution->x;
  const Eigen::MatrixXd& inverse = solution->inverse;
  const auto size = static_cast<Eigen::Index>(columns.size());
  Eigen::VectorXd predicted = Eigen::VectorXd::Zero(f.error.size());
  for (Eigen::Index r = 0; r < size; ++r) predicted += x[r] * f.modes.col(columns[static_cast<std::size_t>(r)]);
  // Weights are areas: a residual of mean weight has the mean variance.
  const double left = (f.error - predicted).array().square().matrix().dot(f.squares_weight);
  const double variance = left / std::max<double>(1.0, static_cast<double>(f.error.size() - size));
  CauseFit fit;
  fit.share = ShareOf(f, predicted);
  for (Eigen::Index r = 0; r < size; ++r) {
    fit.parts.push_back({FittedKinds()[static_cast<std::size_t>(columns[static_cast<std::size_t>(r)])], x[r],
                         std::sqrt(variance * inverse(r, r)), 0});
  }
  return fit;
}

CauseFit FixedFit(const Fitting& f, CauseKind kind) {
  Eigen::VectorXd predicted(f.error.size());
  for (Eigen::Index i = 0; i < predicted.size(); ++i) {
    const FieldPlace& place = f.field.places[static_cast<std::size_t>(i)];
    predicted[i] = ModeAt(kind, f.field, place, place.n_S);
  }
  return {{{kind, 1.0, 0.0, 0}}, ShareOf(f, predicted)};
}

// Had the path led the cutter that it was made for, its own errors would be left: the rest is
// what the wrong one made. Where that is not known nothing is explained.
CauseFit OtherCutterFit(const Fitting& f, const OtherCutter& other) {
  Eigen::VectorXd predicted(f.error.size());
  for (Eigen::Index i = 0; i < predicted.size(); ++i) {
    const FieldPlace& place = f.field.places[static_cast<std::size_t>(i)];
    const double error_mm = other.error_mm[static_cast<std::size_t>(i)];
    predicted[i] = std::isfinite(error_mm) ? place.error_mm - error_mm : 0.0;
  }
  return {{{CauseKind::kOtherCutter, 1.0, 0.0, other.number}}, ShareOf(f, predicted)};
}

bool ByAnInch(double path_to_design) {
  const double off = std::abs(std::log(path_to_design)) / std::log(kInch);
  return std::abs(off - 1.0) < kInchWithin / std::log(kInch);
}

// Largest share first; shares that differ by rounding only stay in the order of the kinds.
std::vector<CauseFit> Sorted(std::vector<CauseFit> fits) {
  const auto rank = [](const CauseFit& fit) { return std::llround(1e6 * fit.share); };
  std::stable_sort(fits.begin(), fits.end(), [&](const CauseFit& a, const CauseFit& b) { return rank(a) > rank(b); });
  return fits;
}

std::vector<CauseFit> Singles(const Fitting& f) {
  std::vector<CauseFit> fits;
  for (Eigen::Index k = 0; k < f.modes.cols(); ++k) {
    if (const auto fit = FitOf(f, Columns{k})) fits.push_back(*fit);
  }
  fits.push_back(FixedFit(f, CauseKind::kMirrorX));
  fits.push_back(FixedFit(f, CauseKind::kMirrorY));
  for (const OtherCutter& other : f.field.others) fits.push_back(OtherCutterFit(f, other));
  if (f.field.path_to_design && ByAnInch(*f.field.path_to_design)) fits.push_back(FixedFit(f, CauseKind::kUnits));
  return Sorted(fits);
}

std::vector<CauseFit> Pairs(const Fitting& f) {
  std::vector<CauseFit> fits;
  for (Eigen::Index a = 0; a < f.modes.cols(); ++a) {
    for (Eigen::Index b = a + 1; b < f.modes.cols(); ++b) {
      if (const auto fit = FitOf(f, Columns{a, b})) fits.push_back(*fit);
    }
  }
  return Sorted(fits);
}

// Those after the first that explain nearly as much.
std::vector<CauseFit> RivalsIn(const std::vector<CauseFit>& fits) {
  std::vector<CauseFit> rivals;
  for (auto fit = fits.begin() + 1; fit != fits.end(); ++fit) {
    if (fit->share >= fits.front().share - kRivalWithin) rivals.push_back(*fit);
  }
  return rivals;
}

}  // namespace

std::vector<CauseFit> SingleCauses(const CauseField& field) {
  if (field.places.size() < kFewestPlaces) return {};
  const Fitting f = Prepare(field);
  return f.quiet ? std::vector<CauseFit>{} : Singles(f);
}

std::optional<ProbableCause> FindCause(const CauseField& field) {
  if (field.places.size() < kFewestPlaces) return {};
  const Fitting f = Prepare(field);
  if (f.quiet) return {};
  const std::vector<CauseFit> singles = Singles(f);
  const double single_share = singles.front().share;
  const std::vector<CauseFit> pairs = single_share < 1.0 - kSecondGains ? Pairs(f) : std::vector<CauseFit>{};
  const bool two = !pairs.empty() && pairs.front().share >= single_share + kSecondGains;
  const std::vector<CauseFit>& fits = two ? pairs : singles;
  const ProbableCause cause{fits.front(), RivalsIn(fits), static_cast<int>(field.places.size())};
  if (cause.best.share < kLeastShare) return {};
  return cause;
}

}  // namespace aircut::verify
