#include <algorithm>
#include <array>

#include <fmt/format.h>

#include "sim/scan_quality.h"
#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using sim::ScanDoubt;

// So many places of the work are looked at; more would cost time and show nothing new.
constexpr std::size_t kMostPlaces = 100000;

// What a kind of doubt means for the result.
struct Kind {
  Result result;        ///< where it spans more than the region that counts
  const char* text;     ///< "12 mm2 of the cut ..."
  const char* cause;
  const char* need;
};

const Kind& KindOf(std::size_t doubt) {
  static constexpr std::array<Kind, sim::kScanDoubts> kKinds = {{
      {Result::kFail, "lie where the scanner never looked",
       "the cut goes round to a side that the scan only guesses, or `stock.scan.seen_from` is wrong",
       "a scan that sees the whole cut"},
      {Result::kUnproven, "lie on faces far larger than the scan's own spacing",
       "a hole of the scan that was filled, or a mesh that was thinned",
       "`stock.mesh`: the scan without filled holes and not thinned, or a scan of the missing place"},
      {Result::kFail, "lie on spikes of the scan",
       "dust, a reflection or a wrong point in the scan: mend or scan again",
       "a scan without spikes under the cut"},
      {Result::kUnproven, "lie at the rim of what the scanner saw",
       "the scan ends there, and the last faces of a scan are its worst",
       "a scan that reaches farther than the cut"},
      {Result::kUnproven, "lie where the scan has a hole or ends, under a face drawn to close the stock",
       "the scanner did not see these places", "a scan of these places"},
  }};
  return kKinds[doubt];
}

// Area of the work under one kind of doubt.
struct Share {
  double area_mm2 = 0.0;
  Vector3d first_S = Vector3d::Zero();   ///< the first place met
};
using Shares = std::array<Share, sim::kScanDoubts>;

// The place on the scanned surface over a sample.
Vector3d OnStock(const CheckInputs& in, std::size_t sample) {
  const sim::DepthRay& ray = in.run.samples[sample].ray;
  if (sample >= in.run.depths.size() || !in.run.depths[sample].has_material) return ray.p_SQ;
  return ray.p_SQ + in.run.depths[sample].stock_top_mm * ray.up_S;
}

std::vector<std::size_t> PlacesToLookAt(const sim::Run& run) {
  std::vector<std::size_t> carved;
  for (std::size_t i = 0; i < run.samples.size(); ++i) {
    if (run.samples[i].role == sim::DesignSample::Role::kCarve) carved.push_back(i);
  }
  const std::size_t step = (carved.size() + kMostPlaces - 1) / kMostPlaces;
  std::vector<std::size_t> some;
  for (std::size_t i = 0; i < carved.size(); i += step) some.push_back(carved[i]);
  return some;
}

Shares SharesOf(const CheckInputs& in, const sim::ScanQuality& scan,
                const std::vector<std::size_t>& places) {
  double all_mm2 = 0.0, seen_mm2 = 0.0;
  Shares shares;
  for (const sim::DesignSample& s : in.run.samples) {
    if (s.role == sim::DesignSample::Role::kCarve) all_mm2 += s.area_mm2;
  }
  for (const std::size_t i : places) seen_mm2 += in.run.samples[i].area_mm2;
  const double stands_for = seen_mm2 > 0.0 ? all_mm2 / seen_mm2 : 1.0;
  for (const std::size_t i : places) {
    const sim::MeshIndex::Closest foot = in.job.stock_S->ClosestPoint(OnStock(in, i));
    const double area_mm2 = stands_for * in.run.samples[i].area_mm2;
    for (const ScanDoubt doubt : scan.At(foot.triangle, foot.point)) {
      Share& share = shares[static_cast<std::size_t>(doubt)];
      if (share.area_mm2 == 0.0) share.first_S = foot.point;
      share.area_mm2 += area_mm2;
    }
  }
  return shares;
}

std::string TextOf(std::size_t doubt, const Share& share) {
  return fmt::format("{} of the cut, from {} on, {}", SquareMillimetres(share.area_mm2),
                     Place(share.first_S), KindOf(doubt).text);
}

void AddFinding(std::size_t doubt, const Share& share, double limit_mm2, CheckResult* r) {
  Finding f;
  f.text = TextOf(doubt, share) + ".";
  f.at_S = share.first_S;
  f.value = share.area_mm2;
  f.limit = limit_mm2;
  f.unit = "mm2";
  f.cause = KindOf(doubt).cause;
  r->findings.push_back(f);
}

// The worst kind decides; what stays under the region that counts is a note.
CheckResult Decided(const sim::Limit& region, const sim::ScanQuality& scan, const Shares& shares) {
  std::vector<std::string> texts, notes;
  double worst_mm2 = 0.0;
  for (const Share& share : shares) worst_mm2 = std::max(worst_mm2, share.area_mm2);
  CheckResult r = Measured({worst_mm2, 0.0, region.value, Sense::kAtMost, "mm2"});
  r.result = Result::kPass;
  for (std::size_t doubt = 0; doubt < shares.size(); ++doubt) {
    const double area_mm2 = shares[doubt].area_mm2;
    if (area_mm2 == 0.0) continue;
    if (area_mm2 <= region.value) {
      notes.push_back(TextOf(doubt, shares[doubt]));
      continue;
    }
    const Result one = KindOf(doubt).result;
    if (one == Result::kFail || r.result == Result::kPass) r.result = one;
    const bool has_place = one == Result::kFail || doubt == static_cast<std::size_t>(ScanDoubt::kDrawn);
    if (has_place) AddFinding(doubt, shares[doubt], region.value, &r);
    texts.push_back(TextOf(doubt, shares[doubt]));
    r.needs.push_back(KindOf(doubt).need);
  }
  r.assumed = !region.given;
  r.why = texts.empty() ? fmt::format("The scan, {} fine, holds under the whole cut",
                                      Millimetres(scan.spacing_mm()))
                        : List(texts);
  r.why += notes.empty() ? "." : "; too small to count: " + List(notes) + ".";
  return r;
}

