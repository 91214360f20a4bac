#include "sim/ray_cell.h"

#include <algorithm>
#include <cmath>

#include "sim/ray_kernel.h"
#include "sim/ray_parts.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// A group of rays this small, or with so few parts near it, is not split further.
constexpr std::ptrdiff_t kFewRays = 8;
constexpr std::size_t kFewParts = 4;
// The same where all rays are clipped in step: a part more costs them less than a look
// at a smaller group.
constexpr std::ptrdiff_t kFewRaysInStep = 128;
constexpr double kRounding_mm = 1e-6;

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

// What the rays of one cell have in common: axes with z along their mean direction.
struct RayFrame {
  Vector3d origin = Vector3d::Zero(), e1 = Vector3d::UnitX(), e2 = Vector3d::UnitY(), up = Vector3d::UnitZ();
  double spread = 0.0;   // largest sine between up and any ray
  double top = -1e30;    // highest end of a ray, over the origin
  Vector3d In(const Vector3d& p) const { return {e1.dot(p - origin), e2.dot(p - origin), up.dot(p - origin)}; }
};

Vector3d EndOf(const CellRay& r, double tau) { return r.ray->p_SQ + tau * r.ray->up_S; }

RayFrame FrameOf(const std::vector<CellRay>& rays) {
  RayFrame frame;
  frame.origin = rays.front().ray->p_SQ;
  Vector3d sum = Vector3d::Zero();
  for (const CellRay& r : rays) sum += r.ray->up_S;
  frame.up = sum.norm() > 1e-9 ? Vector3d(sum.normalized()) : Vector3d::UnitZ();
  frame.e1 = frame.up.unitOrthogonal();
  frame.e2 = frame.up.cross(frame.e1);
  for (const CellRay& r : rays) {
    const bool ahead = r.ray->up_S.dot(frame.up) > 0.0;
    frame.spread = std::max(frame.spread, ahead ? r.ray->up_S.cross(frame.up).norm() : 1.0);
    for (const double tau : {r.lo_mm, r.depth->stock_top_mm}) frame.top = std::max(frame.top, frame.In(EndOf(r, tau)).z());
  }
  return frame;
}

// Parts of the sweeps near a cell: for each the middle of its lowest point's travel,
// and how far beside it, square to the rays, it may still remove some of a ray.
struct Candidates {
  std::vector<std::int32_t> sweeps;
  std::vector<PartSweep> parts;
  std::vector<double> x, y, z, reach2;   // in the rays' frame
  std::vector<CapsuleMove> capsules;     // per part: its lowest ball; of a profile nothing
  void Add(const PartSweep& part, std::int32_t sweep, const Vector3d& middle, double reach_mm) {
    const double reach = reach_mm + kRounding_mm;
    sweeps.push_back(sweep);
    parts.push_back(part);
    x.push_back(middle.x());
    y.push_back(middle.y());
    z.push_back(middle.z());
    reach2.push_back(reach * reach);
    capsules.push_back({});
  }
};

CapsuleMove LowestBall(const StringSweep& s, std::int32_t sweep, const Vector3d& origin) {
  CapsuleMove move;
  for (int d = 0; d < 3; ++d) {
    move.a[d] = s.a[d] - origin[d];
    move.v[d] = s.v[d];
  }
  move.vv = s.v.squaredNorm();
  move.inv_vv = move.vv > 0.0 ? 1.0 / move.vv : 0.0;
  move.r2 = s.r0 * s.r0;
  move.sweep = sweep;
  return move;
}

// How far a part leans from the rays at most, as a sine.
double LeanOf(double rise, const RayFrame& frame) {
  return std::min(1.0, std::sqrt(std::max(0.0, 1.0 - rise * rise)) + frame.spread);
}

