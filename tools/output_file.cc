#include "tools/output_file.h"

#include <unistd.h>

#include <fstream>

#include <fmt/format.h>

#include "sim/input_error.h"

namespace aircut::tools {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void Refuse(const AskedFile& asked, const std::string& why) {
  throw sim::InputError(fmt::format("{} {}: {}: {}", asked.option, asked.file.string(), why, asked.mend));
}

}  // namespace

void CheckOutputFile(const AskedFile& asked) {
  const fs::path& file = asked.file;
  std::error_code ignored;
  const fs::path folder = file.parent_path().empty() ? fs::path(".") : file.parent_path();
  if (file.extension() != asked.suffix) Refuse(asked, fmt::format("does not end in {}, the one kind of file that is written", asked.suffix));
  if (!fs::is_directory(folder, ignored)) Refuse(asked, "its folder is not there");
  if (fs::exists(file, ignored) && !fs::is_regular_file(file, ignored)) Refuse(asked, "is not a file");
  if (access(folder.c_str(), W_OK | X_OK) != 0) Refuse(asked, "its folder cannot be written");
}

void WriteOutputFile(const AskedFile& asked, const std::string& bytes) {
  const fs::path& file = asked.file;
  const fs::path part = file.string() + ".part";
  std::ofstream out(part, std::ios::binary);
  out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  out.close();
  std::error_code failed;
  if (out) fs::rename(part, file, failed);
  if (out && !failed) return;
  std::error_code ignored;
  fs::remove(part, ignored);
  Refuse(asked, "cannot be written");
}

}  // namespace aircut::tools
