#pragma once

#include <cstdint>
#include <vector>

#include "sim/mesh.h"

namespace aircut::support {

/// A board as a one-sided scan leaves it: its top, z = 0, a grid of `side` squares of
/// `step_mm` from the origin, each halved, vertex row * (side + 1) + column; walls and
/// floor at z = -20 of a few large faces that close it. Squares with both numbers in
/// [hole_from, hole_to) are one large square instead, its rim joined by a fan.
inline sim::Mesh BoardWithFilledHole(int side, double step_mm, int hole_from, int hole_to) {
  sim::Mesh mesh;
  const auto at = [&](int column, int row) { return row * (side + 1) + column; };
  for (int row = 0; row <= side; ++row) {
    for (int column = 0; column <= side; ++column) {
      mesh.vertices.emplace_back(step_mm * column, step_mm * row, 0.0);
    }
  }
  const auto hole = [&](int i) { return i >= hole_from && i < hole_to; };
  for (int row = 0; row < side; ++row) {
    for (int column = 0; column < side; ++column) {
      if (hole(row) && hole(column)) continue;
      const int a = at(column, row), b = at(column + 1, row), c = at(column + 1, row + 1),
                d = at(column, row + 1);
      mesh.triangles.push_back({a, b, c});
      mesh.triangles.push_back({a, c, d});
    }
  }
  // The loop round something, anti-clockwise seen from above.
  const auto loop = [&](int low, int high) {
    std::vector<std::int32_t> points;
    for (int i = low; i < high; ++i) points.push_back(at(i, low));
    for (int i = low; i < high; ++i) points.push_back(at(high, i));
    for (int i = high; i > low; --i) points.push_back(at(i, high));
    for (int i = high; i > low; --i) points.push_back(at(low, i));
    return points;
  };
  if (hole_to > hole_from) {
    const std::vector<std::int32_t> rim = loop(hole_from, hole_to);
    for (std::size_t i = 1; i + 1 < rim.size(); ++i) {
      mesh.triangles.push_back({rim[0], rim[i], rim[i + 1]});
    }
  }
  const std::vector<std::int32_t> edge = loop(0, side);
  const auto below = static_cast<std::int32_t>(mesh.vertices.size());
  for (const std::int32_t v : edge) {
    mesh.vertices.push_back(mesh.vertices[static_cast<std::size_t>(v)] - Eigen::Vector3d(0, 0, 20));
  }
  const auto n = static_cast<std::int32_t>(edge.size());
  for (std::int32_t i = 0; i < n; ++i) {
    const std::int32_t next = (i + 1) % n;
    mesh.triangles.push_back({edge[static_cast<std::size_t>(i)], below + i, below + next});
    mesh.triangles.push_back({edge[static_cast<std::size_t>(i)], below + next,
                              edge[static_cast<std::size_t>(next)]});
  }
  for (std::int32_t i = 1; i + 1 < n; ++i) mesh.triangles.push_back({below, below + i + 1, below + i});
  return mesh;
}

inline sim::Mesh ScannedBoard(int side, double step_mm) {
  return BoardWithFilledHole(side, step_mm, 0, 0);
}

}  // namespace aircut::support
