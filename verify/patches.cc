#include "verify/patches.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "verify/neighbour_cells.h"

namespace aircut::verify {
namespace {

// Disjoint sets with their areas.
class Sets {
 public:
  explicit Sets(const std::vector<sim::DesignSample>& samples)
      : parent_(samples.size()), area_mm2_(samples.size()) {
    std::iota(parent_.begin(), parent_.end(), 0);
    for (std::size_t i = 0; i < samples.size(); ++i) area_mm2_[i] = samples[i].area_mm2;
  }
  int Root(int i) {
    while (parent_[i] != i) i = parent_[i] = parent_[parent_[i]];
    return i;
  }
  void Join(int a, int b) {
    const int low = std::min(Root(a), Root(b)), high = std::max(Root(a), Root(b));
    if (low == high) return;
    parent_[high] = low;
    area_mm2_[low] += area_mm2_[high];
  }
  double AreaOf(int i) { return area_mm2_[Root(i)]; }

 private:
  std::vector<int> parent_;
  std::vector<double> area_mm2_;
};

std::vector<int> MembersBeyond(const PatchField& field, double limit_mm) {
  std::vector<int> members;
  for (std::size_t i = 0; i < field.depth_mm.size(); ++i) {
    if (field.depth_mm[i] > limit_mm) members.push_back(static_cast<int>(i));
  }
  return members;
}

std::vector<Eigen::Vector3d> PlacesOf(const PatchField& field, const std::vector<int>& members) {
  std::vector<Eigen::Vector3d> places;
  places.reserve(members.size());
  for (const int i : members) places.push_back((*field.samples)[i].ray.p_SQ);
  return places;
}

// A patch grows by its members in ascending order: the first of them names it.
std::vector<Patch> Collect(const PatchField& field, const std::vector<int>& members, Sets* sets) {
  std::vector<int> place(field.depth_mm.size(), -1);
  std::vector<Patch> patches;
  for (const int i : members) {
    const int root = sets->Root(i);
    if (place[root] < 0) {
      place[root] = static_cast<int>(patches.size());
      patches.emplace_back();
    }
    Patch& patch = patches[place[root]];
    patch.members.push_back(i);
    patch.area_mm2 += (*field.samples)[i].area_mm2;
    if (patch.deepest < 0 || field.depth_mm[i] > field.depth_mm[patch.deepest]) patch.deepest = i;
  }
  return patches;
}

}  // namespace

std::vector<Patch> PatchesBeyond(const PatchField& field, double limit_mm, double area_mm2) {
  const std::vector<int> members = MembersBeyond(field, limit_mm);
  if (members.empty() || !(field.link_mm > 0.0)) return {};
  const NeighbourCells neighbours(PlacesOf(field, members), field.link_mm);
  Sets sets(*field.samples);
  for (const int i : members) {
    neighbours.ForNear((*field.samples)[i].ray.p_SQ, [&](int n) { sets.Join(i, members[n]); });
  }
  std::vector<Patch> patches = Collect(field, members, &sets);
  const auto small = [&](const Patch& p) { return !(p.area_mm2 >= area_mm2); };
  patches.erase(std::remove_if(patches.begin(), patches.end(), small), patches.end());
  std::stable_sort(patches.begin(), patches.end(), [](const Patch& a, const Patch& b) {
    return a.area_mm2 > b.area_mm2;
  });
  return patches;
}

Qualifying QualifyingDepth(const PatchField& field, double area_mm2) {
  std::vector<int> members = MembersBeyond(field, 0.0);
  if (members.empty() || !(field.link_mm > 0.0)) return {};
  std::stable_sort(members.begin(), members.end(), [&](int a, int b) {
    return field.depth_mm[a] > field.depth_mm[b];
  });
  const NeighbourCells neighbours(PlacesOf(field, members), field.link_mm);
  Sets sets(*field.samples);
  std::vector<char> in(field.depth_mm.size(), 0);
  for (const int i : members) {
    in[i] = 1;
    neighbours.ForNear((*field.samples)[i].ray.p_SQ, [&](int n) {
      if (in[members[n]] != 0) sets.Join(i, members[n]);
    });
    if (sets.AreaOf(i) >= area_mm2) return {field.depth_mm[i], i};
  }
  return {};
}

double LinkOf(const std::vector<sim::DesignSample>& samples) {
  std::vector<double> areas_mm2;
  for (const sim::DesignSample& s : samples) {
    if (s.area_mm2 > 0.0) areas_mm2.push_back(s.area_mm2);
  }
  if (areas_mm2.empty()) return 0.0;
  // The 95th percentile: a few large cells must not join what lies apart.
  const auto at = areas_mm2.begin() + static_cast<std::ptrdiff_t>(0.95 * (areas_mm2.size() - 1));
  std::nth_element(areas_mm2.begin(), at, areas_mm2.end());
  return kLink * std::sqrt(*at);
}

}  // namespace aircut::verify
