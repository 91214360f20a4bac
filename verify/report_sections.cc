#include <algorithm>
#include <cmath>
#include <map>

#include "verify/report_figures.h"

// How the depth error spreads, and the design against the cut seen from the side.
namespace aircut::verify {
namespace {

constexpr int kSteps = 40;               // from minus to plus four tolerances
constexpr double kStepsPerTolerance = 5.0;
constexpr double kMostPlaces = 600;      // along a section

bool IsCarve(const ReportContext& context, std::size_t i) {
  return context.run.samples[i].role == sim::DesignSample::Role::kCarve;
}

bool HasSamples(const ReportContext& context) {
  const std::size_t count = context.run.samples.size();
  return count > 0 && context.deviation.error_mm.size() == count && context.run.depths.size() == count;
}

// The axis of S that the depth direction lies nearest to.
int DepthAxis(const ReportContext& context) {
  Eigen::Vector3d up = Eigen::Vector3d::Zero();
  for (std::size_t i = 0; i < context.run.samples.size(); ++i) {
    if (IsCarve(context, i)) up += context.run.samples[i].area_mm2 * context.run.samples[i].ray.up_S;
  }
  Eigen::Index axis = 2;
  if (up.allFinite() && up.norm() > 0) up.cwiseAbs().maxCoeff(&axis);
  return static_cast<int>(axis);
}

// The place with the largest known error; the middle of the carving where none is known.
std::optional<Eigen::Vector3d> WorstPlace(const ReportContext& context) {
  double worst_mm = -1.0;
  Eigen::AlignedBox3d box;
  std::optional<Eigen::Vector3d> place;
  for (std::size_t i = 0; i < context.run.samples.size(); ++i) {
    if (!IsCarve(context, i)) continue;
    const Eigen::Vector3d& p = context.run.samples[i].ray.p_SQ;
    box.extend(p);
    const double error_mm = std::abs(context.deviation.error_mm[i]);
    if (!(error_mm > worst_mm)) continue;
    worst_mm = error_mm;
    place = p;
  }
  if (!place && !box.isEmpty()) place = box.center();
  return place;
}

// A sample of a stretch of the line: the one nearest to it.
struct Near {
  double away_mm = 0.0, place_mm = 0.0, design_mm = 0.0, cut_mm = 0.0;
};

// Beside an engraved line nothing is designed: its flanks and leads are not drawn.
std::vector<char> DrawnSamples(const ReportContext& context) {
  const auto& samples = context.run.samples;
  const bool lines = std::any_of(samples.begin(), samples.end(), [](const sim::DesignSample& s) { return s.path_index >= 0; });
  std::vector<char> drawn(samples.size(), 1);
  for (std::size_t i = 0; i < samples.size() && lines; ++i) drawn[i] = IsCarve(context, i) ? 1 : 0;
  return drawn;
}

DepthSection SectionAt(const ReportContext& context, const Eigen::Vector3d& at, int along, int up) {
  DepthSection section{along, 3 - along - up, at[3 - along - up], {}, {}, {}};
  const double half_mm = std::max(0.75 * context.run.sample_spacing_mm, 1e-6);
  double low = INFINITY, high = -INFINITY;
  for (const sim::DesignSample& sample : context.run.samples) {
    low = std::min(low, sample.ray.p_SQ[along]);
    high = std::max(high, sample.ray.p_SQ[along]);
  }
  const double stretch_mm = std::max(context.run.sample_spacing_mm, (high - low) / kMostPlaces);
  if (!(stretch_mm > 0)) return section;
  std::map<std::int64_t, Near> nearest;
  const std::vector<char> drawn = DrawnSamples(context);
  for (std::size_t i = 0; i < context.run.samples.size(); ++i) {
    if (!drawn[i]) continue;
    const sim::DepthRay& ray = context.run.samples[i].ray;
    const sim::RayDepth& depth = context.run.depths[i];
    const double away_mm = std::abs(ray.p_SQ[section.across] - section.at_mm);
    if (!(away_mm <= half_mm) || !depth.has_material || depth.cut_through) continue;
    const Eigen::Vector3d left_S = ray.p_SQ + depth.top_mm * ray.up_S;
    if (!left_S.allFinite()) continue;
    const Near near{away_mm, ray.p_SQ[along], ray.p_SQ[up], left_S[up]};
    const auto stretch = static_cast<std::int64_t>(std::floor((ray.p_SQ[along] - low) / stretch_mm));
    const auto [found, added] = nearest.try_emplace(stretch, near);
    if (!added && near.away_mm < found->second.away_mm) found->second = near;
  }
  for (const auto& [stretch, near] : nearest) {
    section.place_mm.push_back(near.place_mm);
    section.design_mm.push_back(near.design_mm);
    section.cut_mm.push_back(near.cut_mm);
  }
  return section;
}

}  // namespace

std::optional<DepthHistogram> HistogramOf(const ReportContext& context) {
  if (!HasSamples(context)) return std::nullopt;
  const double tolerance_mm = context.job.accept.depth_mm.value;
  DepthHistogram h;
  h.step_mm = tolerance_mm / kStepsPerTolerance;
  h.from_mm = -0.5 * kSteps * h.step_mm;
  h.share.assign(kSteps, 0.0);
  double area_mm2 = 0.0;
  for (std::size_t i = 0; i < context.run.samples.size(); ++i) {
    const double error_mm = context.deviation.error_mm[i], part_mm2 = context.run.samples[i].area_mm2;
    if (!IsCarve(context, i) || !std::isfinite(error_mm) || !(part_mm2 > 0)) continue;
    area_mm2 += part_mm2;
    const double step = std::floor((error_mm - h.from_mm) / h.step_mm);
    (step < 0 ? h.below : step >= kSteps ? h.above : h.share[static_cast<std::size_t>(step)]) += part_mm2;
  }
  if (!(area_mm2 > 0)) return std::nullopt;
  for (double& share : h.share) share /= area_mm2;
  h.below /= area_mm2;
  h.above /= area_mm2;
  return h;
}

std::vector<DepthSection> SectionsOf(const ReportContext& context) {
  std::vector<DepthSection> sections;
  if (!HasSamples(context)) return sections;
  const std::optional<Eigen::Vector3d> at = WorstPlace(context);
  if (!at) return sections;
  const int up = DepthAxis(context);
  for (int along = 0; along < 3; ++along) {
    if (along == up) continue;
    DepthSection section = SectionAt(context, *at, along, up);
    if (section.place_mm.size() > 1) sections.push_back(std::move(section));
  }
  return sections;
}

}  // namespace aircut::verify
