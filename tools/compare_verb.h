#pragma once

#include <CLI/CLI.hpp>

#include "tools/exit_code.h"

namespace aircut::tools {

/// Adds the verb `compare` to the program: says what changed
/// from one report folder to another. Ends with kExitPass when nothing got worse, kExitFail
/// when something did.
/// @param code takes what the program ends with once the verb was chosen and
/// run; both must outlive the parse.
void AddCompareVerb(CLI::App& app, ExitCode& code);

}  // namespace aircut::tools
