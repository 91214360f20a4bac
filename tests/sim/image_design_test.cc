#include "sim/image_design.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/design_samples.h"
#include "sim/input_error.h"
#include "sim/mesh_import.h"
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

// A level sheet of 20 x 10 mm at z = 10, its texture given by u(x, y) and v(x, y).
template <typename Uv>
TextureMap Sheet(int cells, const Uv& uv) {
  TextureMap map;
  const auto at = [&](int i, int j) { return Vector3d(10.0 + 20.0 * i / cells, 10.0 + 10.0 * j / cells, 10.0); };
  for (int j = 0; j < cells; ++j) {
    for (int i = 0; i < cells; ++i) {
      const auto base = static_cast<std::int32_t>(map.mesh_S.vertices.size());
      for (const Vector3d& p : {at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)}) map.mesh_S.vertices.push_back(p);
      map.mesh_S.triangles.push_back({base, base + 1, base + 2});
      map.mesh_S.triangles.push_back({base, base + 2, base + 3});
      for (const auto& t : {map.mesh_S.triangles[map.mesh_S.triangles.size() - 2], map.mesh_S.triangles.back()}) {
        std::array<Eigen::Vector2d, 3> corners;
        for (std::size_t n = 0; n < 3; ++n) {
          const Vector3d& p = map.mesh_S.vertices[static_cast<std::size_t>(t[n])];
          corners[n] = uv((p.x() - 10.0) / 20.0, (p.y() - 10.0) / 10.0);
        }
        map.uv.push_back(corners);
      }
    }
  }
  return map;
}

ImageDesign MappedPicture(const TextureMap& map) {
  ImageDesign design = Picture({0, 0, 0}, 0, 0);
  design.map_S = std::make_shared<const TextureMap>(map);
  return design;
}

// Oracle: the same picture, projected; both lie on the same sheet.
TEST(TextureMapTest, PictureByTextureLiesWhereTheProjectedOneDoes) {
  const MeshIndex block(BoxMesh({0, 0, 0}, {40, 40, 10}));
  const ImageDesign mapped = MappedPicture(Sheet(4, [](double u, double v) { return Eigen::Vector2d(u, v); }));
  const ImageDesign projected = Picture({10, 10, 50}, 20, 10);
  double area = 0.0;
  for (const MappedPixel& pixel : MapImage(mapped, block, 0.7, 2)) {
    area += pixel.area_mm2;
    EXPECT_NEAR(pixel.p_S.z(), 10.0, 1e-9);
    EXPECT_NEAR(mapped.DepthAt(pixel.right, pixel.up), *projected.DepthUnder(pixel.p_S), 1e-6);
  }
  EXPECT_NEAR(area, 200.0, 1e-9);
  const ImageFit fit = FitOf(mapped, block);
  EXPECT_NEAR(fit.missed, 0.0, 1e-12);
  EXPECT_NEAR(fit.folded, 0.0, 1e-12);
}

// Oracle: by hand. A picture of 2 x 2 pixels over 20 x 10 mm makes steps of 10 and 5 mm, of
// which the mean by area is sqrt 50. Half of it squeezed into a tenth of the sheet: the other
// half is drawn out over nine tenths, 18 mm a pixel, 18 / sqrt 50 = 2.55 times the mean.
TEST(TextureMapTest, StretchIsToldAgainstTheMeanOfTheMap) {
  const MeshIndex block(BoxMesh({0, 0, 0}, {40, 40, 10}));
  const auto even = [](double u, double v) { return Eigen::Vector2d(u, v); };
  EXPECT_NEAR(FitOf(MappedPicture(Sheet(10, even)), block).most_stretch, 10.0 / std::sqrt(50.0), 1e-9);
  const auto squeezed = [](double u, double v) { return Eigen::Vector2d(u < 0.1 + 1e-9 ? 5.0 * u : 0.5 + (u - 0.1) / 1.8, v); };
  const ImageFit fit = FitOf(MappedPicture(Sheet(10, squeezed)), block);
  EXPECT_NEAR(fit.most_stretch, 18.0 / std::sqrt(50.0), 1e-9);
  EXPECT_NEAR(fit.steep, 0.9, 1e-9);
}

