#include "verify/deviation.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "verify/cause_field.h"
#include "verify/layer_shares.h"
#include "verify/other_cutters.h"
#include "verify/patches.h"
#include "verify/percentile.h"

namespace aircut::verify {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

struct SampleError {
  double error_mm = kNaN;
  Knowledge knowledge = Knowledge::kUnknown;
};

// Grid and rays may differ by a voxel at creases (design: the grid's bound).
bool Disputed(const sim::GridGap& gap) {
  return std::abs(gap.gap_mm) > gap.voxel_mm;   // false for NaN: not compared
}

// Where a ray was cut through, the whole of the material below the sample is gone;
// where it was cut out from beneath, below the design too, that is what counts.
double TopOf(const sim::RayDepth& depth) {
  if (!depth.cut_through) {
    const bool hollow_below = depth.hollow && depth.hollow->bottom_mm < 0.0;
    return hollow_below ? std::min(depth.top_mm, depth.hollow->bottom_mm) : depth.top_mm;
  }
  return std::isnan(depth.top_mm) || depth.bottom_mm < depth.top_mm ? depth.bottom_mm
                                                                    : depth.top_mm;
}

SampleError ErrorAt(const sim::Run& run, std::size_t i) {
  const sim::RayDepth& depth = run.depths[i];
  const bool spare = run.samples[i].role == sim::DesignSample::Role::kSpare;
  if (spare && (!depth.has_material || !depth.touched)) return {0.0, Knowledge::kKnown};
  const double top_mm = TopOf(depth);
  if (!depth.has_material || !std::isfinite(top_mm)) return {};
  const bool unseen = i < run.unseen.size() && run.unseen[i] != 0;
  const double error_mm = spare ? (top_mm < 0.0 ? top_mm : 0.0) : top_mm;
  if (unseen) return {kNaN, Knowledge::kUnseen};
  const bool compared = i < run.grid_gaps.size() && !depth.cut_through;
  if (compared && Disputed(run.grid_gaps[i])) return {error_mm, Knowledge::kDisputed};
  return {error_mm, Knowledge::kKnown};
}

bool IsCarve(const sim::DesignSample& sample) {
  return sample.role == sim::DesignSample::Role::kCarve;
}

double WeightOf(const sim::DesignSample& sample) {
  return sample.area_mm2 > 0.0 && std::isfinite(sample.area_mm2) ? sample.area_mm2 : 0.0;
}

// Sums over the carve samples that are known.
void AddStatistics(const sim::Job& job, const sim::Run& run, Deviation* d) {
  double known_mm2 = 0, sum = 0, sum_squares = 0, within_mm2 = 0, disputed_mm2 = 0, unseen_mm2 = 0;
  double surely_mm2 = 0, outside_mm2 = 0;
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    const bool known = d->knowledge[i] == Knowledge::kKnown;
    const double e = d->error_mm[i];
    if (known && -e > d->max_gouge_mm) d->max_gouge_mm = -e;
    if (!IsCarve(run.samples[i])) continue;
    const double w = WeightOf(run.samples[i]);
    ++d->carve_samples;
    d->carve_area_mm2 += w;
    if (d->knowledge[i] == Knowledge::kUnknown) ++d->unknown_samples;
    if (d->knowledge[i] == Knowledge::kDisputed) disputed_mm2 += w;
    if (d->knowledge[i] == Knowledge::kUnseen) unseen_mm2 += w;
    if (!known) continue;
    if (e > d->max_leftover_mm) d->max_leftover_mm = e;
    known_mm2 += w;
    sum += w * e;
    sum_squares += w * e * e;
    const double limit_mm = sim::LimitAt(job.accept, sim::Tolerance::kDepth, run.samples[i].ray.p_SQ).value_mm;
    if (std::abs(e) <= limit_mm) within_mm2 += w;
    if (std::abs(e) + d->bound_mm[i] <= limit_mm) surely_mm2 += w;
    if (std::abs(e) - d->bound_mm[i] > limit_mm) outside_mm2 += w;
  }
  d->mean_mm = known_mm2 > 0 ? sum / known_mm2 : kNaN;
  d->rms_mm = known_mm2 > 0 ? std::sqrt(sum_squares / known_mm2) : kNaN;
  d->within_tolerance = d->carve_area_mm2 > 0 ? within_mm2 / d->carve_area_mm2 : 0.0;
  if (d->carve_area_mm2 > 0) {
    d->within = {d->within_tolerance, surely_mm2 / d->carve_area_mm2, 1.0 - outside_mm2 / d->carve_area_mm2};
  }
  d->unseen_share = d->carve_area_mm2 > 0 ? unseen_mm2 / d->carve_area_mm2 : 0.0;
  d->disputed_share = d->carve_area_mm2 > 0 ? disputed_mm2 / d->carve_area_mm2 : 0.0;
}

