#include "sim/surface_file.h"

#include <algorithm>
#include <cstring>
#include <fstream>
#include <iterator>
#include <sstream>

#include <fmt/format.h>

#include "sim/input_error.h"
#include "sim/ply.h"

namespace aircut::sim {
namespace {

struct Layout {
  std::vector<std::string> properties;   // of a vertex, four bytes each
  std::size_t body = 0;                  // where the vertices begin
};

[[noreturn]] void Refuse(const std::string& label) {
  throw InputError(label + ": is not laid out as aircut writes it: run `aircut dryrun` again and change nothing in its folder");
}

Layout LayoutOf(const std::string& label, const std::string& bytes) {
  static const std::string kEnd = "end_header\n", kProperty = "property float ";
  const std::size_t end = bytes.find(kEnd);
  if (end == std::string::npos || bytes.compare(0, 36, "ply\nformat binary_little_endian 1.0\n") != 0) Refuse(label);
  Layout layout;
  layout.body = end + kEnd.size();
  std::istringstream header(bytes.substr(0, end));
  for (std::string line; std::getline(header, line);) {
    if (line.rfind(kProperty, 0) == 0) layout.properties.push_back(line.substr(kProperty.size()));
  }
  const bool places = layout.properties.size() >= 3 && layout.properties[0] == "x" && layout.properties[1] == "y" &&
                      layout.properties[2] == "z";
  if (!places) Refuse(label);
  return layout;
}

float FloatAt(const std::string& bytes, std::size_t at) {
  std::uint32_t raw = 0;
  for (std::size_t k = 0; k < 4; ++k) {
    raw |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[at + k])) << (8 * k);
  }
  float value = 0.0F;
  std::memcpy(&value, &raw, sizeof value);
  return value;
}

}  // namespace

SurfaceFile ReadSurfaceFile(const std::filesystem::path& file, const std::vector<std::string>& names) {
  const std::string label = file.string();
  std::ifstream in(file, std::ios::binary);
  if (!in) throw InputError(label + ": cannot be read: name a folder that `aircut dryrun` wrote, for a job with a stock");
  const std::string bytes{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
  SurfaceFile out;
  out.mesh = ParsePly(label, bytes);   // counts are held against the size of the file here
  const Layout layout = LayoutOf(label, bytes);
  const std::size_t stride = 4 * layout.properties.size(), vertices = out.mesh.vertices.size();
  if (bytes.size() < layout.body + stride * vertices) Refuse(label);
  for (const std::string& name : names) {
    const auto at = std::find(layout.properties.begin(), layout.properties.end(), name);
    if (at == layout.properties.end()) {
      throw InputError(fmt::format("{}: has no number \"{}\" a vertex: run `aircut dryrun` again", label, name));
    }
    VertexColumn column{name, {}};
    const auto place = 4 * static_cast<std::size_t>(at - layout.properties.begin());
    for (std::size_t i = 0; i < vertices; ++i) column.values.push_back(FloatAt(bytes, layout.body + i * stride + place));
    out.columns.push_back(std::move(column));
  }
  return out;
}

}  // namespace aircut::sim
