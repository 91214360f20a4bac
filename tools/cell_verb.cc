#include "tools/cell_verb.h"

#include <exception>
#include <filesystem>
#include <memory>
#include <new>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "sim/input_error.h"
#include "sim/job.h"
#include "tools/output_file.h"
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

ExitCode PrintCell(const CellArguments& arguments) {
  const bool draws = !arguments.no_picture;
  sim::LoadOptions load;
  load.allow_outside = arguments.allow_outside;
  const sim::LoadedCellFile loaded = sim::LoadCellFile(arguments.cell_file, load);
  const AskedFile asked{"--picture", PictureFile(arguments), ".png", "name another file, or give --no-picture"};
  if (draws) CheckOutputFile(asked);
  fmt::print("{}", verify::CellSheet(loaded));
  if (!draws) return kExitPass;
  const std::vector<unsigned char> png = verify::DrawCell(loaded.cell);
  WriteOutputFile(asked, std::string(png.begin(), png.end()));
  fmt::print("\nPicture: {}\n", asked.file.string());
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
