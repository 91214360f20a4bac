#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sim/mesh_import.h"

namespace aircut::sim {

/// A surface with numbers a vertex, as WritePly leaves it.
struct SurfaceFile {
  Mesh mesh;
  std::vector<VertexColumn> columns;
};

/// Reads back what WritePly wrote: vertices [mm] in their order, none joined.
/// @param names columns that must be there, in the order wanted.
/// @throws InputError: missing or damaged file, another layout, a column that is not there.
SurfaceFile ReadSurfaceFile(const std::filesystem::path& file, const std::vector<std::string>& names);

}  // namespace aircut::sim
