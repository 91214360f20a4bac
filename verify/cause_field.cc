#include "verify/cause_field.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>

#include <Eigen/Cholesky>
#include <Eigen/Geometry>

#include "verify/neighbour_cells.h"
#include "verify/patches.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;

constexpr double kNear = 2.0;       // neighbours of a place, in spacings
constexpr double kCrease = 0.15;    // rms from the plane of the neighbours, in spacings
constexpr double kSteepest = 4.0;   // slope over the depth that a ray still measures

// Known samples of the carving, in the run's order.
std::vector<int> KnownCarving(const sim::Run& run, const Deviation& d) {
  std::vector<int> known;
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    const bool carve = run.samples[i].role == sim::DesignSample::Role::kCarve;
    if (carve && d.knowledge[i] == Knowledge::kKnown && run.samples[i].area_mm2 > 0.0) {
      known.push_back(static_cast<int>(i));
    }
  }
  return known;
}

// A draw that no row of samples can fall in step with (the mixer of splitmix64).
bool Drawn(std::size_t i, std::size_t count) {
  if (count <= kMostPlaces) return true;
  std::uint64_t x = (i + 1) * 0x9E3779B97F4A7C15u;
  x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9u;
  x = (x ^ (x >> 27)) * 0x94D049BB133111EBu;
  return ((x ^ (x >> 31)) % count) < kMostPlaces;
}

// A plane of values over the two directions square to `up`: slope by least squares; the
// ridge keeps samples on one line from tilting it sideways.
class LocalPlane {
 public:
  explicit LocalPlane(const Vector3d& up) {
    const Vector3d any = std::abs(up.x()) < 0.7 ? Vector3d::UnitX() : Vector3d::UnitY();
    a_ = up.cross(any).normalized();
    b_ = up.cross(a_);
  }
  void Add(const Vector3d& offset, double value) {
    const Vector3d row(1.0, a_.dot(offset), b_.dot(offset));
    normal_ += row * row.transpose();
    right_ += value * row;
    squares_ += value * value;
    ++count_;
  }
  int count() const { return count_; }
  void Solve(double spacing_mm) {
    const double ridge = 1e-9 * count_ * spacing_mm * spacing_mm;
    const Eigen::Matrix3d m = normal_ + Vector3d(0.0, ridge, ridge).asDiagonal().toDenseMatrix();
    const Vector3d x = m.ldlt().solve(right_);
    slope_ = x[1] * a_ + x[2] * b_;
    rms_ = std::sqrt(std::max(0.0, squares_ - x.dot(right_)) / std::max(1, count_ - 3));
  }
  const Vector3d& slope() const { return slope_; }
  double rms() const { return rms_; }

 private:
  Vector3d a_, b_, right_ = Vector3d::Zero(), slope_ = Vector3d::Zero();
  Eigen::Matrix3d normal_ = Eigen::Matrix3d::Zero();
  double squares_ = 0.0, rms_ = 0.0;
  int count_ = 0;
};

// Samples by place, and their depths by place over x and y.
struct Surroundings {
  const sim::Run& run;
  const Deviation& deviation;
  const std::vector<int>& known;
  double spacing_mm;
  NeighbourCells cells;
  NeighbourCells flat;      ///< the same seen along z
  Vector3d box_middle_S;    ///< of the carving
};

std::vector<Vector3d> PointsOf(const sim::Run& run, const std::vector<int>& known, double z_scale) {
  std::vector<Vector3d> points;
  points.reserve(known.size());
  for (const int i : known) {
    const Vector3d& p = run.samples[static_cast<std::size_t>(i)].ray.p_SQ;
    points.push_back({p.x(), p.y(), z_scale * p.z()});
  }
  return points;
}

constexpr int kFewestNeighbours = 4;

// Slope of design and cut at a sample; false at creases and on walls.
bool AddSlope(const Surroundings& at, FieldPlace* place) {
  const Vector3d& up = place->up_S;
  LocalPlane design(up), error(up);
  at.cells.ForNear(place->p_S, [&](int n) {
    const auto i = static_cast<std::size_t>(at.known[static_cast<std::size_t>(n)]);
    const sim::DepthRay& ray = at.run.samples[i].ray;
    if (ray.up_S.dot(up) < 0.5) return;
    const Vector3d offset = ray.p_SQ - place->p_S;
    design.Add(offset, up.dot(offset));
    if (at.run.depths[i].touched) error.Add(offset, at.deviation.error_mm[i]);
  });
  if (design.count() < kFewestNeighbours) return false;
  design.Solve(at.spacing_mm);
  if (design.rms() > kCrease * at.spacing_mm || design.slope().norm() > kSteepest) return false;
  place->n_S = place->design_n_S = up - design.slope();
  if (!place->reached) return true;
  if (error.count() < kFewestNeighbours) return false;
  error.Solve(at.spacing_mm);
  place->n_S -= 0.5 * error.slope();
  place->rough_mm = error.rms();
  return true;
}

// The sweep that cut deepest at a sample, or at the nearest one that was cut.
int SweepNear(const Surroundings& at, std::size_t sample) {
  int sweep = at.run.depths[sample].sweep;
  if (sweep >= 0) return sweep;
  const Vector3d& p = at.run.samples[sample].ray.p_SQ;
  double nearest2 = std::numeric_limits<double>::infinity();
  at.cells.ForNear(p, [&](int n) {
    const auto i = static_cast<std::size_t>(at.known[static_cast<std::size_t>(n)]);
    const double d2 = (at.run.samples[i].ray.p_SQ - p).squaredNorm();
    if (at.run.depths[i].sweep < 0 || d2 >= nearest2) return;
    nearest2 = d2;
    sweep = at.run.depths[i].sweep;
  });
  return sweep;
}

