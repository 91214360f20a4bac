#pragma once

#include <string>
#include <vector>

#include "sim/stopping.h"

namespace aircut::verify {

/// Least distance of a protective device from the space where the arm can hurt
/// someone: S = K T + C with T = the device's response time + the measured stop time.
/// It concerns people who come near, not bits or splinters that fly.
struct SafetyDistance {
  double time_s = 0.0;          ///< T
  double speed_mm_s = 0.0;      ///< K, of a hand or a person who comes near
  double intrusion_mm = 0.0;    ///< C, how far a hand may have come before it is seen
  double distance_mm = 0.0;     ///< S
  std::vector<double> beam_heights_mm;   ///< above the floor; of 2 to 4 beams
};

/// @returns S by ISO 13855:2010. A field of up to 40 mm resolution that is entered
/// square to it: K = 2000 mm/s and C = 8 (d - 14 mm), not below 0; beyond 500 mm again
/// with K = 1600 mm/s, then at least 500 mm; never below 100 mm (from memory). Coarser
/// fields and beams: K = 1600 mm/s, C = 850 mm, a single beam 1200 mm. A field along the
/// floor: C = 1200 mm - 0.4 H, not below 850 mm.
/// Source: external-checks SAF-02 to SAF-09.
SafetyDistance SafetyDistanceOf(const sim::ProtectiveDevice& device, double measured_stop_s);

/// The scope that is printed with every such distance.
const char* SafetyDistanceScope();

/// Speed of the cutting edge [m/s], pi D n. Source: external-checks SAF-14.
double RimSpeed_m_s(double diameter_mm, double rpm);

/// Energy [J] of a fragment that leaves at a speed, m v^2 / 2. Source: external-checks SAF-14.
double FragmentEnergy_j(double mass_g, double speed_m_s);

}  // namespace aircut::verify
