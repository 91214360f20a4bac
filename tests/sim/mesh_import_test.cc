#include "sim/mesh_import.h"

#include <cmath>
#include <cstring>
#include <limits>
#include <random>
#include <stdexcept>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/input_error.h"
#include "sim/ply.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

constexpr double kFloatStep_mm = 1e-5;   // places in single precision, below 100 mm

template <typename Value>
std::string Raw(Value value, bool big_endian = false) {
  std::string bytes(sizeof value, '\0');
  std::memcpy(bytes.data(), &value, sizeof value);   // tests run on little-endian machines
  return big_endian ? std::string(bytes.rbegin(), bytes.rend()) : bytes;
}

// A tetrahedron with legs 10, 20, 30 as a PLY file of the wanted format, with
// properties and an element that a reader must step over.
std::string BinaryPly(bool big_endian) {
  std::string bytes = std::string("ply\nformat ") + (big_endian ? "binary_big_endian" : "binary_little_endian") +
                      " 1.0\ncomment made by a test\nelement vertex 4\nproperty uchar red\nproperty double x\n"
                      "property float y\nproperty short z\nproperty list uchar int neighbours\n"
                      "element edge 1\nproperty int a\nproperty int b\n"
                      "element face 4\nproperty list uint8 uint32 vertex_indices\nproperty float quality\n"
                      "end_header\n";
  const double places[4][3] = {{0, 0, 0}, {10, 0, 0}, {0, 20, 0}, {0, 0, 30}};
  for (const auto& p : places) {
    bytes += Raw(std::uint8_t{200}) + Raw(p[0], big_endian) + Raw(static_cast<float>(p[1]), big_endian) +
             Raw(static_cast<std::int16_t>(p[2]), big_endian);
    bytes += Raw(std::uint8_t{2}) + Raw(std::int32_t{7}, big_endian) + Raw(std::int32_t{8}, big_endian);
  }
  bytes += Raw(std::int32_t{1}, big_endian) + Raw(std::int32_t{2}, big_endian);
  const std::uint32_t faces[4][3] = {{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}};
  for (const auto& f : faces) {
    bytes += Raw(std::uint8_t{3});
    for (const std::uint32_t i : f) bytes += Raw(i, big_endian);
    bytes += Raw(0.5f, big_endian);
  }
  return bytes;
}

std::string TextStl() {
  return "solid wedge\n"
         " facet normal 0 0 -1\n  outer loop\n   vertex 0 0 0\n   vertex 0 20 0\n   vertex 10 0 0\n  endloop\n endfacet\n"
         " facet normal 0 -1 0\n  outer loop\n   vertex 0 0 0\n   vertex 10 0 0\n   vertex 0 0 30\n  endloop\n endfacet\n"
         " facet normal -1 0 0\n  outer loop\n   vertex 0 0 0\n   vertex 0 0 30\n   vertex 0 20 0\n  endloop\n endfacet\n"
         " facet normal 1 1 1\n  outer loop\n   vertex 10 0 0\n   vertex 0 20 0\n   vertex 0 0 30\n  endloop\n endfacet\n"
         "endsolid wedge\n";
}

std::string BinaryStl(std::uint32_t promised) {
  std::string bytes(80, ' ');
  bytes += Raw(promised);
  const float corners[4][9] = {{0, 0, 0, 0, 20, 0, 10, 0, 0}, {0, 0, 0, 10, 0, 0, 0, 0, 30},
                               {0, 0, 0, 0, 0, 30, 0, 20, 0}, {10, 0, 0, 0, 20, 0, 0, 0, 30}};
  for (const auto& triangle : corners) {
    for (int i = 0; i < 3; ++i) bytes += Raw(0.0f);
    for (const float value : triangle) bytes += Raw(value);
    bytes += Raw(std::uint16_t{0});
  }
  return bytes;
}

constexpr char kObj[] =
    "mtllib ../outside.mtl\nv 0 0 0\nv 10 0 0\nv 0 20 0\nv 0 0 30\nf 1 3 2\nf 1 2 4\nf 1 4 3\nf 2 3 4\n";

