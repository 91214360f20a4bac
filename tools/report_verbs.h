#pragma once

#include <CLI/CLI.hpp>

#include "tools/exit_code.h"

namespace aircut::tools {

/// Adds the verbs `report`, which makes the page of a report folder again, and
/// `picture`, which draws the piece of a report folder, whole or at a finding.
/// @param code takes what the program ends with once a verb was chosen and run; both
/// must outlive the parse.
void AddReportVerbs(CLI::App& app, ExitCode& code);

}  // namespace aircut::tools
