#include "sim/depth_rays.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <variant>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/profile_sweep.h"
#include "sim/sweep_binning.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// Material is followed this far below a sample: a cut deeper than that below
// the design still shows as one this deep.
constexpr double kBelow_mm = 40.0;
constexpr double kAbove_mm = 120.0;
// First look: most cuts end within this below the design. A ray whose material
// is gone all the way down to it is looked at again over its whole length.
constexpr double kFirstLook_mm = kHollowsBelow_mm;
// What of a profile's sweep may be missed where its axis turns.
constexpr double kRaySlack_mm = 2e-4;
// Cells of the grid that the rays are sorted into.
constexpr double kCell_mm = 2.0;

// The piece of starting material that holds the sample (within slack).
RayDepth StartOf(const MeshIndex& solid, const DepthRay& ray, double slack) {
  RayDepth depth;
  const auto hits = solid.Crossings(ray.p_SQ, ray.up_S, -kBelow_mm, kAbove_mm);
  // Walk upwards; whether the low end is inside follows from the first crossing.
  bool inside = !hits.empty() && !hits.front().entering;
  double entered = -kBelow_mm, gap = 1e30;
  const auto offer = [&](double lo, double hi) {
    const double off = lo > 0.0 ? lo : (hi < 0.0 ? -hi : 0.0);
    if (off > slack || off >= gap) return;
    gap = off;
    depth.has_material = true;
    depth.bottom_mm = lo;
    depth.stock_top_mm = depth.top_mm = hi;
  };
  for (const auto& hit : hits) {
    if (hit.entering) entered = hit.t_mm;
    else if (inside) offer(entered, hit.t_mm);
    inside = hit.entering;
  }
  return depth;
}

// One part of a cutter on its way.
using PartSweep = std::variant<StringSweep, ProfileSweep>;

// Parts of the sweeps near one cell of rays, with what is needed to leave most
// of them out at once: for each the middle of its lowest point's travel and how
// far beside a ray's line that may lie, over all rays of the cell.
struct Candidates {
  std::vector<std::int32_t> sweeps;
  std::vector<PartSweep> parts;
  std::vector<float> x, y, z, reach2;   // middles relative to `origin`
  std::vector<std::uint8_t> near;       // scratch: per candidate, for one ray
  std::vector<float> beside2;           // scratch: squared distance from the ray's line
  std::optional<std::size_t> nearest;   // scratch: of those marked
  Vector3d origin = Vector3d::Zero();
};

// What the rays of one cell have in common.
struct RayBundle {
  Vector3d up = Vector3d::Zero();   // mean direction
  double spread = 0.0;              // largest sine between it and any ray
  double top = -1e30;               // highest end of a piece, along `up`
};

void AddPart(const PartSweep& part, std::int32_t sweep, const Vector3d& middle, double reach_mm, Candidates& to) {
  const Vector3d m = middle - to.origin;
  const double reach = reach_mm + 1e-3;   // for single precision
  to.sweeps.push_back(sweep);
  to.parts.push_back(part);
  to.x.push_back(static_cast<float>(m.x()));
  to.y.push_back(static_cast<float>(m.y()));
  to.z.push_back(static_cast<float>(m.z()));
  to.reach2.push_back(static_cast<float>(reach * reach));
}

// How far a part leans from the rays at most, as a sine.
double LeanOf(double rise, const RayBundle& bundle) {
  return std::min(1.0, std::sqrt(std::max(0.0, 1.0 - rise * rise)) + bundle.spread);
}

