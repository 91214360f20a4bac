#include "tools/scan_compare.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <optional>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "kinematics/units.h"
#include "sim/file_hash.h"
#include "sim/input_error.h"
#include "sim/mesh_import.h"
#include "sim/surface_file.h"
#include "tools/output_file.h"
#include "verify/compare_page.h"
#include "verify/scan_comparison.h"
#include "verify/scan_verdict.h"
#include "verify/words.h"

namespace aircut::tools {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::json;

constexpr const char* kSurface = "carved.ply";
constexpr double kRegion_mm2 = 1.0;
constexpr std::size_t kListed = 10;
// A piece and a scan of it are of one size, but for what the scan leaves out.
constexpr double kLeastSize = 0.05, kMostSize = 20.0;

double UnitOf(const std::string& word) {
  if (word == "mm") return 1.0;
  if (word == "cm") return 10.0;
  if (word == "m") return 1000.0;
  if (word == "in") return 25.4;
  throw sim::InputError(fmt::format("--scan-unit = {} must be mm, cm, m or in: the unit that the scan was saved in", word));
}

// What a report says beside its surface.
struct ReportFacts {
  double voxel_mm = 0.0;
  std::optional<double> depth_limit_mm;
  std::string surface_sha256;
};

ReportFacts FactsOf(const fs::path& folder) {
  const fs::path file = folder / "report.json";
  std::ifstream in(file, std::ios::binary);
  if (!fs::is_directory(folder) || !in) {
    throw sim::InputError(folder.string() + ": there is no report.json in it: name a folder that `aircut dryrun` wrote");
  }
  const Json json = Json::parse(in, nullptr, false);
  try {
    ReportFacts facts;
    facts.voxel_mm = json.at("run").at("resolution_mm").get<double>();
    for (const Json& check : json.at("checks")) {
      if (check.at("id") == "depth" && check.at("limit").is_number()) facts.depth_limit_mm = check.at("limit").get<double>();
    }
    for (const Json& output : json.at("outputs")) {
      if (output.at("file") == kSurface) facts.surface_sha256 = output.at("sha256").get<std::string>();
    }
    return facts;
  } catch (const Json::exception&) {
    throw sim::InputError(file.string() + ": is not a whole report: run `aircut dryrun` again");
  }
}

verify::PredictedSurface PredictedOf(const fs::path& folder) {
  const ReportFacts facts = FactsOf(folder);
  const fs::path file = folder / kSurface;
  if (facts.surface_sha256.empty()) {
    throw sim::InputError(folder.string() + ": its run kept no carved surface, so there is nothing to hold a scan "
                                            "against: run a job that has a stock");
  }
  sim::SurfaceFile surface = sim::ReadSurfaceFile(file, {"deviation_mm", "line"});
  if (sim::Sha256OfFile(file) != facts.surface_sha256) {
    throw sim::InputError(file.string() + ": is not the surface that the report was written with: run `aircut dryrun` again");
  }
  const auto& deviation = surface.columns[0].values;
  if (std::none_of(deviation.begin(), deviation.end(), [](float v) { return std::isfinite(v); })) {
    throw sim::InputError(file.string() + ": holds no depth of a carving, so there is nothing to hold a scan against: "
                                          "run a job that has a design");
  }
  return {std::move(surface.mesh), std::move(surface.columns[0].values), std::move(surface.columns[1].values), facts.voxel_mm};
}

double SizeOf(const sim::Mesh& mesh) {
  Eigen::AlignedBox3d box;
  for (const Eigen::Vector3d& p : mesh.vertices) box.extend(p);
  return box.diagonal().norm();
}

sim::Mesh ScanOf(const ScanRequest& request, double piece_mm) {
  sim::Mesh scan = sim::ReadMesh(request.scan, UnitOf(request.unit));
  const double size = SizeOf(scan);
  if (size >= kLeastSize * piece_mm && size <= kMostSize * piece_mm) return scan;
  throw sim::InputError(fmt::format("{}: is {:.4g} mm across, the piece {:.4g} mm: say its unit by --scan-unit (mm, cm, m, in), or trim it",
                                    request.scan.string(), size, piece_mm));
}

void PrintFit(const sim::ScanFit& fit) {
  const Eigen::AngleAxisd turn(fit.X_SQ.linear());
  const Eigen::Vector3d shift = fit.X_SQ.translation();
  fmt::print("Fit: rigid, least squares of points on planes, Tukey's weights; {} of {} points used, {:.1f} % left out as lying off.\n",
             fit.used, fit.points, fit.points > 0 ? 100.0 * (fit.points - fit.used) / fit.points : 0.0);
  fmt::print("  {}: shifted by ({:.3f}, {:.3f}, {:.3f}) mm, turned by {:.4f} deg.\n",
             fit.as_it_lay ? "From where the scan lay" : "From a turn of its principal axes", shift.x(), shift.y(), shift.z(),
             kinematics::DegFromRad(turn.angle()));
  fmt::print("  Residual {:.4f} mm rms; scatter where nothing was cut {:.4f} mm (one sigma).\n", fit.rms_mm, fit.noise_mm);
  if (fit.cut_offset_mm) fmt::print("  Common to all that was cut: {:+.3f} mm (+ = left standing).\n", *fit.cut_offset_mm);
  if (fit.open_directions > 0) {
    fmt::print("  {} of six shifts and turns are not held by this surface and were left as they lay.\n", fit.open_directions);
  }
  if (fit.rival_turn_deg) fmt::print("  Turned by {:.0f} deg it would fit about as well.\n", *fit.rival_turn_deg);
}

std::string LinesOf(const verify::ScanRegion& r) {
  if (r.first_line == 0) return "no line cut there last";
  return r.first_line == r.last_line ? fmt::format("line {}", r.first_line) : fmt::format("lines {} to {}", r.first_line, r.last_line);
}

void PrintComparison(const verify::ScanComparison& c) {
  fmt::print("Seen: {:.1f} % of {:.1f} mm2 of carving.\n", 100 * c.seen_share, c.carving_mm2);
  fmt::print("Measured less predicted: mean {:+.3f}, rms {:.3f}, 95 % within {:.3f} mm. A difference counts beyond {:.3f} mm; "
             "the prediction covers {:.1f} %.\n", c.mean_mm, c.rms_mm, c.p95_mm, c.bound_mm, 100 * c.covered_share);
  fmt::print("Depth error, 95 % within: predicted {:.3f} mm, measured {:.3f} mm.\n", c.predicted_p95_mm, c.measured_p95_mm);
  fmt::print("Not predicted: {} region{} of {:.0f} mm2 or more.\n", c.regions.size(), c.regions.size() == 1 ? "" : "s", kRegion_mm2);
  for (std::size_t k = 0; k < std::min(kListed, c.regions.size()); ++k) {
    const verify::ScanRegion& r = c.regions[k];
    fmt::print("  {:<6} {} {:.1f} mm2, up to {:.3f} mm at ({:.2f}, {:.2f}, {:.2f}) mm, {}\n",
               r.kind == verify::ScanRegion::Kind::kDeeper ? "deeper" : "higher",
               r.place == verify::ScanRegion::Place::kCarving ? "carving" : "beside ", r.area_mm2, r.worst_mm, r.at_S.x(),
               r.at_S.y(), r.at_S.z(), LinesOf(r));
  }
}

void PrintAll(const ScanRequest& request, const verify::ReadScan& read) {
  if (read.comparison.fit.state != sim::ScanFitState::kNotFound) {
    PrintFit(read.comparison.fit);
    PrintComparison(read.comparison);
  }
  fmt::print("{}: {}\n", verify::WordFor(read.verdict.result), read.verdict.why);
  fmt::print("This speaks of the piece that was scanned, not of the next one.\n");
  if (!request.measured.empty()) fmt::print("Measured: {}\n", request.measured.string());
  if (!request.page.empty()) fmt::print("Page: {}\n", request.page.string());
}

}  // namespace

