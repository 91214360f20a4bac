#include "tools/board_mesh.h"

#include <algorithm>
#include <cstdint>

namespace aircut::tools {
namespace {

using Index = std::int32_t;

/// Vertices of one face on its lattice: index of node (i, j) in the mesh.
struct Sheet {
  Index first = 0;
  int nx = 0, ny = 0;
  Index Node(int i, int j) const { return first + static_cast<Index>(j) * nx + i; }
};

enum class Facing { kUp, kDown };

Sheet AddSheet(sim::Mesh& mesh, const std::vector<double>& xs, const std::vector<double>& ys,
               const std::function<double(double, double)>& height) {
  const Sheet sheet{static_cast<Index>(mesh.vertices.size()), static_cast<int>(xs.size()),
                    static_cast<int>(ys.size())};
  for (double y : ys)
    for (double x : xs) mesh.vertices.emplace_back(x, y, height(x, y));
  return sheet;
}

void AddFaces(sim::Mesh& mesh, const Sheet& sheet, Facing facing) {
  for (int j = 0; j + 1 < sheet.ny; ++j) {
    for (int i = 0; i + 1 < sheet.nx; ++i) {
      const Index a = sheet.Node(i, j), b = sheet.Node(i + 1, j);
      const Index c = sheet.Node(i + 1, j + 1), d = sheet.Node(i, j + 1);
      if (facing == Facing::kUp) {
        mesh.triangles.push_back({a, b, c});
        mesh.triangles.push_back({a, c, d});
      } else {
        mesh.triangles.push_back({a, c, b});
        mesh.triangles.push_back({a, d, c});
      }
    }
  }
}

/// The four sides of the outline as seen from outside, left to right.
std::vector<Index> Side(const Sheet& sheet, int side) {
  std::vector<Index> nodes;
  const int along = side % 2 == 0 ? sheet.nx : sheet.ny;
  for (int k = 0; k < along; ++k) {
    const int back = along - 1 - k;
    switch (side) {
      case 0: nodes.push_back(sheet.Node(k, 0)); break;
      case 1: nodes.push_back(sheet.Node(sheet.nx - 1, k)); break;
      case 2: nodes.push_back(sheet.Node(back, sheet.ny - 1)); break;
      default: nodes.push_back(sheet.Node(0, back)); break;
    }
  }
  return nodes;
}

/// Closes the gap between two rows of nodes of different spacing.
void Zip(sim::Mesh& mesh, const std::vector<Index>& low, const std::vector<Index>& high) {
  const auto share = [&mesh](const std::vector<Index>& row, std::size_t k) {
    const auto flat = [&](Index n) { return mesh.vertices[n].head<2>(); };
    return (flat(row[k]) - flat(row.front())).norm();
  };
  std::size_t i = 0, j = 0;
  while (i + 1 < low.size() || j + 1 < high.size()) {
    const bool step_low = j + 1 == high.size() ||
                          (i + 1 < low.size() && share(low, i + 1) <= share(high, j + 1));
    if (step_low) {
      mesh.triangles.push_back({low[i], low[i + 1], high[j]});
      ++i;
    } else {
      mesh.triangles.push_back({low[i], high[j + 1], high[j]});
      ++j;
    }
  }
}

}  // namespace

std::vector<double> EvenPlaces(double half_mm, int pieces) {
  std::vector<double> places;
  for (int i = 0; i <= pieces; ++i) places.push_back(-half_mm + 2.0 * half_mm * i / pieces);
  return places;
}

sim::Mesh FlatBoard(const Eigen::Vector2d& half_mm, const Eigen::Vector2i& cells, double thickness_mm) {
  BoardShape shape;
  shape.top_x = shape.bottom_x = EvenPlaces(half_mm.x(), cells.x());
  shape.top_y = shape.bottom_y = EvenPlaces(half_mm.y(), cells.y());
  shape.top = [](double, double) { return 0.0; };
  shape.bottom = [thickness_mm](double, double) { return -thickness_mm; };
  return BoardMesh(shape);
}

sim::Mesh BoardMesh(const BoardShape& shape) {
  sim::Mesh mesh;
  const Sheet top = AddSheet(mesh, shape.top_x, shape.top_y, shape.top);
  const Sheet bottom = AddSheet(mesh, shape.bottom_x, shape.bottom_y, shape.bottom);
  AddFaces(mesh, top, Facing::kUp);
  AddFaces(mesh, bottom, Facing::kDown);
  for (int side = 0; side < 4; ++side) Zip(mesh, Side(bottom, side), Side(top, side));
  return mesh;
}

}  // namespace aircut::tools
