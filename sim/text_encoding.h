#pragma once

#include <string>
#include <string_view>

namespace aircut::sim {

/// Looks at the first line of a text file.
/// @param place `file:line`, the start of a message.
/// @throws InputError if it is UTF-16 or not text at all (holds a zero byte).
void RequirePlainText(const std::string& place, std::string_view first_line);

}  // namespace aircut::sim
