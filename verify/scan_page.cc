// What a scan of the real piece says of the run that foretold it, as a page and as JSON.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "kinematics/units.h"
#include "verify/compare_page.h"
#include "verify/picture.h"
#include "verify/report_parts.h"
#include "verify/report_text.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kListed = 30;

std::string Mm(double value_mm, int decimals = 3) { return Number(value_mm, decimals) + "\u00a0mm"; }
std::string Signed(double value_mm) { return (value_mm > 0 ? "+" : "") + Mm(value_mm); }

const char* KindWord(const ScanRegion& r) { return r.kind == ScanRegion::Kind::kDeeper ? "deeper" : "higher"; }
const char* PlaceWord(const ScanRegion& r) { return r.place == ScanRegion::Place::kCarving ? "carving" : "beside"; }

std::string RegionRows(const ScanComparison& c) {
  std::string html;
  for (std::size_t k = 0; k < std::min(kListed, c.regions.size()); ++k) {
    const ScanRegion& r = c.regions[k];
    html += fmt::format("<tr><td class=\"nw\"><b>{}</b></td><td>{}</td><td class=\"nw\">{}</td><td class=\"nw\">{}</td><td>{}</td><td>{}</td></tr>\n",
                        KindWord(r), r.place == ScanRegion::Place::kCarving ? "carving" : "beside it", Mm(r.worst_mm),
                        SquareMillimetres(r.area_mm2), Place(r.at_S), r.first_line > 0 ? Lines(r.first_line, r.last_line) : "no line cut there");
  }
  return html;
}

std::string RegionSection(const ScanComparison& c) {
  std::string html = "<h2>Where the piece is not as predicted</h2>\n";
  if (c.regions.empty()) return html + fmt::format("<p>Nowhere by more than {}, which is what this scan can tell.</p>\n", Mm(c.bound_mm));
  html += "<table><thead><tr><th scope=\"col\">the piece is</th><th scope=\"col\">where</th><th scope=\"col\">by up to</th>"
          "<th scope=\"col\">over</th><th scope=\"col\">at, on the workpiece</th><th scope=\"col\">left by</th></tr></thead><tbody>\n" +
          RegionRows(c) + "</tbody></table>\n";
  if (c.regions.size() > kListed) html += fmt::format("<p class=\"note\">And {} smaller ones.</p>\n", c.regions.size() - kListed);
  return html;
}

std::string Row(const char* what, const std::string& told) { return fmt::format("<tr><td>{}</td><td class=\"nw\">{}</td></tr>\n", what, told); }

std::string NumberSection(const ReadScan& read) {
  const ScanComparison& c = read.comparison;
  std::string html = "<h2>Measured against predicted</h2>\n<table class=\"narrow\"><tbody>\n";
  html += Row("carving that the scan shows", fmt::format("{} of {}", Percent(c.seen_share), SquareMillimetres(c.carving_mm2)));
  html += Row("measured less predicted, on average", Signed(c.mean_mm)) + Row("RMS", Mm(c.rms_mm)) + Row("95 % of it within", Mm(c.p95_mm));
  html += Row("a difference counts beyond", Mm(c.bound_mm)) + Row("carving on which the prediction held", Percent(c.covered_share));
  html += Row("depth error, 95 % within: as predicted", Mm(c.predicted_p95_mm)) + Row("as measured", Mm(c.measured_p95_mm));
  html += Row("what the job accepts", read.depth_limit_mm ? Mm(*read.depth_limit_mm, 2) : std::string("not stated"));
  return html + "</tbody></table>\n<p class=\"note\">Along the normal of the predicted surface; + is more material than predicted.</p>\n";
}

std::string FitSection(const sim::ScanFit& fit) {
  const double turn_deg = kinematics::DegFromRad(Eigen::AngleAxisd(fit.X_SQ.linear()).angle());
  std::string html = "<h2>How the scan was laid on the piece</h2>\n<table class=\"narrow\"><tbody>\n";
  html += Row("points used", fmt::format("{} of {}", Count(fit.used), Count(fit.points)));
  html += Row("started", fit.as_it_lay ? "from where the scan lay" : "from a turn of its principal axes");
  html += Row("shifted by", Place(fit.X_SQ.translation())) + Row("turned by", Number(turn_deg, 4) + "°");
  html += Row("residual of the points used, RMS", Mm(fit.rms_mm, 4)) + Row("scatter where nothing was cut, one sigma", Mm(fit.noise_mm, 4));
  if (fit.cut_offset_mm) html += Row("common to all that was cut", Signed(*fit.cut_offset_mm));
  html += "</tbody></table>\n<p class=\"note\">Rigid least squares of points on planes, points that lie off weighted down to nothing.";
  if (fit.open_directions > 0) html += fmt::format(" {} of six shifts and turns are not held by this surface and were left as they lay.", fit.open_directions);
  if (fit.rival_turn_deg) html += fmt::format(" Turned by {}° it would fit about as well.", Number(*fit.rival_turn_deg, 0));
  return html + "</p>\n";
}

