#pragma once

#include <map>
#include <string>
#include <vector>

#include "sim/cell.h"
#include "sim/input_files.h"
#include "sim/yaml_reader.h"

namespace aircut::sim {

/// What reading a cell needs besides its text.
struct CellContext {
  InputFiles& files;
  InputFiles::Place place;    ///< of the files that the cell names
};

struct LoadedCell {
  Cell cell;
  /// Cutters whose shape is known but not computed yet: number and shape.
  std::map<int, std::string> uncomputed_cutters;
};

/// Reads a cell, design.md section 5. @throws InputError.
LoadedCell ReadCell(const YamlValue& top, const CellContext& context);

/// Reads a map with exactly one of capsule, cylinder, box, mesh.
/// @param extra keys that the map may hold besides; read by the caller.
Shape ReadShape(const YamlValue& value, const CellContext& context, const std::string& role,
                const std::vector<std::string>& extra = {});

/// Reads the cutters of a cell into it.
void ReadCutters(const YamlValue& cutters, LoadedCell& loaded);

/// Joint values as the panel shows them, one for each joint of the arm [rad].
kinematics::JointVector ReadJointValues(const YamlValue& value, const kinematics::ArmModel& arm);

/// Refuses a mesh whose size says that its unit is not the one stated.
void RequirePlausibleSize(const YamlValue& value, const Mesh& mesh);

}  // namespace aircut::sim
