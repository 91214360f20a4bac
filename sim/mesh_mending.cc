#include "sim/mesh_mending.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

namespace aircut::sim {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;
using Triangle = std::array<std::int32_t, 3>;

const Vector3d& At(const Mesh& mesh, std::int32_t vertex) {
  return mesh.vertices[static_cast<std::size_t>(vertex)];
}

double AreaOf(const Mesh& mesh, const Triangle& t) {
  return 0.5 * (At(mesh, t[1]) - At(mesh, t[0])).cross(At(mesh, t[2]) - At(mesh, t[0])).norm();
}

Mesh WithoutNeedless(const Mesh& mesh, MeshDefects& defects) {
  std::vector<std::size_t> order;
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    if (AreaOf(mesh, mesh.triangles[t]) > 0.0) order.push_back(t);
    else ++defects.degenerate;
  }
  const auto corners = [&](std::size_t t) {
    Triangle sorted = mesh.triangles[t];
    std::sort(sorted.begin(), sorted.end());
    return sorted;
  };
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return corners(a) < corners(b); });
  const auto alike = [&](std::size_t a, std::size_t b) { return corners(a) == corners(b); };
  const auto end = std::unique(order.begin(), order.end(), alike);
  defects.duplicate = static_cast<int>(order.end() - end);
  order.erase(end, order.end());
  std::sort(order.begin(), order.end());
  Mesh kept;
  kept.vertices = mesh.vertices;
  for (const std::size_t t : order) kept.triangles.push_back(mesh.triangles[t]);
  return kept;
}

// One use of an edge by a triangle.
struct EdgeUse {
  std::int32_t low, high, triangle;
  bool rising;   // from the lower to the higher vertex
};

std::vector<EdgeUse> SortedUses(const Mesh& mesh) {
  std::vector<EdgeUse> uses;
  uses.reserve(3 * mesh.triangles.size());
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    for (std::size_t k = 0; k < 3; ++k) {
      const std::int32_t a = mesh.triangles[t][k], b = mesh.triangles[t][(k + 1) % 3];
      uses.push_back({std::min(a, b), std::max(a, b), static_cast<std::int32_t>(t), a < b});
    }
  }
  std::sort(uses.begin(), uses.end(), [](const EdgeUse& x, const EdgeUse& y) {
    if (x.low != y.low) return x.low < y.low;
    return x.high != y.high ? x.high < y.high : x.triangle < y.triangle;
  });
  return uses;
}

// Calls `visit(first, last)` for the uses of each edge.
template <typename Visit>
void ForEachEdge(const std::vector<EdgeUse>& uses, const Visit& visit) {
  for (std::size_t i = 0; i < uses.size();) {
    std::size_t end = i + 1;
    while (end < uses.size() && uses[end].low == uses[i].low && uses[end].high == uses[i].high) ++end;
    visit(&uses[i], &uses[i] + (end - i));
    i = end;
  }
}

// Neighbours across edges of exactly two triangles, and whether both go the same way round.
struct Neighbour {
  std::int32_t triangle;
  bool agrees;
};

std::vector<std::vector<Neighbour>> NeighboursOf(const Mesh& mesh, const std::vector<EdgeUse>& uses) {
  std::vector<std::vector<Neighbour>> all(mesh.triangles.size());
  ForEachEdge(uses, [&](const EdgeUse* first, const EdgeUse* last) {
    if (last - first != 2) return;
    const bool agrees = first[0].rising != first[1].rising;
    all[static_cast<std::size_t>(first[0].triangle)].push_back({first[1].triangle, agrees});
    all[static_cast<std::size_t>(first[1].triangle)].push_back({first[0].triangle, agrees});
  });
  return all;
}

