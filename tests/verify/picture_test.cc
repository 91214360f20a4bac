#include "verify/picture.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <png.h>

namespace aircut::verify {
namespace {

constexpr double kTolerance_mm = 0.3;
constexpr float kNan = std::numeric_limits<float>::quiet_NaN();

struct Decoded {
  int width = 0, height = 0;
  std::vector<unsigned char> rgb;
  Colour At(int x, int y) const {
    const std::size_t i = (static_cast<std::size_t>(y) * width + x) * 3;
    return {rgb[i], rgb[i + 1], rgb[i + 2]};
  }
};

Decoded Decode(const std::vector<unsigned char>& png) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  EXPECT_NE(png_image_begin_read_from_memory(&image, png.data(), png.size()), 0);
  image.format = PNG_FORMAT_RGB;
  Decoded decoded{static_cast<int>(image.width), static_cast<int>(image.height), {}};
  decoded.rgb.resize(PNG_IMAGE_SIZE(image));
  EXPECT_NE(png_image_finish_read(&image, nullptr, decoded.rgb.data(), 0, nullptr), 0);
  return decoded;
}

// A flat plate of two triangles facing +z.
sim::Mesh Plate(double width_mm, double height_mm) {
  sim::Mesh mesh;
  mesh.vertices = {{0, 0, 0}, {width_mm, 0, 0}, {width_mm, height_mm, 0}, {0, height_mm, 0}};
  mesh.triangles = {{0, 1, 2}, {0, 2, 3}};
  return mesh;
}

Decoded DrawPlate(float deviation_mm) {
  const sim::Mesh plate = Plate(100, 60);
  const std::vector<float> deviation(4, deviation_mm);
  PictureRequest request;
  request.mesh_S = &plate;
  request.deviation_mm = &deviation;
  request.width_px = 200, request.height_px = 120;
  return Decode(DrawPiece(request));
}

// The colour of most pixels in the middle: hatching lies over ochre.
Colour MiddleColour(const Decoded& picture) {
  std::vector<Colour> colours;
  for (int y = picture.height / 2 - 15; y < picture.height / 2 + 15; ++y) {
    for (int x = picture.width / 2 - 15; x < picture.width / 2 + 15; ++x) colours.push_back(picture.At(x, y));
  }
  return *std::max_element(colours.begin(), colours.end(), [&](const Colour& a, const Colour& b) {
    return std::count(colours.begin(), colours.end(), a) < std::count(colours.begin(), colours.end(), b);
  });
}

bool IsPurple(const Colour& c) { return c[2] > c[1] + 20 && c[0] > c[1]; }
bool IsOchre(const Colour& c) { return c[0] > c[2] + 40 && c[1] > c[2] + 20; }

// Oracle: the legend: a flat face square to the view has its colours unshaded.
TEST(PictureTest, FlatPlateHasTheColourOfTheLegend) {
  const Colour high = MiddleColour(DrawPlate(1.0f)), deep = MiddleColour(DrawPlate(-1.0f));
  const Colour within = MiddleColour(DrawPlate(0.0f)), other = MiddleColour(DrawPlate(kNan));
  EXPECT_TRUE(IsPurple(high));
  EXPECT_TRUE(IsOchre(deep));
  EXPECT_EQ(high, DeviationColour(1.0, kTolerance_mm));
  EXPECT_EQ(deep, DeviationColour(-1.0, kTolerance_mm));
  EXPECT_EQ(within, DeviationColour(0.0, kTolerance_mm));
  EXPECT_EQ(other, DeviationColour(kNan, kTolerance_mm));
  EXPECT_NE(within, other);
}

// Oracle: the definition of the scale: every step is what DeviationColour
// answers inside it, steps meet, and lightness falls away from zero.
TEST(PictureTest, ScaleIsWhatTheColoursAre) {
  const std::vector<ColourStep> steps = DeviationScale(kTolerance_mm);
  const auto lightness = [](const Colour& c) { return 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2]; };
  for (std::size_t i = 0; i < steps.size(); ++i) {
    const double from = std::isfinite(steps[i].from_mm) ? steps[i].from_mm : -100.0;
    const double to = std::isfinite(steps[i].to_mm) ? steps[i].to_mm : 100.0;
    EXPECT_EQ(DeviationColour(0.5 * (from + to), kTolerance_mm), steps[i].colour);
    if (i == 0) continue;
    EXPECT_EQ(steps[i - 1].to_mm, steps[i].from_mm);
    const bool darker = lightness(steps[i].colour) < lightness(steps[i - 1].colour);
    EXPECT_EQ(darker, steps[i].from_mm > 0);
  }
  EXPECT_EQ(DeviationColour(kTolerance_mm, kTolerance_mm), DeviationColour(0, kTolerance_mm));
  EXPECT_TRUE(IsPurple(DeviationColour(kTolerance_mm * 1.01, kTolerance_mm)));
  EXPECT_TRUE(IsOchre(DeviationColour(-kTolerance_mm * 1.01, kTolerance_mm)));
}

