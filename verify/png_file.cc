#include "verify/png_file.h"

#include <stdexcept>

#include <fmt/format.h>
#include <png.h>

namespace aircut::verify {

std::vector<unsigned char> EncodePng(const std::vector<std::uint8_t>& pixels, int width, int height) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(width);
  image.height = static_cast<png_uint_32>(height);
  image.format = PNG_FORMAT_RGB;
  png_alloc_size_t bytes = PNG_IMAGE_PNG_SIZE_MAX(image);
  std::vector<unsigned char> png(bytes);
  if (png_image_write_to_memory(&image, png.data(), &bytes, 0, pixels.data(), 0, nullptr) == 0) {
    throw std::runtime_error(fmt::format("the picture could not be encoded: {}", image.message));
  }
  png.resize(bytes);
  return png;
}

}  // namespace aircut::verify
