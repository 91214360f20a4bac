#pragma once

#include <cstdint>
#include <stdexcept>
#include <string>
#include <vector>

#include <png.h>

namespace aircut::test {

/// The bytes of a PNG file, written by the library's simple interface: what is stored is
/// what was given. @param format PNG_FORMAT_GRAY or another of 8 bits a channel.
inline std::string PngBytes(std::uint32_t format, int width, int height, const std::vector<unsigned char>& pixels) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(width);
  image.height = static_cast<png_uint_32>(height);
  image.format = format;
  png_alloc_size_t bytes = PNG_IMAGE_PNG_SIZE_MAX(image);
  std::string png(bytes, '\0');
  if (png_image_write_to_memory(&image, png.data(), &bytes, 0, pixels.data(), 0, nullptr) == 0) {
    throw std::logic_error(image.message);
  }
  png.resize(bytes);
  return png;
}

}  // namespace aircut::test
