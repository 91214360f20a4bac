#include "sim/brick_run.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/profile_sweep.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using Eigen::Vector3i;

void Put(float* to, const Vector3d& from) {
  for (int d = 0; d < 3; ++d) to[d] = static_cast<float>(from[d]);
}

// Distances in working order as the stock keeps them.
void StoreDistances(const BrickRunContext& context, const float* distance_mm, Brick& brick) {
  const float scale = static_cast<float>(32767.0 / Truncation(context.lattice.voxel_mm));
  std::int32_t rounded[kBrickVoxels];
  for (int n = 0; n < kBrickVoxels; ++n) {
    const float d = distance_mm[n] * scale;
    const float held = d > 32767.0f ? 32767.0f : (d < -32767.0f ? -32767.0f : d);
    rounded[n] = static_cast<std::int32_t>(held + (held < 0.0f ? -0.5f : 0.5f));
  }
  for (int n = 0; n < kBrickVoxels; ++n) {
    brick.distance[static_cast<std::size_t>(context.offsets->stored[n])] = static_cast<std::int16_t>(rounded[n]);
  }
}

class BrickRunner {
 public:
  BrickRunner(const BrickRunContext& context, const BrickStart& start)
      : context_(context), start_(start) {
    const double h = context.lattice.voxel_mm;
    first_S_ = context.lattice.BrickCorner(start.at);
    centre_S_ = first_S_.array() + 0.5 * h * (kBrickEdge - 1);
    const Vector3d last_S = first_S_.array() + h * (kBrickEdge - 1);
    material_ = Eigen::AlignedBox3d(first_S_, last_S).intersection(context.solid_S->box());
    if (material_.isEmpty()) material_ = Eigen::AlignedBox3d(first_S_, last_S);
  }

  void Begin();
  void RunSweeps(std::vector<SweepContact>& record);
  StatesAtStops Finish();
  void Store(Brick& brick);

 private:
  void Cut(int sweep, SweepContact& contact);
  void CutString(int sweep, int string, SweepContact& contact);
  void CutProfile(int sweep, int profile, SweepContact& contact);
  void Account(int sweep, const KernelResult& result, SweepContact& contact);
  KernelCall NextCall() const { return {static_cast<std::int32_t>(removers_.size()), open_}; }
  KernelResult RunKernel(const StringSweep& s, const KernelCall& call);
  bool BelowString(const StringSweep& s) const;
  bool Reaches(const StringSweep& s) const;
  bool Reaches(const ProfileSweep& s) const;
  void NoteReach(int sweep, std::int32_t event, std::uint32_t chunks, SweepContact& contact) const;
  void MeasureBodies(int sweep, SweepContact& contact) const;
  void FillStart();
  void GoOnFrom(const BrickState& state);
  void PassStops(std::int32_t sweep);
  std::shared_ptr<const BrickState> State() const;
  Vector3d PointOf(int voxel) const {
    return first_S_ + Vector3d(context_.offsets->x[voxel], context_.offsets->y[voxel],
                               context_.offsets->z[voxel]);
  }

  const BrickRunContext& context_;
  const BrickStart& start_;
  Vector3d first_S_, centre_S_;
  Eigen::AlignedBox3d material_;        // of the voxel centres, within the starting stock
  BrickWork work_;
  int solid_ = 0;                       // voxel centres in the material
  std::uint32_t open_ = 0;              // chunks that a sweep can still change
  int since_looked_ = 0;                // kernel runs since open_ was brought up to date
  bool changed_ = false;                // since the stop before
  std::vector<std::int32_t> removers_;  // sweeps that removed a voxel centre here
  StatesAtStops at_stops_;
};

void BrickRunner::Begin() {
  if (start_.state != nullptr) {
    GoOnFrom(*start_.state);
    return;
  }
  FillStart();
  open_ = context_.kernels->open(work_, *context_.offsets);
}

void BrickRunner::GoOnFrom(const BrickState& state) {
  std::copy(state.distance_mm.begin(), state.distance_mm.end(), work_.distance_mm);
  std::copy(state.remover.begin(), state.remover.end(), work_.remover);
  removers_.assign(state.sweeps(), state.sweeps() + state.sweep_count);
  solid_ = state.solid;
  open_ = state.open;
  since_looked_ = state.since_looked;
}

