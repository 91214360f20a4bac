#include "sim/remaining_piece.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <mutex>
#include <optional>

#include "sim/shape_extent.h"
#include "sim/standing_surface.h"

namespace aircut::sim {
namespace {

using Eigen::AlignedBox3d;
using Eigen::Vector3d;
using kinematics::Pose;

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// Nearer than the nearest so far by less is not worth a search: of a flat face all
// voxels are the same.
constexpr double kSame_mm = 1e-6;

// A box that is moved about, ready for queries.
class PlacedBox {
 public:
  const PreparedShape& At(const AlignedBox3d& box) {
    shape_.shape = BoxShape{box.min(), box.max()};
    shape_.box = box;
    return shape_;
  }

 private:
  PreparedShape shape_;
};

AlignedBox3d BoxIn(const Pose& X_SA, const AlignedBox3d& box_A) {
  const Vector3d centre = X_SA * box_A.center(), reach = X_SA.linear().cwiseAbs() * (0.5 * box_A.sizes());
  return {Vector3d(centre - reach), Vector3d(centre + reach)};
}

// Built when the first question comes: most jobs ask none.
struct Search {
  std::optional<PreparedShape> standing;   // the surface outside of bricks
  std::vector<AlignedBox3d> boxes;         // of voxel centres, per brick
  BoxTree tree;
};

}  // namespace

struct RemainingPiece::Impl {
  explicit Impl(const Stock& stock_in) : stock(stock_in) {}

  const Search& search() {
    std::call_once(once, [this] { Build(); });
    return built;
  }
  void Build() {
    Mesh standing = StandingSurface(stock);
    if (!standing.triangles.empty()) built.standing = Prepare(MeshShape{std::make_shared<Mesh>(std::move(standing))});
    const double h = stock.lattice.voxel_mm;
    for (const Brick& brick : stock.bricks) {
      const Vector3d first = stock.lattice.origin_S + h * kBrickEdge * brick.at.cast<double>();
      built.boxes.emplace_back(first, Vector3d(first.array() + h * (kBrickEdge - 1)));
    }
    if (!built.boxes.empty()) built.tree = BuildBoxTree(built.boxes, 1);
  }

  const Stock& stock;
  std::once_flag once;
  Search built;
};

namespace {

// One question: nearest first through the tree of bricks, then through their voxels.
class BrickWalk {
 public:
  BrickWalk(const Stock& stock, const Search& search, const ShapeQuery& query, int sweep)
      : stock_(stock), search_(search), query_(query), sweep_(sweep),
        box_S_(BoxIn(query.X_BA[0], query.a->box)) {
    best_.distance_mm = best_.lower_mm = kInfinity;
  }

  ConvexGap Run() {
    if (!search_.boxes.empty()) Visit(0);
    return best_;
  }

 private:
  double Limit() const { return std::min(query_.stop_above_mm, best_.distance_mm); }

  void Visit(std::int32_t at) {
    const BoxNode& node = search_.tree.nodes[static_cast<std::size_t>(at)];
    double away[4];
    int order[4], count = 0;
    for (int slot = 0; slot < 4; ++slot) {
      if (node.child[slot] < 0) continue;
      away[slot] = std::sqrt(box_S_.squaredExteriorDistance(SlotBox(node, slot)));
      order[count++] = slot;
    }
    std::stable_sort(order, order + count, [&](int a, int b) { return away[a] < away[b]; });
    for (int k = 0; k < count; ++k) {
      const int slot = order[k];
      if (away[slot] > Limit() || overlaps_) return;
      if (node.count[slot] == 0) Visit(node.child[slot]);
      else Leaf(node.child[slot], node.count[slot]);
    }
  }

  void Leaf(std::int32_t first, std::int32_t count) {
    for (std::int32_t i = first; i < first + count; ++i) {
      TryBrick(static_cast<std::size_t>(search_.tree.order[static_cast<std::size_t>(i)]));
    }
  }

