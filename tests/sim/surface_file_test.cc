#include "sim/surface_file.h"

#include <cmath>
#include <fstream>
#include <iterator>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/input_error.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using aircut::test::TempFolder;
using testing::HasSubstr;

std::string TextOf(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

// Two vertices at one place: joined, the numbers would go to the wrong ones.
Mesh TwoTriangles() {
  return {{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 0}, {0, 0, 2.5}, {0, 3, 0}}, {{0, 1, 2}, {3, 4, 5}}};
}

std::string Refusal(const std::filesystem::path& file, const std::vector<std::string>& names) {
  try {
    ReadSurfaceFile(file, names);
  } catch (const InputError& error) {
    return error.what();
  }
  return "not refused";
}

// Oracle: what was written.
TEST(SurfaceFileTest, VerticesAndNumbersComeBack) {
  const TempFolder folder;
  const auto file = folder.path() / "s.ply";
  const std::vector<float> a{1, 2, 3, 4, 5, 6}, b{-0.5F, std::numeric_limits<float>::quiet_NaN(), 0, 1e-9F, 7, 8};
  WritePly(file, TwoTriangles(), {{"a", a}, {"b", b}});
  const SurfaceFile back = ReadSurfaceFile(file, {"b", "a"});
  EXPECT_EQ(back.mesh.vertices, TwoTriangles().vertices);
  EXPECT_EQ(back.mesh.triangles, TwoTriangles().triangles);
  ASSERT_EQ(back.columns.size(), 2U);
  EXPECT_EQ(back.columns[1].values, a);
  EXPECT_EQ(back.columns[0].values[0], -0.5F);
  EXPECT_TRUE(std::isnan(back.columns[0].values[1]));
  EXPECT_EQ(back.columns[0].values[3], 1e-9F);
}

TEST(SurfaceFileTest, WhatIsNotOursIsRefused) {
  const TempFolder folder;
  const auto file = folder.path() / "s.ply";
  WritePly(file, TwoTriangles(), {{"a", std::vector<float>(6)}});
  EXPECT_THAT(Refusal(file, {"line"}), HasSubstr("s.ply: has no number \"line\" a vertex"));
  EXPECT_THAT(Refusal(folder.path() / "no.ply", {"a"}), HasSubstr("no.ply: cannot be read"));
  const std::string whole = TextOf(file);
  for (const std::size_t length : {whole.size() - 1, whole.size() / 2, std::size_t{40}, std::size_t{0}}) {
    EXPECT_THAT(Refusal(folder.Write("cut.ply", whole.substr(0, length)), {"a"}), HasSubstr("cut.ply")) << length;
  }
  const auto other = folder.Write("other.ply", aircut::test::Replaced(whole, "property float x", "property float q"));
  EXPECT_THAT(Refusal(other, {"a"}), HasSubstr("other.ply"));
}

}  // namespace
}  // namespace aircut::sim