void AddString(const StringSweep& s, std::int32_t sweep, const RayBundle& bundle, Candidates& to) {
  const Vector3d middle = s.a + 0.5 * s.v;
  const double half_travel = 0.5 * s.v.norm() + s.w.norm();
  const double length = s.u.norm(), r_most = std::max(s.r0, s.r0 + s.dr);
  const double rise = length > 0.0 ? s.u.dot(bundle.up) / length : 1.0;
  // How far up the string a ball can still reach down to a ray's piece.
  const double steep = rise - bundle.spread;
  double used = length;
  if (steep > 0.5) used = std::clamp((bundle.top - middle.dot(bundle.up) + half_travel + r_most) / steep, 0.0, length);
  const double r = length > 0.0 ? std::max(s.r0, s.r0 + s.dr * used / length) : s.r0;
  AddPart(s, sweep, middle, r + half_travel + LeanOf(rise, bundle) * used, to);
}

// The same for a profile, whose heights are those of the tool: a part that begins
// above all that a ray's piece holds is left out.
void AddProfile(const ProfileSweep& s, std::int32_t sweep, const RayBundle& bundle, Candidates& to) {
  const Vector3d middle = s.tip + 0.5 * s.travel, axis = (s.axis + 0.5 * s.turn).normalized();
  const ConvexProfile& profile = *s.profile;
  const double moved = 0.5 * (s.travel.norm() + profile.far_mm * s.turn.norm());
  const double rise = axis.dot(bundle.up), lean = LeanOf(rise, bundle);
  const double steep = rise - bundle.spread;
  double used = profile.z1_mm;
  if (steep > 0.5) {
    // A disc at height z has its lowest point lean * r below its centre.
    used = std::min(used, (bundle.top - middle.dot(bundle.up) + moved + profile.radius_mm * lean) / steep);
  }
  if (used < profile.z0_mm) return;
  AddPart(s, sweep, middle, profile.WidestBelow(used) + moved + lean * std::max(used, 0.0), to);
}

// Marks the candidates whose string comes near enough to the ray's line.
void MarkNear(const DepthRay& ray, Candidates& c) {
  const Vector3d p = ray.p_SQ - c.origin;
  const float px = static_cast<float>(p.x()), py = static_cast<float>(p.y()), pz = static_cast<float>(p.z());
  const float ux = static_cast<float>(ray.up_S.x()), uy = static_cast<float>(ray.up_S.y()),
              uz = static_cast<float>(ray.up_S.z());
  const std::size_t n = c.sweeps.size();
  c.near.resize(n);
  c.beside2.resize(n);
  for (std::size_t i = 0; i < n; ++i) {
    const float dx = c.x[i] - px, dy = c.y[i] - py, dz = c.z[i] - pz;
    const float cx = dy * uz - dz * uy, cy = dz * ux - dx * uz, cz = dx * uy - dy * ux;
    c.beside2[i] = cx * cx + cy * cy + cz * cz;
    c.near[i] = c.beside2[i] <= c.reach2[i] ? 1 : 0;
  }
  c.nearest.reset();
  for (std::size_t i = 0; i < n; ++i) {
    if (c.near[i] && (!c.nearest || c.beside2[i] < c.beside2[*c.nearest])) c.nearest = i;
  }
}

// Where the ray's whole piece lies below the centre plane of the lowest ball,
// that ball's capsule is the sweep.
bool BelowString(const StringSweep& s, const Vector3d& p) {
  const Vector3d u1 = s.u + s.w;
  return (p - s.a).dot(s.u) <= 0.0 && (p - s.a - s.v).dot(s.u) <= 0.0 && (p - s.a).dot(u1) <= 0.0 &&
         (p - s.a - s.v).dot(u1) <= 0.0;
}

