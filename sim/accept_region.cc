#include "sim/accept_region.h"

namespace aircut::sim {

bool AcceptRegion::Holds(const Eigen::Vector3d& p_S) const {
  if (!box_S.contains(p_S)) return false;
  if (outline_S.empty()) return true;
  // Even-odd rule: how often a line from here along +x crosses the outline.
  bool inside = false;
  for (std::size_t i = 0; i < outline_S.size(); ++i) {
    const Eigen::Vector2d &a = outline_S[i], &b = outline_S[(i + 1) % outline_S.size()];
    if ((a.y() > p_S.y()) == (b.y() > p_S.y())) continue;
    const double x = a.x() + (p_S.y() - a.y()) / (b.y() - a.y()) * (b.x() - a.x());
    if (p_S.x() < x) inside = !inside;
  }
  return inside;
}

}  // namespace aircut::sim