bool IsScanName(const fs::path& name) {
  std::string suffix = name.extension().string();
  std::transform(suffix.begin(), suffix.end(), suffix.begin(),
                 [](unsigned char c) { return static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c); });
  return (suffix == ".ply" || suffix == ".stl" || suffix == ".obj") && !fs::is_directory(name);
}

ExitCode CompareReportWithScan(const ScanRequest& request) {
  if (!request.measured.empty() && request.measured.extension() != ".ply") {
    throw sim::InputError(fmt::format("--measured = {} must end in .ply: it becomes a surface", request.measured.string()));
  }
  const AskedFile page{"--page", request.page, ".html"};
  if (!request.page.empty()) CheckOutputFile(page);
  const verify::PredictedSurface predicted = PredictedOf(request.report);
  const sim::Mesh scan_Q = ScanOf(request, SizeOf(predicted.mesh_S));
  const verify::ScanComparison c = verify::CompareWithScan(predicted, scan_Q, kRegion_mm2);
  const std::optional<double> limit_mm = FactsOf(request.report).depth_limit_mm;
  const verify::ScanVerdict verdict = verify::JudgeScan(c, limit_mm);
  const verify::ReadScan read{request.report.string(), request.scan.string(), predicted, c, verdict, limit_mm};
  if (!request.page.empty()) WriteOutputFile(page, verify::ScanHtml(read));
  if (!request.measured.empty()) {
    sim::WritePly(request.measured, predicted.mesh_S, {{"difference_mm", c.difference_mm}, {"measured_mm", c.measured_mm}});
  }
  if (request.print == ScanRequest::Print::kJson) fmt::print("{}", verify::ScanJson(read));
  if (request.print == ScanRequest::Print::kSentences) PrintAll(request, read);
  switch (verdict.result) {
    case verify::Result::kPass: return kExitPass;
    case verify::Result::kFail: return kExitFail;
    case verify::Result::kUnproven: break;
  }
  return kExitUnproven;
}

}  // namespace aircut::tools
