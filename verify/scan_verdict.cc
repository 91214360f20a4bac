#include "verify/scan_verdict.h"

#include <algorithm>

#include <fmt/format.h>

namespace aircut::verify {
namespace {

constexpr double kLeastSeen = 0.8;   // engineering judgement

ScanVerdict Open(std::string why) { return {Result::kUnproven, std::move(why)}; }

// What keeps a scan from telling anything; empty: nothing does.
std::string WhyNothingIsTold(const ScanComparison& c) {
  switch (c.fit.state) {
    case sim::ScanFitState::kNotFound:
      return "The scan could not be laid on the piece: give it in millimetres, trimmed to the piece, outward faces, "
             "and move it roughly into the frame of the workpiece.";
    case sim::ScanFitState::kTwoWays:
      return fmt::format("The scan fits about as well when it is turned by {:.0f} degrees: move it roughly into the "
                         "frame of the workpiece, which settles the turn.", c.fit.rival_turn_deg.value_or(0.0));
    case sim::ScanFitState::kSettled: break;
  }
  if (!c.fit.cut_offset_mm) {
    return "The scan shows next to nothing that was not cut, so a depth error that all places have in common cannot be "
           "told from how the piece lies: scan the face beside the carving too.";
  }
  if (c.seen_share < kLeastSeen) {
    return fmt::format("The scan shows {:.0f} % of the carving only: scan at least {:.0f} % of it.", 100 * c.seen_share,
                       100 * kLeastSeen);
  }
  return {};
}

// Beside the carving more than was predicted may be a clamp, tape or chips.
bool IsWrong(const ScanRegion& r) {
  return r.place == ScanRegion::Place::kCarving || r.kind == ScanRegion::Kind::kDeeper;
}

}  // namespace

ScanVerdict JudgeScan(const ScanComparison& c, const std::optional<double>& depth_limit_mm) {
  std::string open = WhyNothingIsTold(c);
  if (!open.empty()) return Open(std::move(open));
  const auto wrong = std::count_if(c.regions.begin(), c.regions.end(), IsWrong);
  if (wrong > 0) {
    const ScanRegion& r = *std::find_if(c.regions.begin(), c.regions.end(), IsWrong);
    return {Result::kFail,
            fmt::format("The piece is not what the run predicted: {} region{} by more than {:.3f} mm, the first "
                        "{:.1f} mm2 {} and up to {:.3f} mm {} than predicted.", wrong, wrong == 1 ? " differs" : "s differ",
                        c.bound_mm, r.area_mm2, r.place == ScanRegion::Place::kCarving ? "of the carving" : "beside the carving",
                        r.worst_mm, r.kind == ScanRegion::Kind::kDeeper ? "deeper" : "higher")};
  }
  if (!depth_limit_mm) {
    return Open("The run predicted what was measured; the report states no depth limit (accept.depth) to hold it against.");
  }
  const std::string measured = fmt::format("95 % of the carving measure within {:.3f} mm of the design, {:.3f} mm are accepted, "
                                           "and the scan tells {:.3f} mm", c.measured_p95_mm, *depth_limit_mm, c.bound_mm);
  if (c.measured_p95_mm - c.bound_mm > *depth_limit_mm) return {Result::kFail, measured + ": the piece is out of tolerance."};
  if (c.measured_p95_mm + c.bound_mm > *depth_limit_mm) {
    return Open(measured + ": too near the limit for this scan; a finer scan or a finer resolution would tell.");
  }
  return {Result::kPass, "The run predicted what was measured: " + measured + "."};
}

}  // namespace aircut::verify
