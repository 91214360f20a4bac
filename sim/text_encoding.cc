#include "sim/text_encoding.h"

#include "sim/input_error.h"

namespace aircut::sim {

void RequirePlainText(const std::string& place, std::string_view first_line) {
  const std::string_view mark = first_line.substr(0, 2);
  if (mark == "\xff\xfe" || mark == "\xfe\xff") {
    throw InputError(
        place +
        ": the file is text in UTF-16, must be UTF-8 or plain ASCII: save it again as UTF-8");
  }
  if (first_line.find('\0') != std::string_view::npos) {
    throw InputError(
        place +
        ": the line holds a zero byte, must be text in UTF-8 or plain ASCII: check that this "
        "is the right file and save it as UTF-8");
  }
}

}  // namespace aircut::sim
