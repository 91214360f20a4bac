#pragma once

#include <CLI/CLI.hpp>

#include "tools/exit_code.h"

namespace aircut::tools {

/// Adds the verb `fixture` to the program: reads a push test and prints what the
/// fixture gives. Ends with kExitPass when the table was understood.
/// @param code takes what the program ends with once the verb was chosen and
/// run; both must outlive the parse.
void AddFixtureVerb(CLI::App& app, ExitCode& code);

}  // namespace aircut::tools
