#include "sim/brick_run.h"

#include <algorithm>
#include <cmath>

#include "sim/profile_sweep.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

void Store(float* to, const Vector3d& from) {
  for (int d = 0; d < 3; ++d) to[d] = static_cast<float>(from[d]);
}

class BrickRunner {
 public:
  BrickRunner(const BrickRunContext& context, const BrickStart& start)
      : context_(context), start_(start) {
    const double h = context.lattice.voxel_mm;
    first_S_ = context.lattice.origin_S + h * kBrickEdge * start.at.cast<double>();
    centre_S_ = first_S_.array() + 0.5 * h * (kBrickEdge - 1);
    const Vector3d last_S = first_S_.array() + h * (kBrickEdge - 1);
    material_ = Eigen::AlignedBox3d(first_S_, last_S).intersection(context.solid_S->box());
    if (material_.isEmpty()) material_ = Eigen::AlignedBox3d(first_S_, last_S);
  }

  void FillStart();
  void RunSweeps(std::vector<SweepContact>& record);
  Brick Finish();

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
  double LeastOverBody(int sweep, const BodyCylinder& body, const Vector3d& p_SQ) const;
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
  std::vector<std::int32_t> removers_;  // sweeps that removed a voxel centre here
};

void BrickRunner::FillStart() {
  const double limit = Truncation(context_.lattice.voxel_mm);
  std::fill_n(work_.remover, kBrickVoxels, std::int32_t{kNotRemoved});
  if (start_.state == BrickState::kSolid) {
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
  open_ = context_.kernels->open(work_, *context_.offsets);
  while ((cut != cut_end || body != body_end) && open_ != 0) {
    if (cut != cut_end && (body == body_end || *cut <= *body)) {
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
  Store(move.a, s.tip - first_S_);
  Store(move.v, s.travel);
  Store(move.q, s.axis);
  Store(move.w, s.turn);
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
  constexpr int kLookEvery = 8;
  if (result.run != 0 && ++since_looked_ == kLookEvery) {
    open_ = context_.kernels->open(work_, *context_.offsets);
    since_looked_ = 0;
  }
  if (!had_solid || result.run == 0) return;
  const double nose_mm = context_.track->tools[static_cast<std::size_t>(
      context_.track->sweeps[static_cast<std::size_t>(sweep)].tool)].cutter.nose_radius_mm();
  contact.bite_mm = std::max(contact.bite_mm, static_cast<float>(result.bite_um16) / 65536.0f);
  contact.bite_bound_mm = static_cast<float>(BiteBound(context_.lattice.voxel_mm, nose_mm));
  if (result.removed == 0) return;
  removers_.push_back(sweep);
  solid_ -= result.removed;
  contact.removed_voxels += result.removed;
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
// tried against the brick's box from the middle of its travel; a string by the
// bound that binning used.
bool BrickRunner::Reaches(const StringSweep& s) const {
  const double h = context_.lattice.voxel_mm;
  if (!BelowString(s)) return DistanceLowerBound(s, centre_S_) <= BrickRadius(h) + Truncation(h);
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
  return DistanceLowerBound(s, centre_S_) <= BrickRadius(context_.lattice.voxel_mm) + kept;
}

KernelResult BrickRunner::RunKernel(const StringSweep& s, const KernelCall& call) {
  const Vector3d a = s.a - first_S_;
  if (BelowString(s)) {
    BallMove move;
    Store(move.a, a);
    Store(move.v, s.v);
    const double vv = s.v.squaredNorm();
    move.inv_vv = vv > 0.0 ? static_cast<float>(1.0 / vv) : 0.0f;
    move.r = static_cast<float>(s.r0);
    return context_.kernels->ball(work_, *context_.offsets, move, call);
  }
  StringMove move;
  Store(move.a, a);
  Store(move.u, s.u);
  Store(move.v, s.v);
  Store(move.w, s.w);
  move.r0 = static_cast<float>(s.r0);
  move.dr = static_cast<float>(s.dr);
  return context_.kernels->string(work_, *context_.offsets, move, call);
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
    const double radius = track.tools[static_cast<std::size_t>(track.sweeps[i].tool)].cutter.radius_mm();
    const bool sideways = aa > 1e-12;
    inv_aa = sideways ? 1.0 / aa : 0.0;
    slack = sideways ? std::min(std::abs(climb), radius * std::abs(climb) / std::sqrt(aa))
                     : std::max(0.0, -climb);
  }
  void Note(const Vector3d& p, SweepContact& contact) const {
    const double t = std::clamp((p - tip).dot(across) * inv_aa, 0.0, 1.0);
    const Vector3d from_tip = p - tip - t * travel;
    const double axial = from_tip.dot(axis);
    const double radial = std::sqrt(std::max(0.0, from_tip.squaredNorm() - axial * axial));
    contact.axial_mm = std::max(contact.axial_mm, static_cast<float>(axial + slack));
    contact.radial_mm = std::max(contact.radial_mm, static_cast<float>(radial));
  }
  Vector3d tip, axis, travel, across;
  double inv_aa, slack;
};

// Notes heights above the tip and distances from the axis of what was just removed.
void BrickRunner::NoteReach(int sweep, std::int32_t event, std::uint32_t chunks,
                            SweepContact& contact) const {
  const ReachGauge gauge(*context_.track, sweep);
  for (std::uint32_t rest = chunks; rest != 0; rest &= rest - 1) {
    const int first = kChunkVoxels * __builtin_ctz(rest);
    int removed = 0;
    for (int n = first; n < first + kChunkVoxels; ++n) removed += work_.remover[n] == event ? 1 : 0;
    for (int n = first; removed > 0; ++n) {
      if (work_.remover[n] != event) continue;
      gauge.Note(PointOf(n), contact);
      --removed;
    }
  }
}

double BrickRunner::LeastOverBody(int sweep, const BodyCylinder& body, const Vector3d& p) const {
  const std::size_t i = static_cast<std::size_t>(sweep);
  const ToolTrack& track = *context_.track;
  const Vector3d travel = track.p_ST[i + 1] - track.p_ST[i];
  const double swing = (track.axis_S[i + 1] - track.axis_S[i]).norm() * body.z1_mm;
  const int steps = 1 + static_cast<int>((travel.norm() + swing) / (0.25 * context_.lattice.voxel_mm));
  double least = 1e30;
  for (int n = 0; n <= steps; ++n) {
    const double t = static_cast<double>(n) / steps;
    const Vector3d axis = ((1.0 - t) * track.axis_S[i] + t * track.axis_S[i + 1]).normalized();
    const Vector3d y = p - track.p_ST[i] - t * travel;
    const double z = y.dot(axis);
    least = std::min(least, DistanceToCylinder(body, z, (y - z * axis).norm()));
  }
  return least;
}

// A point that body and material share has a voxel centre within half a voxel's
// diagonal. Where no centre that near to material is that near to the body, the
// body is surely clear and the bound stays nothing.
void BrickRunner::MeasureBodies(int sweep, SweepContact& contact) const {
  const double near = 0.5 * std::sqrt(3.0) * context_.lattice.voxel_mm;
  const auto& info = context_.track->sweeps[static_cast<std::size_t>(sweep)];
  const auto& bodies = context_.track->tools[static_cast<std::size_t>(info.tool)].bodies;
  for (std::size_t b = 0; b < bodies.size(); ++b) {
    for (int n = 0; n < kBrickVoxels; ++n) {
      if (work_.distance_mm[n] >= near) continue;
      const double gap = LeastOverBody(sweep, bodies[b], PointOf(n));
      if (gap <= near) contact.body_bound_mm = static_cast<float>(near);
      const double overlap = work_.distance_mm[n] < 0.0f ? -work_.distance_mm[n] - gap : 0.0;
      if (overlap <= contact.body_bite_mm) continue;
      contact.body_bite_mm = static_cast<float>(overlap);
      contact.body = static_cast<std::int8_t>(b);
    }
  }
}

Brick BrickRunner::Finish() {
  Brick brick;
  brick.at = start_.at;
  const double scale = 32767.0 / Truncation(context_.lattice.voxel_mm);
  for (int n = 0; n < kBrickVoxels; ++n) {
    const double d = std::clamp(std::nearbyint(work_.distance_mm[n] * scale), -32767.0, 32767.0);
    const std::size_t at = static_cast<std::size_t>(context_.offsets->stored[n]);
    brick.distance[at] = static_cast<std::int16_t>(d);
    brick.remover[at] = static_cast<std::uint16_t>(work_.remover[n]);
  }
  brick.sweeps = std::move(removers_);
  return brick;
}

}  // namespace

double BrickRadius(double voxel_mm) {
  return 0.5 * (kBrickEdge - 1) * std::sqrt(3.0) * voxel_mm;
}

double Truncation(double voxel_mm) { return kTruncation_voxel * voxel_mm; }

double BiteBound(double voxel_mm, double nose_radius_mm) {
  const double lateral2 = 0.5 * voxel_mm * voxel_mm;   // a voxel column passes within h / sqrt(2)
  const double blunt = nose_radius_mm > 0.0 ? lateral2 / (2.0 * nose_radius_mm) : 1e30;
  const double pointed = std::sqrt(lateral2);   // no distance changes faster than the place
  return std::min(blunt, pointed) + 0.02 * voxel_mm;
}

Brick RunBrick(const BrickRunContext& context, const BrickStart& start,
               std::vector<SweepContact>& record) {
  BrickRunner runner(context, start);
  runner.FillStart();
  runner.RunSweeps(record);
  return runner.Finish();
}

}  // namespace aircut::sim