// Oracle: PNG itself, read back by the library's reader.
TEST(PictureTest, PngHasTheSizeAskedFor) {
  const Decoded picture = DrawPlate(0.0f);
  EXPECT_EQ(picture.width, 200);
  EXPECT_EQ(picture.height, 120);
}

// Oracle: the view's own projection: corners of the plate end where PixelOf says.
TEST(PictureTest, PlateFillsTheFrameThatTheViewTells) {
  const sim::Mesh plate = Plate(100, 60);
  PictureRequest request;
  request.mesh_S = &plate;
  request.width_px = 220, request.height_px = 152;
  const PieceView view = ChooseView(request);
  const Decoded picture = Decode(DrawPiece(request));
  const Colour paper = picture.At(0, 0);
  for (const Eigen::Vector3d& corner : plate.vertices) {
    const Eigen::Vector2d px = view.PixelOf(corner), middle(110, 76);
    const Eigen::Vector2d in = px + 2.5 * (middle - px).cwiseSign(), out = px - 2.5 * (middle - px).cwiseSign();
    EXPECT_NE(picture.At(int(in.x()), int(in.y())), paper);
    EXPECT_EQ(picture.At(int(out.x()), int(out.y())), paper);
  }
  EXPECT_GT(view.PixelOf({100, 0, 0}).x(), view.PixelOf({0, 0, 0}).x());   // +x to the right
  EXPECT_LT(view.PixelOf({0, 60, 0}).y(), view.PixelOf({0, 0, 0}).y());    // +y upwards
}

// Oracle: lit from the upper left: a slope to the left is lighter than the
// same slope to the right (the trade's drawing convention; common practice, no source).
TEST(PictureTest, LightComesFromTheUpperLeft) {
  sim::Mesh roof;
  roof.vertices = {{0, 0, 0}, {50, 0, 20}, {100, 0, 0}, {0, 60, 0}, {50, 60, 20}, {100, 60, 0}};
  roof.triangles = {{0, 1, 4}, {0, 4, 3}};
  // Own vertices for the other side, so that the ridge stays sharp.
  roof.vertices.insert(roof.vertices.end(), {{50, 0, 20}, {50, 60, 20}});
  roof.triangles.push_back({6, 2, 5});
  roof.triangles.push_back({6, 5, 7});
  PictureRequest request;
  request.mesh_S = &roof;
  request.width_px = 200, request.height_px = 120;
  const Decoded picture = Decode(DrawPiece(request));
  EXPECT_GT(picture.At(60, 60)[1], picture.At(140, 60)[1] + 20);
}

// Oracle: the nearer face hides the farther one, whatever their order.
TEST(PictureTest, NearerFaceHidesTheFartherOne) {
  for (const bool near_first : {true, false}) {
    sim::Mesh mesh = Plate(100, 60);
    const sim::Mesh second = Plate(100, 60);
    for (const Eigen::Vector3d& v : second.vertices) mesh.vertices.push_back(v);
    for (int i = 0; i < 4; ++i) mesh.vertices[near_first ? i : i + 4].z() = 10;
    mesh.triangles.push_back({4, 5, 6});
    mesh.triangles.push_back({4, 6, 7});
    std::vector<float> deviation(8, 0.0f);
    for (int i = 0; i < 4; ++i) deviation[near_first ? i : i + 4] = 1.0f;
    PictureRequest request;
    request.mesh_S = &mesh;
    request.deviation_mm = &deviation;
    request.width_px = 200, request.height_px = 120;
    EXPECT_EQ(MiddleColour(Decode(DrawPiece(request))), DeviationColour(1.0, kTolerance_mm));
  }
}