void AddString(const StringSweep& s, std::int32_t sweep, const RayFrame& frame, Candidates& to) {
  const Vector3d middle = frame.In(s.a + 0.5 * s.v);
  const double half_travel = 0.5 * s.v.norm() + s.w.norm();
  const double length = s.u.norm(), r_most = std::max(s.r0, s.r0 + s.dr);
  const double rise = length > 0.0 ? s.u.dot(frame.up) / length : 1.0;
  // How far up the string a ball can still reach down to a ray's piece.
  const double steep = rise - frame.spread;
  double used = length;
  if (steep > 0.5) used = std::clamp((frame.top - middle.z() + half_travel + r_most) / steep, 0.0, length);
  const double r = length > 0.0 ? std::max(s.r0, s.r0 + s.dr * used / length) : s.r0;
  to.Add(s, sweep, middle - Vector3d(0, 0, s.r0), r + half_travel + LeanOf(rise, frame) * used);
  to.capsules.back() = LowestBall(s, sweep, frame.origin);
}

// The same for a profile, whose heights are those of the tool: a part that begins
// above all that a ray's piece holds is left out.
void AddProfile(const ProfileSweep& s, std::int32_t sweep, const RayFrame& frame, Candidates& to) {
  const Vector3d middle = frame.In(s.tip + 0.5 * s.travel), axis = (s.axis + 0.5 * s.turn).normalized();
  const ConvexProfile& profile = *s.profile;
  const double moved = 0.5 * (s.travel.norm() + profile.far_mm * s.turn.norm());
  const double rise = axis.dot(frame.up), lean = LeanOf(rise, frame);
  const double steep = rise - frame.spread;
  double used = profile.z1_mm;
  if (steep > 0.5) {
    // A disc at height z has its lowest point lean * r below its centre.
    used = std::min(used, (frame.top - middle.z() + moved + profile.radius_mm * lean) / steep);
  }
  if (used < profile.z0_mm) return;
  to.Add(s, sweep, middle + Vector3d(0, 0, profile.z0_mm), profile.WidestBelow(used) + moved + lean * std::max(used, 0.0));
}

Candidates CandidatesOf(const NearSweeps& sweeps, const RayFrame& frame) {
  Candidates candidates;
  for (const std::int32_t* s = sweeps.first; s != sweeps.last; ++s) {
    const auto& info = sweeps.track->sweeps[static_cast<std::size_t>(*s)];
    const auto& cutter = sweeps.track->tools[static_cast<std::size_t>(info.tool)].cutter;
    for (int n = 0; n < static_cast<int>(cutter.strings().size()); ++n) {
      AddString(MakeStringSweep(*sweeps.track, *s, n), *s, frame, candidates);
    }
    for (int n = 0; n < static_cast<int>(cutter.profiles().size()); ++n) {
      const ProfileSweep whole = MakeProfileSweep(*sweeps.track, *s, n);
      for (const ProfileSweep& span : CutIntoSpans(whole, SpansWithin(whole, kRaySlack_mm))) AddProfile(span, *s, frame, candidates);
    }
  }
  return candidates;
}

// Cuts one cell's rays, group by group.
class GroupCutter {
 public:
  GroupCutter(const NearSweeps& sweeps, const RayFrame& frame) : frame_(frame), all_(CandidatesOf(sweeps, frame)) {}

  struct Place {
    Eigen::AlignedBox3d box;   // of both ends of the ray, in the frame
    const CellRay* ray;
  };
  using Parts = std::vector<std::uint32_t>;

  // @param open_mm height in the frame above which nothing is left of any ray.
  void Cut(Place* first, Place* last, const Parts& parts, double open_mm);
  Parts All() const;

 private:
  RayBox Around(const Eigen::AlignedBox3d& box, double top_mm) const;
  Parts Beside(const Eigen::AlignedBox3d& box, const Parts& parts) const;
  double Shortfall(std::uint32_t n, const Eigen::AlignedBox3d& box, double top_mm) const;
  void PutLowestFirst(const Eigen::AlignedBox3d& box, double top_mm, Parts& parts) const;
  bool AreCapsules(const Eigen::AlignedBox3d& box, const Parts& parts) const;
  void CutRay(const Place& place, const Parts& parts);
  void CutInStep(const Place* first, const Place* last, const Parts& parts);