// Line against the capsule of a ball of radius r moved from a to a + v.
LinePart ClipCapsule(const StringSweep& s, const Vector3d& origin, const Vector3d& direction) {
  const double r2 = s.r0 * s.r0;
  LinePart part;
  const auto add = [&](double lo, double hi) {
    if (part.empty()) part = {lo, hi};
    else part = {std::min(part.lo, lo), std::max(part.hi, hi)};
  };
  const auto ball = [&](const Vector3d& centre) {
    const Vector3d y = centre - origin;
    const double along = y.dot(direction), gap2 = y.squaredNorm() - along * along;
    if (gap2 >= r2) return;
    const double half = std::sqrt(r2 - gap2);
    add(along - half, along + half);
  };
  ball(s.a);
  const double vv = s.v.squaredNorm();
  if (vv == 0.0) return part;
  ball(s.a + s.v);
  // The wall between the end balls: |y - (y.v/vv) v|^2 = r^2, 0 <= y.v <= vv.
  const Vector3d y0 = origin - s.a;
  const double dv = direction.dot(s.v), yv = y0.dot(s.v);
  const Vector3d dn = direction - (dv / vv) * s.v, yn = y0 - (yv / vv) * s.v;
  const double a = dn.squaredNorm(), b = dn.dot(yn), c = yn.squaredNorm() - r2;
  const double root = b * b - a * c;
  if (a <= 1e-14 || root <= 0.0) return part;
  double lo = (-b - std::sqrt(root)) / a, hi = (-b + std::sqrt(root)) / a;
  if (std::abs(dv) > 1e-14) {
    const double at0 = -yv / dv, at1 = (vv - yv) / dv;
    lo = std::max(lo, std::min(at0, at1));
    hi = std::min(hi, std::max(at0, at1));
  } else if (yv < 0.0 || yv > vv) {
    return part;
  }
  if (lo < hi) add(lo, hi);
  return part;
}

// A part all of whose travel lies above the ray's piece is told by its lowest plane.
LinePart Clip(const ProfileSweep& s, const DepthRay& ray, double lo, double hi) {
  const Vector3d low = ray.p_SQ + lo * ray.up_S - s.tip, top = ray.p_SQ + hi * ray.up_S - s.tip;
  const Vector3d axis1 = s.axis + s.turn;
  const double highest = std::max(std::max(low.dot(s.axis), top.dot(s.axis)),
                                  std::max((low - s.travel).dot(axis1), (top - s.travel).dot(axis1)));
  if (highest < s.profile->z0_mm - kRaySlack_mm) return {};
  return ClipLine(s, ray.p_SQ, ray.up_S, lo, hi);
}

LinePart Clip(const StringSweep& s, const DepthRay& ray, double lo, double hi) {
  const Vector3d top = ray.p_SQ + hi * ray.up_S, low = ray.p_SQ + lo * ray.up_S;
  const bool capsule_only = BelowString(s, top) && BelowString(s, low);
  LinePart part = ClipCapsule(s, ray.p_SQ, ray.up_S);
  part.lo = std::max(part.lo, lo);
  part.hi = std::min(part.hi, hi);
  if (capsule_only) return part;
  // The string above the lowest ball can only lengthen the part upwards, where
  // the part begins on the underside of that ball.
  const bool from_below = !part.empty() && BelowString(s, ray.p_SQ + part.lo * ray.up_S);
  if (from_below) {
    const double vv = s.v.squaredNorm();
    const double t = vv > 0.0 ? std::clamp((top - s.a).dot(s.v) / vv, 0.0, 1.0) : 0.0;
    if (DistanceAtTime(s, top, t).distance_mm <= 0.0) return {part.lo, hi};
  }
  return ClipLine(s, ray.p_SQ, ray.up_S, lo, hi);
}

// How fast a distance may change over a part's travel: by the travel along its slope
// and by the swing of the axis; and what the bend of the motion takes off a tangent.
struct Motion {
  double travel_out, swing, bend;
};
Motion MotionOf(const StringSweep& s, const Vector3d& out) {
  const double length = s.u.norm(), swing = s.w.norm(), turn = length > 0.0 ? swing / length : 0.0;
  return {std::abs(out.dot(s.v)), swing, 0.15 * turn * (2.0 * s.v.norm() + turn * (length + s.r0 + std::max(0.0, s.dr)))};
}
Motion MotionOf(const ProfileSweep& s, const Vector3d& out) {
  return {std::abs(out.dot(s.travel)), s.profile->far_mm * s.turn.norm(), 0.25 * TurnSlack(s)};
}