// Oracle: the frame: the part with depth errors, here the right tenth of a
// long plate, is what is seen; without any the whole is.
TEST(PictureTest, FramesThePartThatHasDepthErrors) {
  sim::Mesh plate = Plate(1000, 60);
  plate.vertices.insert(plate.vertices.end(), {{900, 0, 0}, {900, 60, 0}});
  std::vector<float> deviation{kNan, 0, 0, kNan, 0, 0};
  PictureRequest request;
  request.mesh_S = &plate;
  request.deviation_mm = &deviation;
  EXPECT_NEAR(ChooseView(request).centre_S.x(), 950, 1e-9);
  deviation.assign(6, kNan);
  EXPECT_NEAR(ChooseView(request).centre_S.x(), 500, 1e-9);
  request.deviation_mm = nullptr;
  EXPECT_NEAR(ChooseView(request).centre_S.x(), 500, 1e-9);
}

// Oracle: definition of a right-handed frame seen from the eye.
TEST(PictureTest, ViewIsSquareForAnyDirection) {
  const sim::Mesh plate = Plate(100, 60);
  PictureRequest request;
  request.mesh_S = &plate;
  for (const Eigen::Vector3d& look : {Eigen::Vector3d(0, 0, -2), Eigen::Vector3d(0, 1, 0), Eigen::Vector3d(0, 0, 1),
                                      Eigen::Vector3d(1, 1, 0), Eigen::Vector3d(-1, 2, -3)}) {
    request.look_S = look;
    const PieceView view = ChooseView(request);
    EXPECT_NEAR(view.right_S.norm(), 1, 1e-12);
    EXPECT_NEAR(view.up_S.norm(), 1, 1e-12);
    EXPECT_NEAR(view.right_S.dot(view.up_S), 0, 1e-12);
    EXPECT_NEAR(view.right_S.cross(view.up_S).dot(view.look_S), -1, 1e-12);   // looks into the sheet
  }
}

TEST(PictureTest, SameRequestGivesTheSameBytes) {
  const sim::Mesh box = sim::BoxMesh({0, 0, 0}, {80, 50, 20});
  PictureRequest request;
  request.mesh_S = &box;
  request.look_S = Eigen::Vector3d(-1, 2, -3);
  request.width_px = 300, request.height_px = 200;
  EXPECT_EQ(DrawPiece(request), DrawPiece(request));
}

// Degenerate: no triangles, a triangle without area, vertices that are no numbers.
TEST(PictureTest, MeshWithNothingToSeeGivesAnEmptySheet) {
  sim::Mesh mesh;
  PictureRequest request;
  request.mesh_S = &mesh;
  request.width_px = 40, request.height_px = 30;
  EXPECT_EQ(Decode(DrawPiece(request)).width, 40);
  mesh.vertices = {{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {double(kNan), 0, 0}};
  mesh.triangles = {{0, 1, 2}, {0, 1, 3}, {1, 1, 1}};
  const Decoded picture = Decode(DrawPiece(request));
  EXPECT_EQ(picture.At(20, 15), picture.At(0, 0));
}

TEST(PictureTest, WrongRequestsThrowNamingTheField) {
  const sim::Mesh plate = Plate(10, 10);
  const std::vector<float> short_list(3, 0.0f);
  const auto message = [](const PictureRequest& request) -> std::string {
    try {
      DrawPiece(request);
    } catch (const std::invalid_argument& error) {
      return error.what();
    }
    return "";
  };
  PictureRequest good;
  good.mesh_S = &plate;
  good.width_px = good.height_px = 20;
  EXPECT_EQ(message(good), "");
  PictureRequest bad = good;
  bad.mesh_S = nullptr;
  EXPECT_THAT(message(bad), testing::HasSubstr("mesh_S"));
  bad = good, bad.deviation_mm = &short_list;
  EXPECT_THAT(message(bad), testing::HasSubstr("deviation_mm"));
  bad = good, bad.look_S.setZero();
  EXPECT_THAT(message(bad), testing::HasSubstr("look_S"));
  bad = good, bad.tolerance_mm = 0;
  EXPECT_THAT(message(bad), testing::HasSubstr("tolerance_mm = 0"));
  bad = good, bad.tolerance_mm = double(kNan);
  EXPECT_THAT(message(bad), testing::HasSubstr("tolerance_mm"));
  bad = good, bad.width_px = 0;
  EXPECT_THAT(message(bad), testing::HasSubstr("size = 0 px"));
}

}  // namespace
}  // namespace aircut::verify
