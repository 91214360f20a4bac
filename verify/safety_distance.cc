#include "verify/safety_distance.h"

#include <algorithm>

#include "kinematics/units.h"

namespace aircut::verify {
namespace {

using Kind = sim::ProtectiveDevice::Kind;

constexpr double kHand_mm_s = 2000.0, kWalk_mm_s = 1600.0;
constexpr double kBranch_mm = 500.0, kLeast_mm = 100.0;
constexpr double kArm_mm = 850.0, kSingleBeam_mm = 1200.0;

SafetyDistance With(double time_s, double speed_mm_s, double intrusion_mm) {
  return {time_s, speed_mm_s, intrusion_mm, speed_mm_s * time_s + intrusion_mm, {}};
}

// A field fine enough that fingers, hands or arms are seen.
SafetyDistance FineField(double time_s, double resolution_mm) {
  const double intrusion_mm = std::max(0.0, 8.0 * (resolution_mm - 14.0));
  SafetyDistance near = With(time_s, kHand_mm_s, intrusion_mm);
  near.distance_mm = std::max(near.distance_mm, kLeast_mm);
  if (!(near.distance_mm > kBranch_mm)) return near;
  SafetyDistance far = With(time_s, kWalk_mm_s, intrusion_mm);
  far.distance_mm = std::max(far.distance_mm, kBranch_mm);
  return far;
}

std::vector<double> BeamHeights(int beams) {
  switch (beams) {
    case 2: return {400, 900};
    case 3: return {300, 700, 1100};
    case 4: return {300, 600, 900, 1200};
    default: return {};
  }
}

}  // namespace

SafetyDistance SafetyDistanceOf(const sim::ProtectiveDevice& device, double measured_stop_s) {
  const double time_s = device.response_s + measured_stop_s;
  if (device.kind == Kind::kScanner) {
    return With(time_s, kWalk_mm_s, std::max(kArm_mm, 1200.0 - 0.4 * device.height_mm));
  }
  if (device.kind == Kind::kLightCurtain && device.resolution_mm <= 40.0) return FineField(time_s, device.resolution_mm);
  const bool single = device.kind == Kind::kBeams && device.beams == 1;
  SafetyDistance beams = With(time_s, kWalk_mm_s, single ? kSingleBeam_mm : kArm_mm);
  if (device.kind == Kind::kBeams) beams.beam_heights_mm = BeamHeights(device.beams);
  return beams;
}

const char* SafetyDistanceScope() {
  return "ISO 13855 places devices that sense a person's approach: it speaks of walking and reaching towards a hazard at "
         "up to 1,600 and 2,000 mm/s, not of running, climbing or jumping, not of people who are already inside, and not "
         "of bits, splinters or pieces that fly. It needs the stop time of this machine with its load, measured. Local "
         "codes and the risk assessment decide whether such a device may be used at all.";
}

double RimSpeed_m_s(double diameter_mm, double rpm) { return kinematics::kPi * diameter_mm / 1000.0 * rpm / 60.0; }

double FragmentEnergy_j(double mass_g, double speed_m_s) { return 0.5 * mass_g / 1000.0 * speed_m_s * speed_m_s; }

}  // namespace aircut::verify
