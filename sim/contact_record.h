#pragma once

#include <cstdint>
#include <vector>

namespace aircut::sim {

/// What one sweep did to the material, in time order with the track.
struct SweepContact {
  std::int64_t removed_voxels = 0;   ///< voxel centres that turned from material to air
  float bite_mm = 0.0f;        ///< overlap of cutter and material met, 0 = none
  float bite_bound_mm = 0.0f;  ///< numerical error of bite_mm on smooth faces; 0 = surely clear
  float axial_mm = 0.0f;       ///< highest removed point above the tip, along the axis
  float radial_mm = 0.0f;      ///< farthest removed point from the axis
  float body_bite_mm = 0.0f;   ///< overlap of shank, holder or housing with material
  float body_bound_mm = 0.0f;  ///< numerical error of body_bite_mm; 0 = surely clear
  std::int8_t body = -1;       ///< which body of the tool, -1 = none
};

struct ContactRecord {
  std::vector<SweepContact> sweeps;   ///< one per sweep of the track
  double voxel_mm = 0.0;
  double bite_bound_mm = 0.0;         ///< largest bite_bound_mm of any sweep
  double VolumeOf(const SweepContact& c) const {
    return static_cast<double>(c.removed_voxels) * voxel_mm * voxel_mm * voxel_mm;
  }
};

}  // namespace aircut::sim