std::shared_ptr<const BrickState> BrickRunner::State() const {
  const std::shared_ptr<BrickState> state = MakeBrickState(removers_);
  std::copy_n(work_.distance_mm, kBrickVoxels, state->distance_mm.begin());
  std::transform(work_.remover, work_.remover + kBrickVoxels, state->remover.begin(),
                 [](std::int32_t remover) { return static_cast<std::uint16_t>(remover); });
  state->solid = solid_;
  state->open = open_;
  state->since_looked = since_looked_;
  return state;
}

// Keeps the state for every stop that lies before the sweep about to be run.
void BrickRunner::PassStops(std::int32_t sweep) {
  while (at_stops_.size() < context_.stops.size() && context_.stops[at_stops_.size()] <= sweep) {
    at_stops_.push_back(changed_ ? State() : nullptr);
    changed_ = false;
  }
}

void BrickRunner::FillStart() {
  const double limit = Truncation(context_.lattice.voxel_mm);
  std::fill_n(work_.remover, kBrickVoxels, std::int32_t{kNotRemoved});
  if (start_.fill == BrickFill::kSolid) {
    std::fill_n(work_.distance_mm, kBrickVoxels, static_cast<float>(-limit));
    solid_ = kBrickVoxels;
    return;
  }
  std::array<Vector3d, kBrickVoxels> points;
  std::array<double, kBrickVoxels> distances;
  for (int n = 0; n < kBrickVoxels; ++n) points[static_cast<std::size_t>(n)] = PointOf(n);
  context_.solid_S->SignedDistances(centre_S_, BrickRadius(context_.lattice.voxel_mm),
                                    points.data(), kBrickVoxels, distances.data());
  for (int n = 0; n < kBrickVoxels; ++n) {
    const double d = std::clamp(distances[static_cast<std::size_t>(n)], -limit, limit);
    work_.distance_mm[n] = static_cast<float>(d);
    solid_ += d < 0.0 ? 1 : 0;
  }
}

// Cutting and body lists are both in time order; of one sweep the flutes come
// first, since what they clear in the same moment cannot touch the shank.
void BrickRunner::RunSweeps(std::vector<SweepContact>& record) {
  const auto span = [&](const SweepBins& bins) {
    const std::size_t cell = static_cast<std::size_t>(start_.cell);
    return std::pair(bins.sweeps.begin() + bins.begin[cell], bins.sweeps.begin() + bins.begin[cell + 1]);
  };
  auto [cut, cut_end] = span(*context_.cutting);
  auto [body, body_end] = span(*context_.bodies);
  while ((cut != cut_end || body != body_end) && open_ != 0) {
    const bool flutes = cut != cut_end && (body == body_end || *cut <= *body);
    PassStops(flutes ? *cut : *body);
    if (flutes) {
      Cut(*cut, record[static_cast<std::size_t>(*cut)]);
      ++cut;
    } else {
      if (solid_ > 0) MeasureBodies(*body, record[static_cast<std::size_t>(*body)]);
      ++body;
    }
  }
}

void BrickRunner::Cut(int sweep, SweepContact& contact) {
  const auto& info = context_.track->sweeps[static_cast<std::size_t>(sweep)];
  const Cutter& cutter = context_.track->tools[static_cast<std::size_t>(info.tool)].cutter;
  for (int s = 0; s < static_cast<int>(cutter.strings().size()); ++s) {
    CutString(sweep, s, contact);
  }
  for (int p = 0; p < static_cast<int>(cutter.profiles().size()); ++p) {
    CutProfile(sweep, p, contact);
  }
}

void BrickRunner::CutString(int sweep, int string, SweepContact& contact) {
  const StringSweep s = MakeStringSweep(*context_.track, sweep, string);
  if (Reaches(s)) Account(sweep, RunKernel(s, NextCall()), contact);
}

