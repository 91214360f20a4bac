#include "tools/scan_package.h"

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <stdexcept>
#include <string>
#include <vector>

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <fmt/format.h>

namespace aircut::tools {
namespace {

constexpr double kHeight_mm = 240.0;

std::string ReadAll(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) throw std::runtime_error("cannot read " + file.string());
  return std::string(std::istreambuf_iterator<char>(in), {});
}

/// The rows of three numbers of `exports.<name>=[[a,b,c],...]`.
std::vector<Eigen::Vector3d> Table(const std::string& script, const std::string& name) {
  const std::string::size_type start = script.find("exports." + name);
  if (start == std::string::npos) throw std::runtime_error("no table " + name + " in the package");
  const std::string::size_type end = script.find("]]", start);
  if (end == std::string::npos) throw std::runtime_error("table " + name + " does not end");
  std::vector<double> numbers;
  const char* at = script.c_str() + script.find('[', start);
  const char* const stop = script.c_str() + end;
  while (at < stop) {
    char* after = nullptr;
    const double value = std::strtod(at, &after);
    if (after == at) {
      ++at;
    } else {
      numbers.push_back(value);
      at = after;
    }
  }
  if (numbers.empty() || numbers.size() % 3 != 0)
    throw std::runtime_error("table " + name + " is not made of rows of three");
  std::vector<Eigen::Vector3d> rows;
  for (std::size_t i = 0; i < numbers.size(); i += 3)
    rows.emplace_back(numbers[i], numbers[i + 1], numbers[i + 2]);
  return rows;
}

}  // namespace

void WriteScanFromPackage(const std::filesystem::path& script, const std::filesystem::path& ply) {
  const std::string text = ReadAll(script);
  std::vector<Eigen::Vector3d> points;
  Eigen::AlignedBox3d box;
  for (const Eigen::Vector3d& p : Table(text, "positions")) {
    points.emplace_back(p.x(), -p.z(), p.y());   // y up becomes z up
    box.extend(points.back());
  }
  const std::vector<Eigen::Vector3d> cells = Table(text, "cells");
  const double scale_mm = kHeight_mm / box.sizes().z();
  const Eigen::Vector3d foot(box.center().x(), box.center().y(), box.min().z());
  std::string out = fmt::format(
      "ply\nformat ascii 1.0\n"
      "comment The Stanford bunny, reduced. Scan: Stanford 3D Scanning Repository (free for research "
      "with credit; do not commit into the project). From npm package bunny 1.0.1. 240 mm tall, z up.\n"
      "element vertex {}\nproperty float x\nproperty float y\nproperty float z\n"
      "element face {}\nproperty list uchar int vertex_indices\nend_header\n",
      points.size(), cells.size());
  for (const Eigen::Vector3d& p : points) {
    const Eigen::Vector3d q = scale_mm * (p - foot);
    out += fmt::format("{:.4f} {:.4f} {:.4f}\n", q.x(), q.y(), q.z());
  }
  for (const Eigen::Vector3d& c : cells)
    out += fmt::format("3 {:.0f} {:.0f} {:.0f}\n", c.x(), c.y(), c.z());
  std::ofstream file(ply, std::ios::binary);
  file << out;
  file.close();
  if (!file) throw std::runtime_error("cannot write " + ply.string());
}

}  // namespace aircut::tools
