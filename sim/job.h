#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "kinematics/tool_path.h"
#include "sim/cell.h"
#include "sim/mesh_index.h"

namespace aircut::sim {

enum class DepthAlong { kStockNormal, kAxis, kFixed };

/// Limits a user accepts; `set` tells given values from defaults.
struct Limit {
  double value = 0.0;
  bool given = false;
};

struct AcceptLimits {
  Limit depth_mm{0.3, false};
  Limit gouge_mm{0.3, false};
  Limit leftover_mm{0.3, false};
  Limit region_mm2{1.0, false};
  Limit clearance_mm{5.0, false};
  Limit joint_margin_deg{5.0, false};
  Limit piece_mm{0.1, false};      ///< piece-located: default depth_mm / 3
};

/// The design: a target mesh, or a depth below the stock along the path.
struct Design {
  std::shared_ptr<const MeshIndex> mesh_S;         ///< null for depth_below_stock
  std::optional<double> depth_below_stock_mm;
};

/// Everything read, converted and checked: the only input of a dry run.
struct Job {
  std::string name;
  std::string folder;                    ///< of the job file, for messages
  Cell cell;
  std::string path_file;                 ///< as written
  kinematics::ToolPath path;             ///< tip ends in S, as believed
  std::shared_ptr<const MeshIndex> stock_S;
  Design design;
  DepthAlong depth_along = DepthAlong::kStockNormal;
  Eigen::Vector3d depth_direction_S = Eigen::Vector3d::UnitZ();   ///< for kFixed
  kinematics::SpinRule spin = kinematics::SpinRule::kFixed;
  Eigen::Vector3d spin_toward_S = Eigen::Vector3d::UnitX();
  std::vector<kinematics::JointVector> approach, retreat;
  AcceptLimits accept;
  std::vector<std::string> require;      ///< check ids; empty = default set
  bool require_given = false;
  double resolution_mm = 0.25;
  bool resolution_given = false;
  std::vector<UnusedKey> unused_keys;
  std::vector<InputFile> inputs;         ///< in the order they were read
};

struct LoadOptions {
  bool allow_outside = false;            ///< files outside the job's folder
};

/// Reads a job, its cell, path, meshes and tables; converts units; checks all.
/// @throws InputError with one complete sentence for the first fault found.
Job LoadJob(const std::string& job_file, const LoadOptions& options);

}  // namespace aircut::sim