// Whether a part may remove something of a ray below `top_mm`, from one look at the
// middle of its travel: its distance over place and time lies above the tangent.
template <class Sweep>
bool MayLower(const Sweep& s, const DepthRay& ray, double lo_mm, double top_mm) {
  const SweepDistance d = DistanceAtTime(s, ray.p_SQ + top_mm * ray.up_S, 0.5);
  const Motion motion = MotionOf(s, d.out);
  const double falls = std::max(0.0, d.out.dot(ray.up_S)) * (top_mm - lo_mm);
  return d.distance_mm - 0.5 * (motion.travel_out + motion.swing) - motion.bend - falls <= 1e-6;
}

struct Removed {
  double lo, hi;
  std::int32_t sweep;
};

// Takes the removed parts away from the material and finds the highest rest.
void Subtract(std::vector<Removed>& parts, RayDepth& depth) {
  if (parts.empty()) return;
  std::sort(parts.begin(), parts.end(), [](const Removed& a, const Removed& b) {
    return a.hi != b.hi ? a.hi > b.hi : a.sweep < b.sweep;
  });
  constexpr double kJoined_mm = 1e-7;   // slivers thinner than this are rounding
  depth.touched = true;
  double top = depth.stock_top_mm;
  auto part = parts.begin();
  for (; part != parts.end() && part->hi >= top - kJoined_mm; ++part) {
    if (part->lo >= top) continue;
    top = part->lo;
    depth.sweep = part->sweep;
  }
  depth.hollow.reset();
  for (; part != parts.end(); ++part) {   // from here on material stands above
    if (!depth.hollow) depth.hollow = RayHollow{part->hi, part->lo, part->sweep};
    if (part->lo >= depth.hollow->bottom_mm) continue;
    depth.hollow->bottom_mm = part->lo;
    depth.hollow->sweep = part->sweep;
  }
  if (depth.sweep < 0) depth.sweep = parts.front().sweep;
  depth.cut_through = top <= depth.bottom_mm + kJoined_mm;
  depth.top_mm = depth.cut_through ? depth.bottom_mm : top;
}

// Rays in the same small cell share their candidate sweeps.
struct RayCells {
  CellGrid grid;
  double reach_mm = 0.0;
  std::vector<std::vector<std::int32_t>> rays;   // per cell
};

// The stretch of a ray that is looked at, and its middle.
struct Piece {
  double lo, hi;
  Vector3d middle;
  double half() const { return 0.5 * (hi - lo); }
};

class RayCutter {
 public:
  RayCutter(const ToolTrack& track, const std::vector<DepthRay>& rays,
            std::vector<RayDepth>& depths, int threads)
      : track_(track), rays_(rays), depths_(depths), threads_(threads) {}

  // Cuts the named rays, following each down to `below_mm` under its sample.
  void Cut(const std::vector<std::int32_t>& which, double below_mm);

 private:
  Piece PieceOf(std::int32_t ray, double below_mm) const;
  RayCells Sort(const std::vector<std::int32_t>& which, double below_mm) const;
  void CutAlike(const std::vector<std::int32_t>& which, double below_mm);
  void CutCell(const std::vector<std::int32_t>& members, const std::int32_t* first,
               const std::int32_t* last, double below_mm);
  RayBundle BundleOf(const std::vector<std::int32_t>& members, double below_mm) const;

  const ToolTrack& track_;
  const std::vector<DepthRay>& rays_;
  std::vector<RayDepth>& depths_;
  int threads_;
};

Piece RayCutter::PieceOf(std::int32_t ray, double below_mm) const {
  const DepthRay& r = rays_[static_cast<std::size_t>(ray)];
  const RayDepth& depth = depths_[static_cast<std::size_t>(ray)];
  Piece piece{std::max(depth.bottom_mm, -below_mm), depth.stock_top_mm, {}};
  piece.middle = r.p_SQ + 0.5 * (piece.lo + piece.hi) * r.up_S;
  return piece;
}