  void TryBrick(std::size_t at) {
    ShapeQuery query = query_;
    query.b = &place_.At(search_.boxes[at]);
    query.stop_above_mm = Limit();
    query.inside = InsideTest::kNo;
    query.depth = DepthTest::kNo;
    const ConvexGap gap = GapOf(query);
    if (!gap.hulls_meet && gap.lower_mm > Limit() - kSame_mm) return;
    // The plane between shape and brick tells most voxels apart.
    const Vector3d n = gap.axis;
    const double low = gap.hulls_meet ? -kInfinity
                                      : LowestAlong(*query_.a, query_.X_BA[0].linear().transpose() * n) +
                                            n.dot(query_.X_BA[0].translation());
    const Brick& brick = stock_.bricks[at];
    const Vector3d step = Vector3d::Constant(stock_.lattice.voxel_mm), first = search_.boxes[at].min();
    for (int voxel = 0; voxel < kBrickVoxels && !overlaps_; ++voxel) {
      if (!IsThere(brick, voxel)) continue;
      const Vector3d in(voxel % kBrickEdge, voxel / kBrickEdge % kBrickEdge, voxel / kBrickEdge / kBrickEdge);
      const Vector3d p_S = first + step.cwiseProduct(in);
      if (low - n.dot(p_S) < Limit() - kSame_mm) TryVoxel(p_S);
    }
  }

  bool IsThere(const Brick& brick, int voxel) const {
    const std::uint16_t remover = brick.remover[static_cast<std::size_t>(voxel)];
    if (remover == kNotRemoved) return brick.distance[static_cast<std::size_t>(voxel)] < 0;
    return brick.sweeps[remover] >= sweep_;
  }

  void TryVoxel(const Vector3d& p_S) {
    ShapeQuery query = query_;
    query.b = &place_.At({p_S, p_S});
    query.stop_above_mm = Limit();
    query.inside = InsideTest::kNo;
    ConvexGap gap = GapOf(query);
    if (!(gap.distance_mm < best_.distance_mm)) return;
    best_ = gap;
    // Any depth will do: that of one point is no more than an estimate.
    overlaps_ = gap.hulls_meet;
  }

  const Stock& stock_;
  const Search& search_;
  const ShapeQuery& query_;
  const int sweep_;
  const AlignedBox3d box_S_;
  PlacedBox place_;
  ConvexGap best_;
  bool overlaps_ = false;
};

// Some piece of the shape lies in material that no brick speaks of.
std::optional<double> DepthInside(const Stock& stock, const PreparedShape& shape, const Pose& X_SA) {
  for (const Vector3d& p_A : shape.inner) {
    const Vector3d p_S = X_SA * p_A;
    if (!stock.solid_S->box().contains(p_S) || TouchedBrickAt(stock, p_S) >= 0) continue;
    const double distance_mm = stock.solid_S->SignedDistance(p_S);
    if (distance_mm < 0.0) return -distance_mm;
  }
  return std::nullopt;
}

}  // namespace

RemainingPiece::RemainingPiece(const Stock& stock) : impl_(std::make_shared<Impl>(stock)) {}
RemainingPiece::~RemainingPiece() = default;
RemainingPiece::RemainingPiece(RemainingPiece&&) noexcept = default;

RemainingPiece RemainingPiece::FrozenBefore(int sweep) const {
  RemainingPiece frozen(impl_);
  frozen.frozen_before_ = sweep;
  return frozen;
}

double RemainingPiece::bound_mm() const { return 0.5 * std::sqrt(3.0) * impl_->stock.lattice.voxel_mm; }

ConvexGap RemainingPiece::GapTo(const PreparedShape& shape, const Pose& X_SA, int sweep,
                                double stop_above_mm) const {
  const Search& search = impl_->search();
  ShapeQuery query;
  query.a = &shape;
  query.X_BA[0] = X_SA;
  query.stop_above_mm = stop_above_mm;
  ConvexGap standing;
  standing.distance_mm = standing.lower_mm = kInfinity;
  if (search.standing) {
    query.b = &*search.standing;
    query.inside = InsideTest::kNo;
    standing = GapOf(query);
  }
  query.stop_above_mm = std::min(stop_above_mm, standing.distance_mm) + bound_mm() + kSame_mm;
  ConvexGap gap = BrickWalk(impl_->stock, search, query, frozen_before_.value_or(sweep)).Run();
  // What the walk left out is beyond its stop.
  gap.lower_mm = std::min(gap.lower_mm, query.stop_above_mm) - bound_mm() - kSame_mm;
  const double lower_mm = std::min(gap.lower_mm, standing.lower_mm);
  if (standing.distance_mm < gap.distance_mm) gap = standing;
  gap.lower_mm = lower_mm;
  if (std::isinf(gap.distance_mm)) gap.distance_mm = lower_mm;   // all is beyond the stop
  if (gap.distance_mm > 0.0) {
    if (const auto depth = DepthInside(impl_->stock, shape, X_SA)) gap.distance_mm = gap.lower_mm = -*depth;
  }
  return gap;
}

}  // namespace aircut::sim
