#include "sim/cutting_load.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/contact_settling.h"
#include "sim/edge_sums.h"
#include "sim/turn_force.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

constexpr double kFullTurn = 6.28318530717958647692;
constexpr double kSameWay = 0.985;       // cosine of 10 degrees
constexpr std::size_t kMostBeside = 32;  // sweeps of one window on either side
constexpr double kAtRest_mm = 1e-9;
// Where more is removed than this many times what heights and arc allow, the arc was
// seen too small: all of the side that goes ahead counts.
constexpr double kArcTooSmall = 2.0;

// Travel of the axis' point at a height above the tip, over one sweep.
struct SweepTravel {
  Vector3d tip, turn;
  double seconds = 0;
  Vector3d At(double z_mm) const { return tip + z_mm * turn; }
};

SweepTravel TravelOf(const ToolTrack& track, std::size_t i) {
  return {track.p_ST[i + 1] - track.p_ST[i], track.axis_S[i + 1] - track.axis_S[i],
          track.time_s[i + 1] - track.time_s[i]};
}

// What the contact record saw about one sweep, over a travel of about two voxels.
struct Window {
  double removed_mm3 = 0, travel_mm = 0, low_mm = 1e30, high_mm = 0, radius_mm = 0;
  std::uint32_t arc = 0;

  void Add(const ContactRecord& record, std::size_t i, double length_mm) {
    const SweepContact& c = record.sweeps[i];
    travel_mm += length_mm;
    removed_mm3 += record.VolumeOf(c);
    if (!c.cuts()) return;
    low_mm = std::min(low_mm, static_cast<double>(c.axial_low_mm));
    high_mm = std::max(high_mm, static_cast<double>(c.axial_mm));
    radius_mm = std::max(radius_mm, static_cast<double>(c.radial_mm));
    arc |= c.arc;
  }
};

class LoadOfSweeps {
 public:
  explicit LoadOfSweeps(const CuttingLoadTask& task, const CutChange& change = {})
      : task_(task), track_(task.track), change_(change) {}

  bool InModel(std::size_t i) const {
    const SweepInfo& info = track_.sweeps[i];
    const SweepTravel travel = TravelOf(track_, i);
    return !info.rapid && !info.swap && task_.rates.rpm[i] > 0.0 && travel.seconds > 0.0 &&
           std::max(travel.tip.norm(), Middle(i).norm()) > kAtRest_mm;
  }

  // @returns false where no chip can be: the record and the way do not go together.
  bool Fill(SweepLoad& load) const {
    const auto i = static_cast<std::size_t>(load.sweep);
    const Window window = WindowAbout(i);
    SweepTravel travel = TravelOf(track_, i);
    travel.seconds /= change_.feed;
    const CutterOutline& outline = ToolOf(i).cutter.outline();
    const CuttingTool& edges = task_.rates.tools[static_cast<std::size_t>(track_.sweeps[i].tool)];
    const double teeth_s = task_.rates.rpm[i] * edges.flutes / 60.0;
    const Frame frame(track_.axis_S[i], travel.tip);
    Engaged at = EngagedBy(window, travel, frame, teeth_s);
    const double removed_mm3 = RemovedPerTooth_mm3(window, travel, teeth_s);
    at.sums = SumEdges(outline, at.edge);
    if (!(removed_mm3 <= kArcTooSmall * at.sums.tooth_mm3)) {
      at.edge.TakeArc(~std::uint32_t{0});
      at.sums = SumEdges(outline, at.edge);
    }
    if (!(at.sums.tooth_mm3 > 0.0)) return false;
    const double share = removed_mm3 / at.sums.tooth_mm3;
    if (change_.depth != 1.0) TakeDepth(outline, at);
    TellCut(at, window, load);
    load.feed_mm_s = static_cast<float>(travel.tip.norm() / travel.seconds);
    load.rpm = static_cast<float>(task_.rates.rpm[i]);
    load.feed_per_tooth_mm = static_cast<float>(load.feed_mm_s / teeth_s);
    load.removed_mm3_s = static_cast<float>(share * at.sums.tooth_mm3 * teeth_s);
    load.share = static_cast<float>(share);
    load.chip_bound_mm = static_cast<float>(ChipBound_mm(outline, at.edge));
    if (task_.force) TellForce(at.sums, frame, edges, load);
    return true;
  }

