#include "verify/report.h"

#include <fcntl.h>
#include <stdio.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <fstream>

#include <fmt/format.h>

#include "sim/file_hash.h"
#include "sim/input_error.h"
#include "sim/mesh_import.h"
#include "sim/stock_surface.h"
#include "verify/report_exchange.h"
#include "verify/report_figures.h"
#include "verify/side_files.h"
#include "verify/vertex_values.h"

namespace aircut::verify {
namespace {

namespace fs = std::filesystem;

// Everything a report may consist of; a folder that holds anything else is not
// ours to replace.
constexpr std::array<const char*, 7> kFiles{"report.html",    "carved.ply", "moments.csv", "joint_path.csv",
                                            "findings.sarif", "junit.xml",  "report.json"};

// Every name, in the order in which report.json lists them.
std::vector<std::string> AllNames() {
  std::vector<std::string> names(kFiles.begin(), kFiles.end());
  names.insert(names.end(), SideFileNames().begin(), SideFileNames().end());
  names.insert(names.end(), FigureFileNames().begin(), FigureFileNames().end());
  return names;
}

bool IsOurs(const std::string& name) {
  const std::vector<std::string> names = AllNames();
  return std::any_of(names.begin(), names.end(), [&](const std::string& file) {
    return name == file || name == file + ".part" || name == file + ".tmp";
  });
}

[[noreturn]] void Refuse(const fs::path& folder, const std::string& why, const std::string& mend) {
  throw sim::InputError(fmt::format("--out {}: {}: {}", folder.string(), why, mend));
}

// A folder that would be replaced must hold nothing but a report.
void RequireReplaceable(const fs::path& folder) {
  if (!fs::exists(folder)) return;
  if (!fs::is_directory(folder)) Refuse(folder, "is a file, not a folder", "name a new or empty folder");
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    const std::string name = entry.path().filename().string();
    if (!entry.is_regular_file() || !IsOurs(name)) {
      Refuse(folder, fmt::format("holds '{}', which is not of a report and would be lost", name),
             "name a new or empty folder");
    }
  }
}

// The place to write in: beside the folder, so that it can take its place.
class PartFolder {
 public:
  explicit PartFolder(fs::path folder) : folder_(std::move(folder)), part_(folder_.string() + ".part") {
    RequireReplaceable(folder_);
    RequireReplaceable(part_);
    fs::create_directories(folder_.parent_path());
    fs::remove_all(part_);
    fs::create_directory(part_);
  }
  ~PartFolder() {
    std::error_code ignored;
    fs::remove_all(part_, ignored);
  }
  PartFolder(const PartFolder&) = delete;
  PartFolder& operator=(const PartFolder&) = delete;

  const fs::path& path() const { return part_; }

  // One step: afterwards `part_` is the old report, or nothing.
  void TakePlace() {
    if (!fs::exists(folder_)) {
      fs::rename(part_, folder_);
      return;
    }
    if (renameat2(AT_FDCWD, part_.c_str(), AT_FDCWD, folder_.c_str(), RENAME_EXCHANGE) == 0) return;
    if (errno != EINVAL && errno != ENOSYS) {
      throw fs::filesystem_error("cannot replace", folder_, std::error_code(errno, std::generic_category()));
    }
    // A file system without exchange: the old report goes first.
    fs::remove_all(folder_);
    fs::rename(part_, folder_);
  }

