#include "verify/cell_picture.h"

#include <algorithm>
#include <array>

#include <gtest/gtest.h>
#include <png.h>

#include "tests/verify/sheet_cell.h"
#include "verify/drawing_sheet.h"
#include "verify/stroke_font.h"

namespace aircut::verify {
namespace {

using support::BareCell;

struct Picture {
  int width = 0, height = 0;
  std::vector<unsigned char> rgb;
  Colour At(int x, int y) const {
    const std::size_t i = (static_cast<std::size_t>(y) * width + x) * 3;
    return {rgb[i], rgb[i + 1], rgb[i + 2]};
  }
};

Picture Decode(const std::vector<unsigned char>& png) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  EXPECT_NE(png_image_begin_read_from_memory(&image, png.data(), png.size()), 0);
  image.format = PNG_FORMAT_RGB;
  Picture picture{static_cast<int>(image.width), static_cast<int>(image.height), {}};
  picture.rgb.resize(PNG_IMAGE_SIZE(image));
  EXPECT_NE(png_image_finish_read(&image, nullptr, picture.rgb.data(), 0, nullptr), 0);
  return picture;
}

sim::Cell CellWithBodies() {
  sim::Cell cell = BareCell().cell;
  cell.links = {{2, {sim::CapsuleShape{{0, 0, 0}, {0, 0, 500}, 60}}}};
  cell.X_WS.translation() = Eigen::Vector3d(600, 100, 500);
  cell.fixture_S = {sim::BoxShape{{-50, -50, -100}, {50, 50, 0}}};
  cell.obstacles_W = {{"post", {sim::BoxShape{{-500, 300, 0}, {-400, 400, 900}}}}};
  cell.floor_z_mm = 0;
  return cell;
}

// The same bytes for the same cell.
TEST(CellPictureTest, SameCellGivesTheSameBytes) { EXPECT_EQ(DrawCell(CellWithBodies()), DrawCell(CellWithBodies())); }

// A grey printer must lose nothing: ink is the one colour that is not near grey,
// and no pixel is farther from grey than ink or paper are.
TEST(CellPictureTest, NothingRestsOnColour) {
  const Picture picture = Decode(DrawCell(CellWithBodies()));
  int farthest = 0;
  for (std::size_t i = 0; i < picture.rgb.size(); i += 3) {
    const auto [low, high] = std::minmax({picture.rgb[i], picture.rgb[i + 1], picture.rgb[i + 2]});
    farthest = std::max(farthest, int{high} - int{low});
  }
  EXPECT_LE(farthest, 20);
}

// Caught: each body leaves its mark: without it the picture differs.
TEST(CellPictureTest, EveryKindOfBodyIsDrawn) {
  const std::vector<unsigned char> whole = DrawCell(CellWithBodies());
  const auto without = [&](void (*change)(sim::Cell&)) {
    sim::Cell cell = CellWithBodies();
    change(cell);
    return DrawCell(cell) != whole;
  };
  EXPECT_TRUE(without([](sim::Cell& cell) { cell.links.clear(); }));
  EXPECT_TRUE(without([](sim::Cell& cell) { cell.fixture_S.clear(); }));
  EXPECT_TRUE(without([](sim::Cell& cell) { cell.obstacles_W.clear(); }));
  EXPECT_TRUE(without([](sim::Cell& cell) { cell.floor_z_mm.reset(); }));
  EXPECT_TRUE(without([](sim::Cell& cell) { cell.cutters.at(1).holder.clear(); }));
  EXPECT_TRUE(without([](sim::Cell& cell) { cell.cutters.clear(); }));
}

// Odd cells give a sheet, never an exception, and none grows without end.
TEST(CellPictureTest, OddCellsGiveASheet) {
  sim::Cell far = CellWithBodies();
  far.obstacles_W = {{"wall", {sim::BoxShape{{1e6, -1e6, 0}, {1e6 + 1, 1e6, 1e4}}}}};
  sim::Cell away = CellWithBodies();
  away.X_WS.translation() = Eigen::Vector3d(1e5, 0, 0);
  sim::Cell tall = CellWithBodies();
  tall.name = std::string(4000, 'W');
  for (const sim::Cell& cell : {sim::Cell{}, BareCell().cell, far, away, tall}) {
    const Picture picture = Decode(DrawCell(cell));
    EXPECT_GT(picture.width, 0);
    EXPECT_LE(picture.width, 4000);
    EXPECT_LE(picture.height, 4000);
  }
}

// Oracle: definition of a line: ink along it, paper beside it.
TEST(DrawingSheetTest, LineInksItsPixelsOnly) {
  DrawingSheet sheet(60, 40);
  sheet.Line({10, 20.5}, {50, 20.5}, {1.0});
  const Picture picture = Decode(sheet.Png());
  for (int x = 10; x < 50; ++x) EXPECT_EQ(picture.At(x, 20), kInkColour) << x;
  for (int x = 0; x < 60; ++x) EXPECT_EQ(picture.At(x, 23), kPaperColour) << x;
  EXPECT_EQ(picture.At(5, 20), kPaperColour);
}

TEST(DrawingSheetTest, NothingIsDrawnOutsideTheClip) {
  DrawingSheet sheet(60, 40);
  sheet.Clip({Eigen::Vector2d(20, 0), Eigen::Vector2d(40, 40)});
  sheet.Line({-1e7, 20.5}, {1e7, 20.5}, {3.0});
  const Picture picture = Decode(sheet.Png());
  EXPECT_EQ(picture.At(30, 20), kInkColour);
  EXPECT_EQ(picture.At(19, 20), kPaperColour);
  EXPECT_EQ(picture.At(40, 20), kPaperColour);
}

// Letters of one text keep their order and stay within its width and height.
TEST(StrokeFontTest, TextStaysInItsBox) {
  const Lettering text = Letter("Qg 0.25 mm (ø6)", 12);
  for (const auto& stroke : text.strokes) {
    for (const Eigen::Vector2d& p : stroke) {
      EXPECT_GE(p.x(), 0);
      EXPECT_LE(p.x(), text.width + 1e-9);
      EXPECT_GE(p.y(), -4.0 - 1e-9);
      EXPECT_LE(p.y(), 14.0 + 1e-9);
    }
  }
  EXPECT_NEAR(Letter("Qg 0.25 mm (ø6)", 24).width, 2 * text.width, 1e-9);
  EXPECT_GT(Letter("ab", 12).width, Letter("a", 12).width);
  EXPECT_EQ(Letter("", 12).width, 0);
  EXPECT_EQ(Letter("\xff\xc3", 12).strokes.size(), 2u);   // damaged text is two boxes
}

}  // namespace
}  // namespace aircut::verify
