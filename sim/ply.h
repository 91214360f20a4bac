#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "sim/mesh.h"

namespace aircut::sim {

/// What a PLY reader is told besides the bytes.
struct PlyLimits {
  std::int64_t max_triangles = 8'000'000;
  int max_corners = 1000;          ///< of one face
};

/// Reads the bytes of a PLY file (format 1.0; ascii, binary_little_endian or
/// binary_big_endian). Vertices keep the file's unit and precision; faces of
/// more than three corners become fans about their first corner; elements and
/// properties that are not vertex places or faces are skipped. Every count is
/// checked against the size of the file before memory is taken.
/// @param label how messages name the file.
/// @returns a mesh whose indices are in range and whose values are finite; it
/// may have no triangle.
/// @throws InputError naming the line (header, ascii) or byte (binary).
Mesh ParsePly(const std::string& label, std::string_view bytes, const PlyLimits& limits = {});

/// A mesh and the texture coordinates of its vertices.
struct PlySurface {
  Mesh mesh;
  std::vector<Eigen::Vector2d> texture;   ///< one per vertex; empty: the file has none
};

/// The same with the vertex properties s and t, or u and v, where both are there.
PlySurface ParsePlySurface(const std::string& label, std::string_view bytes, const PlyLimits& limits = {});

}  // namespace aircut::sim