// Turns each part to go one way round.
void TurnAlike(Mesh& mesh, MeshDefects& defects) {
  const auto neighbours = NeighboursOf(mesh, SortedUses(mesh));
  std::vector<std::int8_t> turned(mesh.triangles.size(), -1);   // -1: not visited yet
  std::vector<std::int32_t> part;
  for (std::size_t seed = 0; seed < turned.size(); ++seed) {
    if (turned[seed] >= 0) continue;
    part.assign(1, static_cast<std::int32_t>(seed));
    turned[seed] = 0;
    double area[2] = {0.0, 0.0};
    for (std::size_t i = 0; i < part.size(); ++i) {
      const auto t = static_cast<std::size_t>(part[i]);
      area[turned[t]] += AreaOf(mesh, mesh.triangles[t]);
      for (const Neighbour& n : neighbours[t]) {
        std::int8_t& other = turned[static_cast<std::size_t>(n.triangle)];
        if (other >= 0) continue;
        other = n.agrees ? turned[t] : static_cast<std::int8_t>(1 - turned[t]);
        part.push_back(n.triangle);
      }
    }
    const std::int8_t gives_in = area[1] <= area[0] ? 1 : 0;
    for (const std::int32_t t : part) {
      if (turned[static_cast<std::size_t>(t)] != gives_in) continue;
      std::swap(mesh.triangles[static_cast<std::size_t>(t)][1], mesh.triangles[static_cast<std::size_t>(t)][2]);
      ++defects.flipped;
    }
  }
}

// Finding ears takes the square of their number.
constexpr std::size_t kMostEars = 3000;

// A point of a polygon in the plane it is seen in.
using Outline = std::vector<Vector2d>;

double Turn(const Vector2d& a, const Vector2d& b, const Vector2d& c) {
  return (b - a).x() * (c - a).y() - (b - a).y() * (c - a).x();
}

bool IsEar(const Outline& at, const std::vector<std::size_t>& left, std::size_t i) {
  const std::size_t n = left.size();
  const std::size_t ia = left[(i + n - 1) % n], ib = left[i], ic = left[(i + 1) % n];
  if (!(Turn(at[ia], at[ib], at[ic]) > 0.0)) return false;
  for (const std::size_t k : left) {
    if (k == ia || k == ib || k == ic) continue;
    const bool within = Turn(at[ia], at[ib], at[k]) >= 0.0 && Turn(at[ib], at[ic], at[k]) >= 0.0 &&
                        Turn(at[ic], at[ia], at[k]) >= 0.0;
    if (within) return false;
  }
  return true;
}

// Ears of an anti-clockwise outline by place; fewer than n - 2 where it is not simple.
std::vector<std::array<std::size_t, 3>> EarsOf(const Outline& at) {
  std::vector<std::size_t> left(at.size());
  std::iota(left.begin(), left.end(), std::size_t{0});
  std::vector<std::array<std::size_t, 3>> ears;
  std::size_t i = 0, refused = 0;
  while (left.size() > 3 && refused < left.size()) {
    i %= left.size();
    if (!IsEar(at, left, i)) {
      ++i;
      ++refused;
      continue;
    }
    const std::size_t n = left.size();
    ears.push_back({left[(i + n - 1) % n], left[i], left[(i + 1) % n]});
    left.erase(left.begin() + static_cast<std::ptrdiff_t>(i));
    ++i;   // not the next ear at the same place: that would make a fan of slivers
    refused = 0;
  }
  const bool last = left.size() == 3 && Turn(at[left[0]], at[left[1]], at[left[2]]) >= 0.0;
  if (last) ears.push_back({left[0], left[1], left[2]});
  return ears;
}

}  // namespace

MendedMesh Tidied(const Mesh& mesh) {
  MendedMesh tidy;
  tidy.mesh = WithoutNeedless(mesh, tidy.defects);
  TurnAlike(tidy.mesh, tidy.defects);
  ForEachEdge(SortedUses(tidy.mesh), [&](const EdgeUse* first, const EdgeUse* last) {
    if (last - first > 2 || (last - first == 2 && first[0].rising == first[1].rising)) ++tidy.defects.crowded_edges;
  });
  tidy.origin.assign(tidy.mesh.triangles.size(), FaceOrigin::kGiven);
  return tidy;
}

