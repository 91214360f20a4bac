#include "verify/report_picture.h"

#include <cmath>
#include <cstring>
#include <fstream>
#include <limits>
#include <sstream>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/input_error.h"
#include "verify/finding_picture.h"

namespace aircut::verify {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::json;

[[noreturn]] void Refuse(const std::string& what) { throw sim::InputError(what); }

std::string BytesOf(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  if (!stream) Refuse(fmt::format("{}: is missing or cannot be read: name a folder that `aircut dryrun` of this version wrote", file.string()));
  std::ostringstream bytes;
  bytes << stream.rdbuf();
  return bytes.str();
}

Json JsonOf(const fs::path& file, const char* schema) {
  const Json json = Json::parse(BytesOf(file), nullptr, false);
  if (json.is_discarded() || !json.is_object() || json.value("schema", Json()) != schema) {
    Refuse(fmt::format("{}: is not of the kind {}: run `aircut dryrun` again", file.string(), schema));
  }
  return json;
}

// carved.ply as WritePly lays it out, with the value of each vertex.
struct Carved {
  sim::Mesh mesh;
  std::vector<float> deviation_mm;
};

template <typename T>
T Take(const std::string& bytes, std::size_t& at) {
  T value{};
  std::memcpy(&value, bytes.data() + at, sizeof value);
  at += sizeof value;
  return value;
}

Carved CarvedOf(const fs::path& file) {
  const std::string bytes = BytesOf(file);
  const auto bad = [&] { Refuse(fmt::format("{}: is not as a run leaves it: run `aircut dryrun` again", file.string())); };
  const std::size_t end = bytes.find("end_header\n");
  if (end == std::string::npos) bad();
  const std::string header = bytes.substr(0, end);
  std::size_t vertices = 0, faces = 0;
  if (std::sscanf(header.c_str() + std::min(header.find("element vertex"), header.size()), "element vertex %zu", &vertices) != 1) bad();
  if (std::sscanf(header.c_str() + std::min(header.find("element face"), header.size()), "element face %zu", &faces) != 1) bad();
  const bool wide = header.find("property double x") != std::string::npos;
  const std::size_t per_vertex = (wide ? 24u : 12u) + 8u, per_face = 13u;
  std::size_t at = end + std::strlen("end_header\n");
  if (vertices > bytes.size() || faces > bytes.size() || at + vertices * per_vertex + faces * per_face != bytes.size()) bad();
  Carved carved;
  for (std::size_t i = 0; i < vertices; ++i) {
    Eigen::Vector3d p;
    for (int axis = 0; axis < 3; ++axis) p[axis] = wide ? Take<double>(bytes, at) : static_cast<double>(Take<float>(bytes, at));
    carved.mesh.vertices.push_back(p);
    carved.deviation_mm.push_back(Take<float>(bytes, at));
    Take<float>(bytes, at);   // the line that left it
  }
  for (std::size_t i = 0; i < faces; ++i) {
    ++at;   // three corners
    std::array<std::int32_t, 3> corners{};
    for (std::int32_t& corner : corners) {
      corner = Take<std::int32_t>(bytes, at);
      if (corner < 0 || static_cast<std::size_t>(corner) >= vertices) bad();
    }
    carved.mesh.triangles.push_back(corners);
  }
  return carved;
}

Eigen::Vector3d VectorOf(const Json& json) { return {json[0].get<double>(), json[1].get<double>(), json[2].get<double>()}; }

const Json& FindingOf(const Json& report, int number) {
  for (const Json& finding : report["findings"]) {
    if (finding["number"] == number) return finding;
  }
  Refuse(fmt::format("--finding = {} is not in this report: it has findings 1 to {}", number, report["findings"].size()));
}

// What the run drew of two bodies: the cell is not in the folder.
std::optional<std::string> LeftByTheRun(const Json& figures, int number) {
  for (const Json& picture : figures["findings"]) {
    if (picture["number"] == number && picture["shows"] == "bodies") return picture["file"].get<std::string>();
  }
  return std::nullopt;
}

std::vector<unsigned char> Drawn(const ReportPictureRequest& request) {
  const Json report = JsonOf(request.folder / "report.json", "aircut/report/1");
  const Json figures = JsonOf(request.folder / "figures.json", "aircut/figures/1");
  PlacePicture place;
  if (request.finding) {
    const Json& finding = FindingOf(report, *request.finding);
    if (const auto file = LeftByTheRun(figures, *request.finding)) {
      const std::string png = BytesOf(request.folder / fs::path(*file).filename());
      return {png.begin(), png.end()};
    }
    if (finding["at_mm"].is_null()) {
      Refuse(fmt::format("--finding = {} has no place on the piece: its text says where to look, or leave --finding out", *request.finding));
    }
    place.at_S = VectorOf(finding["at_mm"]);
    place.label = std::to_string(*request.finding);
  }
  if (figures["piece"].is_null()) Refuse(fmt::format("{}: the run left no carved piece to draw", request.folder.string()));
  const Json& view = figures["piece"];
  const Carved carved = CarvedOf(request.folder / "carved.ply");
  place.mesh_S = &carved.mesh;
  place.deviation_mm = &carved.deviation_mm;
  place.look_S = VectorOf(view["look"]);
  place.tolerance_mm = report["depth"]["tolerance_mm"];
  place.across_mm = request.across_mm.value_or(CloseUpAcross_mm(view["mm_per_px"].get<double>() * view["width_px"].get<double>()));
  place.width_px = request.width_px, place.height_px = request.height_px;
  return DrawPlace(place);
}

}  // namespace

std::vector<unsigned char> PictureOfReport(const ReportPictureRequest& request) {
  try {
    return Drawn(request);
  } catch (const Json::exception& error) {
    Refuse(fmt::format("{}: a value of report.json or figures.json is missing or of the wrong kind ({}): run `aircut dryrun` again",
                       request.folder.string(), error.what()));
  }
}

}  // namespace aircut::verify
