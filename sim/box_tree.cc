#include "sim/box_tree.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>

namespace aircut::sim {
namespace {

using Box = Eigen::AlignedBox3d;

constexpr int kBins = 16;
// Below this depth every split halves the items, so that kBoxTreeStack holds.
constexpr int kHeuristicDepth = 40;

double HalfArea(const Box& box) {
  if (box.isEmpty()) return 0.0;
  const Eigen::Vector3d s = box.sizes();
  return s.x() * s.y() + s.y() * s.z() + s.z() * s.x();
}

float RoundDown(double v) {
  return std::nextafter(static_cast<float>(v), -std::numeric_limits<float>::infinity());
}
float RoundUp(double v) {
  return std::nextafter(static_cast<float>(v), std::numeric_limits<float>::infinity());
}

struct BinaryNode {
  Box box;
  std::int32_t first = 0, count = 0;     // items
  std::int32_t left = -1, right = -1;    // -1: leaf
};

class Builder {
 public:
  Builder(const std::vector<Box>& boxes, int leaf_size) : boxes_(boxes), leaf_size_(leaf_size) {
    order_.resize(boxes.size());
    std::iota(order_.begin(), order_.end(), 0);
    nodes_.reserve(2 * boxes.size());
    Split(0, static_cast<std::int32_t>(boxes.size()), 0);
  }

  BoxTree Collapse() && {
    BoxTree tree;
    Join(0, &tree);
    tree.order = std::move(order_);
    return tree;
  }

 private:
  Eigen::Vector3d Middle(std::int32_t item) const { return boxes_[item].center(); }

  std::int32_t Split(std::int32_t first, std::int32_t count, int depth) {
    const auto index = static_cast<std::int32_t>(nodes_.size());
    BinaryNode node;
    node.first = first;
    node.count = count;
    Box middles;
    for (std::int32_t i = first; i < first + count; ++i) {
      node.box.extend(boxes_[order_[i]]);
      middles.extend(Middle(order_[i]));
    }
    nodes_.push_back(node);
    if (count <= leaf_size_) return index;
    const std::int32_t left = depth < kHeuristicDepth ? HeuristicSplit(first, count, middles)
                                                      : Halve(first, count, middles);
    const std::int32_t left_node = Split(first, left, depth + 1);
    const std::int32_t right_node = Split(first + left, count - left, depth + 1);
    nodes_[index].left = left_node;
    nodes_[index].right = right_node;
    return index;
  }

  // Sorts the run about its median along the longest side; ties by item.
  std::int32_t Halve(std::int32_t first, std::int32_t count, const Box& middles) {
    int axis = 0;
    middles.sizes().maxCoeff(&axis);
    const std::int32_t half = count / 2;
    const auto begin = order_.begin() + first;
    std::nth_element(begin, begin + half, begin + count, [&](std::int32_t a, std::int32_t b) {
      const double x = Middle(a)[axis], y = Middle(b)[axis];
      return x != y ? x < y : a < b;
    });
    return half;
  }

  struct Plan {
    double cost = std::numeric_limits<double>::infinity();
    int axis = 0, bin = 0;
  };

  static int BinOf(double x, double low, double per_mm) {
    return std::clamp(static_cast<int>((x - low) * per_mm), 0, kBins - 1);
  }

  Plan BestPlan(std::int32_t first, std::int32_t count, const Box& middles, int axis) const {
    Plan best;
    const double size = middles.sizes()[axis];
    if (!(size > 0)) return best;
    std::array<Box, kBins> box;
    std::array<int, kBins> items{};
    const double low = middles.min()[axis], per_mm = kBins / size;
    for (std::int32_t i = first; i < first + count; ++i) {
      const int bin = BinOf(Middle(order_[i])[axis], low, per_mm);
      box[bin].extend(boxes_[order_[i]]);
      ++items[bin];
    }
    std::array<double, kBins> right_cost{};
    Box gathered;
    int n = 0;
    for (int b = kBins - 1; b > 0; --b) {
      gathered.extend(box[b]);
      n += items[b];
      right_cost[b] = n > 0 ? n * HalfArea(gathered) : -1.0;
    }
    gathered.setEmpty();
    n = 0;
    for (int b = 0; b + 1 < kBins; ++b) {
      gathered.extend(box[b]);
      n += items[b];
      if (n == 0 || right_cost[b + 1] < 0) continue;
      const double cost = n * HalfArea(gathered) + right_cost[b + 1];
      if (cost < best.cost) best = {cost, axis, b};
    }
    return best;
  }