TEST(TextureMapTest, FoldMirrorAndOverlapAreTold) {
  const auto fit = [](const auto& uv) { return FitOf(Sheet(10, uv)); };
  const TextureFit plain = fit([](double u, double v) { return Eigen::Vector2d(u, v); });
  EXPECT_EQ(plain.mirrored, 0.0);
  EXPECT_EQ(plain.twice, 0.0);
  EXPECT_EQ(plain.flat, 0.0);
  EXPECT_EQ(plain.outside, 0.0);
  EXPECT_EQ(fit([](double u, double v) { return Eigen::Vector2d(1 - u, v); }).mirrored, 1.0);
  const TextureFit folded = fit([](double u, double v) { return Eigen::Vector2d(u < 0.7 ? u : 1.4 - u, v); });
  EXPECT_NEAR(folded.mirrored, 0.3, 1e-9);
  EXPECT_NEAR(folded.twice, 0.6, 0.01);      // the raster's own edge
  const TextureFit repeated = fit([](double u, double v) { return Eigen::Vector2d(std::fmod(2.0 * u, 1.0), v); });
  EXPECT_GT(repeated.twice, 0.7);
  EXPECT_NEAR(fit([](double, double v) { return Eigen::Vector2d(0.5, v); }).flat, 1.0, 1e-12);
  EXPECT_NEAR(fit([](double u, double v) { return Eigen::Vector2d(u + 1.0, v); }).outside, 1.0, 1e-12);
  EXPECT_NEAR(fit([](double u, double v) { return Eigen::Vector2d(2.0 * u, v); }).outside, 0.5, 1e-9);
}

TEST(TextureMapTest, MapBesideTheFaceMisses) {
  const ImageDesign mapped = MappedPicture(Sheet(4, [](double u, double v) { return Eigen::Vector2d(u, v); }));
  EXPECT_NEAR(FitOf(mapped, MeshIndex(BoxMesh({0, 0, 0}, {40, 40, 8.9}))).missed, 1.0, 1e-12);
  EXPECT_NEAR(FitOf(mapped, MeshIndex(BoxMesh({0, 0, 0}, {40, 40, 9.1}))).missed, 0.0, 1e-12);
  EXPECT_NEAR(FitOf(mapped, MeshIndex(BoxMesh({0, 0, 0}, {20, 40, 10}))).missed, 0.45, 0.06);   // 1 mm beside counts
}

constexpr const char* kSheetObj =
    "v 10 10 20\nv 30 10 20\nv 30 20 20\nv 10 20 20\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\nf 1/1 2/2 3/3\nf 1/1 3/3 4/4\n";
constexpr const char* kSheetPly =
    "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\nproperty float s\nproperty float t\n"
    "element face 2\nproperty list uchar int vertex_indices\nend_header\n"
    "10 10 20 0 0\n30 10 20 1 0\n30 20 20 1 1\n10 20 20 0 1\n3 0 1 2\n3 0 2 3\n";

// Oracle: what stands in the files, literally.
TEST(TextureMapTest, ObjAndPlyGiveTheSameMap) {
  const test::TempFolder folder;
  for (const auto& [name, text] : {std::pair{"sheet.obj", kSheetObj}, std::pair{"sheet.ply", kSheetPly}}) {
    const TextureMap map = ReadTextureMap(folder.Write(name, text), 1.0);
    ASSERT_EQ(map.uv.size(), 2u) << name;
    for (int t = 0; t < 2; ++t) {
      EXPECT_NEAR((map.At(t, {20, 15, 20}) - Eigen::Vector2d(0.5, 0.5)).norm(), 0.0, 1e-6) << name;
      EXPECT_NEAR(map.AreaInPicture(t), 0.5, 1e-6) << name;
    }
    EXPECT_NEAR((map.At(0, {25, 11, 20}) - Eigen::Vector2d(0.75, 0.1)).norm(), 0.0, 1e-6) << name;
    EXPECT_NEAR((map.At(1, {11, 19, 20}) - Eigen::Vector2d(0.05, 0.9)).norm(), 0.0, 1e-6) << name;
  }
}

