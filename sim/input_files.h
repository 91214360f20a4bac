#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sim/job.h"
#include "sim/yaml_reader.h"

namespace aircut::sim {

/// Keeps the files of a job inside its folder and notes each with its hash.
class InputFiles {
 public:
  /// @param first_file job, or cell that is read alone, as the user named it; its
  /// folder is the job's folder.
  InputFiles(const std::filesystem::path& first_file, const LoadOptions& options);

  /// Where a file named by `value` may lie: `folder` of the file that names it,
  /// and `root`, the folder that it must not leave.
  struct Place {
    std::filesystem::path folder;
    std::filesystem::path root;
  };

  /// @returns the path of the file that `value` names, checked and noted.
  /// @throws InputError: no text, missing, not a file, outside the root (links
  /// are followed before this is judged).
  std::filesystem::path Take(const YamlValue& value, const Place& place, const std::string& role);
  /// Notes the first file itself, a job or a cell that is read alone.
  void TakeFirst(const std::string& role);

  const std::filesystem::path& folder() const { return folder_; }
  /// How the report names a file: relative to the job's folder.
  std::string NameOf(const std::filesystem::path& file) const;
  const std::vector<InputFile>& taken() const { return taken_; }

 private:
  void Note(const std::filesystem::path& file, const std::string& role);

  std::filesystem::path first_file_, folder_;
  LoadOptions options_;
  std::vector<InputFile> taken_;
};

}  // namespace aircut::sim