void BrickRunner::CutProfile(int sweep, int profile, SweepContact& contact) {
  const ProfileSweep s = MakeProfileSweep(*context_.track, sweep, profile);
  if (!Reaches(s)) return;
  ProfileMove move;
  Put(move.a, s.tip - first_S_);
  Put(move.v, s.travel);
  Put(move.q, s.axis);
  Put(move.w, s.turn);
  move.lines = s.profile->lines_f.data();
  move.arcs = s.profile->arcs_f.data();
  move.line_count = static_cast<std::int32_t>(s.profile->lines_f.size());
  move.arc_count = static_cast<std::int32_t>(s.profile->arcs_f.size());
  move.spans = SpansWithin(s, kTurnBound_mm);
  Account(sweep, context_.kernels->profile(work_, *context_.offsets, move, NextCall()), contact);
}

// Books what one part of the cutter did.
void BrickRunner::Account(int sweep, const KernelResult& result, SweepContact& contact) {
  const bool had_solid = solid_ > 0;
  const std::int32_t event = static_cast<std::int32_t>(removers_.size());
  changed_ = changed_ || result.run != 0;
  constexpr int kLookEvery = 8;
  if (result.run != 0 && ++since_looked_ == kLookEvery) {
    open_ = context_.kernels->open(work_, *context_.offsets);
    since_looked_ = 0;
  }
  if (!had_solid || result.run == 0) return;
  contact.bite_mm = std::max(contact.bite_mm, static_cast<float>(result.bite_um16) / 65536.0f);
  contact.bite_bound_mm = 1.0f;   // that it may have met material: how sure is told from the whole bite
  if (result.removed == 0) return;
  removers_.push_back(sweep);
  solid_ -= result.removed;
  contact.removed_units += result.removed;
  NoteReach(sweep, event, result.run, contact);
}

// Where all of the brick that was ever material lies below the lowest ball's
// centre plane, the lowest ball alone is nearest and its capsule is the sweep.
bool BrickRunner::BelowString(const StringSweep& s) const {
  if (s.u.squaredNorm() == 0.0) return true;
  if (s.dr != 0.0) return false;
  const Vector3d centre = material_.center(), half = 0.5 * material_.sizes();
  const auto below = [&](const Vector3d& a, const Vector3d& u) {
    return (centre - a).dot(u) + half.dot(u.cwiseAbs()) <= 0.0;
  };
  const Vector3d u1 = s.u + s.w, a1 = s.a + s.v;
  return below(s.a, s.u) && below(a1, s.u) && below(s.a, u1) && below(a1, u1);
}

// Whether the sweep comes near enough to change a kept distance. A lone ball is
// tried against the brick's box from the middle of its travel; of a string the kernel
// tells for every chunk.
bool BrickRunner::Reaches(const StringSweep& s) const {
  const double h = context_.lattice.voxel_mm;
  if (!BelowString(s)) return true;
  const double half = 0.5 * (kBrickEdge - 1) * h;
  const Vector3d off = (s.a + 0.5 * s.v - centre_S_).cwiseAbs();
  const double gap = (off.array() - half).max(0.0).matrix().norm();
  return gap - 0.5 * s.v.norm() - s.r0 <= Truncation(h);
}

// A part that stays above all of the brick's material is told at once; one that
// has moved little by how far it lies away half-way.
bool BrickRunner::Reaches(const ProfileSweep& s) const {
  const double kept = Truncation(context_.lattice.voxel_mm) + kTurnBound_mm;
  const Vector3d centre = material_.center(), half = 0.5 * material_.sizes();
  const auto highest = [&](const Vector3d& tip, const Vector3d& axis) {
    return (centre - tip).dot(axis) + half.dot(axis.cwiseAbs());
  };
  const double above = std::max(highest(s.tip, s.axis), highest(s.tip + s.travel, s.axis + s.turn));
  if (above + TurnSlack(s) < s.profile->z0_mm - kept) return false;
  return ProfileReach(s).Comes(BrickRadius(context_.lattice.voxel_mm) + kept, centre_S_);
}

