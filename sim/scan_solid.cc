#include "sim/scan_solid.h"

#include <algorithm>
#include <limits>
#include <numeric>
#include <utility>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using Triangle = std::array<std::int32_t, 3>;

// Which connected part each vertex belongs to, named by one of its vertices.
std::vector<std::int32_t> PartsOf(const Mesh& mesh) {
  std::vector<std::int32_t> above(mesh.vertices.size());
  std::iota(above.begin(), above.end(), 0);
  const auto root = [&](std::int32_t v) {
    while (above[static_cast<std::size_t>(v)] != v) {
      std::int32_t& up = above[static_cast<std::size_t>(v)];
      up = above[static_cast<std::size_t>(up)];
      v = up;
    }
    return v;
  };
  for (const Triangle& t : mesh.triangles) {
    for (std::size_t k = 1; k < 3; ++k) {
      const std::int32_t a = root(t[0]), b = root(t[k]);
      above[static_cast<std::size_t>(std::max(a, b))] = std::min(a, b);
    }
  }
  for (std::size_t v = 0; v < above.size(); ++v) above[v] = root(static_cast<std::int32_t>(v));
  return above;
}

Vector3d AreaOf(const Mesh& mesh, const Triangle& t) {
  const Vector3d& a = mesh.vertices[static_cast<std::size_t>(t[0])];
  return 0.5 * (mesh.vertices[static_cast<std::size_t>(t[1])] - a)
                   .cross(mesh.vertices[static_cast<std::size_t>(t[2])] - a);
}

Mesh WithoutLooseVertices(const Mesh& mesh) {
  Mesh kept;
  std::vector<std::int32_t> place(mesh.vertices.size(), -1);
  for (const Triangle& t : mesh.triangles) {
    Triangle moved{};
    for (std::size_t k = 0; k < 3; ++k) {
      std::int32_t& at = place[static_cast<std::size_t>(t[k])];
      if (at < 0) {
        at = static_cast<std::int32_t>(kept.vertices.size());
        kept.vertices.push_back(mesh.vertices[static_cast<std::size_t>(t[k])]);
      }
      moved[k] = at;
    }
    kept.triangles.push_back(moved);
  }
  return kept;
}

// Keeps the largest part; @returns the area of the next one.
double KeepLargestPart(MendedMesh& mended) {
  const std::vector<std::int32_t> part = PartsOf(mended.mesh);
  std::vector<double> area(part.size(), 0.0);
  const auto part_of = [&](const Triangle& t) { return static_cast<std::size_t>(part[static_cast<std::size_t>(t[0])]); };
  for (const Triangle& t : mended.mesh.triangles) area[part_of(t)] += AreaOf(mended.mesh, t).norm();
  const auto largest = static_cast<std::size_t>(std::max_element(area.begin(), area.end()) - area.begin());
  double next_mm2 = 0.0;
  for (std::size_t p = 0; p < area.size(); ++p) {
    if (p == largest || area[p] == 0.0) continue;
    next_mm2 = std::max(next_mm2, area[p]);
    ++mended.defects.loose_parts;
  }
  auto& triangles = mended.mesh.triangles;
  triangles.erase(std::remove_if(triangles.begin(), triangles.end(),
                                 [&](const Triangle& t) { return part_of(t) != largest; }),
                  triangles.end());
  mended.origin.assign(triangles.size(), FaceOrigin::kGiven);
  if (mended.defects.loose_parts > 0) mended.mesh = WithoutLooseVertices(mended.mesh);
  return next_mm2;
}

}  // namespace

double DepthOfBack(const Vector3d& p, const ScanBack& back) {
  if (const double* thickness = std::get_if<double>(&back.is)) return *thickness;
  const auto& plane = std::get<ScanBack::Plane>(back.is);
  return (p - plane.through_S).dot(plane.normal_S) / back.seen_from_S.dot(plane.normal_S);
}

ScanSurface SurfaceOfScan(const Mesh& mesh_S, const Vector3d& seen_from_S) {
  ScanSurface surface;
  surface.mended = Tidied(mesh_S);
  surface.largest_left_out_mm2 = KeepLargestPart(surface.mended);
  const Mesh& mesh = surface.mended.mesh;
  for (const Triangle& t : mesh.triangles) surface.seen_mm2 += AreaOf(mesh, t).dot(seen_from_S);
  std::vector<BorderCycle> holes;
  for (const BorderCycle& cycle : BorderCycles(mesh)) {
    if (AreaVector(mesh, cycle).dot(seen_from_S) < 0.0) holes.push_back(cycle);
  }
  BridgeHoles(holes, seen_from_S, surface.mended);
  return surface;
}

double LeastDepth(const Mesh& surface_S, const ScanBack& back) {
  double least = std::numeric_limits<double>::infinity();
  for (const Triangle& t : surface_S.triangles) {
    for (const std::int32_t v : t) {
      least = std::min(least, DepthOfBack(surface_S.vertices[static_cast<std::size_t>(v)], back));
    }
  }
  return least;
}

MendedMesh SolidOfScan(MendedMesh surface, const ScanBack& back) {
  Mesh& mesh = surface.mesh;
  const std::vector<BorderCycle> rims = BorderCycles(mesh);
  const auto below = static_cast<std::int32_t>(mesh.vertices.size());
  for (std::int32_t v = 0; v < below; ++v) {
    const Vector3d p = mesh.vertices[static_cast<std::size_t>(v)];
    mesh.vertices.push_back(p - DepthOfBack(p, back) * back.seen_from_S);
  }
  const std::size_t faces = mesh.triangles.size();
  for (const BorderCycle& rim : rims) {
    for (std::size_t i = 0; i < rim.size(); ++i) {
      const std::int32_t a = rim[i], b = rim[(i + 1) % rim.size()];
      mesh.triangles.push_back({b, a, below + a});
      mesh.triangles.push_back({b, below + a, below + b});
    }
  }
  surface.origin.resize(mesh.triangles.size(), FaceOrigin::kSkirt);
  for (std::size_t t = 0; t < faces; ++t) {
    const Triangle front = mesh.triangles[t];
    mesh.triangles.push_back({below + front[0], below + front[2], below + front[1]});
  }
  surface.origin.resize(mesh.triangles.size(), FaceOrigin::kBack);
  return surface;
}

}  // namespace aircut::sim