double Open(const std::vector<double>& open_mm, std::size_t i) { return i < open_mm.size() ? open_mm[i] : 0.0; }

// Samples without an answer are taken as perfect for the lower end and as
// infinitely wrong for the upper one.
Interval PercentileOf(const sim::Run& run, const Deviation* d, const std::vector<std::size_t>& which) {
  std::vector<WeightedValue> known, low, high;
  for (const std::size_t i : which) {
    const double w = WeightOf(run.samples[i]);
    if (d->knowledge[i] == Knowledge::kKnown) {
      const double e = std::abs(d->error_mm[i]);
      known.push_back({e, w});
      low.push_back({std::max(0.0, e - Open(d->open_mm, i)), w});
      high.push_back({e + Open(d->open_mm, i), w});
    } else {
      low.push_back({0.0, w});
      high.push_back({kInfinity, w});
    }
  }
  const double value = WeightedPercentile(known, 0.95).value_or(kNaN);
  return {value, WeightedPercentile(low, 0.95).value_or(kNaN) - sim::kRayBound_mm,
          WeightedPercentile(high, 0.95).value_or(kNaN) + sim::kRayBound_mm};
}

void AddPercentile(const sim::Run& run, Deviation* d) {
  std::vector<std::size_t> carve;
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    if (IsCarve(run.samples[i])) carve.push_back(i);
  }
  d->p95 = PercentileOf(run, d, carve);
  const double value = d->p95_mm = d->p95.value;
  const double up = d->p95.high - value, down = value - d->p95.low;
  d->bound_of_p95_mm = std::isnan(up) ? kInfinity : (up > down ? up : down);
}

// What one limit of depth holds for.
RegionDepth DepthWithin(const sim::Run& run, const Deviation& d, const std::vector<std::size_t>& which, double limit_mm) {
  RegionDepth r;
  r.places = static_cast<int>(which.size());
  double within_mm2 = 0, surely_mm2 = 0, outside_mm2 = 0;
  for (const std::size_t i : which) {
    const double w = WeightOf(run.samples[i]), e = d.error_mm[i];
    r.area_mm2 += w;
    if (d.knowledge[i] != Knowledge::kKnown) continue;
    r.max_gouge_mm = std::max(r.max_gouge_mm, -e);
    r.max_leftover_mm = std::max(r.max_leftover_mm, e);
    if (std::abs(e) <= limit_mm) within_mm2 += w;
    if (std::abs(e) + d.bound_mm[i] <= limit_mm) surely_mm2 += w;
    if (std::abs(e) - d.bound_mm[i] > limit_mm) outside_mm2 += w;
    const bool farther = r.farthest_sample < 0 || std::abs(e) > std::abs(d.error_mm[static_cast<std::size_t>(r.farthest_sample)]);
    if (farther) r.farthest_sample = static_cast<int>(i);
  }
  r.p95 = PercentileOf(run, &d, which);
  if (r.area_mm2 > 0) r.within = {within_mm2 / r.area_mm2, surely_mm2 / r.area_mm2, 1.0 - outside_mm2 / r.area_mm2};
  return r;
}

// The rest of the job first, then each region that states a limit of depth.
void AddDepthByLimit(const sim::Job& job, const sim::Run& run, Deviation* d) {
  const std::vector<sim::AcceptRegion>& regions = job.accept.regions;
  std::vector<std::vector<std::size_t>> by_region(regions.size() + 1);
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    if (!IsCarve(run.samples[i])) continue;
    const int region = sim::LimitAt(job.accept, sim::Tolerance::kDepth, run.samples[i].ray.p_SQ).region;
    by_region[static_cast<std::size_t>(region + 1)].push_back(i);
  }
  for (std::size_t n = 0; n < by_region.size(); ++n) {
    if (n > 0 && !regions[n - 1].depth_mm) continue;
    const double limit_mm = n > 0 ? *regions[n - 1].depth_mm : job.accept.depth_mm.value;
    d->by_limit.push_back(DepthWithin(run, *d, by_region[n], limit_mm));
    d->by_limit.back().limit = {limit_mm, static_cast<int>(n) - 1};
  }
}

