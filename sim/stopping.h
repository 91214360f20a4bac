#pragma once

#include <string>
#include <vector>

namespace aircut::sim {

/// A device that senses a person who comes near and stops the arm.
struct ProtectiveDevice {
  enum class Kind {
    kLightCurtain,   ///< a field across the way, entered square to it, that sees fingers, hands or arms
    kBeams,          ///< one to four single beams across the way
    kScanner         ///< a field along the floor, walked into along it
  } kind = Kind::kLightCurtain;
  std::string name;
  double response_s = 0.0;        ///< from sensing to the order to stop
  double resolution_mm = 0.0;     ///< smallest thing surely sensed; of curtain and scanner
  int beams = 0;                  ///< of kBeams
  double height_mm = 0.0;         ///< of the scanner's field above the floor
};

/// How long the arm runs on after the order to stop, as measured, and the devices
/// for which least distances are asked.
struct Stopping {
  double measured_s = 0.0;
  std::string by;                 ///< how and when it was measured
  std::vector<ProtectiveDevice> devices;
};

}  // namespace aircut::sim
