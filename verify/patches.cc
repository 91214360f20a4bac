#include "verify/patches.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <numeric>

namespace aircut::verify {
namespace {

// Samples in cells of one link, sorted by cell, so that neighbours are found
// in the 27 cells around. Packed cell numbers may coincide for cells 2^21
// apart; the distance test sorts those out.
class Neighbours {
 public:
  Neighbours(const PatchField& field, const std::vector<int>& members)
      : samples_(*field.samples), link_mm_(field.link_mm) {
    cells_.reserve(members.size());
    for (const int i : members) cells_.push_back({KeyOf(CellOf(i)), i});
    std::sort(cells_.begin(), cells_.end(), [](const Entry& a, const Entry& b) {
      return a.key != b.key ? a.key < b.key : a.sample < b.sample;
    });
  }

  template <typename Visit>
  void ForEach(int sample, const Visit& visit) const {
    const std::array<std::int64_t, 3> cell = CellOf(sample);
    for (std::int64_t dx = -1; dx <= 1; ++dx) {
      for (std::int64_t dy = -1; dy <= 1; ++dy) {
        for (std::int64_t dz = -1; dz <= 1; ++dz) {
          VisitCell(KeyOf({cell[0] + dx, cell[1] + dy, cell[2] + dz}), sample, visit);
        }
      }
    }
  }

 private:
  struct Entry {
    std::uint64_t key;
    int sample;
  };

  template <typename Visit>
  void VisitCell(std::uint64_t key, int sample, const Visit& visit) const {
    const auto before = [](const Entry& e, std::uint64_t k) { return e.key < k; };
    const Eigen::Vector3d& p = samples_[sample].ray.p_SQ;
    for (auto it = std::lower_bound(cells_.begin(), cells_.end(), key, before);
         it != cells_.end() && it->key == key; ++it) {
      if (it->sample == sample) continue;
      if ((samples_[it->sample].ray.p_SQ - p).norm() <= link_mm_) visit(it->sample);
    }
  }

  std::array<std::int64_t, 3> CellOf(int sample) const {
    const Eigen::Vector3d& p = samples_[sample].ray.p_SQ;
    const auto cell = [&](double x) { return static_cast<std::int64_t>(std::floor(x / link_mm_)); };
    return {cell(p.x()), cell(p.y()), cell(p.z())};
  }

  static std::uint64_t KeyOf(const std::array<std::int64_t, 3>& cell) {
    const std::uint64_t mask = (std::uint64_t{1} << 21) - 1;
    return ((static_cast<std::uint64_t>(cell[0]) & mask) << 42) |
           ((static_cast<std::uint64_t>(cell[1]) & mask) << 21) |
           (static_cast<std::uint64_t>(cell[2]) & mask);
  }

  const std::vector<sim::DesignSample>& samples_;
  double link_mm_;
  std::vector<Entry> cells_;
};

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
  const Neighbours neighbours(field, members);
  Sets sets(*field.samples);
  for (const int i : members) neighbours.ForEach(i, [&](int j) { sets.Join(i, j); });
  std::vector<Patch> patches = Collect(field, members, &sets);
  const auto small = [&](const Patch& p) { return !(p.area_mm2 >= area_mm2); };
  patches.erase(std::remove_if(patches.begin(), patches.end(), small), patches.end());
  std::stable_sort(patches.begin(), patches.end(), [](const Patch& a, const Patch& b) {
    return a.area_mm2 > b.area_mm2;
  });
  return patches;
}

double QualifyingDepth(const PatchField& field, double area_mm2) {
  std::vector<int> members = MembersBeyond(field, 0.0);
  if (members.empty() || !(field.link_mm > 0.0)) return 0.0;
  const Neighbours neighbours(field, members);
  std::stable_sort(members.begin(), members.end(), [&](int a, int b) {
    return field.depth_mm[a] > field.depth_mm[b];
  });
  Sets sets(*field.samples);
  std::vector<char> in(field.depth_mm.size(), 0);
  for (const int i : members) {
    in[i] = 1;
    neighbours.ForEach(i, [&](int j) {
      if (in[j] != 0) sets.Join(i, j);
    });
    if (sets.AreaOf(i) >= area_mm2) return field.depth_mm[i];
  }
  return 0.0;
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
