#pragma once

#include <CLI/CLI.hpp>

#include "tools/exit_code.h"

namespace aircut::tools {

/// Adds the verb `cell` to the program: prints what was understood of a cell and
/// draws it. Ends with kExitPass when the cell was understood.
/// @param code takes what the program ends with once the verb was chosen and
/// run; both must outlive the parse.
void AddCellVerb(CLI::App& app, ExitCode& code);

}  // namespace aircut::tools