// Oracle: a tetrahedron with legs a, b, c along the axes has the volume abc / 6.
void ExpectTetrahedron(const Mesh& mesh) {
  EXPECT_EQ(mesh.vertices.size(), 4u);
  EXPECT_EQ(mesh.triangles.size(), 4u);
  const MeshReport report = Inspect(mesh);
  EXPECT_TRUE(report.closed);
  EXPECT_NEAR(report.volume_mm3, 10.0 * 20.0 * 30.0 / 6.0, 1e-6);
}

TEST(MeshImportTest, EveryFormatReadsTheSameTetrahedron) {
  const test::TempFolder folder;
  ExpectTetrahedron(ReadMesh(folder.Write("little.ply", BinaryPly(false)), 1.0));
  ExpectTetrahedron(ReadMesh(folder.Write("big.ply", BinaryPly(true)), 1.0));
  ExpectTetrahedron(ReadMesh(folder.Write("text.stl", TextStl()), 1.0));
  ExpectTetrahedron(ReadMesh(folder.Write("binary.STL", BinaryStl(4)), 1.0));
  ExpectTetrahedron(ReadMesh(folder.Write("named.obj", kObj), 1.0));
}

// Oracle: definition of the inch, and the cube of it for the volume.
TEST(MeshImportTest, UnitScalesThePlaces) {
  const test::TempFolder folder;
  const Mesh mesh = ReadMesh(folder.Write("inch.ply", BinaryPly(false)), 25.4);
  EXPECT_NEAR(Inspect(mesh).volume_mm3, 1000.0 * 25.4 * 25.4 * 25.4, 1e-6);
  EXPECT_THROW(ReadMesh(folder.path() / "inch.ply", 0.0), std::invalid_argument);
  EXPECT_THROW(ReadMesh(folder.path() / "inch.ply", std::nan("")), std::invalid_argument);
}

// Oracle: the block of the small job measures 60 x 40 x 20 mm; its faces have
// four corners and are cut into two triangles each.
TEST(MeshImportTest, TextPlyWithFourCornerFacesIsTheBlock) {
  const test::TempFolder folder;
  const Mesh mesh = ReadMesh(folder.Write("block.ply", test::TinyStockPly()), 1.0);
  EXPECT_EQ(mesh.triangles.size(), 12u);
  const MeshReport report = Inspect(mesh);
  EXPECT_TRUE(report.closed);
  EXPECT_NEAR(report.volume_mm3, 60.0 * 40.0 * 20.0, 1e-9);
}

TEST(MeshImportTest, TextPlyKeepsDoublePrecision) {
  const test::TempFolder folder;
  const std::string text = test::Replaced(test::TinyStockPly(), "\n0 40 20\n", "\n0.1234567890123456 40 20\n");
  EXPECT_EQ(ReadMesh(folder.Write("fine.ply", text), 1.0).vertices[7].x(), 0.1234567890123456);
}

TEST(MeshImportTest, CarriageReturnsAndVerticesAfterFacesAreRead) {
  const test::TempFolder folder;
  const std::string text =
      "ply\r\nformat ascii 1.0\r\nelement face 1\r\nproperty list uchar int vertex_index\r\n"
      "element vertex 3\r\nproperty float x\r\nproperty float y\r\nproperty float z\r\nend_header\r\n"
      "3 0 1 2\r\n0 0 0\r\n5 0 0\r\n0 5 0";
  const Mesh mesh = ReadMesh(folder.Write("turned.ply", text), 1.0);
  ASSERT_EQ(mesh.triangles.size(), 1u);
  EXPECT_EQ(mesh.vertices[1], Eigen::Vector3d(5, 0, 0));
}