  const RayFrame& frame_;
  const RayKernel& kernel_ = ChooseRayKernel();
  Candidates all_;
  std::vector<Removed> removed_;   // scratch: of one ray
  RayLanes lanes_;                 // scratch: of the rays in step
};

GroupCutter::Parts GroupCutter::All() const {
  Parts parts(all_.sweeps.size());
  for (std::size_t n = 0; n < parts.size(); ++n) parts[n] = static_cast<std::uint32_t>(n);
  return parts;
}

RayBox GroupCutter::Around(const Eigen::AlignedBox3d& box, double top_mm) const {
  const Vector3d middle = box.center(), half = 0.5 * box.sizes() + Vector3d::Constant(kRounding_mm);
  RayBox around;
  around.top = frame_.origin + middle.x() * frame_.e1 + middle.y() * frame_.e2 + (top_mm + kRounding_mm) * frame_.up;
  around.down = (box.min().z() - top_mm - 2.0 * kRounding_mm) * frame_.up;
  around.half_1 = half.x() * frame_.e1;
  around.half_2 = half.y() * frame_.e2;
  return around;
}

// Parts that come near enough to the box, seen along the rays.
GroupCutter::Parts GroupCutter::Beside(const Eigen::AlignedBox3d& box, const Parts& parts) const {
  const Vector3d middle = box.center(), half = 0.5 * box.sizes();
  Parts near;
  near.reserve(parts.size());
  for (const std::uint32_t n : parts) {
    const double x = std::max(0.0, std::abs(all_.x[n] - middle.x()) - half.x());
    const double y = std::max(0.0, std::abs(all_.y[n] - middle.y()) - half.y());
    if (x * x + y * y <= all_.reach2[n]) near.push_back(n);
  }
  return near;
}

// Least for the part that most likely fills a box farthest below `top_mm`: a guess, for
// the order only.
double GroupCutter::Shortfall(std::uint32_t n, const Eigen::AlignedBox3d& box, double top_mm) const {
  if (const auto* profile = std::get_if<ProfileSweep>(&all_.parts[n])) {
    const RayBox around = Around(box, top_mm);
    double most = -1e300;
    for (const double side_1 : {-1.0, 1.0}) {
      for (const double side_2 : {-1.0, 1.0}) {
        const Vector3d corner = around.top + side_1 * around.half_1 + side_2 * around.half_2;
        most = std::max(most, DistanceAtTime(*profile, corner, 0.5).distance_mm);
      }
    }
    return top_mm + most;
  }
  const double x = all_.x[n] - box.center().x(), y = all_.y[n] - box.center().y();
  return all_.z[n] + std::sqrt(x * x + y * y);
}

// The part that most likely cuts lowest comes first.
void GroupCutter::PutLowestFirst(const Eigen::AlignedBox3d& box, double top_mm, Parts& parts) const {
  std::size_t best = 0;
  double least = 1e300;
  for (std::size_t n = 0; n < parts.size(); ++n) {
    const double height = Shortfall(parts[n], box, top_mm);
    if (height < least) least = height, best = n;
  }
  std::swap(parts.front(), parts[best]);
}

void GroupCutter::CutRay(const Place& place, const Parts& parts) {
  const CellRay& r = *place.ray;
  removed_.clear();
  // What is gone from the top down so far: a part that stays above that is idle.
  double top = r.depth->stock_top_mm;
  const auto look = [&](std::uint32_t n) {
    if (!MayReach(all_.parts[n], BoxOf(*r.ray, r.lo_mm, top))) return;
    const LinePart part = ClipRay(all_.parts[n], *r.ray, r.lo_mm, r.depth->stock_top_mm);
    if (!(part.hi > part.lo)) return;
    removed_.push_back({part.lo, part.hi, all_.sweeps[n]});
    if (part.hi >= top) top = std::min(top, part.lo);
  };
  for (const std::uint32_t n : parts) look(n);
  Subtract(removed_, *r.depth);
}

// Whether each part removes nothing in the box but with its lowest ball.
bool GroupCutter::AreCapsules(const Eigen::AlignedBox3d& box, const Parts& parts) const {
  const RayBox whole = Around(box, box.max().z());
  return std::all_of(parts.begin(), parts.end(), [&](std::uint32_t n) { return OnlyLowestBall(all_.parts[n], whole); });
}

