#pragma once

#include <sys/wait.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>
#include <string>

#include "tests/support/tiny_job.h"

namespace aircut::test {

struct Outcome {
  int code = -1;
  std::string out, err;
};

inline std::string TextOf(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::stringstream text;
  text << in.rdbuf();
  return text.str();
}

/// Runs the program with arguments for the shell; what it prints goes to files
/// outside the folder under test.
inline Outcome RunAircut(const std::string& arguments) {
  const TempFolder captured;
  const auto out = captured.path() / "out", err = captured.path() / "err";
  const std::string command =
      std::string(AIRCUT_PROGRAM) + " " + arguments + " >" + out.string() + " 2>" + err.string() + " </dev/null";
  const int status = std::system(command.c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, TextOf(out), TextOf(err)};
}

/// Every file and folder below `folder`, by relative name.
inline std::set<std::string> Below(const std::filesystem::path& folder) {
  std::set<std::string> names;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) {
    names.insert(entry.path().lexically_relative(folder).generic_string());
  }
  return names;
}

}  // namespace aircut::test
