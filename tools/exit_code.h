#pragma once

namespace aircut::tools {

/// What the program ends with. Source: design, section 7.
enum ExitCode { kExitPass = 0, kExitFail = 1, kExitBadInput = 2, kExitUnproven = 3, kExitInternal = 4 };

}  // namespace aircut::tools
