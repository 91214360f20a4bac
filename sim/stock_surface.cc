#include "sim/stock_surface.h"

#include <cmath>
#include <unordered_map>

#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using Eigen::Vector3i;

std::uint64_t KeyOf(const Vector3i& c) {
  const Eigen::Array3i at = c.array() + (1 << 20);
  return static_cast<std::uint64_t>(at.x()) | static_cast<std::uint64_t>(at.y()) << 21 |
         static_cast<std::uint64_t>(at.z()) << 42;
}

// Voxel values of one brick and one layer beyond its upper faces and below its
// lower ones: what the cells and edges that start in it need.
constexpr int kPadded = kBrickEdge + 2;

struct PaddedBrick {
  float value[kPadded * kPadded * kPadded];
  float At(int i, int j, int k) const {   // -1 .. kBrickEdge
    return value[(i + 1) + kPadded * ((j + 1) + kPadded * (k + 1))];
  }
};

PaddedBrick Pad(const Stock& stock, const Brick& brick) {
  PaddedBrick padded;
  const Vector3i first = kBrickEdge * brick.at;
  for (int k = -1; k <= kBrickEdge; ++k) {
    for (int j = -1; j <= kBrickEdge; ++j) {
      for (int i = -1; i <= kBrickEdge; ++i) {
        padded.value[(i + 1) + kPadded * ((j + 1) + kPadded * (k + 1))] =
            static_cast<float>(stock.ValueAt(first.x() + i, first.y() + j, first.z() + k));
      }
    }
  }
  return padded;
}

// A surface point of the cell whose lowest corner is (i, j, k): the mean of the
// crossings on its edges.
Vector3d CellPoint(const PaddedBrick& v, const Vector3i& c) {
  Vector3d sum = Vector3d::Zero();
  int crossings = 0;
  for (int axis = 0; axis < 3; ++axis) {
    for (int n = 0; n < 4; ++n) {
      Vector3i a = c;
      a[(axis + 1) % 3] += n & 1;
      a[(axis + 2) % 3] += n >> 1;
      Vector3i b = a;
      ++b[axis];
      const float va = v.At(a.x(), a.y(), a.z()), vb = v.At(b.x(), b.y(), b.z());
      if ((va < 0.0f) == (vb < 0.0f)) continue;
      Vector3d p = a.cast<double>();
      p[axis] += static_cast<double>(va) / (static_cast<double>(va) - static_cast<double>(vb));
      sum += p;
      ++crossings;
    }
  }
  return crossings > 0 ? Vector3d(sum / crossings) : Vector3d(c.cast<double>().array() + 0.5);
}

// Four cells round a crossed edge, by their lowest corners in voxels of the
// lattice, in order seen from outside.
struct Quad {
  Vector3i cells[4];
};

struct BrickPiece {
  std::vector<Quad> quads;
  std::unordered_map<std::uint64_t, Vector3d> points;   // per cell, in voxels
};

bool IsTouched(const Stock& stock, const Vector3i& brick) {
  const Vector3i& n = stock.lattice.bricks;
  if ((brick.array() < 0).any() || (brick.array() >= n.array()).any()) return false;
  const std::int64_t cell = brick.x() + std::int64_t{n.x()} * (brick.y() + std::int64_t{n.y()} * brick.z());
  return stock.brick_of[static_cast<std::size_t>(cell)] >= 0;
}

// Whether the brick draws the crossing at `at` voxels along an edge that starts
// at voxel `start` (-1 to 7). Towards an untouched neighbour its share ends half
// a voxel below its first centre and half a voxel below the neighbour's; towards
// a touched one each draws the edges that start in it.
bool Draws(int start, double at, bool below_touched, bool above_touched) {
  if (start < 0) return !below_touched && at >= -0.5;
  return start < kBrickEdge - 1 || above_touched || at < kBrickEdge - 0.5;
}

BrickPiece DualPiece(const Stock& stock, const Brick& brick) {
  BrickPiece piece;
  const PaddedBrick v = Pad(stock, brick);
  const Vector3i first = kBrickEdge * brick.at;
  const auto note = [&](const Vector3i& cell) {
    piece.points.emplace(KeyOf(first + cell), first.cast<double>() + CellPoint(v, cell));
  };
  for (int axis = 0; axis < 3; ++axis) {
    const Vector3i step = Vector3i::Unit(axis);
    const bool below = IsTouched(stock, brick.at - step), above = IsTouched(stock, brick.at + step);
    const Vector3i e = Vector3i::Unit((axis + 1) % 3), f = Vector3i::Unit((axis + 2) % 3);
    for (int n = 0; n < kBrickEdge * kBrickEdge * (kBrickEdge + 1); ++n) {
      const int start = n / (kBrickEdge * kBrickEdge) - 1;
      const Vector3i a = start * step + (n % kBrickEdge) * e + (n / kBrickEdge % kBrickEdge) * f;
      const Vector3i b = a + step;
      const double va = v.At(a.x(), a.y(), a.z()), vb = v.At(b.x(), b.y(), b.z());
      if ((va < 0.0) == (vb < 0.0)) continue;
      if (!Draws(start, start + va / (va - vb), below, above)) continue;
      Quad quad = {{a - e - f, a - f, a, a - e}};
      if (!(va < 0.0)) std::swap(quad.cells[1], quad.cells[3]);
      for (Vector3i& cell : quad.cells) {
        note(cell);
        cell += first;
      }
      piece.quads.push_back(quad);
    }
  }
  return piece;
}

class SurfaceBuilder {
 public:
  explicit SurfaceBuilder(const Stock& stock) : stock_(stock) {}

  void AddBricks(int threads);
  void AddUntouched();
  Mesh Take() { return std::move(mesh_); }

