#pragma once

#include <cstdint>
#include <vector>

namespace aircut::verify {

/// @param pixels rows from the top, red, green, blue a pixel, width * height * 3 bytes.
/// @returns a PNG; the same bytes for the same pixels.
/// @throws std::runtime_error when it cannot be encoded.
std::vector<unsigned char> EncodePng(const std::vector<std::uint8_t>& pixels, int width, int height);

}  // namespace aircut::verify