// Space that the scanner did not see, with what settles it.
struct Space {
  sim::Seen seen;
  const char* text;
  const char* need;
};
constexpr std::array<Space, 3> kSpaces = {{
    {sim::Seen::kUnderHole, "under holes of the scan", "a scan of the holes that the path crosses"},
    {sim::Seen::kBeside, "beside the rim of the scan, where the piece may go on",
     "a scan that reaches past the cut, or `stock.scan.beside: air` once you have looked that the piece ends where the "
     "scan does"},
    {sim::Seen::kBehind, "behind the back of the piece, where nothing was measured",
     "`stock.scan.thickness`, measured with a caliper there"},
}};

std::string TextOf(const Space& space, const sim::UnseenShare& share) {
  std::string text = fmt::format("The path goes {}: {} of it, {}, deepest {} at {}", space.text,
                                 Millimetres(share.travel_mm), Lines(share.first_line, share.last_line),
                                 Millimetres(share.deepest_mm), Place(share.at_S));
  if (share.removed_mm3 > 0.0) {
    text += fmt::format("; {:.3g} mm³ of what was drawn there are cut", share.removed_mm3);
  }
  return text;
}

// Cuts in space that no scan has seen can be anything: nothing is shown of them.
void AddUnseenSpace(const CheckInputs& in, CheckResult* r) {
  if (!in.run.unseen_cut) return;
  for (const Space& space : kSpaces) {
    const sim::UnseenShare& share = in.run.unseen_cut->Of(space.seen);
    if (share.travel_mm == 0.0) continue;
    Finding f;
    f.text = TextOf(space, share) + ".";
    f.line = share.first_line;
    if (share.last_line > share.first_line) f.lines = {share.first_line, share.last_line};
    f.time_s = share.time_s;
    f.at_S = share.at_S;
    f.value = share.travel_mm;
    f.unit = "mm";
    f.cause = "the scan does not cover all that the path touches";
    r->why = r->result == Result::kPass ? f.text : r->why + " " + f.text;
    if (r->result == Result::kPass) r->result = Result::kUnproven;
    r->findings.push_back(f);
    r->needs.push_back(space.need);
  }
}

// The holes of a mesh that is not a scan: what is cut from a face over one.
CheckResult NotAScan(const CheckInputs& in) {
  CheckResult r = Measured({0.0, 0.0, in.job.accept.region_mm2.value, Sense::kAtMost, "mm2"});
  r.assumed = !in.job.accept.region_mm2.given;
  r.why = "The stock is not a scan; its shape stands or falls with the touched points "
          "(piece-located).";
  const double unseen_mm2 = in.deviation.unseen_share * in.deviation.carve_area_mm2;
  if (!(unseen_mm2 > 0.0)) return r;
  r.worst = unseen_mm2;
  r.result = Decide(unseen_mm2, unseen_mm2, in.job.accept.region_mm2.value, Sense::kAtMost);
  r.why = fmt::format("{} of the cut lie under holes of the stock mesh, closed here by flat faces.",
                      SquareMillimetres(unseen_mm2));
  if (r.result != Result::kPass) r.needs = {"`stock.mesh` without holes"};
  return r;
}

CheckResult SurfaceSupport(const CheckInputs& in) {
  const sim::StockScan& said = in.job.scan;
  if (said.said == sim::Declared::kUnsaid) {
    return Unproven("Nothing says how the stock's shape came about, so holes and guesses of a scan "
                    "would not show.", {"`stock.scan`: how it was scanned, or `none`"});
  }
  if (said.said == sim::Declared::kNone) return NotAScan(in);
  if (said.one_sided && !said.seen_from_S) {
    return Unproven("The scan sees one side only, but not which.", {"`stock.scan.seen_from`"});
  }
  const std::vector<std::size_t> places = PlacesToLookAt(in.run);
  if (in.job.stock_S == nullptr || places.empty()) {
    return Unproven("No part of the stock is to be carved, so there is nothing to hold the scan "
                    "against.", {"a path that carves"});
  }
  const sim::Limit depth = in.job.accept.depth_mm;
  const sim::ScanQuality scan(in.job.stock_S->mesh(), {said.seen_from_S, depth.value / 3.0,
                                                          in.job.stock_faces.origin});
  if (scan.seen_faces() == 0) {
    return Unproven("No face of the stock looks towards the scanner.", {"`stock.scan.seen_from`"});
  }
  return Decided(in.job.accept.region_mm2, scan, SharesOf(in, scan, places));
}

}  // namespace

CheckResult CheckScanSupport(const CheckInputs& in) {
  CheckResult r = SurfaceSupport(in);
  AddUnseenSpace(in, &r);
  return r;
}

}  // namespace aircut::verify
