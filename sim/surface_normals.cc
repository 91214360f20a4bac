#include "sim/surface_normals.h"

#include <cmath>
#include <cstdint>
#include <unordered_map>

#include "sim/triangle_samples.h"

namespace aircut::sim {

using Eigen::Vector3d;

struct SurfaceNormals::Impl {
  const MeshIndex* surface = nullptr;
  double radius = 0.0;
  std::vector<SurfaceSample> samples;
  std::unordered_map<std::uint64_t, std::vector<std::int32_t>> cells;   // edge = radius

  std::uint64_t Key(const Vector3d& p, const Eigen::Vector3i& shift) const {
    const Eigen::Array3i at = (p / radius).array().floor().cast<int>() + shift.array() + (1 << 20);
    return static_cast<std::uint64_t>(at.x()) | static_cast<std::uint64_t>(at.y()) << 21 |
           static_cast<std::uint64_t>(at.z()) << 42;
  }
};

SurfaceNormals::SurfaceNormals(const MeshIndex& surface_S, double radius_mm,
                               const Eigen::AlignedBox3d& around_S, int threads) {
  auto impl = std::make_unique<Impl>();
  impl->surface = &surface_S;
  impl->radius = radius_mm;
  const Eigen::AlignedBox3d box(around_S.min().array() - 2.0 * radius_mm,
                                around_S.max().array() + 2.0 * radius_mm);
  impl->samples = SampleSurface(
      surface_S.mesh(), {radius_mm / 4.0, [&](const Vector3d& p) { return box.contains(p); }, threads});
  for (std::size_t i = 0; i < impl->samples.size(); ++i) {
    impl->cells[impl->Key(impl->samples[i].p, Eigen::Vector3i::Zero())].push_back(
        static_cast<std::int32_t>(i));
  }
  impl_ = std::move(impl);
}

SurfaceNormals::~SurfaceNormals() = default;
SurfaceNormals::SurfaceNormals(SurfaceNormals&&) noexcept = default;

SurfaceNormals::Foot SurfaceNormals::At(const Vector3d& p_S) const {
  const MeshIndex::Closest foot = impl_->surface->ClosestPoint(p_S);
  const Mesh& mesh = impl_->surface->mesh();
  const Vector3d own = TriangleNormal(mesh, foot.triangle);
  const double r2 = impl_->radius * impl_->radius;
  Vector3d sum = 1e-12 * own;   // stands alone where the disc holds no sample
  for (int n = 0; n < 27; ++n) {
    const auto cell = impl_->cells.find(
        impl_->Key(foot.point, Eigen::Vector3i(n % 3 - 1, n / 3 % 3 - 1, n / 9 - 1)));
    if (cell == impl_->cells.end()) continue;
    for (const std::int32_t i : cell->second) {
      const SurfaceSample& s = impl_->samples[static_cast<std::size_t>(i)];
      const double d2 = (s.p - foot.point).squaredNorm();
      // The other side of a thin wall, or the far flank of an edge, does not count.
      if (d2 >= r2 || s.normal.dot(own) <= 0.0) continue;
      sum += s.area_mm2 * (1.0 - d2 / r2) * s.normal;
    }
  }
  return {foot.point, sum.normalized()};
}

}  // namespace aircut::sim
