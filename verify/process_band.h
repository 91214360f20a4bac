#pragma once

namespace aircut::verify {

/// Where nobody states a process value, a check takes the bad end of this band:
/// what holds there passes, marked as assumed; what fails even at the good end
/// fails; anything else is unproven until the value is stated.
/// Source of the rule: design, section 1.
struct ProcessBand {
  const char* key;      ///< that states the value
  double low, high;
  const char* unit;
  const char* source;
};

/// Time a spindle needs from standing still to its speed.
inline constexpr ProcessBand kRunUpBand{"spindle.run_up_s", 2.0, 5.0, "s", "from memory"};

/// Bending stress at which a cutter breaks. Cemented carbide; its test is ISO 3327.
inline constexpr ProcessBand kStrengthBand{"cutters.N.strength_mpa", 1500.0, 4000.0, "MPa", "from memory"};

}  // namespace aircut::verify
