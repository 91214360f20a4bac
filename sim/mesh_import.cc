#include "sim/mesh_import.h"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstring>
#include <fstream>
#include <stdexcept>

#include <assimp/Importer.hpp>
#include <assimp/MemoryIOWrapper.h>
#include <assimp/config.h>
#include <assimp/postprocess.h>
#include <assimp/scene.h>
#include <fmt/format.h>

#include "sim/input_error.h"
#include "sim/ply.h"
#include "sim/read_file.h"

namespace aircut::sim {
namespace {

constexpr std::int64_t kMaxFileBytes = std::int64_t{2} << 30;

// Shows the library one file held in memory and nothing else: a model file that
// names further files (materials, pictures) cannot make it open them.
class OneFile : public Assimp::IOSystem {
 public:
  OneFile(std::string name, const std::string& bytes) : name_(std::move(name)), bytes_(bytes) {}

  bool Exists(const char* name) const override { return name_ == name; }
  char getOsSeparator() const override { return '/'; }
  Assimp::IOStream* Open(const char* name, const char* mode) override {
    if (!Exists(name) || std::strchr(mode, 'w') != nullptr) return nullptr;
    return new Assimp::MemoryIOStream(reinterpret_cast<const std::uint8_t*>(bytes_.data()),
                                      bytes_.size());
  }
  void Close(Assimp::IOStream* stream) override { delete stream; }

 private:
  std::string name_;
  const std::string& bytes_;
};

[[noreturn]] void Fail(const std::string& label, const std::string& what) {
  throw InputError(fmt::format("{}: {}: write the file again or repair it", label, what));
}

bool IsTextStl(const std::string& bytes) {
  return bytes.compare(0, 5, "solid") == 0 && bytes.find("facet") != std::string::npos;
}

std::int64_t CountOf(const std::string& bytes, const std::string& word) {
  std::int64_t count = 0;
  for (std::size_t at = bytes.find(word); at != std::string::npos; at = bytes.find(word, at + 1)) {
    ++count;
  }
  return count;
}

// A broken-off file must not pass as a smaller body, so the triangles that the
// file promises are counted before and compared with what the library made.
// Text: every facet must be ended. Binary: the count behind the 80-byte head
// must fit into the file.
std::int64_t PromisedByStl(const std::string& label, const std::string& bytes) {
  if (IsTextStl(bytes)) {
    const std::int64_t ends = CountOf(bytes, "endfacet");
    // "facet" is part of "endfacet".
    if (CountOf(bytes, "facet") != 2 * ends || bytes.find("endsolid") == std::string::npos) {
      Fail(label, fmt::format("a facet is not ended by endfacet, or endsolid is missing, after {} facets", ends));
    }
    return ends;
  }
  if (bytes.size() < 84) Fail(label, fmt::format("{} bytes are too few for an STL file", bytes.size()));
  std::uint32_t count = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    count |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[80 + i])) << (8 * i);
  }
  const auto room = (bytes.size() - 84) / 50;
  if (count > room) {
    Fail(label, fmt::format("byte 80: the head promises {} triangles, but there is room for {}", count, room));
  }
  return count;
}

// An OBJ face makes one triangle or more.
std::int64_t PromisedByObj(const std::string& bytes) {
  const std::int64_t first = bytes.compare(0, 2, "f ") == 0 ? 1 : 0;
  return first + CountOf(bytes, "\nf ");
}

// A surface with the texture coordinates of its vertices; those only where asked for.
struct Parsed {
  Mesh mesh;
  std::vector<Eigen::Vector2d> texture;
};

enum class Texture { kLeftOut, kRequired };

void AppendTexture(const aiMesh& part, const std::string& label, Parsed& to) {
  if (part.mTextureCoords[0] == nullptr) {
    throw InputError(label + ": faces have no texture coordinates: export the surface with them (vt lines, f v/vt)");
  }
  for (unsigned int i = 0; i < part.mNumVertices; ++i) {
    to.texture.emplace_back(part.mTextureCoords[0][i].x, part.mTextureCoords[0][i].y);
  }
}