KernelResult BrickRunner::RunKernel(const StringSweep& s, const KernelCall& call) {
  const Vector3d a = s.a - first_S_;
  if (BelowString(s)) {
    BallMove move;
    Put(move.a, a);
    Put(move.v, s.v);
    const double vv = s.v.squaredNorm();
    move.inv_vv = vv > 0.0 ? static_cast<float>(1.0 / vv) : 0.0f;
    move.r = static_cast<float>(s.r0);
    return context_.kernels->ball(work_, *context_.offsets, move, call);
  }
  StringMove move;
  Put(move.a, a);
  Put(move.u, s.u);
  Put(move.v, s.v);
  Put(move.w, s.w);
  move.r0 = static_cast<float>(s.r0);
  move.dr = static_cast<float>(s.dr);
  return context_.kernels->string(work_, *context_.offsets, move, call);
}

// Sector of a direction given by two components: eighths by sign and size, each
// cut in four by the tangents of 11.25, 22.5 and 33.75 degrees.
int SectorOf(double along, double left) {
  const double a = std::abs(along), b = std::abs(left);
  const double least = a < b ? a : b, most = a < b ? b : a;
  int quarter = (least > 0.198912367 * most ? 1 : 0) + (least > 0.414213562 * most ? 1 : 0) +
                (least > 0.668178638 * most ? 1 : 0);
  quarter = a < b ? 7 - quarter : quarter;          // 0..7 within the quadrant
  if (along < 0.0) quarter = 15 - quarter;
  return left < 0.0 ? kArcSectors - 1 - quarter : quarter;
}

// How the heights above the tip of one sweep are told. The moment is taken where
// the tip passes nearest across the axis; on a slope the tool reaches a point up
// to one radius earlier, which is added.
struct ReachGauge {
  ReachGauge(const ToolTrack& track, int sweep) {
    const std::size_t i = static_cast<std::size_t>(sweep);
    tip = track.p_ST[i];
    axis = track.axis_S[i];
    travel = track.p_ST[i + 1] - tip;
    const double climb = travel.dot(axis);
    across = travel - climb * axis;
    const double aa = across.squaredNorm();
    cutter = &track.tools[static_cast<std::size_t>(track.sweeps[i].tool)].cutter;
    const double radius = cutter->radius_mm();
    sideways = aa > 1e-12;
    inv_aa = sideways ? 1.0 / aa : 0.0;
    slack = sideways ? std::min(std::abs(climb), radius * std::abs(climb) / std::sqrt(aa))
                     : std::max(0.0, -climb);
    ahead = sideways ? Vector3d(across / std::sqrt(aa)) : axis.unitOrthogonal();
    left = axis.cross(ahead);
  }
  void Note(const Vector3d& p, SweepContact& contact) const {
    const double t = std::clamp((p - tip).dot(across) * inv_aa, 0.0, 1.0);
    const Vector3d from_tip = p - tip - t * travel;
    const double axial = from_tip.dot(axis);
    const double radial = std::sqrt(std::max(0.0, from_tip.squaredNorm() - axial * axial));
    contact.axial_low_mm = std::min(contact.axial_low_mm, static_cast<float>(axial));
    contact.axial_mm = std::max(contact.axial_mm, static_cast<float>(axial + slack));
    contact.radial_mm = std::max(contact.radial_mm, static_cast<float>(radial));
    contact.arc |= std::uint32_t{1} << ContactSector(p);
  }
  // A tool that moves sideways meets a place with its leading side: as far to the
  // left as the place lies, as far ahead as the outline is wide there. A place
  // that it covers at once, and one met in a plunge, lies where it lies.
  int ContactSector(const Vector3d& p) const {
    const Vector3d y = p - tip;
    const double to_left = y.dot(left), to_front = y.dot(ahead);
    const double wide = cutter->RadiusAt(y.dot(axis));
    const double front2 = wide * wide - to_left * to_left;
    const bool covered = to_front * to_front < front2;
    if (!sideways || covered) return SectorOf(to_front, to_left);
    return SectorOf(std::sqrt(std::max(0.0, front2)), to_left);
  }
  Vector3d tip, axis, travel, across, ahead, left;
  double inv_aa, slack;
  bool sideways;
  const Cutter* cutter;
};

