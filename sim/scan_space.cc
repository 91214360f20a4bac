#include "sim/scan_space.h"

#include <algorithm>
#include <cmath>

namespace aircut::sim {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

// Columns finer than the scan would know no more; more than this would cost memory.
constexpr double kMostColumns = 4e6;
constexpr double kColumnsAnEdge = 2.0;

double MedianEdge(const Mesh& solid, const std::vector<FaceOrigin>& origin) {
  std::vector<double> edges;
  for (std::size_t t = 0; t < solid.triangles.size(); ++t) {
    if (origin[t] != FaceOrigin::kGiven) continue;
    const auto& corner = solid.triangles[t];
    edges.push_back((solid.vertices[static_cast<std::size_t>(corner[0])] -
                     solid.vertices[static_cast<std::size_t>(corner[1])]).norm());
  }
  if (edges.empty()) return 1.0;
  const auto middle = edges.begin() + static_cast<std::ptrdiff_t>(edges.size() / 2);
  std::nth_element(edges.begin(), middle, edges.end());
  return *middle;
}

}  // namespace

ScanSpace::ScanSpace(const Mesh& solid_S, const std::vector<FaceOrigin>& origin, const ScanBack& back)
    : back_(back) {
  across_ = back.seen_from_S.unitOrthogonal();
  along_ = back.seen_from_S.cross(across_);
  Eigen::AlignedBox2d box;
  for (const Vector3d& p : solid_S.vertices) box.extend(Vector2d(p.dot(across_), p.dot(along_)));
  box.min().array() -= kBesideReach_mm;
  box.max().array() += kBesideReach_mm;
  pitch_mm_ = std::max(MedianEdge(solid_S, origin) / kColumnsAnEdge, std::sqrt(box.volume() / kMostColumns));
  corner_mm_ = box.min();
  count_ = (box.sizes() / pitch_mm_).array().floor().cast<int>() + 1;
  columns_.resize(static_cast<std::size_t>(count_.x()) * static_cast<std::size_t>(count_.y()));
  highest_mm_ = -1e30;
  for (const FaceOrigin from : {FaceOrigin::kGiven, FaceOrigin::kBridge}) {
    for (std::size_t t = 0; t < solid_S.triangles.size(); ++t) {
      if (origin[t] != from) continue;
      std::array<Vector3d, 3> face;
      for (std::size_t k = 0; k < 3; ++k) {
        face[k] = solid_S.vertices[static_cast<std::size_t>(solid_S.triangles[t][k])];
        highest_mm_ = std::max(highest_mm_, HeightOf(face[k]));
      }
      Raise(face, from == FaceOrigin::kGiven ? Seen::kKnown : Seen::kUnderHole);
    }
  }
  FillBeside();
}

// Lifts the columns whose middle a face covers. What was seen wins over a bridge.
void ScanSpace::Raise(const std::array<Vector3d, 3>& face, Seen seen) {
  std::array<Vector2d, 3> at;
  Eigen::AlignedBox2d box;
  for (std::size_t k = 0; k < 3; ++k) {
    at[k] = (Vector2d(face[k].dot(across_), face[k].dot(along_)) - corner_mm_) / pitch_mm_ - Vector2d(0.5, 0.5);
    box.extend(at[k]);
  }
  const auto side = [&](std::size_t a, std::size_t b, const Vector2d& p) {
    return (at[b] - at[a]).x() * (p - at[a]).y() - (at[b] - at[a]).y() * (p - at[a]).x();
  };
  const double whole = side(0, 1, at[2]);
  if (whole == 0.0) return;
  for (int j = static_cast<int>(std::ceil(box.min().y())); j <= static_cast<int>(box.max().y()); ++j) {
    for (int i = static_cast<int>(std::ceil(box.min().x())); i <= static_cast<int>(box.max().x()); ++i) {
      const Vector2d p(i, j);
      const double w2 = side(0, 1, p) / whole, w0 = side(1, 2, p) / whole, w1 = 1.0 - w0 - w2;
      if (w0 < -1e-9 || w1 < -1e-9 || w2 < -1e-9) continue;
      const auto row = static_cast<std::size_t>(j) * static_cast<std::size_t>(count_.x());
      Column& column = columns_[row + static_cast<std::size_t>(i)];
      if (column.filled && column.seen == Seen::kKnown && seen != Seen::kKnown) continue;
      const auto top = static_cast<float>(w0 * HeightOf(face[0]) + w1 * HeightOf(face[1]) + w2 * HeightOf(face[2]));
      if (!column.filled || top > column.top_mm) column.top_mm = top;
      column.filled = true;
      column.seen = seen;
    }
  }
}

// Ring by ring outwards from the columns that are filled.
void ScanSpace::FillBeside() {
  std::vector<std::size_t> ring, next;
  for (std::size_t c = 0; c < columns_.size(); ++c) {
    if (columns_[c].filled) ring.push_back(c);
  }
  const auto width = static_cast<std::size_t>(count_.x()), height = static_cast<std::size_t>(count_.y());
  while (!ring.empty()) {
    next.clear();
    for (const std::size_t c : ring) {
      const auto offer = [&](std::size_t to) {
        if (columns_[to].filled) return;
        columns_[to] = {Seen::kBeside, true, columns_[c].top_mm};
        next.push_back(to);
      };
      if (c % width > 0) offer(c - 1);
      if (c % width + 1 < width) offer(c + 1);
      if (c / width > 0) offer(c - width);
      if (c / width + 1 < height) offer(c + width);
    }
    ring.swap(next);
  }
}

std::size_t ScanSpace::ColumnAt(const Vector3d& p_S) const {
  const Vector2d at = (Vector2d(p_S.dot(across_), p_S.dot(along_)) - corner_mm_) / pitch_mm_;
  const double i = std::clamp(std::floor(at.x()), 0.0, count_.x() - 1.0);
  const double j = std::clamp(std::floor(at.y()), 0.0, count_.y() - 1.0);
  return static_cast<std::size_t>(j) * static_cast<std::size_t>(count_.x()) + static_cast<std::size_t>(i);
}

ScanSpace::View ScanSpace::At(const Vector3d& p_S) const {
  const Column& column = columns_[ColumnAt(p_S)];
  const double below_mm = column.top_mm - HeightOf(p_S);
  if (below_mm < 0.0 || column.seen == Seen::kBeside) return {below_mm < 0.0 ? Seen::kKnown : Seen::kBeside, below_mm};
  const double back_mm = DepthOfBack(p_S + below_mm * back_.seen_from_S, back_);
  return below_mm > back_mm ? View{Seen::kBehind, below_mm - back_mm} : View{column.seen, below_mm};
}

}  // namespace aircut::sim
