#pragma once

#include <array>
#include <cmath>
#include <map>
#include <random>
#include <utility>

#include "sim/mesh.h"

namespace aircut::sim {

/// Icosahedron about the origin, each triangle split in four `splits` times,
/// every vertex on the sphere: closed, outward.
inline Mesh IcosphereMesh(double radius_mm, int splits) {
  const double t = 0.5 * (1.0 + std::sqrt(5.0));
  Mesh mesh;
  mesh.vertices = {{-1, t, 0}, {1, t, 0}, {-1, -t, 0}, {1, -t, 0}, {0, -1, t}, {0, 1, t},
                   {0, -1, -t}, {0, 1, -t}, {t, 0, -1}, {t, 0, 1}, {-t, 0, -1}, {-t, 0, 1}};
  mesh.triangles = {{0, 11, 5}, {0, 5, 1}, {0, 1, 7}, {0, 7, 10}, {0, 10, 11},
                    {1, 5, 9}, {5, 11, 4}, {11, 10, 2}, {10, 7, 6}, {7, 1, 8},
                    {3, 9, 4}, {3, 4, 2}, {3, 2, 6}, {3, 6, 8}, {3, 8, 9},
                    {4, 9, 5}, {2, 4, 11}, {6, 2, 10}, {8, 6, 7}, {9, 8, 1}};
  for (int s = 0; s < splits; ++s) {
    std::map<std::pair<int, int>, int> middle;
    std::vector<std::array<std::int32_t, 3>> next;
    const auto mid = [&](int a, int b) {
      const std::pair<int, int> key = std::minmax(a, b);
      const auto [at, added] = middle.try_emplace(key, static_cast<int>(mesh.vertices.size()));
      if (added) mesh.vertices.push_back(mesh.vertices[a] + mesh.vertices[b]);
      return at->second;
    };
    for (const auto& [a, b, c] : mesh.triangles) {
      const int ab = mid(a, b), bc = mid(b, c), ca = mid(c, a);
      next.insert(next.end(), {{a, ab, ca}, {b, bc, ab}, {c, ca, bc}, {ab, bc, ca}});
    }
    mesh.triangles = std::move(next);
    for (auto& v : mesh.vertices) v.normalize();
  }
  for (auto& v : mesh.vertices) v = radius_mm * v.normalized();
  return mesh;
}

/// Closed board, cells x cells squares on top and bottom, side length
/// `side_mm` from the origin along +x and +y, top z = top(x, y), bottom z = `bottom_mm`.
template <typename Top>
Mesh BoardMesh(double side_mm, double bottom_mm, int cells, const Top& top) {
  Mesh mesh;
  const int n = cells + 1;
  for (int layer = 0; layer < 2; ++layer) {
    for (int j = 0; j < n; ++j) {
      for (int i = 0; i < n; ++i) {
        const double x = side_mm * i / cells, y = side_mm * j / cells;
        mesh.vertices.emplace_back(x, y, layer == 0 ? bottom_mm : top(x, y));
      }
    }
  }
  const auto at = [n](int layer, int i, int j) { return layer * n * n + j * n + i; };
  const auto quad = [&mesh](int a, int b, int c, int d) {
    mesh.triangles.push_back({a, b, c});
    mesh.triangles.push_back({a, c, d});
  };
  for (int j = 0; j < cells; ++j) {
    for (int i = 0; i < cells; ++i) {
      quad(at(1, i, j), at(1, i + 1, j), at(1, i + 1, j + 1), at(1, i, j + 1));
      quad(at(0, i, j), at(0, i, j + 1), at(0, i + 1, j + 1), at(0, i + 1, j));
    }
  }
  for (int k = 0; k < cells; ++k) {
    quad(at(0, k, 0), at(0, k + 1, 0), at(1, k + 1, 0), at(1, k, 0));
    quad(at(0, k + 1, cells), at(0, k, cells), at(1, k, cells), at(1, k + 1, cells));
    quad(at(0, 0, k + 1), at(0, 0, k), at(1, 0, k), at(1, 0, k + 1));
    quad(at(0, cells, k), at(0, cells, k + 1), at(1, cells, k + 1), at(1, cells, k));
  }
  return mesh;
}

/// Uniform point of the box from `low` to `high` on every axis.
inline Eigen::Vector3d RandomPoint(std::mt19937_64& rng, double low, double high) {
  std::uniform_real_distribution<double> coordinate(low, high);
  const double x = coordinate(rng), y = coordinate(rng), z = coordinate(rng);
  return {x, y, z};
}

/// Uniform unit vector.
inline Eigen::Vector3d RandomUnit(std::mt19937_64& rng) {
  while (true) {
    const Eigen::Vector3d v = RandomPoint(rng, -1, 1);
    if (v.norm() > 0.05 && v.norm() <= 1.0) return v.normalized();
  }
}

/// Random rotation with an origin inside +-`reach_mm`.
inline Eigen::Isometry3d RandomPose(std::mt19937_64& rng, double reach_mm) {
  std::uniform_real_distribution<double> angle(-3.14159, 3.14159);
  Eigen::Isometry3d X = Eigen::Isometry3d::Identity();
  X.translation() = RandomPoint(rng, -reach_mm, reach_mm);
  const Eigen::Vector3d axis = RandomUnit(rng);
  X.linear() = Eigen::AngleAxisd(angle(rng), axis).toRotationMatrix();
  return X;
}

}  // namespace aircut::sim