// Tool axis at a place, and how high the place lies over the tip of the tool as it passed.
void AddTool(const sim::ToolTrack& track, int sweep, FieldPlace* place) {
  if (sweep < 0 || sweep + 1 >= static_cast<int>(track.p_ST.size())) return;
  const auto i = static_cast<std::size_t>(sweep);
  const Vector3d axis = track.axis_S[i], travel = track.p_ST[i + 1] - track.p_ST[i];
  const Vector3d across = travel - axis.dot(travel) * axis;
  const double t = across.squaredNorm() > 0.0
                       ? std::clamp(across.dot(place->p_S - track.p_ST[i]) / across.squaredNorm(), 0.0, 1.0)
                       : 1.0;
  const double left_mm = place->reached ? place->error_mm : 0.0;
  place->axis_S = axis;
  place->above_tip_mm = axis.dot(place->p_S + left_mm * place->up_S - track.p_ST[i] - t * travel);
  place->tool = track.sweeps[i].tool;
}

// Depth error where the design of the place `mirrored` was cut at a sample.
double MirroredError(const Surroundings& at, const Vector3d& mirrored, double depth_mm) {
  double nearest2 = std::numeric_limits<double>::infinity(), other_mm = 0.0;
  const Vector3d flat(mirrored.x(), mirrored.y(), 0.0);
  at.flat.ForNear(flat, [&](int n) {
    const auto i = static_cast<std::size_t>(at.known[static_cast<std::size_t>(n)]);
    const Vector3d& q = at.run.samples[i].ray.p_SQ;
    const double d2 = (q.head<2>() - flat.head<2>()).squaredNorm();
    if (d2 >= nearest2) return;
    nearest2 = d2;
    other_mm = at.run.depths[i].stock_top_mm;
  });
  return depth_mm - other_mm;
}

void AddMirrors(const Surroundings& at, FieldPlace* place) {
  if (place->up_S.z() < 0.7) return;   // seen along z only
  Vector3d x = place->p_S, y = place->p_S;
  x.x() = 2.0 * at.box_middle_S.x() - x.x();
  y.y() = 2.0 * at.box_middle_S.y() - y.y();
  place->mirrored_x_mm = MirroredError(at, x, place->ceiling_mm);
  place->mirrored_y_mm = MirroredError(at, y, place->ceiling_mm);
}

std::optional<FieldPlace> PlaceAt(const Surroundings& at, std::size_t i) {
  const sim::RayDepth& depth = at.run.depths[i];
  FieldPlace place;
  place.p_S = at.run.samples[i].ray.p_SQ;
  place.up_S = at.run.samples[i].ray.up_S;
  place.error_mm = at.deviation.error_mm[i];
  place.ceiling_mm = std::max(depth.stock_top_mm, place.error_mm);
  place.weight = at.run.samples[i].area_mm2;
  place.reached = depth.touched;
  place.axis_S = place.up_S;
  if (!AddSlope(at, &place)) return {};
  AddTool(at.run.track, SweepNear(at, i), &place);
  AddMirrors(at, &place);
  return place;
}

// Extent of the cuts over that of the carving, along the longer side in x or y.
std::optional<double> PathToDesign(const sim::ToolTrack& track, const Eigen::AlignedBox3d& design) {
  Eigen::AlignedBox3d cuts;
  for (std::size_t i = 0; i < track.sweeps.size(); ++i) {
    const sim::SweepInfo& sweep = track.sweeps[i];
    if (!sweep.rapid && !sweep.swap && sweep.line > 0) cuts.extend(track.p_ST[i + 1]);
  }
  const double side = design.sizes().head<2>().maxCoeff();
  if (cuts.isEmpty() || !(side > 0.0)) return {};
  return cuts.sizes().head<2>().maxCoeff() / side;
}

}  // namespace

CauseField FieldForCauses(const sim::Run& run, const Deviation& deviation) {
  CauseField field;
  for (const sim::TrackTool& tool : run.track.tools) field.tools.push_back(tool.cutter);
  const std::vector<int> known = KnownCarving(run, deviation);
  if (known.empty() || field.tools.empty()) return field;
  Eigen::AlignedBox3d box;
  for (const int i : known) box.extend(run.samples[static_cast<std::size_t>(i)].ray.p_SQ);
  const double spacing_mm = run.sample_spacing_mm > 0.0 ? run.sample_spacing_mm : LinkOf(run.samples) / kLink;
  if (!(spacing_mm > 0.0)) return field;
  const Surroundings at{run, deviation, known, spacing_mm,
                        NeighbourCells(PointsOf(run, known, 1.0), kNear * spacing_mm),
                        NeighbourCells(PointsOf(run, known, 0.0), kNear * spacing_mm), box.center()};
  double weight = 0.0;
  for (std::size_t n = 0; n < known.size(); ++n) {
    if (!Drawn(n, known.size())) continue;
    const std::optional<FieldPlace> place = PlaceAt(at, static_cast<std::size_t>(known[n]));
    if (!place) continue;
    field.middle_S += place->weight * place->p_S;
    weight += place->weight;
    field.places.push_back(*place);
  }
  if (weight > 0.0) field.middle_S /= weight;
  field.path_to_design = PathToDesign(run.track, box);
  return field;
}

}  // namespace aircut::verify
