#pragma once

#include <cstdint>
#include <vector>

#include <Eigen/Geometry>

namespace aircut::sim {

/// Node of a tree of boxes with up to four children, one cache-line pair.
/// Boxes are floats rounded outward, so they always hold what they stand for.
struct alignas(64) BoxNode {
  float low[3][4];
  float high[3][4];
  std::int32_t child[4];   ///< node, or first item of a leaf; -1 = no child
  std::int32_t count[4];   ///< items of a leaf; 0 = inner node
};

/// @returns the box of one of a node's children.
Eigen::AlignedBox3d SlotBox(const BoxNode& node, int slot);

/// Deepest pile a depth-first walk of a BoxTree can need.
inline constexpr int kBoxTreeStack = 288;

/// Bounding-volume tree over boxes; leaves are runs of `order`.
struct BoxTree {
  std::vector<BoxNode> nodes;         ///< nodes[0] is the root
  std::vector<std::int32_t> order;    ///< item at each place of the leaves
};

/// @param boxes one or more finite boxes; @param leaf_size items per leaf, > 0.
/// Binned surface-area heuristic (Wald, IEEE Symposium on Interactive Ray
/// Tracing 2007), then pairs of levels joined into one. Deterministic.
BoxTree BuildBoxTree(const std::vector<Eigen::AlignedBox3d>& boxes, int leaf_size);

}  // namespace aircut::sim