 private:
  // Ahead, to the left as seen from the spindle, and up the axis, as sectors are counted.
  struct Frame {
    Frame(const Vector3d& axis_S, const Vector3d& travel_S) : up(axis_S) {
      const Vector3d across = travel_S - travel_S.dot(axis_S) * axis_S;
      ahead = across.squaredNorm() > 1e-12 ? Vector3d(across.normalized()) : axis_S.unitOrthogonal();
      left = up.cross(ahead);
    }
    Vector3d Of(const Vector3d& v_S) const { return {v_S.dot(ahead), v_S.dot(left), v_S.dot(up)}; }
    Vector3d ToS(const Vector3d& v) const { return v.x() * ahead + v.y() * left + v.z() * up; }
    Vector3d ahead, left, up;
  };

  struct Engaged {
    EdgeEngagement edge;
    EdgeSums sums;
  };

  const TrackTool& ToolOf(std::size_t i) const { return track_.tools[static_cast<std::size_t>(track_.sweeps[i].tool)]; }

  // Heights and arc of a window; its sums are still to be made.
  Engaged EngagedBy(const Window& window, const SweepTravel& travel, const Frame& frame, double teeth_s) const {
    Engaged at;
    // A voxel's centre stands for half a voxel to either side.
    at.edge.low_mm = std::max(0.0, window.low_mm - 0.5 * task_.contacts.voxel_mm);
    at.edge.high_mm = std::max(window.high_mm, at.edge.low_mm + 1e-3);
    at.edge.travel_mm = frame.Of(travel.tip) / (travel.seconds * teeth_s);
    at.edge.turn = frame.Of(travel.turn) / (travel.seconds * teeth_s);
    at.edge.TakeArc(window.arc);
    return at;
  }

  void TakeDepth(const CutterOutline& outline, Engaged& at) const {
    at.edge.high_mm = at.edge.low_mm + change_.depth * (at.edge.high_mm - at.edge.low_mm);
    at.sums = SumEdges(outline, at.edge);
  }

  // Travel of the middle of what sweep i engages.
  Vector3d Middle(std::size_t i) const {
    const SweepContact& c = task_.contacts.sweeps[i];
    const double z = c.cuts() ? 0.5 * (std::max(0.0f, c.axial_low_mm) + c.axial_mm) : 0.0;
    return TravelOf(track_, i).At(z);
  }

  bool GoesOn(std::size_t from, std::size_t to) const {
    const SweepInfo &a = track_.sweeps[from], &b = track_.sweeps[to];
    if (a.tool != b.tool || b.rapid || b.swap) return false;
    const Vector3d u = Middle(from), v = Middle(to);
    return u.dot(v) >= kSameWay * u.norm() * v.norm();
  }

  Window WindowAbout(std::size_t i) const {
    Window window;
    window.Add(task_.contacts, i, Middle(i).norm());
    const double enough_mm = 2.0 * task_.contacts.voxel_mm;
    std::size_t first = i, last = i;
    bool back = true, on = true;
    while (window.travel_mm < enough_mm && (back || on)) {
      back = back && first > 0 && i - first < kMostBeside && GoesOn(i, first - 1);
      if (back) window.Add(task_.contacts, first - 1, Middle(first - 1).norm());
      first -= back ? 1 : 0;
      on = on && last + 1 < track_.sweeps.size() && last - i < kMostBeside && GoesOn(i, last + 1);
      if (on) window.Add(task_.contacts, last + 1, Middle(last + 1).norm());
      last += on ? 1 : 0;
    }
    return window;
  }

  double RemovedPerTooth_mm3(const Window& window, const SweepTravel& travel, double teeth_s) const {
    const double z = 0.5 * (std::max(0.0, window.low_mm) + window.high_mm);
    const double speed_mm_s = travel.At(z).norm() / travel.seconds;
    return window.removed_mm3 / window.travel_mm * speed_mm_s / teeth_s;
  }

  // The top of the cut is known to half a voxel.
  double ChipBound_mm(const CutterOutline& outline, const EdgeEngagement& engaged) const {
    const double half = 0.5 * task_.contacts.voxel_mm;
    const double high = std::min(engaged.high_mm + half, outline.height_mm);
    return ThickestChip_mm(outline, engaged, high) -
           ThickestChip_mm(outline, engaged, std::max(engaged.low_mm, engaged.high_mm - half));
  }