// A few rays at once, by capsules alone. A ray with a hollow is cut once more by itself.
void GroupCutter::CutInStep(const Place* first, const Place* last, const Parts& parts) {
  const auto set = [](double* x, double* y, double* z, const Vector3d& v) { *x = v.x(), *y = v.y(), *z = v.z(); };
  const int rays = static_cast<int>(last - first);
  for (int l = 0; l < kRayLanes; ++l) {
    const CellRay& r = *first[l < rays ? l : 0].ray;
    set(&lanes_.x[l], &lanes_.y[l], &lanes_.z[l], r.ray->p_SQ - frame_.origin);
    set(&lanes_.dx[l], &lanes_.dy[l], &lanes_.dz[l], r.ray->up_S);
    lanes_.lo[l] = r.lo_mm;
    lanes_.hi[l] = r.depth->stock_top_mm;
  }
  kernel_.clip(lanes_, all_.capsules.data(), parts.data(), static_cast<int>(parts.size()));
  for (int l = 0; l < rays; ++l) {
    RayDepth& depth = *first[l].ray->depth;
    if (lanes_.loose[l] < lanes_.top[l]) {
      CutRay(first[l], parts);
    } else if (lanes_.best[l] != kNoSweep) {
      depth.touched = true;
      depth.sweep = static_cast<int>(lanes_.best[l]);
      depth.cut_through = lanes_.top[l] <= depth.bottom_mm + kJoined_mm;
      depth.top_mm = depth.cut_through ? depth.bottom_mm : lanes_.top[l];
    }
  }
}

void GroupCutter::Cut(Place* first, Place* last, const Parts& parts, double open_mm) {
  Eigen::AlignedBox3d box;
  for (const Place* p = first; p != last; ++p) box.extend(p->box);
  Parts near = Beside(box, parts);
  if (near.empty()) return;
  PutLowestFirst(box, std::min(open_mm, box.max().z()), near);
  const double filled = FilledDepth(all_.parts[near.front()], Around(box, box.max().z()));
  open_mm = std::min(open_mm, box.max().z() - std::max(0.0, filled));
  const RayBox rest = Around(box, std::max(open_mm, box.min().z()));
  near.erase(std::remove_if(near.begin(), near.end(), [&](std::uint32_t n) { return !MayReach(all_.parts[n], rest); }), near.end());
  if (near.empty()) return;
  const bool few_parts = near.size() <= kFewParts;
  if ((few_parts || last - first <= kFewRaysInStep) && AreCapsules(box, near)) {
    for (; last - first > kRayLanes; first += kRayLanes) CutInStep(first, first + kRayLanes, near);
    CutInStep(first, last, near);
    return;
  }
  const int wide = box.sizes().x() >= box.sizes().y() ? 0 : 1;
  const double middle = box.center()[wide];
  Place* split = first;
  if (last - first > kFewRays && !few_parts) {
    split = std::partition(first, last, [&](const Place& p) { return p.box.center()[wide] < middle; });
  }
  if (split == first || split == last) {
    for (const Place* p = first; p != last; ++p) CutRay(*p, near);
    return;
  }
  Cut(first, split, near, open_mm);
  Cut(split, last, near, open_mm);
}

}  // namespace

void CutCell(std::vector<CellRay> rays, const NearSweeps& sweeps) {
  if (rays.empty() || sweeps.first == sweeps.last) return;
  const RayFrame frame = FrameOf(rays);
  GroupCutter cutter(sweeps, frame);
  std::vector<GroupCutter::Place> places;
  for (const CellRay& r : rays) {
    Eigen::AlignedBox3d box(frame.In(EndOf(r, r.lo_mm)));
    box.extend(frame.In(EndOf(r, r.depth->stock_top_mm)));
    places.push_back({box, &r});
  }
  cutter.Cut(places.data(), places.data() + places.size(), cutter.All(), 1e30);
}

}  // namespace aircut::sim
