#include "tools/terminal.h"

#include <unistd.h>

#include <cstdlib>
#include <string_view>

namespace aircut::tools {

bool OutputHasColour() {
  const char* none = std::getenv("NO_COLOR");
  const char* term = std::getenv("TERM");
  if (none != nullptr && *none != '\0') return false;
  return isatty(STDOUT_FILENO) == 1 && term != nullptr && std::string_view(term) != "dumb";
}

std::string Painted(verify::Result result, std::size_t width) {
  const std::string word = verify::WordFor(result);
  const std::string pad(width > word.size() ? width - word.size() : 0, ' ');
  if (result == verify::Result::kPass || !OutputHasColour()) return word + pad;
  return (result == verify::Result::kFail ? "\033[31;1m" : "\033[1m") + word + "\033[0m" + pad;
}

}  // namespace aircut::tools