// Along the axis of S that the carving's faces look to most: from there its differences are seen.
Eigen::Vector3d LookAt(const PredictedSurface& predicted) {
  Eigen::Vector3d sum = Eigen::Vector3d::Zero();
  for (const auto& t : predicted.mesh_S.triangles) {
    const auto at = [&](std::size_t n) -> const Eigen::Vector3d& { return predicted.mesh_S.vertices[static_cast<std::size_t>(t[n])]; };
    if (std::isfinite(predicted.deviation_mm[static_cast<std::size_t>(t[0])])) sum += (at(1) - at(0)).cross(at(2) - at(0));
  }
  if (!(sum.norm() > 1e-9)) return -Eigen::Vector3d::UnitZ();
  Eigen::Index axis = 2;
  sum.cwiseAbs().maxCoeff(&axis);
  return -std::copysign(1.0, sum[axis]) * Eigen::Vector3d::Unit(axis);
}

std::string PictureSection(const ReadScan& read) {
  const ScanComparison& c = read.comparison;
  const bool drawn = c.difference_mm.size() == read.predicted.mesh_S.vertices.size() && c.bound_mm > 0.0 && std::isfinite(c.bound_mm);
  if (!drawn) return "";
  PictureRequest request;
  request.mesh_S = &read.predicted.mesh_S;
  request.deviation_mm = &c.difference_mm;
  request.look_S = LookAt(read.predicted);
  request.tolerance_mm = c.bound_mm;
  return fmt::format("<h2>The piece, by measured less predicted</h2>\n<figure><img class=\"wide\" src=\"data:image/png;base64,{}\" "
                     "alt=\"Measured less predicted over the piece\"><figcaption>Paper: within {}, as predicted. Ochre, hatched: deeper. "
                     "Purple: higher. Darker at 2, 4 and 8 times as much. Grey: not seen, or not carved.</figcaption></figure>\n",
                     Base64(DrawPiece(request)), Mm(c.bound_mm));
}

Json Told(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }
Json Told(const std::optional<double>& value) { return value ? Told(*value) : Json(nullptr); }

Json FitJson(const sim::ScanFit& fit) {
  const char* state = fit.state == sim::ScanFitState::kSettled ? "settled" : fit.state == sim::ScanFitState::kTwoWays ? "two ways" : "not found";
  const Eigen::Vector3d shift = fit.X_SQ.translation();
  return {{"state", state}, {"as_it_lay", fit.as_it_lay}, {"points", fit.points}, {"used", fit.used}, {"shift_mm", {shift.x(), shift.y(), shift.z()}},
          {"turn_deg", Told(kinematics::DegFromRad(Eigen::AngleAxisd(fit.X_SQ.linear()).angle()))}, {"rms_mm", Told(fit.rms_mm)},
          {"noise_mm", Told(fit.noise_mm)}, {"cut_offset_mm", Told(fit.cut_offset_mm)}, {"open_directions", fit.open_directions},
          {"rival_turn_deg", Told(fit.rival_turn_deg)}};
}

}  // namespace

std::string ScanHtml(const ReadScan& read) {
  std::string html = "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
                     "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:\">\n"
                     "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
  html += fmt::format("<title>As cut: {}</title>\n<style>{}</style></head>\n<body><main>\n", Escaped(read.scan), PageStyle());
  html += fmt::format("<p class=\"kick\"><span>Scan of the piece, <b>{}</b>, held against the run in {}</span></p>\n", Escaped(read.scan),
                      Escaped(read.folder));
  html += fmt::format("<h1>{}{}</h1>\n<p class=\"note\">Result: <b>{}</b>.</p>\n", ShapeOf(read.verdict.result, 25), Escaped(read.verdict.why),
                      WordFor(read.verdict.result));
  if (read.comparison.fit.state != sim::ScanFitState::kNotFound) {
    html += RegionSection(read.comparison) + PictureSection(read) + NumberSection(read) + FitSection(read.comparison.fit);
  }
  return html + "<p class=\"note end\">This speaks of the piece that was scanned, not of the next one.</p>\n</main></body></html>\n";
}

std::string ScanJson(const ReadScan& read) {
  const ScanComparison& c = read.comparison;
  const bool fitted = c.fit.state != sim::ScanFitState::kNotFound;
  const auto told = [&](double value) { return fitted ? Told(value) : Json(nullptr); };
  Json json = {{"schema", "aircut/as-cut/1"}, {"folder", read.folder}, {"scan", read.scan}, {"result", WordFor(read.verdict.result)},
               {"why", read.verdict.why}, {"fit", FitJson(c.fit)}, {"carving_mm2", told(c.carving_mm2)}, {"seen_share", told(c.seen_share)},
               {"bound_mm", told(c.bound_mm)}, {"mean_mm", told(c.mean_mm)}, {"rms_mm", told(c.rms_mm)}, {"p95_mm", told(c.p95_mm)},
               {"covered_share", told(c.covered_share)}, {"predicted_p95_mm", told(c.predicted_p95_mm)},
               {"measured_p95_mm", told(c.measured_p95_mm)}, {"depth_limit_mm", Told(read.depth_limit_mm)}, {"regions", Json::array()}};
  for (const ScanRegion& r : c.regions) {
    json["regions"].push_back({{"kind", KindWord(r)}, {"place", PlaceWord(r)}, {"area_mm2", Told(r.area_mm2)}, {"worst_mm", Told(r.worst_mm)},
                               {"at_mm", {r.at_S.x(), r.at_S.y(), r.at_S.z()}}, {"first_line", r.first_line > 0 ? Json(r.first_line) : Json(nullptr)},
                               {"last_line", r.last_line > 0 ? Json(r.last_line) : Json(nullptr)}});
  }
  return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace aircut::verify
