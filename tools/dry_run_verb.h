#pragma once

#include <CLI/CLI.hpp>

#include "tools/exit_code.h"

namespace aircut::tools {

/// Adds the verb `dryrun` to the program: runs a job dry and writes its report.
/// @param code takes what the program ends with once the verb was chosen and
/// run; both must outlive the parse.
void AddDryRunVerb(CLI::App& app, ExitCode& code);

}  // namespace aircut::tools
