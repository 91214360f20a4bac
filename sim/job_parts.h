#pragma once

#include "sim/input_files.h"
#include "sim/job.h"
#include "sim/yaml_reader.h"

namespace aircut::sim {

/// What the parts of a job are read with.
struct JobContext {
  InputFiles& files;
  InputFiles::Place place;   ///< of the files that the job names
};

/// Rules for reading the path, from the map `path`. @throws InputError, as all below.
PathRules ReadPathRules(const YamlMap& path, const std::string& format);

/// Reads `path` and its file into the job. Needs the cell; tip ends as believed.
/// @param top map of the job file.
void ReadPath(const YamlMap& top, const JobContext& context, Job& job);

/// Reads `stock` into the job: the mesh and how it came about.
void ReadStock(const YamlValue& stock, const JobContext& context, Job& job);
/// Needs the stock, onto which a picture is mapped.
Design ReadDesign(const YamlValue& design, const JobContext& context, const Job& job);

/// Keys of a material, in a job or in a file of its own.
const YamlKeys& MaterialKeys();
Material ReadMaterial(const YamlMap& material);
/// Reads `material.slot_test`: the coefficients of the test take the place of those that
/// the material has. Needs the cell.
void ReadSlotTest(const YamlValue& value, const JobContext& context, const Cell& cell, Material& material);

/// Reads `air_pass`, `restarts` and `write`, each where it is given.
AirPassRule ReadAirPass(const YamlMap& top);
RestartRule ReadRestarts(const YamlMap& top);
std::set<PathCopy> ReadWrite(const YamlMap& top);

/// Reads `external`, where the axes outside the arm stand. Needs the cell.
/// @param home panel values; an axis that the job does not name stands there.
ExternalRule ReadExternalRule(const YamlMap& top, const kinematics::ArmModel& arm,
                              const kinematics::JointVector& home);

/// Reads the file of waivers. @param yaml of this file, for messages.
std::vector<Waiver> ReadWaivers(YamlFile& yaml, const std::filesystem::path& file);

/// Reads `accept.regions`. @throws InputError for a name that comes twice and a region without a limit.
std::vector<AcceptRegion> ReadAcceptRegions(const YamlValue& value);

/// Reads `accept`; defaults that hang on the depth follow it.
AcceptLimits ReadAccept(const YamlMap& top);

/// @returns the pose of key `at`, or identity where it is not given.
kinematics::Pose ReadAt(const YamlMap& map);

}  // namespace aircut::sim
