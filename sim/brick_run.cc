#include "sim/brick_run.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/body_pass.h"
#include "sim/profile_sweep.h"
#include "sim/reach_gauge.h"

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
  void NoteReach(int sweep, const ReachCall& call, SweepContact& contact) const;
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
  NoteReach(sweep, {event, result.run}, contact);
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

// Notes with which part of the cutter was met what was just removed.
void BrickRunner::NoteReach(int sweep, const ReachCall& call, SweepContact& contact) const {
  const auto tool = static_cast<std::size_t>(context_.track->sweeps[static_cast<std::size_t>(sweep)].tool);
  const ReachMove move = MakeReachMove(*context_.track, sweep, first_S_, (*context_.outlines)[tool]);
  const ReachResult met = context_.kernels->reach(work_, *context_.offsets, move, call);
  contact.axial_low_mm = std::min(contact.axial_low_mm, met.axial_low);
  contact.axial_mm = std::max(contact.axial_mm, met.axial_high + move.slack);
  contact.radial_mm = std::max(contact.radial_mm, met.radial);
  contact.arc |= met.arc;
  const Vector3i corner = kBrickEdge * (context_.lattice.first + start_.at);
  for (int d = 0; d < 3; ++d) {
    contact.place_sums[static_cast<std::size_t>(d)] += std::int64_t{corner[d]} * met.count + met.place_sums[d];
  }
}

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