// What no cutter of the path can take away at a sample; 0 where that was not reckoned.
double OutOfReach(const sim::Run& run, std::size_t i) {
  return i < run.unreachable_mm.size() ? run.unreachable_mm[i] : 0.0;
}

Unreachable UnreachableOf(const sim::Job& job, const sim::Run& run, const Deviation& d) {
  Unreachable u;
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    if (!IsCarve(run.samples[i]) || d.knowledge[i] != Knowledge::kKnown) continue;
    const double height_mm = std::min(OutOfReach(run, i), d.error_mm[i]);
    if (!(height_mm > sim::LimitAt(job.accept, sim::Tolerance::kLeftover, run.samples[i].ray.p_SQ).value_mm)) continue;
    u.area_mm2 += WeightOf(run.samples[i]);
    u.volume_mm3 += WeightOf(run.samples[i]) * height_mm;
    if (height_mm <= u.deepest_mm) continue;
    u.deepest_mm = height_mm;
    u.deepest_sample = static_cast<int>(i);
  }
  return u;
}

// How much tighter the limit of a place is than that of the job.
double RaiseAt(const sim::Job& job, sim::Tolerance which, const Eigen::Vector3d& p_S) {
  if (job.accept.regions.empty()) return 0.0;
  return sim::LimitOfJob(job.accept, which).value - sim::LimitAt(job.accept, which, p_S).value_mm;
}

sim::Tolerance ToleranceOf(Region::Kind kind) {
  return kind == Region::Kind::kGouge ? sim::Tolerance::kGouge : sim::Tolerance::kLeftover;
}

// How far each sample lies beyond the design in the direction of `kind`, raised by what its
// limit is tighter than that of the job: beyond the job's limit is then beyond its own.
PatchField FieldOf(const sim::Job& job, const sim::Run& run, const Deviation& d, Region::Kind kind) {
  PatchField field;
  field.samples = &run.samples;
  // Stated spacing; samples made by hand tell it by their areas.
  field.link_mm = run.sample_spacing_mm > 0.0 ? kLink * run.sample_spacing_mm : LinkOf(run.samples);
  field.depth_mm.assign(run.samples.size(), 0.0);
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    if (d.knowledge[i] != Knowledge::kKnown) continue;
    field.depth_mm[i] = kind == Region::Kind::kGouge ? -d.error_mm[i] : d.error_mm[i] - OutOfReach(run, i);
    field.depth_mm[i] += RaiseAt(job, ToleranceOf(kind), run.samples[i].ray.p_SQ);
  }
  return field;
}

// What the bands of the displacements leave open; a spare place that nothing cut stays so.
double OpenOf(const Deviation& d, const PatchField& field, std::size_t i) {
  const bool untouched = !IsCarve((*field.samples)[i]) && d.error_mm[i] == 0.0;
  return untouched ? 0.0 : Open(d.open_mm, i);
}

Interval QualifyingInterval(const PatchField& field, const Deviation& d, Region::Kind kind,
                            double area_mm2) {
  Interval interval;
  interval.value = QualifyingDepth(field, area_mm2).depth_mm;
  PatchField worst = field, best = field;
  bool any_open = false;
  for (std::size_t i = 0; i < worst.depth_mm.size(); ++i) {
    if (d.knowledge[i] == Knowledge::kKnown) {
      const double open_mm = OpenOf(d, field, i);
      any_open = any_open || open_mm > 0.0;
      worst.depth_mm[i] += open_mm;
      best.depth_mm[i] -= open_mm;
      continue;
    }
    if (kind == Region::Kind::kLeftover && !IsCarve((*field.samples)[i])) continue;
    worst.depth_mm[i] = kInfinity;
    any_open = true;
  }
  interval.low = (any_open ? QualifyingDepth(best, area_mm2).depth_mm : interval.value) - sim::kRayBound_mm;
  interval.high = (any_open ? QualifyingDepth(worst, area_mm2).depth_mm : interval.value) + sim::kRayBound_mm;
  return interval;
}

// Levels of the raised field, told as depths at the sample that closes the patch.
Interval AsDepths(Interval levels, double raise_mm) {
  const double value_mm = std::max(0.0, levels.value - raise_mm);
  return {value_mm, levels.low - levels.value + value_mm, levels.high - levels.value + value_mm};
}

// The line that made the surface at a sample: of the sweep that cut deepest
// there, else the path line the sample belongs to.
int LineAt(const sim::Job& job, const sim::Run& run, int sample) {
  const int sweep = run.depths[sample].sweep;
  if (sweep >= 0 && sweep < static_cast<int>(run.track.sweeps.size())) {
    return run.track.sweeps[sweep].line;
  }
  const int index = run.samples[sample].path_index;
  return index >= 0 && index < static_cast<int>(job.path.size()) ? job.path[index].line : 0;
}