// Oracle: what was written is read again, to the precision of the format.
TEST(MeshImportTest, WrittenPlyReadsBackAsWritten) {
  const test::TempFolder folder;
  std::mt19937_64 rng(20240601);
  std::uniform_real_distribution<double> place_mm(-100, 100);
  Mesh mesh = BoxMesh({0, 0, 0}, {1, 1, 1});
  for (Eigen::Vector3d& p : mesh.vertices) p = {place_mm(rng), place_mm(rng), place_mm(rng)};
  for (const bool with_deviation : {false, true}) {
    const auto file = folder.path() / "out.ply";
    std::vector<VertexColumn> columns;
    if (with_deviation) columns = {{"deviation_mm", std::vector<float>(8, 0.25f)}, {"line", std::vector<float>(8, 7.0f)}};
    WritePly(file, mesh, columns);
    const Mesh again = ReadMesh(file, 1.0);
    EXPECT_EQ(again.triangles, mesh.triangles);
    ASSERT_EQ(again.vertices.size(), mesh.vertices.size());
    for (std::size_t i = 0; i < mesh.vertices.size(); ++i) {
      EXPECT_LE((again.vertices[i] - mesh.vertices[i]).cwiseAbs().maxCoeff(), kFloatStep_mm);
    }
    EXPECT_FALSE(std::filesystem::exists(folder.path() / "out.ply.tmp"));
  }
  EXPECT_THROW(WritePly(folder.path() / "out.ply", mesh, {{"line", {0.1f}}}), std::invalid_argument);
  EXPECT_THROW(WritePly(folder.path() / "no" / "out.ply", mesh, {}), std::runtime_error);
}

void ExpectFault(const std::string& name, const std::string& bytes, const std::string& words) {
  const test::TempFolder folder;
  const auto file = folder.Write(name, bytes);
  EXPECT_THAT([&] { ReadMesh(file, 1.0); }, ThrowsMessage<InputError>(AllOf(HasSubstr(name), HasSubstr(words))))
      << bytes.substr(0, 200);
}

TEST(MeshImportTest, MissingFileUnknownSuffixAndEmptyMeshAreNamed) {
  const test::TempFolder folder;
  EXPECT_THAT([&] { ReadMesh(folder.path() / "no.ply", 1.0); },
              ThrowsMessage<InputError>(HasSubstr("no.ply: file not found")));
  ExpectFault("part.step", "x", "must be a .stl, .obj or .ply");
  ExpectFault("points.ply",
              "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\n"
              "end_header\n0 0 0\n",
              "no triangle");
  ExpectFault("empty.stl", std::string(80, ' ') + Raw(std::uint32_t{0}), "no triangle");
  ExpectFault("empty.obj", "v 0 0 0\n", "no triangle");
}

TEST(MeshImportTest, DamagedTextPlyNamesTheLine) {
  const std::string good = test::TinyStockPly();
  const auto change = [&](const char* from, const char* to) { return test::Replaced(good, from, to); };
  ExpectFault("a.ply", change("ply\nformat", "plx\nformat"), "line 1: must read ply");
  ExpectFault("b.ply", change("ascii 1.0", "ascii 2.0"), "line 2: the format");
  ExpectFault("c.ply", change("vertex 8", "vertex many"), "line 3: an element needs");
  ExpectFault("d.ply", change("vertex 8", "vertex -8"), "line 3: an element needs");
  ExpectFault("e.ply", change("property double y\n", ""), "x, y and z");
  ExpectFault("f.ply", change("list uchar int", "list float int"), "whole number as its count");
  ExpectFault("g.ply", change("\n60 40 20\n", "\n60 40\n"), "line 16: the line has too few");
  ExpectFault("h.ply", change("\n60 40 20\n", "\n60 40 20 1\n"), "line 16: the line has too many");
  ExpectFault("i.ply", change("\n60 40 20\n", "\n60 nan 20\n"), "line 16: vertex 6 is not finite");
  ExpectFault("j.ply", change("\n60 40 20\n", "\n60 forty 20\n"), "line 16: forty is not a number");
  ExpectFault("k.ply", change("4 3 0 4 7", "4 3 0 4 8"), "names vertex 8");
  ExpectFault("l.ply", change("4 3 0 4 7", "4 3 0 4 -1"), "vertex index -1");
  ExpectFault("m.ply", change("4 3 0 4 7", "2 3 0"), "a face of 2 corners");
  ExpectFault("n.ply", change("4 3 0 4 7\n", ""), "ends too early");
  ExpectFault("o.ply", change("end_header", "end_heder"), "unknown word end_heder");
}

