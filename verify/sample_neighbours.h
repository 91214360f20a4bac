#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <vector>

#include "sim/design_samples.h"

namespace aircut::verify {

/// Samples in cells of one link, sorted by cell, so that neighbours are found
/// in the 27 cells around. Packed cell numbers may coincide for cells 2^21
/// apart; the distance test sorts those out.
class SampleNeighbours {
 public:
  /// @param samples outlive this.
  /// @param link_mm > 0: samples at most this far apart are neighbours.
  /// @param members indices of the samples that take part.
  SampleNeighbours(const std::vector<sim::DesignSample>& samples, double link_mm, const std::vector<int>& members)
      : samples_(samples), link_mm_(link_mm) {
    cells_.reserve(members.size());
    for (const int i : members) cells_.push_back({KeyOf(CellOf(i)), i});
    std::sort(cells_.begin(), cells_.end(), [](const Entry& a, const Entry& b) {
      return a.key != b.key ? a.key < b.key : a.sample < b.sample;
    });
  }

  /// Calls visit(index) for every neighbour of a sample but itself.
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

}  // namespace aircut::verify