 private:
  fs::path folder_, part_;
};

void WriteText(const fs::path& file, const std::string& text) {
  std::ofstream stream(file, std::ios::binary);
  stream.write(text.data(), static_cast<std::streamsize>(text.size()));
  stream.close();
  if (!stream) {
    throw fs::filesystem_error("cannot write", file, std::error_code(errno, std::generic_category()));
  }
}

// Looks square onto the design, along an axis of S where that is near.
Eigen::Vector3d LookOf(const sim::Run& run) {
  Eigen::Vector3d up = Eigen::Vector3d::Zero();
  for (const sim::DesignSample& sample : run.samples) {
    if (sample.role == sim::DesignSample::Role::kCarve) up += sample.area_mm2 * sample.ray.up_S;
  }
  if (!(up.norm() > 1e-9) || !up.allFinite()) return -Eigen::Vector3d::UnitZ();
  up.normalize();
  constexpr double kNear = 0.985;   // cosine of 10 degrees
  for (int axis = 0; axis < 3; ++axis) {
    if (std::abs(up[axis]) > kNear) return -std::copysign(1.0, up[axis]) * Eigen::Vector3d::Unit(axis);
  }
  return -up;
}

PiecePicture PictureOf(const ReportContext& context, const sim::Mesh& carved_S,
                       const std::vector<float>& deviation_mm) {
  PictureRequest request;
  request.mesh_S = &carved_S;
  request.deviation_mm = &deviation_mm;
  request.look_S = LookOf(context.run);
  request.tolerance_mm = context.job.accept.depth_mm.value;
  return {DrawPiece(request), ChooseView(request), &carved_S, &deviation_mm};
}

OutputFile Describe(const fs::path& file) {
  return {file.filename().string(), sim::Sha256OfFile(file), static_cast<std::int64_t>(fs::file_size(file))};
}

// The carved surface with what is told of its vertices; nothing where nothing was cut.
struct CarvedPiece {
  sim::Mesh mesh_S;
  VertexValues values;
};

std::optional<CarvedPiece> WriteCarved(const ReportContext& context, const fs::path& folder) {
  if (!context.run.cut.stock.solid_S) return std::nullopt;
  CarvedPiece piece{sim::CarvedSurface(context.run.cut.stock, context.threads), {}};
  piece.values = ValuesOfVertices(piece.mesh_S, context.run, context.deviation);
  sim::WritePly(folder / "carved.ply", piece.mesh_S, {{"deviation_mm", piece.values.deviation_mm}, {"line", piece.values.line}});
  return piece;
}

void WritePage(const ReportContext& context, const fs::path& folder) {
  const std::optional<CarvedPiece> piece = WriteCarved(context, folder);
  Figures figures = FiguresOf(context, piece ? PictureOf(context, piece->mesh_S, piece->values.deviation_mm) : PiecePicture{});
  WriteText(folder / "figures.json", figures.json);
  for (const auto& [name, png] : figures.pictures) WriteText(folder / name, std::string(png.begin(), png.end()));
  WriteText(folder / "report.html", PageHtml({ReportJson(context), figures.json, std::move(figures.pictures)}));
}

void WriteFiles(const ReportContext& context, const fs::path& folder) {
  WritePage(context, folder);
  WriteText(folder / "moments.csv", MomentsCsv(context));
  if (WritesJointPath(context)) WriteText(folder / "joint_path.csv", JointPathCsv(context));
  WriteText(folder / "findings.sarif", FindingsSarif(context));
  WriteText(folder / "junit.xml", ChecksJunit(context));
  for (const SideFile& file : SideFiles(context)) WriteText(folder / file.name, file.text);
  std::vector<OutputFile> outputs;
  for (const std::string& name : AllNames()) {
    if (fs::exists(folder / name)) outputs.push_back(Describe(folder / name));
  }
  WriteText(folder / "report.json", ReportJson(context, outputs));
}

// Absolute, without links or a slash at its end.
fs::path Resolved(const fs::path& folder) {
  fs::path path = fs::weakly_canonical(fs::absolute(folder));
  return path.has_filename() ? path : path.parent_path();
}

// Runs `work` and tells of a failing disk in the user's words.
template <typename Work>
void Guarded(const fs::path& folder, const Work& work) {
  try {
    work();
  } catch (const fs::filesystem_error& error) {
    Refuse(folder, fmt::format("the report cannot be written ({})", error.code().message()),
           "name a folder that can be written, on a disk with room");
  }
}

}  // namespace

void RequireReportFolder(const fs::path& folder) {
  Guarded(folder, [&] { RequireReplaceable(Resolved(folder)); });
}

void WriteReport(const ReportContext& context, const fs::path& folder) {
  Guarded(folder, [&] {
    PartFolder part(Resolved(folder));
    WriteFiles(context, part.path());
    part.TakePlace();
  });
}

}  // namespace aircut::verify
