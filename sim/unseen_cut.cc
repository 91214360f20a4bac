#include "sim/unseen_cut.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr int kRings = 12;
constexpr int kRingPoints = 16;
constexpr double kStep_mm = 1.0;
constexpr double kPi = 3.14159265358979323846;

// Radius of the envelope at a height; negative where there is none.
double RadiusAt(const Cutter& cutter, double height_mm) {
  const auto inside = [&](double rho) { return cutter.SignedDistance({rho, 0.0, height_mm}) <= 1e-9; };
  if (!inside(0.0)) return -1.0;
  double low = 0.0, high = cutter.radius_mm() + 1e-6;
  for (int i = 0; i < 40; ++i) {
    const double middle = 0.5 * (low + high);
    (inside(middle) ? low : high) = middle;
  }
  return low;
}

// Points of the envelope in T, rings closer together near the tip.
std::vector<Vector3d> EnvelopePoints(const Cutter& cutter) {
  std::vector<Vector3d> points = {Vector3d::Zero()};
  for (int ring = 1; ring <= kRings; ++ring) {
    const double height = cutter.flute_length_mm() * ring * ring / (1.0 * kRings * kRings);
    const double radius = RadiusAt(cutter, height);
    for (int n = 0; n < kRingPoints && radius > 0.0; ++n) {
      const double turn = 2.0 * kPi * n / kRingPoints;
      points.emplace_back(radius * std::cos(turn), radius * std::sin(turn), height);
    }
  }
  return points;
}

struct Entry {
  double below_mm = 0.0;
  Vector3d at_S = Vector3d::Zero();
};
using Entries = std::array<Entry, 4>;

class Follower {
 public:
  Follower(const StockFaces& faces, const ScanSpace& space, const ToolTrack& track)
      : faces_(faces), space_(space), track_(track) {
    for (const TrackTool& tool : track.tools) points_T_.push_back(EnvelopePoints(tool.cutter));
  }

  void Follow(UnseenCut& cut) const {
    for (std::size_t i = 0; i < track_.sweeps.size(); ++i) {
      if (track_.sweeps[i].swap) continue;
      const double way = (track_.p_ST[i + 1] - track_.p_ST[i]).norm();
      const int steps = 1 + static_cast<int>(way / kStep_mm);
      for (int n = 1; n <= steps; ++n) Note(i, static_cast<double>(n) / steps, way / steps, cut);
    }
  }

 private:
  Entries EntriesAt(std::size_t sweep, double t) const {
    Entries entries;
    const Vector3d tip = track_.p_ST[sweep] + t * (track_.p_ST[sweep + 1] - track_.p_ST[sweep]);
    const Vector3d axis = ((1.0 - t) * track_.axis_S[sweep] + t * track_.axis_S[sweep + 1]).normalized();
    const auto tool = static_cast<std::size_t>(track_.sweeps[sweep].tool);
    if (space_.HeightOf(tip) - 2.0 * track_.tools[tool].cutter.radius_mm() > space_.highest_mm()) return entries;
    const Vector3d x = axis.unitOrthogonal(), y = axis.cross(x);
    for (const Vector3d& p_T : points_T_[tool]) {
      const Vector3d p_S = tip + p_T.x() * x + p_T.y() * y + p_T.z() * axis;
      if (space_.HeightOf(p_S) > space_.highest_mm()) continue;
      const ScanSpace::View view = space_.At(p_S);
      Entry& entry = entries[static_cast<std::size_t>(view.seen)];
      if (view.below_mm > entry.below_mm) entry = {view.below_mm, p_S};
    }
    return entries;
  }

  void Note(std::size_t sweep, double t, double way_mm, UnseenCut& cut) const {
    const Entries entries = EntriesAt(sweep, t);
    for (const Seen seen : {Seen::kUnderHole, Seen::kBeside, Seen::kBehind}) {
      if (seen == Seen::kBeside && faces_.ends_at_rim) continue;
      const Entry& entry = entries[static_cast<std::size_t>(seen)];
      if (!(entry.below_mm > kUnseenTouch_mm)) continue;
      UnseenShare& share = cut.shares[static_cast<std::size_t>(seen)];
      share.travel_mm += way_mm;
      const int line = track_.sweeps[sweep].line;
      if (line > 0 && (share.first_line == 0 || line < share.first_line)) share.first_line = line;
      share.last_line = std::max(share.last_line, line);
      if (entry.below_mm <= share.deepest_mm) continue;
      share.deepest_mm = entry.below_mm;
      share.at_S = entry.at_S;
      share.time_s = track_.time_s[sweep] + t * (track_.time_s[sweep + 1] - track_.time_s[sweep]);
    }
  }

  const StockFaces& faces_;
  const ScanSpace& space_;
  const ToolTrack& track_;
  std::vector<std::vector<Vector3d>> points_T_;   // per tool
};

// Voxels taken away, by the kind of space that they lay in.
void CountRemoved(const ScanSpace& space, const Stock& stock, UnseenCut& cut) {
  std::array<std::int64_t, 4> voxels{};
  for (const Brick& brick : stock.bricks) {
    const Eigen::Vector3i first = kBrickEdge * brick.at;
    for (int n = 0; n < kBrickVoxels; ++n) {
      if (brick.remover[static_cast<std::size_t>(n)] == kNotRemoved) continue;
      const Vector3d centre_S = stock.lattice.Centre(first.x() + n % kBrickEdge, first.y() + n / kBrickEdge % kBrickEdge,
                                                     first.z() + n / (kBrickEdge * kBrickEdge));
      ++voxels[static_cast<std::size_t>(space.At(centre_S).seen)];
    }
  }
  const double voxel_mm3 = std::pow(stock.lattice.voxel_mm, 3);
  for (const Seen seen : {Seen::kUnderHole, Seen::kBeside, Seen::kBehind}) {
    const auto k = static_cast<std::size_t>(seen);
    cut.shares[k].removed_mm3 = static_cast<double>(voxels[k]) * voxel_mm3;
  }
}

}  // namespace

UnseenCut FindUnseenCut(const StockFaces& faces, const Stock& cut, const ToolTrack& track) {
  if (!faces.back) throw std::invalid_argument("FindUnseenCut: the stock is not made of an open scan");
  const ScanSpace space(cut.solid_S->mesh(), faces.origin, *faces.back);
  UnseenCut unseen;
  Follower(faces, space, track).Follow(unseen);
  CountRemoved(space, cut, unseen);
  return unseen;
}

}  // namespace aircut::sim