void Append(const aiMesh& part, const std::string& label, Mesh& mesh) {
  const auto base = static_cast<std::int64_t>(mesh.vertices.size());
  if (base + part.mNumVertices > 2147483647) Fail(label, "the mesh has 2^31 vertices or more");
  for (unsigned int i = 0; i < part.mNumVertices; ++i) {
    const aiVector3D& v = part.mVertices[i];
    mesh.vertices.emplace_back(v.x, v.y, v.z);
  }
  for (unsigned int f = 0; f < part.mNumFaces; ++f) {
    const aiFace& face = part.mFaces[f];
    if (face.mNumIndices < 3) continue;   // points and lines are no surface
    std::array<std::int32_t, 3> triangle{};
    for (unsigned int i = 0; i < 3; ++i) {
      if (face.mNumIndices != 3 || face.mIndices[i] >= part.mNumVertices) {
        Fail(label, fmt::format("face {} names a vertex that is not there", f));
      }
      triangle[i] = static_cast<std::int32_t>(base + face.mIndices[i]);
    }
    mesh.triangles.push_back(triangle);
  }
}

Parsed ParseWithLibrary(const std::string& label, const std::string& bytes, const std::string& suffix, Texture texture) {
  const std::string name = "model" + suffix;
  Assimp::Importer importer;
  importer.SetIOHandler(new OneFile(name, bytes));   // the importer owns and deletes it
  // Places only: normals and colours would keep vertices apart for no use.
  const int textures = texture == Texture::kRequired ? 0 : static_cast<int>(aiComponent_TEXCOORDS);
  importer.SetPropertyInteger(
      AI_CONFIG_PP_RVC_FLAGS,
      textures | aiComponent_NORMALS | aiComponent_TANGENTS_AND_BITANGENTS | aiComponent_COLORS |
          aiComponent_TEXTURES | aiComponent_LIGHTS | aiComponent_CAMERAS);
  const aiScene* scene = importer.ReadFile(name, aiProcess_Triangulate | aiProcess_RemoveComponent);
  if (scene == nullptr) Fail(label, fmt::format("cannot be read ({})", importer.GetErrorString()));
  Parsed parsed;
  for (unsigned int i = 0; i < scene->mNumMeshes; ++i) {
    Append(*scene->mMeshes[i], label, parsed.mesh);
    if (texture == Texture::kRequired) AppendTexture(*scene->mMeshes[i], label, parsed);
  }
  return parsed;
}

Mesh ReadThroughLibrary(const std::string& label, const std::string& bytes,
                        const std::string& suffix, std::int64_t max_triangles) {
  const bool is_stl = suffix == ".stl";
  const std::int64_t promised = is_stl ? PromisedByStl(label, bytes) : PromisedByObj(bytes);
  if (promised > max_triangles) {
    Fail(label, fmt::format("{} triangles must be <= {}, thin the mesh", promised, max_triangles));
  }
  if (promised == 0) return {};
  Mesh mesh = ParseWithLibrary(label, bytes, suffix, Texture::kLeftOut).mesh;
  const auto made = static_cast<std::int64_t>(mesh.triangles.size());
  if (is_stl ? made != promised : made < promised) {
    Fail(label, fmt::format("{} faces stand in the file, but only {} triangles can be read", promised, made));
  }
  return mesh;
}

std::string SuffixOf(const std::filesystem::path& file) {
  std::string suffix = file.extension().string();
  std::transform(suffix.begin(), suffix.end(), suffix.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return suffix;
}

template <typename Value>
void Put(std::string& bytes, Value value) {
  static_assert(sizeof(Value) == 4 || sizeof(Value) == 1);
  std::uint32_t raw = 0;
  std::memcpy(&raw, &value, sizeof value);
  for (std::size_t i = 0; i < sizeof value; ++i) {
    bytes += static_cast<char>((raw >> (8 * i)) & 0xffu);
  }
}

std::string PlyBytes(const Mesh& mesh, const std::vector<VertexColumn>& columns) {
  std::string named;
  for (const VertexColumn& column : columns) named += fmt::format("property float {}\n", column.name);
  std::string bytes = fmt::format(
      "ply\nformat binary_little_endian 1.0\ncomment lengths in mm\nelement vertex {}\n"
      "property float x\nproperty float y\nproperty float z\n{}"
      "element face {}\nproperty list uchar int vertex_indices\nend_header\n",
      mesh.vertices.size(), named, mesh.triangles.size());
  bytes.reserve(bytes.size() + 16 * mesh.vertices.size() + 13 * mesh.triangles.size());
  for (std::size_t i = 0; i < mesh.vertices.size(); ++i) {
    for (int axis = 0; axis < 3; ++axis) Put(bytes, static_cast<float>(mesh.vertices[i][axis]));
    for (const VertexColumn& column : columns) Put(bytes, column.values[i]);
  }
  for (const auto& triangle : mesh.triangles) {
    Put(bytes, std::uint8_t{3});
    for (const std::int32_t index : triangle) Put(bytes, index);
  }
  return bytes;
}

}  // namespace