// Notes heights above the tip and distances from the axis of what was just removed.
void BrickRunner::NoteReach(int sweep, std::int32_t event, std::uint32_t chunks,
                            SweepContact& contact) const {
  const ReachGauge gauge(*context_.track, sweep);
  const Vector3i corner = kBrickEdge * (context_.lattice.first + start_.at);
  for (std::uint32_t rest = chunks; rest != 0; rest &= rest - 1) {
    const int first = kChunkVoxels * __builtin_ctz(rest);
    int removed = 0;
    for (int n = first; n < first + kChunkVoxels; ++n) removed += work_.remover[n] == event ? 1 : 0;
    for (int n = first; removed > 0; ++n) {
      if (work_.remover[n] != event) continue;
      gauge.Note(PointOf(n), contact);
      const int in = context_.offsets->stored[n];
      contact.place_sums[0] += corner.x() + in % kBrickEdge;
      contact.place_sums[1] += corner.y() + in / kBrickEdge % kBrickEdge;
      contact.place_sums[2] += corner.z() + in / (kBrickEdge * kBrickEdge);
      --removed;
    }
  }
}

// A body of the tool over one sweep, looked at at evenly spaced instants.
class BodyPass {
 public:
  BodyPass(const ToolTrack& track, int sweep, const BodyCylinder& body, double voxel_mm)
      : track_(track), i_(static_cast<std::size_t>(sweep)), body_(body) {
    travel_ = track.p_ST[i_ + 1] - track.p_ST[i_];
    turn_ = (track.axis_S[i_ + 1] - track.axis_S[i_]).norm();
    steps_ = 1 + static_cast<int>((travel_.norm() + turn_ * body.z1_mm) / (0.25 * voxel_mm));
  }

  // Least distance from p to the body over all instants, or something >= `enough_mm`
  // where none is nearer than that. No instant is left out that could be nearer:
  // in the body's eyes p moves no faster than travel and turn together.
  double Least(const Vector3d& p, double enough_mm) const {
    const double arm = std::max((p - track_.p_ST[i_]).norm(), (p - track_.p_ST[i_ + 1]).norm());
    const double speed = (travel_.norm() + 1.001 * turn_ * arm) / steps_;
    double least = enough_mm;
    Search(p, speed, {0, steps_}, least);
    return least;
  }

 private:
  struct Span {
    int first, last;
  };
  double At(const Vector3d& p, int n) const {
    const double t = static_cast<double>(n) / steps_;
    const Vector3d axis = ((1.0 - t) * track_.axis_S[i_] + t * track_.axis_S[i_ + 1]).normalized();
    const Vector3d y = p - track_.p_ST[i_] - t * travel_;
    const double z = y.dot(axis);
    return DistanceToCylinder(body_, z, (y - z * axis).norm());
  }
  void Search(const Vector3d& p, double speed, const Span& span, double& least) const {
    if (span.first > span.last) return;
    const int middle = (span.first + span.last) / 2;
    const double d = At(p, middle);
    least = std::min(least, d);
    const int reach = std::max(middle - span.first, span.last - middle);
    if (reach == 0 || d - speed * reach >= least) return;
    Search(p, speed, {span.first, middle - 1}, least);
    Search(p, speed, {middle + 1, span.last}, least);
  }

  const ToolTrack& track_;
  std::size_t i_;
  const BodyCylinder& body_;
  Vector3d travel_;
  double turn_ = 0.0;
  int steps_ = 1;
};

// A point that body and material share has a voxel centre within half a voxel's
// diagonal. Where no centre that near to material is that near to the body, the
// body is surely clear and the bound stays nothing.
void BrickRunner::MeasureBodies(int sweep, SweepContact& contact) const {
  const double h = context_.lattice.voxel_mm, near = 0.5 * std::sqrt(3.0) * h;
  const auto& info = context_.track->sweeps[static_cast<std::size_t>(sweep)];
  const auto& bodies = context_.track->tools[static_cast<std::size_t>(info.tool)].bodies;
  for (std::size_t b = 0; b < bodies.size(); ++b) {
    const BodyPass pass(*context_.track, sweep, bodies[b], h);
    for (int n = 0; n < kBrickVoxels; ++n) {
      const double depth = -work_.distance_mm[n];
      if (depth <= -near) continue;
      // Only what is nearer than this can tell anything new.
      const double bound_open = contact.body_bound_mm > 0.0f ? -1e30 : std::nextafter(near, 1e30);
      const double enough = std::max(bound_open, depth > 0.0 ? depth - contact.body_bite_mm : -1e30);
      if (enough <= -1e30) continue;
      const double gap = pass.Least(PointOf(n), enough);
      if (gap >= enough) continue;
      if (gap <= near) contact.body_bound_mm = static_cast<float>(near);
      if (depth <= 0.0 || depth - gap <= contact.body_bite_mm) continue;
      contact.body_bite_mm = static_cast<float>(depth - gap);
      contact.body = static_cast<std::int8_t>(b);
    }
  }
}