Region RegionOf(const sim::Job& job, const sim::Run& run, const Patch& patch, Region::Kind kind) {
  Region region;
  region.kind = kind;
  region.limit = sim::LimitAt(job.accept, ToleranceOf(kind), run.samples[static_cast<std::size_t>(patch.deepest)].ray.p_SQ);
  region.area_mm2 = patch.area_mm2;
  region.worst_sample = patch.deepest;
  for (const int i : patch.members) {
    const int line = LineAt(job, run, i);
    if (line <= 0) continue;
    if (region.first_line == 0 || line < region.first_line) region.first_line = line;
    if (line > region.last_line) region.last_line = line;
  }
  return region;
}

std::vector<Region> RegionsOf(const sim::Job& job, const sim::Run& run, const PatchField& field, Region::Kind kind) {
  std::vector<Region> regions;
  const sim::Tolerance which = ToleranceOf(kind);
  const double limit_mm = sim::LimitOfJob(job.accept, which).value;
  for (const Patch& patch : PatchesBeyond(field, limit_mm, job.accept.region_mm2.value)) {
    Region region = RegionOf(job, run, patch, kind);
    for (const int i : patch.members) {
      const sim::DesignSample& sample = run.samples[static_cast<std::size_t>(i)];
      const double depth_mm = field.depth_mm[static_cast<std::size_t>(i)] - RaiseAt(job, which, sample.ray.p_SQ);
      region.volume_mm3 += WeightOf(sample) * depth_mm;
      if (i == patch.deepest) region.worst_mm = depth_mm;
    }
    regions.push_back(region);
  }
  return regions;
}

// Gouges or leftovers, and the deepest level that still holds a patch.
struct SideDepth {
  Interval depth;
  sim::PlaceLimit limit;
  std::vector<Region> regions;
};

SideDepth SideOf(const sim::Job& job, const sim::Run& run, const Deviation& d, Region::Kind kind) {
  const sim::Tolerance which = ToleranceOf(kind);
  const PatchField field = FieldOf(job, run, d, kind);
  const Interval levels = QualifyingInterval(field, d, kind, job.accept.region_mm2.value);
  SideDepth side{levels, {sim::LimitOfJob(job.accept, which).value, -1}, RegionsOf(job, run, field, kind)};
  const int closes = job.accept.regions.empty() ? -1 : QualifyingDepth(field, job.accept.region_mm2.value).sample;
  if (closes >= 0) {
    const Eigen::Vector3d& p_S = run.samples[static_cast<std::size_t>(closes)].ray.p_SQ;
    side.limit = sim::LimitAt(job.accept, which, p_S);
    side.depth = AsDepths(levels, RaiseAt(job, which, p_S));
  }
  return side;
}

bool BeyondAnyLimit(const Deviation& d) {
  return std::any_of(d.by_limit.begin(), d.by_limit.end(), [](const RegionDepth& r) { return r.p95.value > r.limit.value_mm; });
}

}  // namespace

Deviation Measure(const sim::Job& job, const sim::Run& run) {
  if (run.depths.size() != run.samples.size()) {
    throw std::invalid_argument("run.depths must have one entry per sample");
  }
  Deviation d;
  d.open_mm = OpenDepths_mm(run);
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    const SampleError e = ErrorAt(run, i);
    d.error_mm.push_back(e.error_mm);
    d.knowledge.push_back(e.knowledge);
    d.bound_mm.push_back(e.knowledge == Knowledge::kKnown ? sim::kRayBound_mm + Open(d.open_mm, i) : kInfinity);
  }
  AddStatistics(job, run, &d);
  AddPercentile(run, &d);
  AddDepthByLimit(job, run, &d);
  SideDepth below = SideOf(job, run, d, Region::Kind::kGouge), above = SideOf(job, run, d, Region::Kind::kLeftover);
  d.gouge_depth = below.depth, d.gouge_limit = below.limit, d.gouges = std::move(below.regions);
  d.leftover_depth = above.depth, d.leftover_limit = above.limit, d.leftovers = std::move(above.regions);
  d.unreachable = UnreachableOf(job, run, d);
  if (BeyondAnyLimit(d)) {
    CauseField field = FieldForCauses(run, d);
    field.others = TryOtherCutters(job, run, field);
    d.cause = FindCause(field);
  }
  return d;
}

}  // namespace aircut::verify