TEST(MeshImportTest, CountsThatTheFileCannotHoldAreRefusedBeforeMemoryIsTaken) {
  const std::string good = test::TinyStockPly();
  ExpectFault("v.ply", test::Replaced(good, "vertex 8", "vertex 4000000000000000000"), "promises");
  ExpectFault("f.ply", test::Replaced(good, "face 6", "face 9000000000000000000"), "promises");
  ExpectFault("e.ply", test::Replaced(good, "element face 6", "element nothing 9000000000000000000\nelement face 6"),
              "no property");
  // A binary list that promises 2^32 - 1 corners.
  ExpectFault("l.ply",
              "ply\nformat binary_little_endian 1.0\nelement spare 1\nproperty list uint int a\nend_header\n" +
                  Raw(std::uint32_t{0xffffffff}) + Raw(std::int32_t{0}),
              "a list of");
  ExpectFault("s.stl", BinaryStl(4'000'000'000u), "byte 80: the head promises");
}

// Oracle: a file cut off anywhere is either refused or, where only spare bytes
// are missing, whole; it is never a smaller body.
TEST(MeshImportTest, FileCutOffAnywhereIsNeverASmallerBody) {
  const test::TempFolder folder;
  const std::pair<std::string, std::string> files[] = {{"a.ply", BinaryPly(false)}, {"b.ply", test::TinyStockPly()},
                                                       {"c.stl", TextStl()}, {"d.stl", BinaryStl(4)}};
  for (const auto& [name, bytes] : files) {
    const Mesh whole = ReadMesh(folder.Write(name, bytes), 1.0);
    const bool is_ply = name.find(".ply") != std::string::npos;
    for (std::size_t size = 0; size < bytes.size(); size += is_ply ? 1 : 7) {   // the library is slow to start
      const auto file = folder.Write("cut_" + name, bytes.substr(0, size));
      try {
        EXPECT_EQ(ReadMesh(file, 1.0).triangles, whole.triangles) << name << " cut to " << size;
      } catch (const InputError&) {
      }
    }
  }
}

// Any byte changed: either an error or a mesh that keeps its promises.
TEST(MeshImportTest, ChangedBytesNeverGiveBadIndicesOrValues) {
  std::mt19937_64 rng(20240602);
  for (const std::string& bytes : {BinaryPly(false), BinaryPly(true), std::string(test::TinyStockPly())}) {
    for (int round = 0; round < 2000; ++round) {
      std::string changed = bytes;
      changed[rng() % changed.size()] = static_cast<char>(rng());
      try {
        const Mesh mesh = ParsePly("changed.ply", changed);
        for (const Eigen::Vector3d& p : mesh.vertices) ASSERT_TRUE(p.allFinite());
        for (const auto& t : mesh.triangles) {
          for (const std::int32_t i : t) {
            ASSERT_GE(i, 0);
            ASSERT_LT(static_cast<std::size_t>(i), mesh.vertices.size());
          }
        }
      } catch (const InputError&) {
      }
    }
  }
}

TEST(MeshImportTest, MoreTrianglesThanAllowedAreRefused) {
  const test::TempFolder folder;
  const std::pair<std::string, std::string> files[] = {
      {"a.ply", BinaryPly(false)}, {"c.stl", TextStl()}, {"d.stl", BinaryStl(4)}, {"e.obj", kObj}};
  for (const auto& [name, bytes] : files) {
    const auto file = folder.Write(name, bytes);
    EXPECT_NO_THROW(ReadMesh(file, 1.0, 4)) << name;
    EXPECT_THROW(ReadMesh(file, 1.0, 3), InputError) << name;
  }
}

TEST(MeshImportTest, ObjThatNamesAVertexThatIsNotThereIsRefused) {
  ExpectFault("wrong.obj", test::Replaced(kObj, "f 2 3 4", "f 2 3 9"), "wrong.obj");
}

}  // namespace
}  // namespace aircut::sim
