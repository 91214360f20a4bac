#include "verify/depth_uncertainty.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/frame_fit.h"
#include "verify/checks.h"
#include "verify/percentile.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// A value that is as likely anywhere within +- its bound. Source: JCGM 100, 4.3.7.
double Rectangular(double bound_mm) { return bound_mm / std::sqrt(3.0); }

// A setter is read to a hundredth and set down again as well: common practice, no source.
constexpr double kSetter_mm = 0.01;
constexpr double kShare = 0.95;

// Collects what is known and what is not.
class Budget {
 public:
  explicit Budget(const CheckInputs& in) : in_(in) {}

  DepthUncertainty Make() {
    AddPiece();
    AddArm();
    AddBits();
    AddBands();
    std::stable_sort(found_.of.begin(), found_.of.end(),
                     [](const Uncertainty& a, const Uncertainty& b) { return a.u_mm > b.u_mm; });
    found_.k = CoverageFactor(in_.job.accept.confidence.value);
    return std::move(found_);
  }

 private:
  void Add(std::string source, double u_mm, bool shared) { found_.of.push_back({std::move(source), u_mm, shared}); }
  void AddUnknown(std::string why, std::string need) { found_.unknown.push_back({std::move(why), std::move(need)}); }
  void AddPiece();
  void AddFrame();
  void AddArm();
  void AddBits();
  void AddBands();

  const CheckInputs& in_;
  DepthUncertainty found_;
};

// Of N touched points p numbers were fitted: their scatter is the residual's over N - p, and
// what the fit says at its own points has p / N of that variance on average.
void Budget::AddPiece() {
  const sim::PieceLocation& location = in_.run.location;
  if (!location.given) return AddFrame();
  const double n = location.points, p = location.directions_seen;
  // Height and both tilts are three ways: with fewer the depth is open somewhere.
  constexpr double kLeastWays = 3;
  if (p < kLeastWays) {
    return AddUnknown("The touched points leave height or tilt of the piece open.", "`workpiece.touched`: points spread over the face");
  }
  if (!(n > p)) {
    return AddUnknown(fmt::format("{} settle where the piece lies with none to spare: they do not tell how well.",
                                  Plural(location.points, "touched point")),
                      "`workpiece.touched`: more than six points");
  }
  const double scatter_mm = location.rms_mm * std::sqrt(n / (n - p));
  Add(fmt::format("where the piece lies: {} that scatter by {:.3f} mm", Plural(location.points, "touched point"), scatter_mm),
      scatter_mm * std::sqrt(p / n), true);
}

void Budget::AddFrame() {
  const auto& fit_points = in_.job.cell.fit;
  const sim::FrameFit fit = fit_points.empty() ? sim::FrameFit{} : sim::FitFrame(fit_points);
  if (fit.state != sim::FitState::kSettled) {
    return AddUnknown("How well the place of the piece is known was not said: nothing was touched, no frame was fitted.",
                      "`workpiece.touched`: points touched on the real piece");
  }
  double worst = 0.0;
  for (const Eigen::Vector3d& p_S : WorkPlaces(in_)) worst = std::max(worst, sim::TargetErrorFactor(fit, p_S));
  Add(fmt::format("the work frame, fitted to {}", Plural(fit.points, "point")), worst * fit.fle_mm / std::sqrt(3.0), true);
}

void Budget::AddArm() {
  if (!in_.job.cell.arm) return;
  const auto& accuracy = in_.job.cell.accuracy;
  if (accuracy) {
    Eigen::AlignedBox3d work;
    for (const Eigen::Vector3d& p_S : WorkPlaces(in_)) work.extend(p_S);
    const double part = work.isEmpty() ? 1.0 : std::min(1.0, work.sizes().norm() / accuracy->over_mm);
    Add(fmt::format("the arm from place to place: {:g} mm over {:g} mm ({})", accuracy->error_mm, accuracy->over_mm, accuracy->source),
        Rectangular(accuracy->error_mm * part), false);
  } else {
    AddUnknown("How true the arm is from place to place was not said.", "`arm.accuracy`");
  }
  if (in_.job.cell.repeatability_mm) {
    Add("the arm from time to time: its repeatability", *in_.job.cell.repeatability_mm / 3.0, false);
  } else {
    AddUnknown("How well the arm comes back to a place was not said.", "`arm.repeatability_mm`");
  }
  if (in_.job.cell.drift.empty()) {
    AddUnknown("How far the tip moves while the arm grows warm was not measured.", "`arm.drift_test`");
  }
}

void Budget::AddBits() {
  for (const int number : CuttersUsed(in_.job)) {
    const sim::CellCutter* cutter = FindCutter(in_.job.cell, number);
    if (cutter == nullptr) continue;
    if (!cutter->measured) {
      AddUnknown(fmt::format("How far cutter {} stands out was typed, not measured.", number), fmt::format("`cutters.{}.measured`", number));
      continue;
    }
    Add(fmt::format("the length of cutter {}, measured by {}", number, cutter->measured_by), Rectangular(kSetter_mm), true);
  }
}

void Budget::AddBands() {
  for (const sim::MissingLayer& missing : in_.run.execution.missing) {
    for (const std::string& need : missing.needs) AddUnknown(missing.why, need);
  }
  std::vector<WeightedValue> open;
  for (std::size_t i = 0; i < in_.deviation.open_mm.size(); ++i) {
    const sim::DesignSample& sample = in_.run.samples[i];
    if (sample.role == sim::DesignSample::Role::kCarve) open.push_back({in_.deviation.open_mm[i], sample.area_mm2});
  }
  if (const auto p95_mm = WeightedPercentile(std::move(open), kShare)) {
    Add("force and stiffness of what bends, by their bands", Rectangular(*p95_mm), false);
  }
}

}  // namespace

double DepthUncertainty::u_mm() const {
  double sum = 0.0;
  for (const Uncertainty& one : of) sum += one.u_mm * one.u_mm;
  return std::sqrt(sum);
}

double DepthUncertainty::ShareOf(const Uncertainty& one) const {
  const double all = u_mm();
  return all > 0.0 ? one.u_mm * one.u_mm / (all * all) : 0.0;
}

DepthUncertainty DepthUncertaintyOf(const CheckInputs& in) { return Budget(in).Make(); }

double CoverageFactor(double confidence) {
  double low = 0.0, high = 10.0;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (std::erf(middle / std::sqrt(2.0)) < confidence ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

}  // namespace aircut::verify