Mesh ReadMesh(const std::filesystem::path& file, double unit_mm, std::int64_t max_triangles) {
  if (!(unit_mm > 0) || !std::isfinite(unit_mm)) {
    throw std::invalid_argument(fmt::format("unit_mm = {} must be finite and > 0", unit_mm));
  }
  const std::string label = file.string();
  const std::string suffix = SuffixOf(file);
  if (suffix != ".ply" && suffix != ".stl" && suffix != ".obj") {
    RequireFile(file);
    throw InputError(fmt::format("{}: a mesh must be a .stl, .obj or .ply file: export it as one of these", label));
  }
  const std::string bytes = ReadFile(file, kMaxFileBytes);
  Mesh mesh;
  if (suffix == ".ply") {
    PlyLimits limits;
    limits.max_triangles = max_triangles;
    mesh = ParsePly(label, bytes, limits);
  } else {
    mesh = ReadThroughLibrary(label, bytes, suffix, max_triangles);
  }
  if (static_cast<std::int64_t>(mesh.triangles.size()) > max_triangles) {
    Fail(label, fmt::format("{} triangles must be <= {}, thin the mesh", mesh.triangles.size(), max_triangles));
  }
  if (mesh.triangles.empty()) {
    throw InputError(label + ": the mesh has no triangle: export a surface, not points or lines");
  }
  for (std::size_t i = 0; i < mesh.vertices.size(); ++i) {
    mesh.vertices[i] *= unit_mm;
    if (!mesh.vertices[i].allFinite()) Fail(label, fmt::format("vertex {} is not finite", i));
  }
  return Welded(mesh);
}

TextureMap ReadTextureMap(const std::filesystem::path& file, double unit_mm) {
  const std::string label = file.string(), suffix = SuffixOf(file);
  if (suffix != ".ply" && suffix != ".obj") {
    RequireFile(file);
    throw InputError(label + ": a surface with texture coordinates must be a .obj or .ply file: export it as one of these");
  }
  const std::string bytes = ReadFile(file, kMaxFileBytes);
  Parsed parsed;
  if (suffix == ".ply") {
    PlySurface surface = ParsePlySurface(label, bytes);
    if (surface.texture.empty()) {
      throw InputError(label + ": vertices have no texture coordinates: export the surface with the properties s and t");
    }
    parsed = {std::move(surface.mesh), std::move(surface.texture)};
  } else if (PromisedByObj(bytes) > 0) {
    parsed = ParseWithLibrary(label, bytes, suffix, Texture::kRequired);
  }
  if (parsed.mesh.triangles.empty()) {
    throw InputError(label + ": the mesh has no triangle: export a surface, not points or lines");
  }
  TextureMap map;
  for (const auto& corners : parsed.mesh.triangles) {
    const auto at = [&](int n) { return parsed.texture[static_cast<std::size_t>(corners[static_cast<std::size_t>(n)])]; };
    map.uv.push_back({at(0), at(1), at(2)});
    if (!(map.uv.back()[0] + map.uv.back()[1] + map.uv.back()[2]).allFinite()) Fail(label, "a texture coordinate is not finite");
  }
  for (Eigen::Vector3d& v : parsed.mesh.vertices) {
    v *= unit_mm;
    if (!v.allFinite()) Fail(label, "a vertex is not finite");
  }
  map.mesh_S = std::move(parsed.mesh);
  return map;
}

void WritePly(const std::filesystem::path& file, const Mesh& mesh,
              const std::vector<VertexColumn>& columns) {
  for (const VertexColumn& column : columns) {
    if (column.values.size() == mesh.vertices.size()) continue;
    throw std::invalid_argument(fmt::format("{} has {} values, must have one for each of {} vertices", column.name,
                                            column.values.size(), mesh.vertices.size()));
  }
  const std::string bytes = PlyBytes(mesh, columns);
  std::filesystem::path temporary = file;
  temporary += ".tmp";
  std::ofstream out(temporary, std::ios::binary);
  out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  out.close();
  if (!out) {
    std::error_code ignored;
    std::filesystem::remove(temporary, ignored);
    throw std::runtime_error(fmt::format("{} cannot be written: check the folder and the free space", file.string()));
  }
  std::filesystem::rename(temporary, file);
}

}  // namespace aircut::sim
