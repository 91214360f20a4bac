#include "sim/scan_quality.h"

#include <algorithm>
#include <cmath>

namespace aircut::sim {
namespace {

using Eigen::Vector3d;

// A neighbour that stands off the same way by this share makes a ridge or a bump
// of a spike; one such neighbour may be part of the spike.
constexpr double kRidgeShare = 0.5;
constexpr int kSpikeNeighbours = 1;

// A coarse scan of a bent body has every vertex off its neighbours: a spike stands
// this many times farther off than the median vertex (four standard deviations of
// normal noise).
constexpr double kRoughShare = 6.0;

double MedianSize(std::vector<double> values) {
  for (double& value : values) value = std::abs(value);
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return values.empty() ? 0.0 : *middle;
}

double DistanceToSegment(const Vector3d& p, const Vector3d& a, const Vector3d& b) {
  const Vector3d along = b - a;
  const double length2 = along.squaredNorm();
  const double t = length2 > 0.0 ? std::clamp((p - a).dot(along) / length2, 0.0, 1.0) : 0.0;
  return (p - a - t * along).norm();
}

std::array<double, 3> EdgesOf(const Mesh& mesh, const std::array<std::int32_t, 3>& t) {
  return {(mesh.vertices[t[1]] - mesh.vertices[t[0]]).norm(),
          (mesh.vertices[t[2]] - mesh.vertices[t[1]]).norm(),
          (mesh.vertices[t[0]] - mesh.vertices[t[2]]).norm()};
}

Vector3d AreaNormal(const Mesh& mesh, const std::array<std::int32_t, 3>& t) {
  return (mesh.vertices[t[1]] - mesh.vertices[t[0]])
      .cross(mesh.vertices[t[2]] - mesh.vertices[t[0]]);
}

}  // namespace

ScanQuality::ScanQuality(const Mesh& mesh_S, const ScanRules& rules)
    : mesh_(Welded(mesh_S)), fans_(FansOf(mesh_)) {
  LookAtFaces(rules);
  LookForSpikes(rules.spike_mm);
  LookForRims();
}

ScanQuality::Fans ScanQuality::FansOf(const Mesh& mesh) {
  Fans fans;
  fans.start.assign(mesh.vertices.size() + 1, 0);
  for (const auto& t : mesh.triangles) {
    for (const std::int32_t v : t) ++fans.start[static_cast<std::size_t>(v) + 1];
  }
  for (std::size_t v = 1; v < fans.start.size(); ++v) fans.start[v] += fans.start[v - 1];
  fans.face.resize(3 * mesh.triangles.size());
  std::vector<std::int32_t> next(fans.start.begin(), fans.start.end() - 1);
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    for (const std::int32_t v : mesh.triangles[t]) {
      fans.face[next[v]++] = static_cast<std::int32_t>(t);
    }
  }
  return fans;
}

void ScanQuality::LookAtFaces(const ScanRules& rules) {
  seen_.assign(mesh_.triangles.size(), 1);
  drawn_.assign(mesh_.triangles.size(), 0);
  for (std::size_t t = 0; t < rules.origin.size(); ++t) {
    drawn_[t] = rules.origin[t] == FaceOrigin::kGiven ? 0 : 1;
  }
  std::vector<double> edges;
  edges.reserve(3 * mesh_.triangles.size());
  for (std::size_t t = 0; t < mesh_.triangles.size(); ++t) {
    const Vector3d normal = AreaNormal(mesh_, mesh_.triangles[t]);
    if (drawn_[t] != 0) seen_[t] = 0;
    // A face without area looks nowhere: its neighbours speak for it.
    if (!(normal.norm() > 0.0)) continue;
    if (rules.seen_from_S && drawn_[t] == 0) {
      seen_[t] = normal.dot(*rules.seen_from_S) > kSeenCosine * normal.norm() ? 1 : 0;
    }
    if (seen_[t] == 0) continue;
    ++seen_faces_;
    for (const double edge : EdgesOf(mesh_, mesh_.triangles[t])) edges.push_back(edge);
  }
  if (!edges.empty()) {
    const auto middle = edges.begin() + static_cast<std::ptrdiff_t>(edges.size() / 2);
    std::nth_element(edges.begin(), middle, edges.end());
    spacing_mm_ = *middle;
  }
  long_.assign(mesh_.triangles.size(), 0);
  for (std::size_t t = 0; t < mesh_.triangles.size(); ++t) {
    const auto sides = EdgesOf(mesh_, mesh_.triangles[t]);
    long_[t] = *std::max_element(sides.begin(), sides.end()) > kLongEdges * spacing_mm_ ? 1 : 0;
  }
}