TEST(TextureMapTest, FilesWithoutTextureCoordinatesAreRefused) {
  const test::TempFolder folder;
  const auto refused = [&](const char* name, const std::string& text, const char* says) {
    const auto file = folder.Write(name, text);
    EXPECT_THAT([&] { ReadTextureMap(file, 1.0); }, ThrowsMessage<InputError>(testing::AllOf(HasSubstr(name), HasSubstr(says))));
  };
  refused("bare.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "no texture coordinates");
  refused("bare.ply", test::TinyStockPly(), "no texture coordinates");
  refused("points.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\n", "no triangle");
  refused("sheet.stl", "solid a\nendsolid a\n", ".obj or .ply");
}

test::TinyJob MappedJob(const std::string& map_name, const std::string& map_text) {
  test::TinyJob tiny;
  tiny.Change("tiny.job.yaml", "design: {depth_below_stock: 1.0}",
              "design: {image: relief.png, depth: [0, 2], map: " + map_name + "}");
  tiny.files["relief.png"] = PngBytes(PNG_FORMAT_GRAY, 2, 1, {0, 255});
  tiny.files[map_name] = map_text;
  return tiny;
}

// Oracle: black on the left asks for 2 mm, white on the right for nothing; between the
// middles of both pixels, x = 15 and 25, depth falls evenly.
TEST(TextureMapTest, JobCarvesThePictureWhereTheMapLaysIt) {
  const test::TempFolder folder;
  const Job job = LoadJob(MappedJob("sheet.obj", kSheetObj).WriteTo(folder), {});
  double carve_mm2 = 0.0;
  for (const DesignSample& s : SampleDesign(job, 0.5, 2)) {
    const Vector3d& p = s.ray.p_SQ;
    const bool on_picture = p.x() > 10 && p.x() < 30 && p.y() > 10 && p.y() < 20;
    if (s.role == DesignSample::Role::kSpare) {
      EXPECT_NEAR(p.z(), 20.0, 1e-9);
      continue;
    }
    EXPECT_TRUE(on_picture);
    carve_mm2 += s.area_mm2;
    EXPECT_NEAR(p.z(), 20.0 - 2.0 * std::clamp((25.0 - p.x()) / 10.0, 0.0, 1.0), 1e-5);
  }
  EXPECT_NEAR(carve_mm2, 10.0 * 14.75, 6.0);   // less than 0.05 mm is asked from x = 24.75 on
}

TEST(TextureMapTest, MapsThatCannotCarryThePictureAreRefused) {
  const auto refused = [](const test::TinyJob& tiny, const char* text) {
    const test::TempFolder folder;
    const std::string job = tiny.WriteTo(folder);
    EXPECT_THAT([&] { LoadJob(job, {}); }, ThrowsMessage<InputError>(HasSubstr(text)));
  };
  const auto with = [](const char* from, const char* to) { return MappedJob("sheet.obj", test::Replaced(kSheetObj, from, to)); };
  refused(with("vt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\n", "vt 1 0\nvt 0 0\nvt 0 1\nvt 1 1\n"), "lays the picture mirrored over the whole surface");
  refused(with("vt 0 1\n", "vt 1 0.2\n"), "design.map = sheet.obj is folded: on 50 % of the surface the picture lies mirrored");
  refused(with("vt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\n", "vt 2 0\nvt 3 0\nvt 3 1\nvt 2 1\n"), "lies beside the picture");
  refused(with("vt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\n", "vt 0 0\nvt 0 0\nvt 1 1\nvt 1 1\n"), "has no area in the picture");
  test::TinyJob wide = MappedJob("sheet.obj", kSheetObj);
  wide.Change("tiny.job.yaml", "depth: [0, 2],", "depth: [0, 2], width: 20,");
  refused(wide, "design.width does not go with map");
  refused(MappedJob("sheet.obj", "v 10 10 90\nv 30 10 90\nv 30 20 90\nvt 0 0\nvt 1 0\nvt 1 1\nf 1/1 2/2 3/3\n"), "meets the stock nowhere");
}

}  // namespace
}  // namespace aircut::sim