RayCells RayCutter::Sort(const std::vector<std::int32_t>& which, double below_mm) const {
  RayCells cells;
  Eigen::AlignedBox3d box;
  double half = 0.0;
  for (const std::int32_t i : which) {
    const Piece piece = PieceOf(i, below_mm);
    box.extend(piece.middle);
    half = std::max(half, piece.half());
  }
  double pitch = std::max(kCell_mm, half);
  const auto count = [&](double p) { return Eigen::Array3d((box.sizes() / p).array().floor() + 1.0); };
  while (count(pitch).prod() > 4e6) pitch *= 1.25;
  cells.grid.pitch_mm = pitch;
  cells.grid.zero_centre_S = box.min().array() + 0.5 * pitch;
  cells.grid.count = count(pitch).cast<int>();
  // Nothing that removes a part of such a ray lies farther from its cell.
  cells.reach_mm = 0.5 * std::sqrt(3.0) * pitch + half;
  cells.rays.resize(static_cast<std::size_t>(cells.grid.size()));
  for (const std::int32_t i : which) {
    const Vector3d in = (PieceOf(i, below_mm).middle - box.min()) / pitch;
    const Eigen::Vector3i at = in.array().floor().cast<int>().min(cells.grid.count.array() - 1);
    cells.rays[static_cast<std::size_t>(cells.grid.IndexOf(at))].push_back(i);
  }
  return cells;
}

RayBundle RayCutter::BundleOf(const std::vector<std::int32_t>& members, double below_mm) const {
  RayBundle bundle;
  for (const std::int32_t i : members) bundle.up += rays_[static_cast<std::size_t>(i)].up_S;
  bundle.up = bundle.up.norm() > 1e-9 ? Vector3d(bundle.up.normalized()) : Vector3d::UnitZ();
  for (const std::int32_t i : members) {
    const DepthRay& ray = rays_[static_cast<std::size_t>(i)];
    const bool ahead = ray.up_S.dot(bundle.up) > 0.0;
    bundle.spread = std::max(bundle.spread, ahead ? ray.up_S.cross(bundle.up).norm() : 1.0);
    const Piece piece = PieceOf(i, below_mm);
    for (const double tau : {piece.lo, piece.hi}) {
      bundle.top = std::max(bundle.top, (ray.p_SQ + tau * ray.up_S).dot(bundle.up));
    }
  }
  return bundle;
}

void RayCutter::CutCell(const std::vector<std::int32_t>& members, const std::int32_t* first,
                        const std::int32_t* last, double below_mm) {
  if (members.empty() || first == last) return;
  const RayBundle bundle = BundleOf(members, below_mm);
  Candidates candidates;
  candidates.origin = rays_[static_cast<std::size_t>(members.front())].p_SQ;
  for (const std::int32_t* s = first; s != last; ++s) {
    const auto& info = track_.sweeps[static_cast<std::size_t>(*s)];
    const auto& cutter = track_.tools[static_cast<std::size_t>(info.tool)].cutter;
    for (int n = 0; n < static_cast<int>(cutter.strings().size()); ++n) {
      AddString(MakeStringSweep(track_, *s, n), *s, bundle, candidates);
    }
    for (int n = 0; n < static_cast<int>(cutter.profiles().size()); ++n) {
      const ProfileSweep whole = MakeProfileSweep(track_, *s, n);
      for (const ProfileSweep& span : CutIntoSpans(whole, SpansWithin(whole, kRaySlack_mm))) AddProfile(span, *s, bundle, candidates);
    }
  }
  std::vector<Removed> parts;
  for (const std::int32_t i : members) {
    const DepthRay& ray = rays_[static_cast<std::size_t>(i)];
    const Piece piece = PieceOf(i, below_mm);
    parts.clear();
    MarkNear(ray, candidates);
    // What is gone from the top down so far: a part that stays above that is idle.
    double top = piece.hi;
    const auto look = [&](std::size_t n) {
      const bool lowers = std::visit([&](const auto& s) { return MayLower(s, ray, piece.lo, top); }, candidates.parts[n]);
      if (!lowers && !parts.empty()) return;
      const LinePart part = std::visit([&](const auto& s) { return Clip(s, ray, piece.lo, piece.hi); }, candidates.parts[n]);
      if (!(part.hi > part.lo)) return;
      parts.push_back({part.lo, part.hi, candidates.sweeps[n]});
      if (part.hi >= top) top = std::min(top, part.lo);
    };
    // The one that passes nearest first: it most likely leaves the others idle.
    if (candidates.nearest) look(*candidates.nearest);
    for (std::size_t n = 0; n < candidates.near.size(); ++n) {
      if (candidates.near[n] && n != candidates.nearest) look(n);
    }
    Subtract(parts, depths_[static_cast<std::size_t>(i)]);
  }
}