std::vector<BorderCycle> BorderCycles(const Mesh& mesh) {
  std::map<std::int32_t, std::vector<std::int32_t>> next;   // by start, in a fixed order
  ForEachEdge(SortedUses(mesh), [&](const EdgeUse* first, const EdgeUse* last) {
    int net = 0;
    for (const EdgeUse* use = first; use != last; ++use) net += use->rising ? 1 : -1;
    for (; net > 0; --net) next[first->low].push_back(first->high);
    for (; net < 0; ++net) next[first->high].push_back(first->low);
  });
  std::vector<BorderCycle> cycles;
  while (!next.empty()) {
    // As many edges end at a vertex as begin there: the way cannot get stuck. Where it
    // meets itself the loop is taken off, so that every cycle is a simple one.
    BorderCycle way = {next.begin()->first};
    std::map<std::int32_t, std::size_t> place = {{way.front(), 0}};
    while (true) {
      const auto out = next.find(way.back());
      if (out == next.end()) break;
      const std::int32_t to = out->second.back();
      out->second.pop_back();
      if (out->second.empty()) next.erase(out);
      const auto [met, is_new] = place.emplace(to, way.size());
      if (is_new) {
        way.push_back(to);
        continue;
      }
      const auto loop = way.begin() + static_cast<std::ptrdiff_t>(met->second);
      cycles.emplace_back(loop, way.end());
      for (auto v = loop + 1; v != way.end(); ++v) place.erase(*v);
      way.erase(loop + 1, way.end());
    }
  }
  return cycles;
}

Vector3d AreaVector(const Mesh& mesh, const BorderCycle& cycle) {
  Vector3d sum = Vector3d::Zero();
  const Vector3d& from = At(mesh, cycle.front());
  for (std::size_t i = 1; i + 1 < cycle.size(); ++i) {
    sum += 0.5 * (At(mesh, cycle[i]) - from).cross(At(mesh, cycle[i + 1]) - from);
  }
  return sum;
}

// The bridge uses every edge of the border the other way round, so it goes along the
// cycle backwards; seen against its own area that is anti-clockwise.
std::vector<Triangle> BridgeOf(const Mesh& mesh, const BorderCycle& cycle, const Vector3d& look) {
  const BorderCycle back(cycle.rbegin(), cycle.rend());
  std::vector<Triangle> bridge;
  if (back.size() < 3) return bridge;
  const Vector3d e1 = look.unitOrthogonal(), e2 = look.cross(e1);
  Outline outline;
  for (const std::int32_t v : back) {
    const Vector3d from = At(mesh, v) - At(mesh, back.front());
    outline.emplace_back(from.dot(e1), from.dot(e2));
  }
  const auto ears = back.size() <= kMostEars ? EarsOf(outline) : std::vector<std::array<std::size_t, 3>>{};
  if (ears.size() == back.size() - 2) {
    for (const auto& ear : ears) bridge.push_back({back[ear[0]], back[ear[1]], back[ear[2]]});
    return bridge;
  }
  for (std::size_t i = 1; i + 1 < back.size(); ++i) bridge.push_back({back[0], back[i], back[i + 1]});
  return bridge;
}

void BridgeHoles(const std::vector<BorderCycle>& holes, const Vector3d& look, MendedMesh& mended) {
  for (const BorderCycle& hole : holes) {
    Vector3d from = look;
    if (from.isZero()) from = -AreaVector(mended.mesh, hole);
    if (from.norm() < 1e-12) from = Vector3d::UnitZ();
    const auto bridge = BridgeOf(mended.mesh, hole, from.normalized());
    for (const Triangle& t : bridge) mended.defects.hole_mm2 += AreaOf(mended.mesh, t);
    mended.mesh.triangles.insert(mended.mesh.triangles.end(), bridge.begin(), bridge.end());
    mended.origin.resize(mended.mesh.triangles.size(), FaceOrigin::kBridge);
    ++mended.defects.holes;
  }
}

}  // namespace aircut::sim