StatesAtStops BrickRunner::Finish() {
  PassStops(std::numeric_limits<std::int32_t>::max());
  return std::move(at_stops_);
}

void BrickRunner::Store(Brick& brick) {
  brick.at = start_.at;
  StoreDistances(context_, work_.distance_mm, brick);
  for (int n = 0; n < kBrickVoxels; ++n) {
    const std::size_t at = static_cast<std::size_t>(context_.offsets->stored[n]);
    brick.remover[at] = static_cast<std::uint16_t>(work_.remover[n]);
  }
  brick.sweeps = std::move(removers_);
}

// What a state holds, as it stands.
void Store(const BrickRunContext& context, const BrickStart& start, Brick& brick) {
  const BrickState& state = *start.state;
  brick.at = start.at;
  StoreDistances(context, state.distance_mm.data(), brick);
  for (std::size_t n = 0; n < kBrickVoxels; ++n) {
    brick.remover[static_cast<std::size_t>(context.offsets->stored[n])] = state.remover[n];
  }
  brick.sweeps.assign(state.sweeps(), state.sweeps() + state.sweep_count);
}

bool IsMet(const BrickRunContext& context, std::int64_t cell) {
  return context.cutting->CountOf(cell) > 0 || context.bodies->CountOf(cell) > 0;
}

}  // namespace

double BrickRadius(double voxel_mm) {
  return 0.5 * (kBrickEdge - 1) * std::sqrt(3.0) * voxel_mm;
}

double Truncation(double voxel_mm) { return kTruncation_voxel * voxel_mm; }

namespace {

// What a column beside a pointed tip of bite d misses at most: its best centre lies
// in the material below the tip, where cutter and face are the farther apart the
// less the place beside the axis matters, as deep as distances are kept.
double PointedMiss_voxel(double bite_voxel, double lateral_voxel) {
  const double below = std::max(0.0, kTruncation_voxel - 1.0 - bite_voxel);
  return std::sqrt(below * below + lateral_voxel * lateral_voxel) - below;
}

}  // namespace

double BiteBound(double voxel_mm, double nose_radius_mm, double bite_mm) {
  const double lateral = std::sqrt(0.5);   // in voxels
  const double blunt = nose_radius_mm > 0.0 ? 0.25 * voxel_mm * voxel_mm / nose_radius_mm : 1e30;
  double pointed = PointedMiss_voxel(0.0, lateral);   // no bite misses less
  const bool is_blunt = blunt <= pointed * voxel_mm;
  // The true bite is the measured one and what is missed.
  for (double before = 0.0; !is_blunt && pointed - before > 1e-6;) {
    before = pointed;
    pointed = PointedMiss_voxel(bite_mm / voxel_mm + pointed, lateral);
  }
  return std::min(blunt, pointed * voxel_mm) + 0.02 * voxel_mm;
}

StatesAtStops RunBrick(const BrickRunContext& context, const BrickStart& start,
                       std::vector<SweepContact>& record, Brick* brick) {
  if (start.state != nullptr && brick != nullptr && !IsMet(context, start.cell)) {
    Store(context, start, *brick);
    return StatesAtStops(context.stops.size());
  }
  BrickRunner runner(context, start);
  runner.Begin();
  runner.RunSweeps(record);
  StatesAtStops states = runner.Finish();
  if (brick != nullptr) runner.Store(*brick);
  return states;
}

}  // namespace aircut::sim