// Rays of like length go together: one long ray must not make all the others
// look at every sweep within its own length.
void RayCutter::Cut(const std::vector<std::int32_t>& which, double below_mm) {
  std::vector<std::vector<std::int32_t>> alike;
  for (const std::int32_t i : which) {
    const Piece piece = PieceOf(i, below_mm);
    if (!(piece.half() > 0.0)) continue;
    std::size_t size_class = 0;
    for (double half = kCell_mm; half < piece.half(); half *= 1.5) ++size_class;
    if (alike.size() <= size_class) alike.resize(size_class + 1);
    alike[size_class].push_back(i);
  }
  for (const auto& rays : alike) {
    if (!rays.empty()) CutAlike(rays, below_mm);
  }
}

void RayCutter::CutAlike(const std::vector<std::int32_t>& which, double below_mm) {
  const RayCells cells = Sort(which, below_mm);
  if (track_.sweeps.empty()) return;
  std::vector<std::uint8_t> wanted(cells.rays.size());
  for (std::size_t c = 0; c < wanted.size(); ++c) wanted[c] = cells.rays[c].empty() ? 0 : 1;
  BinRequest request;
  request.track = &track_;
  request.grid = cells.grid;
  request.reach_mm = cells.reach_mm;
  request.wanted = &wanted;
  request.threads = threads_;
  const SweepBins bins = BinSweeps(request);
  tbb::task_arena arena(threads_);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, cells.rays.size(), [&](std::size_t c) {
      const std::int32_t* all = bins.sweeps.data();
      CutCell(cells.rays[c], all + bins.begin[c], all + bins.begin[c + 1], below_mm);
    });
  });
}

}  // namespace

std::vector<RayDepth> CutRays(const MeshIndex& solid_S, const ToolTrack& track,
                              const std::vector<DepthRay>& rays, double slack_mm, int threads) {
  std::vector<RayDepth> depths(rays.size());
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, rays.size(), [&](std::size_t i) {
      depths[i] = StartOf(solid_S, rays[i], slack_mm);
    });
  });
  RayCutter cutter(track, rays, depths, threads);
  std::vector<std::int32_t> all, deep;
  for (std::size_t i = 0; i < rays.size(); ++i) {
    if (depths[i].has_material) all.push_back(static_cast<std::int32_t>(i));
  }
  cutter.Cut(all, kFirstLook_mm);
  for (const std::int32_t i : all) {
    RayDepth& depth = depths[static_cast<std::size_t>(i)];
    if (!depth.touched || depth.top_mm > -kFirstLook_mm + 1e-6) continue;
    depth.top_mm = depth.stock_top_mm;
    depth.touched = depth.cut_through = false;
    depth.sweep = -1;
    deep.push_back(i);
  }
  cutter.Cut(deep, kBelow_mm);
  return depths;
}

}  // namespace aircut::sim
