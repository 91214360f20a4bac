#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/cell.h"

namespace aircut::sim {

/// Share by which the stiffness of an arm's joints may be off where no poses were held out
/// to show it: prediction errors of a measured arm's held-out poses, taken together, were 17
/// to 30 % of the deflection (external check STF-12); one was 40 % (STF-11).
inline constexpr double kArmBand = 0.4;

/// Young's modulus of a cutter that does not state its own [GPa]: high-speed steel to
/// carbide. Source: the pages of external check STF-02 and its neighbours (580, 200).
inline constexpr double kSoftModulus_gpa = 200, kStiffModulus_gpa = 600;

/// Core of a fluted part over its outline's diameter. Source: domain notes A27.
inline constexpr double kCoreShare = 0.8;

/// What a cutter gives across its axis at a height above the tip, by a force there: a
/// stepped cantilever from the collet nut, flute core then shank, bending alone.
/// @param height_mm above the tip, from 0 to below the stick-out.
/// @returns [mm/N]. Sources: external checks STF-01 to STF-04.
double CutterCompliance_mm_n(const CellCutter& cutter, double modulus_gpa, double height_mm);

/// The same along its axis: the rod's own stretch.
double CutterStretch_mm_n(const CellCutter& cutter, double modulus_gpa);

/// @returns the joints' stiffness [N m/rad], one per joint of the chain: fitted, else stated;
/// nothing unless every one states it.
std::optional<std::vector<double>> ArmStiffnessOf(const Cell& cell);

/// @returns the share by which the arm's deflection may be off: that of held-out poses, else kArmBand.
double ArmBandOf(const Cell& cell);

/// @returns the joints' lost motion [rad]; nothing unless every one states it.
std::optional<std::vector<double>> LostMotionOf(const Cell& cell);

}  // namespace aircut::sim
