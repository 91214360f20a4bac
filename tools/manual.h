#pragma once

#include <string>

#include <CLI/CLI.hpp>

#include "tools/exit_code.h"

namespace aircut::tools {

/// @returns the manual page in the man macros of roff: every verb and option as
/// `--help` tells them, since it is made of the same words.
std::string ManualPage(const CLI::App& app);

/// @returns a completion script for bash: verbs, options, and files or folders where an
/// option takes them.
std::string BashCompletion(const CLI::App& app);

/// Adds the verbs `manual` and `completion`, which print these two.
void AddManualVerbs(CLI::App& app, ExitCode& code);

}  // namespace aircut::tools
