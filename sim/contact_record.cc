#include "sim/contact_record.h"

#include <algorithm>
#include <stdexcept>

namespace aircut::sim {

Eigen::Vector3d ContactRecord::MiddleOf(const SweepContact& c) const {
  if (!c.cuts()) throw std::invalid_argument("MiddleOf: the sweep removed nothing");
  const Eigen::Vector3d sums(static_cast<double>(c.place_sums[0]), static_cast<double>(c.place_sums[1]),
                             static_cast<double>(c.place_sums[2]));
  return origin_S + place_mm * sums / static_cast<double>(c.removed_units);
}

double EngagedArc_rad(const SweepContact& contact) {
  constexpr double kFullTurn = 6.28318530717958647692;
  return kFullTurn * __builtin_popcount(contact.arc) / kArcSectors;
}

TouchedSpan TouchedSweeps(const ContactRecord& record) {
  TouchedSpan span;
  for (std::size_t i = 0; i < record.sweeps.size(); ++i) {
    if (!record.sweeps[i].touches()) continue;
    if (span.empty()) span.first = i;
    span.last = i;
  }
  return span;
}

void Merge(SweepContact& into, const SweepContact& from) {
  into.removed_units += from.removed_units;
  for (std::size_t d = 0; d < 3; ++d) into.place_sums[d] += from.place_sums[d];
  into.arc |= from.arc;
  into.bite_mm = std::max(into.bite_mm, from.bite_mm);
  into.bite_bound_mm = std::max(into.bite_bound_mm, from.bite_bound_mm);
  into.body_bound_mm = std::max(into.body_bound_mm, from.body_bound_mm);
  into.axial_low_mm = std::min(into.axial_low_mm, from.axial_low_mm);
  into.axial_mm = std::max(into.axial_mm, from.axial_mm);
  into.radial_mm = std::max(into.radial_mm, from.radial_mm);
  const bool deeper = from.body_bite_mm > into.body_bite_mm;
  const bool tie = from.body_bite_mm == into.body_bite_mm && from.body >= 0 &&
                   (into.body < 0 || from.body < into.body);
  if (deeper || tie) into.body = from.body;
  into.body_bite_mm = std::max(into.body_bite_mm, from.body_bite_mm);
}

}  // namespace aircut::sim
