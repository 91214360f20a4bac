#include "kinematics/lattice_search.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

namespace aircut::kinematics {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

using ForbiddenByLine = std::unordered_map<std::size_t, std::vector<ForbiddenNode>>;

ForbiddenByLine ByLine(const std::vector<ForbiddenNode>& forbidden) {
  ForbiddenByLine by_line;
  for (const ForbiddenNode& node : forbidden) by_line[node.line].push_back(node);
  return by_line;
}

bool IsForbidden(const ForbiddenByLine& by_line, const std::size_t line, const LatticeNode& node) {
  const auto at = by_line.find(line);
  if (at == by_line.end()) return false;
  return std::any_of(at->second.begin(), at->second.end(), [&node](const ForbiddenNode& f) {
    return f.posture == node.posture && f.spin == node.spin && f.setting == node.setting;
  });
}

}  // namespace

std::size_t LatticeSearch::ClassOf(const LatticeNode& node) const {
  if (!lattice_.postures_have_ids()) return static_cast<std::size_t>(node.setting);
  return static_cast<std::size_t>(node.setting * kPostures + node.posture);
}

const LatticeSearch::Layer& LatticeSearch::LayerAt(const std::size_t line) {
  const auto known = layers_.find(line);
  if (known != layers_.end()) return known->second;
  Layer layer;
  layer.nodes = lattice_.Nodes(line);
  const auto slot = [this](const LatticeNode& node) {
    return ClassOf(node) * static_cast<std::size_t>(lattice_.spins()) + static_cast<std::size_t>(node.spin);
  };
  std::stable_sort(layer.nodes.begin(), layer.nodes.end(),
                   [&slot](const LatticeNode& a, const LatticeNode& b) { return slot(a) < slot(b); });
  const std::size_t slots = static_cast<std::size_t>(lattice_.settings()) *
                            static_cast<std::size_t>(lattice_.postures_have_ids() ? kPostures : 1) *
                            static_cast<std::size_t>(lattice_.spins());
  layer.first.assign(slots + 1, 0);
  for (const LatticeNode& node : layer.nodes) {
    layer.cost.push_back(lattice_.NodeCost(node));
    ++layer.first[slot(node) + 1];
  }
  std::partial_sum(layer.first.begin(), layer.first.end(), layer.first.begin());
  return layers_.emplace(line, std::move(layer)).first->second;
}

LatticeSearch::Reached LatticeSearch::Begin(const Layer& layer, const JointVector& q_before) const {
  Reached reached;
  reached.before.assign(layer.nodes.size(), -1);
  for (std::size_t n = 0; n < layer.nodes.size(); ++n) {
    reached.cost.push_back(lattice_.LinkCost(q_before, layer.nodes[n].q) + layer.cost[n]);
  }
  return reached;
}

LatticeSearch::Reached LatticeSearch::GoOn(const Layer& from, const Reached& reached,
                                           const Layer& to, const double travel_mm) const {
  Reached next;
  next.cost.assign(to.nodes.size(), kInfinity);
  next.before.assign(to.nodes.size(), -1);
  const int spins = lattice_.spins(), most = lattice_.MostSteps(travel_mm);
  // All spins are within reach where the change may be half a turn.
  const int lowest = 2 * most >= spins ? most + 1 - spins : -most;
  for (std::size_t n = 0; n < to.nodes.size(); ++n) {
    const LatticeNode& node = to.nodes[n];
    double best = kInfinity;
    for (int d = lowest; d <= most; ++d) {
      const int spin = ((node.spin + d) % spins + spins) % spins;
      const std::size_t slot = ClassOf(node) * static_cast<std::size_t>(spins) + static_cast<std::size_t>(spin);
      for (std::uint32_t b = from.first[slot]; b < from.first[slot + 1]; ++b) {
        if (!(reached.cost[b] < best)) continue;
        const std::optional<double> edge = lattice_.EdgeCost(from.nodes[b], node, travel_mm);
        if (!edge || !(reached.cost[b] + *edge < best)) continue;
        best = reached.cost[b] + *edge;
        next.before[n] = static_cast<std::int32_t>(b);
      }
    }
    next.cost[n] = best + to.cost[n];
  }
  return next;
}