  std::int32_t HeuristicSplit(std::int32_t first, std::int32_t count, const Box& middles) {
    Plan best;
    for (int axis = 0; axis < 3; ++axis) {
      const Plan plan = BestPlan(first, count, middles, axis);
      if (plan.cost < best.cost) best = plan;
    }
    if (!std::isfinite(best.cost)) return Halve(first, count, middles);
    const double low = middles.min()[best.axis];
    const double per_mm = kBins / middles.sizes()[best.axis];
    const auto begin = order_.begin() + first;
    const auto cut = std::stable_partition(begin, begin + count, [&](std::int32_t item) {
      return BinOf(Middle(item)[best.axis], low, per_mm) <= best.bin;
    });
    return static_cast<std::int32_t>(cut - begin);
  }

  // Up to four descendants that stand for `index` in the joined tree.
  std::vector<std::int32_t> Children(std::int32_t index) const {
    std::vector<std::int32_t> children{index};
    while (children.size() < 4) {
      int widest = -1;
      double area = -1.0;
      for (int i = 0; i < static_cast<int>(children.size()); ++i) {
        const BinaryNode& node = nodes_[children[i]];
        if (node.left < 0 || HalfArea(node.box) <= area) continue;
        area = HalfArea(node.box);
        widest = i;
      }
      if (widest < 0) break;
      const BinaryNode& node = nodes_[children[widest]];
      children[widest] = node.left;
      children.push_back(node.right);
    }
    return children;
  }

  std::int32_t Join(std::int32_t index, BoxTree* tree) const {
    const auto joined = static_cast<std::int32_t>(tree->nodes.size());
    tree->nodes.emplace_back();
    BoxNode out;
    const std::vector<std::int32_t> children = Children(index);
    for (int slot = 0; slot < 4; ++slot) {
      const bool filled = slot < static_cast<int>(children.size());
      const float inf = std::numeric_limits<float>::infinity();
      const BinaryNode* node = filled ? &nodes_[children[slot]] : nullptr;
      for (int axis = 0; axis < 3; ++axis) {
        out.low[axis][slot] = filled ? RoundDown(node->box.min()[axis]) : inf;
        out.high[axis][slot] = filled ? RoundUp(node->box.max()[axis]) : -inf;
      }
      out.child[slot] = -1;
      out.count[slot] = 0;
      if (filled && node->left < 0) {
        out.child[slot] = node->first;
        out.count[slot] = node->count;
      } else if (filled) {
        out.child[slot] = Join(children[slot], tree);
      }
    }
    tree->nodes[joined] = out;
    return joined;
  }

  const std::vector<Box>& boxes_;
  int leaf_size_;
  std::vector<std::int32_t> order_;
  std::vector<BinaryNode> nodes_;
};

}  // namespace

Eigen::AlignedBox3d SlotBox(const BoxNode& node, int slot) {
  Eigen::AlignedBox3d box;
  for (int axis = 0; axis < 3; ++axis) {
    box.min()[axis] = node.low[axis][slot];
    box.max()[axis] = node.high[axis][slot];
  }
  return box;
}

BoxTree BuildBoxTree(const std::vector<Eigen::AlignedBox3d>& boxes, int leaf_size) {
  return Builder(boxes, leaf_size).Collapse();
}

}  // namespace aircut::sim
