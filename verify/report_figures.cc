#include "verify/report_figures.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include <fmt/format.h>

#include "verify/finding_picture.h"
#include "verify/report_json_parts.h"
#include "verify/report_solids.h"

namespace aircut::verify {
namespace {

constexpr const char* kSchema = "aircut/figures/1";
constexpr std::size_t kMostPictureBytes = 1'150'000;   // of findings; the page stays below 5 MB

// Drawings need five digits; more would only make the page long.
Json Short(double value) {
  return std::isfinite(value) ? Json(std::strtod(fmt::format("{:.5g}", value).c_str(), nullptr)) : Json(nullptr);
}

Json Short(const std::vector<double>& values) {
  Json json = Json::array();
  for (const double value : values) json.push_back(Short(value));
  return json;
}

Json TracesJson(const ReportContext& context) {
  const std::vector<Trace> traces = TracesOf(context);
  if (traces.empty()) return nullptr;
  const std::vector<double>& time_s = context.run.motion.tracks.front().time_s;
  Json list = Json::array();
  for (const Trace& t : traces) {
    list.push_back({{"name", t.name}, {"unit", t.unit}, {"limit", Finite(t.limit)}, {"time_s", Short(t.time_s)},
                    {"low", Short(t.low)}, {"high", Short(t.high)}});
  }
  return {{"from_s", Finite(time_s.front())}, {"to_s", Finite(time_s.back())}, {"traces", std::move(list)}};
}

Json HistogramJson(const ReportContext& context) {
  const std::optional<DepthHistogram> h = HistogramOf(context);
  if (!h) return nullptr;
  return {{"step_mm", h->step_mm}, {"from_mm", h->from_mm}, {"share", Short(h->share)}, {"below", Short(h->below)},
          {"above", Short(h->above)}};
}

Json SectionsJson(const ReportContext& context) {
  constexpr const char* kAxes[] = {"x", "y", "z"};
  Json list = Json::array();
  for (const DepthSection& s : SectionsOf(context)) {
    list.push_back({{"along", kAxes[s.along]}, {"across", kAxes[s.across]}, {"at_mm", Short(s.at_mm)},
                    {"place_mm", Short(s.place_mm)}, {"design_mm", Short(s.design_mm)}, {"cut_mm", Short(s.cut_mm)}});
  }
  return list;
}

Json PieceJson(const PiecePicture& piece) {
  if (piece.png.empty()) return nullptr;
  const PieceView& v = piece.view;
  return {{"file", "piece.png"}, {"right", PlaceJson(v.right_S)}, {"up", PlaceJson(v.up_S)}, {"look", PlaceJson(v.look_S)},
          {"centre_mm", PlaceJson(v.centre_S)}, {"mm_per_px", v.mm_per_px}, {"width_px", v.width_px}, {"height_px", v.height_px}};
}

Json NearestJson(const NearestPicture& nearest) {
  return {{"file", "nearest.png"}, {"first", nearest.first}, {"second", nearest.second}, {"line", nearest.line},
          {"time_s", Finite(nearest.time_s)}, {"apart_mm", Finite(nearest.apart_mm)}};
}

std::string FileOf(int number) { return fmt::format("finding-{:02}.png", number); }

// A finding with the number that it has on the page.
struct Numbered {
  int number = 0;
  const Finding* finding = nullptr;
};

std::vector<Numbered> InPageOrder(const ReportContext& context) {
  const std::vector<int> numbers = FindingNumbers(context.checks);
  std::vector<Numbered> findings;
  for (const CheckResult& check : context.checks) {
    for (const Finding& finding : check.findings) findings.push_back({numbers[findings.size()], &finding});
  }
  std::sort(findings.begin(), findings.end(), [](const Numbered& a, const Numbered& b) { return a.number < b.number; });
  return findings;
}

std::vector<unsigned char> CloseUp(const ReportContext& context, const PiecePicture& piece, const Numbered& numbered) {
  const std::optional<Eigen::Vector3d>& at = numbered.finding->at_S;
  if (!at || !at->allFinite() || piece.mesh_S == nullptr || piece.png.empty()) return {};
  PlacePicture place;
  place.mesh_S = piece.mesh_S;
  place.deviation_mm = piece.deviation_mm;
  place.look_S = piece.view.look_S;
  place.tolerance_mm = context.job.accept.depth_mm.value;
  place.at_S = at;
  place.label = std::to_string(numbered.number);
  place.across_mm = CloseUpAcross_mm(piece.view.mm_per_px * piece.view.width_px);
  place.width_px = 330, place.height_px = 220;
  return DrawPlace(place);
}

// Pictures of the first findings, as long as the page has room for them.
Json FindingPictures(const ReportContext& context, const PiecePicture& piece, Figures* figures) {
  Json list = Json::array();
  std::size_t bytes = 0;
  for (const Numbered& numbered : InPageOrder(context)) {
    if (numbered.number > kMostFindingPictures) break;
    std::optional<NearestPicture> bodies = NearestOf(context, *numbered.finding);
    std::vector<unsigned char> png = bodies ? std::move(bodies->png) : CloseUp(context, piece, numbered);
    bytes += png.size();
    if (png.empty() || bytes > kMostPictureBytes) continue;
    const std::string file = FileOf(numbered.number);
    list.push_back({{"number", numbered.number}, {"file", file}, {"shows", bodies ? "bodies" : "piece"}});
    figures->pictures[file] = std::move(png);
  }
  return list;
}

}  // namespace

const std::vector<std::string>& FigureFileNames() {
  static const std::vector<std::string> names = [] {
    std::vector<std::string> all{"figures.json", "piece.png", "nearest.png"};
    for (int n = 1; n <= kMostFindingPictures; ++n) all.push_back(FileOf(n));
    return all;
  }();   // immutable
  return names;
}

Figures FiguresOf(const ReportContext& context, const PiecePicture& piece) {
  Figures figures;
  const std::optional<NearestPicture> nearest = NearestOf(context);
  if (nearest) figures.pictures["nearest.png"] = nearest->png;
  if (!piece.png.empty()) figures.pictures["piece.png"] = piece.png;
  const double time_s = nearest ? nearest->time_s : 0.0;
  const Json json = {{"schema", kSchema},
                     {"piece", PieceJson(piece)},
                     {"nearest", nearest ? NearestJson(*nearest) : Json(nullptr)},
                     {"findings", FindingPictures(context, piece, &figures)},
                     {"over_the_job", TracesJson(context)},
                     {"histogram", HistogramJson(context)},
                     {"sections", SectionsJson(context)},
                     {"solids", SolidsJson(context, piece, time_s)}};
  figures.json = json.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n";
  return figures;
}

}  // namespace aircut::verify