// The cheapest sources first: once one costs more than the best way so far, so
// do all after it.
LatticeSearch::Reached LatticeSearch::Link(const Layer& from, const Reached& reached,
                                           const Layer& to) const {
  std::vector<std::int32_t> sources;
  for (std::size_t b = 0; b < reached.cost.size(); ++b) {
    if (reached.cost[b] < kInfinity) sources.push_back(static_cast<std::int32_t>(b));
  }
  const auto cost_of = [&reached](std::int32_t b) { return reached.cost[static_cast<std::size_t>(b)]; };
  std::stable_sort(sources.begin(), sources.end(),
                   [&](std::int32_t a, std::int32_t b) { return cost_of(a) < cost_of(b); });
  Reached next;
  next.before.assign(to.nodes.size(), -1);
  for (std::size_t n = 0; n < to.nodes.size(); ++n) {
    double best = kInfinity;
    for (const std::int32_t b : sources) {
      if (!(cost_of(b) < best)) break;
      const double cost =
          cost_of(b) + lattice_.LinkCost(from.nodes[static_cast<std::size_t>(b)].q, to.nodes[n].q);
      if (!(cost < best)) continue;
      best = cost;
      next.before[n] = b;
    }
    next.cost.push_back(best + to.cost[n]);
  }
  return next;
}

LatticeWay LatticeSearch::Solve(const std::vector<LatticeStation>& stations, const LatticeEnds& ends,
                                const std::vector<ForbiddenNode>& forbidden) {
  LatticeWay way;
  way.stations = stations;
  way.furthest = stations.front().line;
  const ForbiddenByLine barred = ByLine(forbidden);
  std::vector<Reached> reached;
  for (std::size_t s = 0; s < stations.size(); ++s) {
    const Layer& layer = LayerAt(stations[s].line);
    if (s == 0) {
      reached.push_back(Begin(layer, ends.q_before));
    } else {
      const Layer& last = LayerAt(stations[s - 1].line);
      const double travel_mm = lattice_.Travel_mm(stations[s - 1].line, stations[s].line);
      reached.push_back(stations[s].linked ? Link(last, reached.back(), layer)
                                           : GoOn(last, reached.back(), layer, travel_mm));
    }
    bool any = false;
    for (std::size_t n = 0; n < layer.nodes.size(); ++n) {
      double& cost = reached.back().cost[n];
      if (cost < kInfinity && IsForbidden(barred, stations[s].line, layer.nodes[n])) cost = kInfinity;
      any = any || cost < kInfinity;
    }
    if (!any) {
      way.broken = stations[s].line;
      return way;
    }
    way.furthest = stations[s].line;
  }
  const Layer& end = LayerAt(stations.back().line);
  std::size_t n = 0;
  way.cost = kInfinity;
  for (std::size_t k = 0; k < end.nodes.size(); ++k) {
    const double cost = reached.back().cost[k] + lattice_.LinkCost(end.nodes[k].q, ends.q_after);
    if (!(cost < way.cost)) continue;
    way.cost = cost;
    n = k;
  }
  way.complete = true;
  way.nodes.resize(stations.size());
  for (std::size_t s = stations.size(); s-- > 0;) {
    way.nodes[s] = LayerAt(stations[s].line).nodes[n];
    if (s > 0) n = static_cast<std::size_t>(reached[s].before[n]);
  }
  way.spin.push_back(way.nodes[0].spin);
  for (std::size_t s = 1; s < stations.size(); ++s) {
    way.spin.push_back(way.spin.back() + lattice_.Steps(way.nodes[s - 1].spin, way.nodes[s].spin));
  }
  return way;
}

}  // namespace aircut::kinematics