// Height of each vertex over the middle of its neighbours, along its own normal.
void ScanQuality::LookForSpikes(double spike_mm) {
  const std::size_t n = mesh_.vertices.size();
  std::vector<double> height_mm(n, 0.0);
  for (std::size_t v = 0; v < n; ++v) {
    Vector3d normal = Vector3d::Zero(), sum = Vector3d::Zero();
    int count = 0;
    for (std::int32_t k = fans_.start[v]; k < fans_.start[v + 1]; ++k) {
      const auto& t = mesh_.triangles[fans_.face[k]];
      normal += AreaNormal(mesh_, t);
      for (const std::int32_t w : t) {
        if (static_cast<std::size_t>(w) == v) continue;
        sum += mesh_.vertices[w];
        ++count;
      }
    }
    if (count == 0 || !(normal.norm() > 0.0)) continue;
    height_mm[v] = normal.normalized().dot(mesh_.vertices[v] - sum / count);
  }
  const double least_mm = std::max(spike_mm, kRoughShare * MedianSize(height_mm));
  spike_.assign(n, 0);
  for (std::size_t v = 0; v < n; ++v) {
    if (!(std::abs(height_mm[v]) > least_mm)) continue;
    // Every neighbour is met in two faces of a closed fan.
    int alike = 0;
    for (std::int32_t k = fans_.start[v]; k < fans_.start[v + 1]; ++k) {
      for (const std::int32_t w : mesh_.triangles[fans_.face[k]]) {
        if (static_cast<std::size_t>(w) != v && height_mm[w] * height_mm[v] > 0.0 &&
            std::abs(height_mm[w]) >= kRidgeShare * std::abs(height_mm[v])) {
          ++alike;
        }
      }
    }
    spike_[v] = alike <= 2 * kSpikeNeighbours ? 1 : 0;
  }
}

// Whether a seen face lies on the other side of the edge of a face.
bool ScanQuality::SeenAcross(std::int32_t from, std::int32_t to) const {
  for (std::int32_t k = fans_.start[from]; k < fans_.start[from + 1]; ++k) {
    const std::int32_t face = fans_.face[k];
    if (seen_[face] == 0) continue;
    const auto& t = mesh_.triangles[face];
    for (int corner = 0; corner < 3; ++corner) {
      if (t[corner] == to && t[(corner + 1) % 3] == from) return true;
    }
  }
  return false;
}

void ScanQuality::LookForRims() {
  rim_.resize(mesh_.vertices.size());
  for (std::size_t face = 0; face < mesh_.triangles.size(); ++face) {
    if (seen_[face] == 0) continue;
    const auto& t = mesh_.triangles[face];
    for (int corner = 0; corner < 3; ++corner) {
      const std::int32_t from = t[corner], to = t[(corner + 1) % 3];
      if (SeenAcross(from, to)) continue;
      rim_[from].push_back(to);
      rim_[to].push_back(from);
    }
  }
}

bool ScanQuality::NearRim(int triangle, const Vector3d& p_S) const {
  for (const std::int32_t v : mesh_.triangles[triangle]) {
    for (const std::int32_t w : rim_[v]) {
      const double off_mm = DistanceToSegment(p_S, mesh_.vertices[v], mesh_.vertices[w]);
      if (off_mm < spacing_mm_) return true;
    }
  }
  return false;
}

std::vector<ScanDoubt> ScanQuality::At(int triangle, const Vector3d& p_S) const {
  std::vector<ScanDoubt> doubts;
  if (drawn_[triangle] != 0) return {ScanDoubt::kDrawn};
  if (seen_[triangle] == 0) return {ScanDoubt::kUnseen};
  if (long_[triangle] != 0) doubts.push_back(ScanDoubt::kLongFace);
  const auto& t = mesh_.triangles[triangle];
  if (std::any_of(t.begin(), t.end(), [&](std::int32_t v) { return spike_[v] != 0; })) {
    doubts.push_back(ScanDoubt::kSpike);
  }
  if (NearRim(triangle, p_S)) doubts.push_back(ScanDoubt::kRim);
  return doubts;
}

}  // namespace aircut::sim
