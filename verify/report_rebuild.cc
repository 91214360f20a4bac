#include <cerrno>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/file_hash.h"
#include "sim/input_error.h"
#include "verify/report.h"
#include "verify/report_figures.h"

// The page of a report folder, made again from the files that lie in it.
namespace aircut::verify {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

std::string TextOf(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  if (!stream) {
    throw sim::InputError(fmt::format("{}: is missing or cannot be read: name a folder that `aircut dryrun` of this version wrote",
                                      file.string()));
  }
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

// To a name beside it, then renamed: a kill leaves the old file or the new one.
void Replace(const fs::path& file, const std::string& text) {
  const fs::path part = file.string() + ".part";
  std::ofstream stream(part, std::ios::binary);
  stream.write(text.data(), static_cast<std::streamsize>(text.size()));
  stream.close();
  if (!stream) {
    throw sim::InputError(fmt::format("{}: cannot be written: check its rights and the free space", file.string()));
  }
  fs::rename(part, file);
}

PageFiles FilesOf(const fs::path& folder) {
  PageFiles files{TextOf(folder / "report.json"), TextOf(folder / "figures.json"), {}};
  for (const std::string& name : FigureFileNames()) {
    if (fs::path(name).extension() != ".png" || !fs::exists(folder / name)) continue;
    const std::string png = TextOf(folder / name);
    files.pictures[name].assign(png.begin(), png.end());
  }
  return files;
}

// The hash of the page in report.json, so that the folder stays whole.
std::string WithPageHash(const std::string& report_json, const std::string& html) {
  Json report = Json::parse(report_json);
  for (Json& output : report["outputs"]) {
    if (output["file"] != "report.html") continue;
    output["sha256"] = sim::Sha256OfText(html);
    output["bytes"] = html.size();
  }
  return report.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace

void RebuildPage(const fs::path& folder) {
  const PageFiles files = FilesOf(folder);
  std::string html;
  try {
    html = PageHtml(files);
  } catch (const std::exception& error) {   // of ours, or of the JSON library
    throw sim::InputError(fmt::format("{}: report.json and figures.json are not those of a report of this version ({}): run "
                                      "`aircut dryrun` again", folder.string(), error.what()));
  }
  const std::string report = WithPageHash(files.report_json, html);
  Replace(folder / "report.html", html);
  if (report != files.report_json) Replace(folder / "report.json", report);
}

}  // namespace aircut::verify
