#pragma once

#include <string>
#include <vector>

#include "sim/contact_settling.h"
#include "verify/check.h"

namespace aircut::verify {

// Private to verify: the checks of this version and what they share. Each check
// leaves `id`, `group` and `required` to the catalogue.

CheckResult CheckArmModel(const CheckInputs& in);       ///< `arm-model`
CheckResult CheckJointPath(const CheckInputs& in);      ///< `joint-path`
CheckResult CheckPieceLocated(const CheckInputs& in);   ///< `piece-located`
CheckResult CheckFrameFit(const CheckInputs& in);       ///< `frame-fit`
CheckResult CheckToolMeasured(const CheckInputs& in);   ///< `tool-measured`
CheckResult CheckBodiesDeclared(const CheckInputs& in); ///< `bodies-declared`
CheckResult CheckScanSupport(const CheckInputs& in);    ///< `scan-support`
CheckResult CheckPayload(const CheckInputs& in);        ///< `payload`
CheckResult CheckInputFiles(const CheckInputs& in);     ///< `inputs`
CheckResult CheckEvents(const CheckInputs& in);         ///< `events`
CheckResult CheckReach(const CheckInputs& in);          ///< `reach`
CheckResult CheckJointRange(const CheckInputs& in);     ///< `joint-range`
CheckResult CheckJointSpeed(const CheckInputs& in);     ///< `joint-speed`
CheckResult CheckPostureChange(const CheckInputs& in);  ///< `posture-change`
CheckResult CheckJointAcceleration(const CheckInputs& in);   ///< `joint-acceleration`
CheckResult CheckFeedHeld(const CheckInputs& in);       ///< `feed-held`
CheckResult CheckCornerRounding(const CheckInputs& in); ///< `corner-rounding`
CheckResult CheckSingularity(const CheckInputs& in);    ///< `singularity`
CheckResult CheckWristWinding(const CheckInputs& in);   ///< `wrist-winding`
CheckResult CheckDeflection(const CheckInputs& in);     ///< `deflection`
CheckResult CheckHolding(const CheckInputs& in);        ///< `holding`
CheckResult CheckLostMotion(const CheckInputs& in);     ///< `lost-motion`
CheckResult CheckChipLoad(const CheckInputs& in);       ///< `chip-load`
CheckResult CheckSpindleLoad(const CheckInputs& in);    ///< `spindle-load`
CheckResult CheckToolStrength(const CheckInputs& in);   ///< `tool-strength`
CheckResult CheckShaking(const CheckInputs& in);        ///< `shaking`
CheckResult CheckDepthConfidence(const CheckInputs& in); ///< `depth-confidence`
CheckResult CheckCycleTime(const CheckInputs& in);      ///< `cycle-time`
CheckResult CheckClash(const CheckInputs& in);          ///< `clash`
CheckResult CheckClearance(const CheckInputs& in);      ///< `clearance`
CheckResult CheckRapidContact(const CheckInputs& in);   ///< `rapid-contact`
CheckResult CheckStoppedContact(const CheckInputs& in); ///< `stopped-contact`
CheckResult CheckBodyContact(const CheckInputs& in);    ///< `body-contact`
CheckResult CheckPlunge(const CheckInputs& in);         ///< `plunge`
CheckResult CheckFluteLength(const CheckInputs& in);    ///< `flute-length`
CheckResult CheckGouge(const CheckInputs& in);          ///< `gouge`
CheckResult CheckClampZone(const CheckInputs& in);      ///< `clamp-zone`
CheckResult CheckBreakThrough(const CheckInputs& in);   ///< `break-through`
CheckResult CheckDepth(const CheckInputs& in);          ///< `depth`
CheckResult CheckLeftover(const CheckInputs& in);       ///< `leftover`
CheckResult CheckScallop(const CheckInputs& in);        ///< `scallop`
CheckResult CheckSlowAirPass(const CheckInputs& in);    ///< `slow-air-pass`

using sim::kContact_mm;

/// Findings a check lists; the rest is counted in its `why`.
inline constexpr std::size_t kMostFindings = 20;

/// A result that is unproven for a stated reason.
CheckResult Unproven(std::string why, std::vector<std::string> needs);

/// Worst value against its limit.
struct Measurement {
  double worst = 0.0, bound = 0.0, limit = 0.0;
  Sense sense = Sense::kAtMost;
  std::string unit;
};
/// A result decided by Decide().
CheckResult Measured(const Measurement& m);

/// @returns true if the arm follows the whole path and the cut was made by
/// that motion, approach and return included.
bool Followed(const sim::Run& run);

/// Turns a pass into unproven where the cut was made by the written path only.
CheckResult NeedsFollowing(CheckResult result, const sim::Run& run);

/// @returns the limit's printed origin: " (limit 0.30 mm)" or " (default limit 0.30 mm)".
std::string LimitText(const sim::Limit& limit, const std::string& value);

/// @returns the limit as given, or `fallback` in its place where it was not.
sim::Limit LimitOr(const sim::Limit& limit, double fallback);

/// @returns the numbers of the cutters that the path uses, rising.
std::vector<int> CuttersUsed(const sim::Job& job);

/// @returns the cell's cutter, also one whose cut is not computed yet; null if
/// the cell has none of that number.
const sim::CellCutter* FindCutter(const sim::Cell& cell, int number);

/// @returns the places of the work in S: the samples that are to be carved, or
/// the corners of the cuts' box where there is none; empty without a cut.
std::vector<Eigen::Vector3d> WorkPlaces(const CheckInputs& in);

/// Sorts by what is worst first is the check's own affair; this cuts the list
/// to kMostFindings and says in `why` how many were left out.
void TrimFindings(CheckResult* result);

/// Time of a sweep of the track, nothing when the track is not that of a motion.
std::optional<double> TimeOfSweep(const sim::Run& run, std::size_t sweep);

/// Probable cause of the depth error at a sample: the touched points where they explain
/// it, else the cause of the whole field; empty when nothing does.
std::string CauseOfDepthError(const CheckInputs& in, int sample);

/// How far the touched piece stands above where the path expects it, along
/// `up_S` at `p_SQ` [mm].
double RiseOfPiece(const sim::PieceLocation& location, const Eigen::Vector3d& p_SQ,
                   const Eigen::Vector3d& up_S);

}  // namespace aircut::verify
