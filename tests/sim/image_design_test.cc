#include "sim/image_design.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/input_error.h"
#include "tests/sim/sample_meshes.h"
#include "tests/support/png_bytes.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using test::PngBytes;
using testing::HasSubstr;
using testing::ThrowsMessage;

TEST(GreyImageTest, LevelsAreAsStoredAndBilinearBetweenMiddles) {
  const test::TempFolder folder;
  const GreyImage image = ReadGreyPng(folder.Write("a.png", PngBytes(PNG_FORMAT_GRAY, 2, 2, {0, 255, 51, 102})));
  EXPECT_EQ(image.width, 2);
  EXPECT_EQ(image.height, 2);
  // Rows from the top: upper left 0, upper right 1, lower left 0.2, lower right 0.4.
  EXPECT_NEAR(image.At(0.25, 0.75), 0.0, 1e-6);
  EXPECT_NEAR(image.At(0.75, 0.75), 1.0, 1e-6);
  EXPECT_NEAR(image.At(0.25, 0.25), 0.2, 1e-6);
  EXPECT_NEAR(image.At(0.5, 0.5), 0.4, 1e-6);      // mean of the four
  EXPECT_NEAR(image.At(0.0, 0.0), 0.2, 1e-6);      // beyond the middles the nearest speaks
  EXPECT_NEAR(image.least(), 0.0, 1e-6);
  EXPECT_NEAR(image.most(), 1.0, 1e-6);
}

TEST(GreyImageTest, OtherFilesAreRefusedWithTheirName) {
  const test::TempFolder folder;
  const std::string grey = PngBytes(PNG_FORMAT_GRAY, 40, 40, std::vector<unsigned char>(1600, 9));
  const auto refused = [&](const char* name, const std::string& bytes, const char* text) {
    const auto file = folder.Write(name, bytes);
    EXPECT_THAT([&] { ReadGreyPng(file); }, ThrowsMessage<InputError>(testing::AllOf(HasSubstr(name), HasSubstr(text))));
  };
  refused("text.png", "not a picture", "not a whole PNG file");
  refused("empty.png", "", "not a whole PNG file");
  refused("half.png", grey.substr(0, grey.size() / 2), "not a whole PNG file");
  refused("colour.png", PngBytes(PNG_FORMAT_RGB, 1, 1, {1, 2, 3}), "grey levels");
  refused("clear.png", PngBytes(PNG_FORMAT_GA, 1, 1, {1, 2}), "grey levels");
  for (std::size_t cut = 0; cut < grey.size(); ++cut) {
    const auto file = folder.Write("cut.png", grey.substr(0, cut));
    EXPECT_THROW(ReadGreyPng(file), InputError) << cut;
  }
  // A head that promises more than memory can hold.
  std::string huge = grey;
  huge.replace(16, 8, std::string("\x7f\xff\xff\xff\x7f\xff\xff\xff", 8));
  EXPECT_THROW(ReadGreyPng(folder.Write("huge.png", huge)), InputError);
}

ImageDesign Picture(const Vector3d& corner_S, double width_mm, double height_mm) {
  ImageDesign design;
  design.image = {2, 2, {0.0F, 1.0F, 0.0F, 1.0F}};   // black left, white right
  design.X_SD.translation() = corner_S;
  design.width_mm = width_mm;
  design.height_mm = height_mm;
  design.white_mm = 0.0;
  design.black_mm = 4.0;
  return design;
}

TEST(ImageDesignTest, DepthGoesFromWhiteToBlackAndTheMaskKeepsTheFace) {
  ImageDesign design = Picture({0, 0, 0}, 10, 10);
  EXPECT_NEAR(design.DepthAt(0.1, 0.5), 4.0, 1e-6);
  EXPECT_NEAR(design.DepthAt(0.9, 0.5), 0.0, 1e-6);
  EXPECT_NEAR(design.DepthAt(0.5, 0.5), 2.0, 1e-6);
  design.mask = GreyImage{1, 2, {0.0F, 1.0F}};   // the upper half is kept
  EXPECT_TRUE(design.IsMasked(0.1, 0.9));
  EXPECT_EQ(design.DepthAt(0.1, 0.9), 0.0);
  EXPECT_NEAR(design.DepthAt(0.1, 0.1), 4.0, 1e-6);
}

// Oracle: a picture on a level face has its own area; on a face 45 degrees off sqrt 2 of it.
TEST(ImageDesignTest, AreasOfTheFaceAddUpAndStretchIsTold) {
  const MeshIndex level(BoxMesh({0, 0, 0}, {40, 40, 10}));
  double area = 0.0;
  for (const MappedPixel& pixel : MapImage(Picture({10, 10, 50}, 20, 10), level, 0.7, 2)) {
    area += pixel.area_mm2;
    EXPECT_NEAR(pixel.p_S.z(), 10.0, 1e-9);
    EXPECT_NEAR((pixel.normal_S - Vector3d::UnitZ()).norm(), 0.0, 1e-9);
    EXPECT_FALSE(pixel.folded);
  }
  EXPECT_NEAR(area, 200.0, 1e-9);
  const MeshIndex slope(BoardMesh(40.0, -50.0, 10, [](double x, double) { return x; }));
  area = 0.0;
  for (const MappedPixel& pixel : MapImage(Picture({10, 10, 60}, 20, 10), slope, 0.7, 2)) area += pixel.area_mm2;
  EXPECT_NEAR(area, 200.0 * std::sqrt(2.0), 1e-6);
  EXPECT_NEAR(FitOf(Picture({10, 10, 60}, 20, 10), slope).most_stretch, std::sqrt(2.0), 1e-9);
  EXPECT_EQ(FitOf(Picture({10, 10, 60}, 20, 10), slope).steep, 0.0);
  const MeshIndex steep(BoardMesh(40.0, -50.0, 10, [](double x, double) { return 2.0 * x; }));
  EXPECT_NEAR(FitOf(Picture({10, 10, 90}, 20, 10), steep).steep, 1.0, 1e-12);
}

TEST(ImageDesignTest, PictureBesideTheStockMissesAndATableUnderAPieceFolds) {
  const MeshIndex block(BoxMesh({0, 0, 0}, {40, 40, 10}));
  EXPECT_NEAR(FitOf(Picture({-10, 0, 50}, 20, 20), block).missed, 0.5, 0.02);
  EXPECT_NEAR(FitOf(Picture({60, 0, 50}, 20, 20), block).missed, 1.0, 1e-12);
  EXPECT_NEAR(FitOf(Picture({0, 0, 50}, 20, 20), block).folded, 0.0, 1e-12);
  Mesh two = BoxMesh({0, 0, 0}, {40, 40, 10});
  const Mesh shelf = BoxMesh({0, 0, 20}, {20, 40, 30});
  for (const auto& t : shelf.triangles) two.triangles.push_back({t[0] + 8, t[1] + 8, t[2] + 8});
  two.vertices.insert(two.vertices.end(), shelf.vertices.begin(), shelf.vertices.end());
  EXPECT_NEAR(FitOf(Picture({10, 0, 50}, 20, 20), MeshIndex(two)).folded, 0.5, 0.02);
}

}  // namespace
}  // namespace aircut::sim