 private:
  // Polygon of a starting triangle, trimmed.
  using Polygon = std::vector<Vector3d>;

  void Trim(const Polygon& polygon, const Vector3i& lo, const Vector3i& hi);
  bool AnyTouched(const Vector3i& lo, const Vector3i& hi) const;
  void Keep(const Polygon& polygon);
  // The dual surface of a brick has its points in the middle of cells of eight
  // voxel centres: its share starts half a voxel below its first centre.
  double LowFace(int axis) const {
    return stock_.lattice.origin_S[axis] - 0.5 * stock_.lattice.voxel_mm;
  }

  const Stock& stock_;
  Mesh mesh_;
};

void SurfaceBuilder::AddBricks(int threads) {
  std::vector<BrickPiece> pieces(stock_.bricks.size());
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, pieces.size(),
                      [&](std::size_t i) { pieces[i] = DualPiece(stock_, stock_.bricks[i]); });
  });
  std::unordered_map<std::uint64_t, std::int32_t> index;
  for (const BrickPiece& piece : pieces) {
    for (const Quad& quad : piece.quads) {
      std::array<std::int32_t, 4> v;
      for (std::size_t n = 0; n < 4; ++n) {
        const std::uint64_t key = KeyOf(quad.cells[n]);
        const auto [at, fresh] = index.emplace(key, static_cast<std::int32_t>(mesh_.vertices.size()));
        if (fresh) {
          mesh_.vertices.push_back(stock_.lattice.origin_S +
                                   stock_.lattice.voxel_mm * piece.points.at(key));
        }
        v[n] = at->second;
      }
      mesh_.triangles.push_back({v[0], v[1], v[2]});
      mesh_.triangles.push_back({v[0], v[2], v[3]});
    }
  }
}

bool SurfaceBuilder::AnyTouched(const Vector3i& lo, const Vector3i& hi) const {
  const Vector3i& n = stock_.lattice.bricks;
  const Vector3i a = lo.cwiseMax(0), b = hi.cwiseMin(n);
  for (int k = a.z(); k < b.z(); ++k) {
    for (int j = a.y(); j < b.y(); ++j) {
      for (int i = a.x(); i < b.x(); ++i) {
        const std::int64_t cell = i + std::int64_t{n.x()} * (j + std::int64_t{n.y()} * k);
        if (stock_.brick_of[static_cast<std::size_t>(cell)] >= 0) return true;
      }
    }
  }
  return false;
}

// The side of a plane square to an axis, by clipping (Sutherland, Hodgman 1974).
std::vector<Vector3d> ClipBelow(const std::vector<Vector3d>& polygon, int axis, double at, double sign) {
  std::vector<Vector3d> out;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Vector3d& p = polygon[i];
    const Vector3d& q = polygon[(i + 1) % polygon.size()];
    const double dp = sign * (p[axis] - at), dq = sign * (q[axis] - at);
    if (dp <= 0.0) out.push_back(p);
    if ((dp < 0.0 && dq > 0.0) || (dp > 0.0 && dq < 0.0)) out.push_back(p + dp / (dp - dq) * (q - p));
  }
  return out;
}

void SurfaceBuilder::Keep(const Polygon& polygon) {
  const std::int32_t first = static_cast<std::int32_t>(mesh_.vertices.size());
  mesh_.vertices.insert(mesh_.vertices.end(), polygon.begin(), polygon.end());
  for (std::int32_t n = 1; n + 1 < static_cast<std::int32_t>(polygon.size()); ++n) {
    mesh_.triangles.push_back({first, first + n, first + n + 1});
  }
}

// Halves the block of bricks [lo, hi) about the polygon until it is either
// untouched (kept) or a single touched brick (dropped: the dual surface has it).
void SurfaceBuilder::Trim(const Polygon& polygon, const Vector3i& lo, const Vector3i& hi) {
  if (polygon.size() < 3) return;
  if (!AnyTouched(lo, hi)) return Keep(polygon);
  int axis = 0;
  const Vector3i size = hi - lo;
  size.maxCoeff(&axis);
  if (size[axis] <= 1) return;
  const int middle = lo[axis] + size[axis] / 2;
  const double at = LowFace(axis) + stock_.lattice.voxel_mm * kBrickEdge * middle;
  Vector3i low_hi = hi, high_lo = lo;
  low_hi[axis] = high_lo[axis] = middle;
  Trim(ClipBelow(polygon, axis, at, 1.0), lo, low_hi);
  Trim(ClipBelow(polygon, axis, at, -1.0), high_lo, hi);
}

void SurfaceBuilder::AddUntouched() {
  const Mesh& solid = stock_.solid_S->mesh();
  const double edge = stock_.lattice.voxel_mm * kBrickEdge;
  for (const auto& t : solid.triangles) {
    Polygon polygon;
    Eigen::AlignedBox3d box;
    for (const std::int32_t v : t) {
      polygon.push_back(solid.vertices[static_cast<std::size_t>(v)]);
      box.extend(polygon.back());
    }
    if (stock_.bricks.empty()) {
      Keep(polygon);
      continue;
    }
    const Vector3d low(LowFace(0), LowFace(1), LowFace(2));
    const Vector3d lo = ((box.min() - low) / edge).array().floor();
    const Vector3d hi = ((box.max() - low) / edge).array().floor() + 1.0;
    Trim(polygon, lo.cast<int>(), hi.cast<int>());
  }
}

}  // namespace

Mesh CarvedSurface(const Stock& stock, int threads) {
  SurfaceBuilder builder(stock);
  builder.AddBricks(threads);
  builder.AddUntouched();
  return builder.Take();
}

}  // namespace aircut::sim
