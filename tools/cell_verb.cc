#include "tools/cell_verb.h"

#include <exception>
#include <filesystem>
#include <fstream>
#include <memory>
#include <new>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <unistd.h>

#include "sim/input_error.h"
#include "sim/job.h"
#include "verify/cell_picture.h"
#include "verify/cell_sheet.h"

namespace aircut::tools {
namespace {

namespace fs = std::filesystem;

constexpr char kExamples[] =
    "Examples:\n"
    "  aircut cell boat_shop.cell.yaml\n"
    "  aircut cell boat_shop.cell.yaml --picture sheet/boat_shop.png\n"
    "  aircut cell boat_shop.cell.yaml --no-picture > boat_shop.txt\n"
    "Exit codes: 0 the cell was understood, 2 bad input or usage, 4 internal error.\n"
    "Understood is not the same as right: hold the sheet against the thing on the floor.";

struct CellArguments {
  std::string cell_file;
  std::string picture;
  bool no_picture = false;
  bool allow_outside = false;
};

// boat_shop.cell.yaml -> boat_shop; cell.yaml -> cell.
std::string StemOf(const fs::path& cell_file) {
  std::string stem = cell_file.stem().string();
  const std::string tail = ".cell";
  if (stem.size() > tail.size() && stem.compare(stem.size() - tail.size(), tail.size(), tail) == 0) {
    stem.resize(stem.size() - tail.size());
  }
  return stem;
}

fs::path PictureFile(const CellArguments& arguments) {
  if (!arguments.picture.empty()) return arguments.picture;
  const fs::path cell(arguments.cell_file);
  return cell.parent_path() / ("cell-" + StemOf(cell) + ".png");
}

[[noreturn]] void RefusePicture(const fs::path& file, const std::string& why) {
  throw sim::InputError(fmt::format("--picture {}: {}: name another file, or give --no-picture", file.string(), why));
}

// Before anything is computed: a place that will not take the picture.
void CheckPictureFile(const fs::path& file) {
  std::error_code ignored;
  const fs::path folder = file.parent_path().empty() ? fs::path(".") : file.parent_path();
  if (file.extension() != ".png") RefusePicture(file, "does not end in .png, the one kind of picture that is written");
  if (!fs::is_directory(folder, ignored)) RefusePicture(file, "its folder is not there");
  if (fs::exists(file, ignored) && !fs::is_regular_file(file, ignored)) RefusePicture(file, "is not a file");
  if (access(folder.c_str(), W_OK | X_OK) != 0) RefusePicture(file, "its folder cannot be written");
}

// Whole or not at all: written beside its place, then moved there.
void WritePicture(const fs::path& file, const std::vector<unsigned char>& png) {
  const fs::path part = file.string() + ".part";
  std::ofstream out(part, std::ios::binary);
  out.write(reinterpret_cast<const char*>(png.data()), static_cast<std::streamsize>(png.size()));
  out.close();
  std::error_code failed;
  if (out) fs::rename(part, file, failed);
  if (out && !failed) return;
  std::error_code ignored;
  fs::remove(part, ignored);
  RefusePicture(file, "cannot be written");
}

ExitCode PrintCell(const CellArguments& arguments) {
  const bool draws = !arguments.no_picture;
  sim::LoadOptions load;
  load.allow_outside = arguments.allow_outside;
  const sim::LoadedCellFile loaded = sim::LoadCellFile(arguments.cell_file, load);
  if (draws) CheckPictureFile(PictureFile(arguments));
  fmt::print("{}", verify::CellSheet(loaded));
  if (!draws) return kExitPass;
  WritePicture(PictureFile(arguments), verify::DrawCell(loaded.cell));
  fmt::print("\nPicture: {}\n", PictureFile(arguments).string());
  return kExitPass;
}

ExitCode RunCellVerb(const CellArguments& arguments) {
  try {
    return PrintCell(arguments);
  } catch (const sim::InputError& error) {
    fmt::print(stderr, "aircut: {}\n", error.what());
    return kExitBadInput;
  } catch (const std::bad_alloc&) {
    fmt::print(stderr, "aircut: out of memory: take large meshes out of the cell\n");
    return kExitInternal;
  } catch (const std::exception& error) {
    fmt::print(stderr, "aircut: internal error: {}; please report it with the cell's files\n", error.what());
    return kExitInternal;
  }
}

}  // namespace

void AddCellVerb(CLI::App& app, ExitCode& code) {
  const auto arguments = std::make_shared<CellArguments>();
  CLI::App* verb = app.add_subcommand("cell", "print what was understood of a cell, and draw it");
  verb->footer(kExamples);
  verb->add_option("cell", arguments->cell_file, "the cell, a YAML file")->required()->type_name("CELL.yaml");
  CLI::Option* picture =
      verb->add_option("--picture", arguments->picture, "where to draw it (default: cell-<cell>.png beside the cell)")
          ->type_name("FILE.png");
  verb->add_flag("--no-picture", arguments->no_picture, "print only")->excludes(picture);
  verb->add_flag("--allow-outside", arguments->allow_outside, "allow files outside the cell's folder");
  verb->callback([arguments, &code] { code = RunCellVerb(*arguments); });
}

}  // namespace aircut::tools
