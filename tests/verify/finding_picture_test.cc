#include "verify/finding_picture.h"

#include <stdexcept>

#include <gtest/gtest.h>
#include <png.h>

namespace aircut::verify {
namespace {

struct Pixels {
  int width = 0, height = 0;
  std::vector<unsigned char> rgb;
  std::array<int, 3> At(int x, int y) const {
    const std::size_t i = 3 * (static_cast<std::size_t>(y) * width + x);
    return {rgb[i], rgb[i + 1], rgb[i + 2]};
  }
};

Pixels Decoded(const std::vector<unsigned char>& png) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  if (png_image_begin_read_from_memory(&image, png.data(), png.size()) == 0) throw std::runtime_error(image.message);
  image.format = PNG_FORMAT_RGB;
  Pixels pixels{static_cast<int>(image.width), static_cast<int>(image.height), std::vector<unsigned char>(PNG_IMAGE_SIZE(image))};
  png_image_finish_read(&image, nullptr, pixels.rgb.data(), 0, nullptr);
  return pixels;
}

const sim::Mesh& Plate() {
  static const sim::Mesh plate = sim::BoxMesh({-100, -80, -20}, {100, 80, 0});
  return plate;
}

PlacePicture At(double x, double y) {
  PlacePicture request;
  request.mesh_S = &Plate();
  request.at_S = Eigen::Vector3d(x, y, 0);
  request.label = "7";
  request.across_mm = 40;
  return request;
}

bool IsAlarm(const std::array<int, 3>& c) { return c[0] > 120 && c[1] < 90 && c[2] < 70; }

// Oracle: the ring of the alarm colour has its middle in the middle of the picture, where
// the place is framed, and the place itself is not covered.
TEST(FindingPictureTest, RingsThePlaceInTheMiddle) {
  const Pixels pixels = Decoded(DrawPlace(At(10, 20)));
  ASSERT_EQ(pixels.width, 360);
  ASSERT_EQ(pixels.height, 240);
  for (const auto& [x, y] : {std::pair{180 - 13, 120}, {180 + 13, 120}, {180, 120 + 13}}) {
    bool found = false;
    for (int dx = -2; dx <= 2; ++dx) {
      for (int dy = -2; dy <= 2; ++dy) found = found || IsAlarm(pixels.At(x + dx, y + dy));
    }
    EXPECT_TRUE(found) << x << " " << y;
  }
  EXPECT_FALSE(IsAlarm(pixels.At(180, 120)));
}

// Oracle: 40 mm across 360 px are 9 px a mm: of a place 10 mm from the right edge of the
// plate the right part shows paper from 90 px right of the middle on.
TEST(FindingPictureTest, ShowsAsManyMillimetresAsAsked) {
  const Pixels pixels = Decoded(DrawPlace(At(90, 0)));
  const std::array<int, 3> paper{251, 250, 246};
  EXPECT_NE(pixels.At(180 + 80, 60), paper);
  EXPECT_EQ(pixels.At(180 + 100, 60), paper);
}

TEST(FindingPictureTest, SameRequestGivesTheSameBytes) { EXPECT_TRUE(DrawPlace(At(3, 4)) == DrawPlace(At(3, 4))); }

// A place far beside the piece is an empty sheet with its ring, no fault; no mesh is one.
TEST(FindingPictureTest, PlaceBesideThePieceAndNoPiece) {
  EXPECT_FALSE(DrawPlace(At(5000, 0)).empty());
  PlacePicture none = At(0, 0);
  none.mesh_S = nullptr;
  EXPECT_THROW(DrawPlace(none), std::invalid_argument);
  PlacePicture flat = At(0, 0);
  flat.across_mm = 0;
  EXPECT_THROW(DrawPlace(flat), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::verify
