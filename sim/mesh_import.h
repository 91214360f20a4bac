#pragma once

#include <cstdint>
#include <filesystem>

#include "sim/mesh.h"
#include "sim/texture_map.h"

namespace aircut::sim {

/// Reads an STL, OBJ or PLY file by its suffix. PLY (ascii, binary little and
/// big endian) goes through our own reader, STL and OBJ through a library.
/// @param unit_mm length of one file unit in mm, > 0.
/// @returns vertices in mm; indices checked; values finite.
/// @throws InputError: missing file, unknown suffix, damaged file (with line or
/// byte), no triangle, not finite, more than `max_triangles`.
Mesh ReadMesh(const std::filesystem::path& file, double unit_mm,
              std::int64_t max_triangles = 8'000'000);

/// Reads the surface of an OBJ or PLY file with its texture coordinates: `vt` of an OBJ,
/// vertex properties s and t (or u and v) of a PLY.
/// @returns vertices in mm, coordinates as written.
/// @throws InputError as ReadMesh, and where a face has no texture coordinates.
TextureMap ReadTextureMap(const std::filesystem::path& file, double unit_mm);

/// A number a vertex, under the name it has in the file.
struct VertexColumn {
  std::string name;
  std::vector<float> values;
};

/// Writes a binary little-endian PLY with further numbers a vertex. Temporary name,
/// then rename. @throws std::invalid_argument where a column is not as long as the
/// mesh has vertices.
void WritePly(const std::filesystem::path& file, const Mesh& mesh,
              const std::vector<VertexColumn>& columns);

}  // namespace aircut::sim