  static void TellCut(const Engaged& at, const Window& window, SweepLoad& load) {
    double sectors = 0.0;
    for (const double share : at.edge.sector) sectors += share;
    load.arc_rad = static_cast<float>(sectors * kFullTurn / kArcSectors);
    load.depth_mm = static_cast<float>(at.edge.high_mm - at.edge.low_mm);
    load.radius_mm = static_cast<float>(window.radius_mm);
    load.height_mm = static_cast<float>(at.sums.height_mm);
    load.chip_most_mm = static_cast<float>(at.sums.chip_most_mm);
    load.chip_mean_mm = static_cast<float>(at.sums.chip_mean_mm);
  }

  // The chips' force goes with the volume that is really taken. Of the edges at least
  // that share is engaged, at most all that heights and arc hold.
  void TellForce(const EdgeSums& sums, const Frame& frame, const CuttingTool& tool, SweepLoad& load) const {
    const double chip = load.share, part = std::min(1.0, chip);
    const std::array<double, kBandEnds> edge = {part, part, std::sqrt(part)};
    for (std::size_t b = 0; b < kBandEnds; ++b) {
      const TurnForce turn = ForceOverTurn(sums, task_.force->at[b], {tool.flutes, tool.right_handed}, {chip, edge[b]});
      load.mean_S_n[b] = frame.ToS(turn.mean_n).cast<float>();
      load.peak_S_n[b] = frame.ToS(turn.peak_n).cast<float>();
      load.torque_nm[b] = static_cast<float>(1e-3 * turn.mean_torque_nmm);
      load.torque_peak_nm[b] = static_cast<float>(1e-3 * turn.peak_torque_nmm);
      load.power_w[b] = static_cast<float>(1e-3 * turn.mean_torque_nmm * load.rpm * kFullTurn / 60.0);
    }
  }

  const CuttingLoadTask& task_;
  const ToolTrack& track_;
  CutChange change_;
};

// A tool that draws back through its own groove may graze it: no load to speak of.
bool Bites(const SweepContact& contact) { return contact.bite_mm > kContact_mm; }

void RequireSizes(const CuttingLoadTask& task) {
  const std::size_t count = task.track.sweeps.size();
  if (task.contacts.sweeps.size() != count || task.rates.rpm.size() != count ||
      task.rates.tools.size() != task.track.tools.size()) {
    throw std::invalid_argument("ComputeCuttingLoad: track, contacts and rates must be of one cut");
  }
}

}  // namespace

std::optional<SweepLoad> ChangedLoad(const CuttingLoadTask& task, std::size_t sweep, const CutChange& change) {
  RequireSizes(task);
  const LoadOfSweeps of(task, change);
  if (sweep >= task.track.sweeps.size() || !task.contacts.sweeps[sweep].cuts() || !of.InModel(sweep)) return std::nullopt;
  SweepLoad load;
  load.sweep = static_cast<std::int32_t>(sweep);
  if (!of.Fill(load)) return std::nullopt;
  return load;
}

CuttingLoad ComputeCuttingLoad(const CuttingLoadTask& task) {
  RequireSizes(task);
  const LoadOfSweeps of(task);
  const std::size_t count = task.track.sweeps.size();
  CuttingLoad result;
  result.force = task.force;
  std::vector<SweepLoad> loads;
  for (std::size_t i = 0; i < count; ++i) {
    if (!task.contacts.sweeps[i].cuts()) continue;
    if (!of.InModel(i)) {
      result.beyond_model += Bites(task.contacts.sweeps[i]) ? 1 : 0;
      continue;
    }
    loads.emplace_back();
    loads.back().sweep = static_cast<std::int32_t>(i);
  }
  std::vector<std::uint8_t> filled(loads.size(), 0);
  tbb::task_arena arena(task.threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, loads.size(), [&](std::size_t k) { filled[k] = of.Fill(loads[k]) ? 1 : 0; });
  });
  result.of_sweep.assign(count, -1);
  for (std::size_t k = 0; k < loads.size(); ++k) {
    const auto sweep = static_cast<std::size_t>(loads[k].sweep);
    if (filled[k] == 0) {
      result.beyond_model += Bites(task.contacts.sweeps[sweep]) ? 1 : 0;
      continue;
    }
    result.of_sweep[sweep] = static_cast<std::int32_t>(result.sweeps.size());
    result.sweeps.push_back(loads[k]);
  }
  return result;
}

}  // namespace aircut::sim
