#include "sim/grey_image.h"

#include <algorithm>
#include <cmath>
#include <csetjmp>
#include <cstring>
#include <string>

#include <fmt/format.h>
#include <png.h>

#include "sim/input_error.h"
#include "sim/read_file.h"

namespace aircut::sim {
namespace {

constexpr std::int64_t kMostBytes = std::int64_t{1} << 30;

// What the library reads from and writes to. It lives outside of the functions that a jump
// out of the library leaves.
struct Reading {
  const std::string* bytes = nullptr;
  std::size_t at = 0;
  std::string what;
};

void Give(png_structp png, png_bytep to, png_size_t count) {
  auto* reading = static_cast<Reading*>(png_get_io_ptr(png));
  if (reading->bytes->size() - reading->at < count) png_error(png, "the file ends too early");
  std::memcpy(to, reading->bytes->data() + reading->at, count);
  reading->at += count;
}

void Stop(png_structp png, png_const_charp text) {
  static_cast<Reading*>(png_get_error_ptr(png))->what = text;
  std::longjmp(*png_set_longjmp_fn(png, std::longjmp, sizeof(std::jmp_buf)), 1);
}

void Ignore(png_structp, png_const_charp) {}

// The library's two objects for as long as they are needed.
class PngReader {
 public:
  PngReader(const std::string& label, const std::string& bytes) : label_(label) {
    reading_.bytes = &bytes;
    png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, &reading_, Stop, Ignore);
    if (png_ != nullptr) info_ = png_create_info_struct(png_);
    if (info_ == nullptr) Fail("cannot be read");
  }
  ~PngReader() { png_destroy_read_struct(&png_, &info_, nullptr); }
  PngReader(const PngReader&) = delete;
  PngReader& operator=(const PngReader&) = delete;

  GreyImage Read() {
    if (!ReadHead()) Fail(reading_.what);
    const int colour = png_get_color_type(png_, info_);
    if (colour != PNG_COLOR_TYPE_GRAY || png_get_valid(png_, info_, PNG_INFO_tRNS) != 0) {
      throw InputError(label_ +
                       ": must be a picture of grey levels without transparency: turn it into grey and flatten it");
    }
    const double pixels = 1.0 * png_get_image_width(png_, info_) * png_get_image_height(png_, info_);
    if (pixels > kMostPixels) {
      throw InputError(fmt::format("{}: {:.0f} pixels must be <= {:.0f}: make it smaller", label_, pixels, kMostPixels));
    }
    deep_ = png_get_bit_depth(png_, info_) == 16;
    GreyImage image;
    image.width = static_cast<int>(png_get_image_width(png_, info_));
    image.height = static_cast<int>(png_get_image_height(png_, info_));
    const std::size_t row = static_cast<std::size_t>(image.width) * (deep_ ? 2 : 1);
    pixels_.resize(row * static_cast<std::size_t>(image.height));
    rows_.resize(static_cast<std::size_t>(image.height));
    for (std::size_t y = 0; y < rows_.size(); ++y) rows_[y] = pixels_.data() + y * row;
    if (!ReadPixels()) Fail(reading_.what);
    Convert(image);
    return image;
  }

 private:
  [[noreturn]] void Fail(const std::string& what) const {
    throw InputError(fmt::format("{}: not a whole PNG file ({}): export it again", label_, what));
  }

  // Nothing with a destructor may live between the mark and the jump back to it.
  bool ReadHead() {
    if (setjmp(png_jmpbuf(png_)) != 0) return false;
    png_set_read_fn(png_, &reading_, Give);
    png_read_info(png_, info_);
    return true;
  }
  bool ReadPixels() {
    if (setjmp(png_jmpbuf(png_)) != 0) return false;
    png_set_expand_gray_1_2_4_to_8(png_);
    png_set_interlace_handling(png_);
    png_read_update_info(png_, info_);
    png_read_image(png_, rows_.data());
    png_read_end(png_, nullptr);
    return true;
  }

  void Convert(GreyImage& image) const {
    image.level.resize(pixels_.size() / (deep_ ? 2 : 1));
    for (std::size_t i = 0; i < image.level.size(); ++i) {
      image.level[i] = deep_ ? static_cast<float>(256 * pixels_[2 * i] + pixels_[2 * i + 1]) / 65535.0F
                             : static_cast<float>(pixels_[i]) / 255.0F;
    }
  }

  const std::string label_;
  Reading reading_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
  bool deep_ = false;
  std::vector<unsigned char> pixels_;
  std::vector<png_bytep> rows_;
};

}  // namespace

double GreyImage::At(double right, double up) const {
  const double x = std::clamp(right * width - 0.5, 0.0, width - 1.0);
  const double y = std::clamp((1.0 - up) * height - 0.5, 0.0, height - 1.0);
  const int i = static_cast<int>(x), i1 = std::min(i + 1, width - 1);
  const int j = static_cast<int>(y), j1 = std::min(j + 1, height - 1);
  const auto level_at = [&](int column, int row) {
    return 1.0 * level[static_cast<std::size_t>(row) * static_cast<std::size_t>(width) + static_cast<std::size_t>(column)];
  };
  const double fx = x - i, fy = y - j;
  return (1.0 - fy) * ((1.0 - fx) * level_at(i, j) + fx * level_at(i1, j)) +
         fy * ((1.0 - fx) * level_at(i, j1) + fx * level_at(i1, j1));
}

float GreyImage::least() const { return *std::min_element(level.begin(), level.end()); }
float GreyImage::most() const { return *std::max_element(level.begin(), level.end()); }

GreyImage ReadGreyPng(const std::filesystem::path& file) {
  const std::string bytes = ReadFile(file, kMostBytes);
  return PngReader(file.string(), bytes).Read();
}

}  // namespace aircut::sim
