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

/// Reads a cell, design.md section 5. @throws InputError, as all below.
Cell ReadCell(const YamlValue& top, const CellContext& context);

/// The parts of a cell, each read into it from its own key.
void ReadArm(const YamlValue& arm, const CellContext& context, Cell& cell);
void ReadController(const YamlValue& controller, Cell& cell);
void ReadSpindle(const YamlValue& spindle, const CellContext& context, Cell& cell);
void ReadCutters(const YamlValue& cutters, Cell& cell);
void ReadWorkpiece(const YamlValue& workpiece, const CellContext& context, Cell& cell);
void ReadFixture(const YamlValue& fixture, const CellContext& context, Cell& cell);
/// Needs the arm. @param bodies the map `bodies`: hose, dust_hood, floor.
void ReadBodies(const YamlValue& bodies, const CellContext& context, Cell& cell);
/// Reads `stopping`. A scanner whose field lies too low for its resolution is refused.
Stopping ReadStopping(const YamlValue& stopping);
void ReadObstacles(const YamlValue& obstacles, const CellContext& context, Cell& cell);

/// Keys of a map that ReadShape understands.
const YamlKeys& ShapeKeys();
/// Reads a map with exactly one of capsule, cylinder, box, mesh.
/// @param extra keys that the map may hold besides; read by the caller.
Shape ReadShape(const YamlValue& value, const CellContext& context, const std::string& role,
                const YamlKeys& extra = {});

/// A list of bodies, each an entry {of: link, one shape}, gathered by link.
std::vector<LinkBody> ReadLinkBodies(const YamlValue& list, const CellContext& context, const std::string& role,
                                     int joint_count);

/// The shape of a cutter from its keys. @param shape the word of key `shape`.
CutterOutline ReadOutline(const YamlMap& cutter, const std::string& shape);

/// Reads `arm.external` into the arm that the cell has: axes outside the arm proper.
void ReadExternals(const YamlValue& external, Cell& cell);

/// A joint's value as the panel shows it [rad], [mm] for a slide. @param joint from 0.
double ReadJointValue(const YamlValue& value, const kinematics::ArmModel& arm, int joint);

/// The same, one for each joint of the arm, external axes behind those of the arm.
kinematics::JointVector ReadJointValues(const YamlValue& value, const kinematics::ArmModel& arm);

/// Refuses a mesh whose size says that its unit is not the one stated.
void RequirePlausibleSize(const YamlValue& value, const Mesh& mesh);

}  // namespace aircut::sim
