#include "sim/input_files.h"

#include <algorithm>

#include <fmt/format.h>

#include "sim/file_hash.h"
#include "sim/input_error.h"
#include "sim/read_file.h"

namespace aircut::sim {
namespace {

bool LiesIn(const std::filesystem::path& file, const std::filesystem::path& folder) {
  const auto real_file = std::filesystem::weakly_canonical(file);
  const auto real_folder = std::filesystem::weakly_canonical(folder);
  const auto [end, ignored] =
      std::mismatch(real_folder.begin(), real_folder.end(), real_file.begin(), real_file.end());
  return end == real_folder.end();
}

}  // namespace

InputFiles::InputFiles(const std::filesystem::path& first_file, const LoadOptions& options)
    : first_file_(first_file), folder_(first_file.parent_path()), options_(options) {
  if (folder_.empty()) folder_ = ".";
}

std::filesystem::path InputFiles::Take(const YamlValue& value, const Place& place,
                                       const std::string& role) {
  const std::string text = value.Text();
  // A byte 0 would end the name early for the system, but not for us.
  if (text.find('\0') != std::string::npos) value.Fail("must be a file name: write it without a zero byte");
  const std::filesystem::path file = (place.folder / text).lexically_normal();
  if (!options_.allow_outside && !LiesIn(file, place.root)) {
    value.Fail(fmt::format("= {} lies outside the job's folder: copy the file into it, or give "
                           "--allow-outside if that is meant", text));
  }
  try {
    RequireFile(file);
  } catch (const InputError&) {
    value.Fail(fmt::format("= {}: file not found or not a file: check the name and the folder", text));
  }
  Note(file, role);
  return file;
}

void InputFiles::TakeFirst(const std::string& role) {
  RequireFile(first_file_);
  Note(first_file_, role);
}

std::string InputFiles::NameOf(const std::filesystem::path& file) const {
  return file.lexically_proximate(folder_).generic_string();
}

void InputFiles::Note(const std::filesystem::path& file, const std::string& role) {
  InputFile noted;
  noted.role = role;
  noted.file = NameOf(file);
  noted.sha256 = Sha256OfFile(file);
  noted.bytes = RequireFile(file);
  taken_.push_back(std::move(noted));
}

}  // namespace aircut::sim
