#pragma once

#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "kinematics/tool_path.h"
#include "sim/accept_region.h"
#include "sim/cell.h"
#include "sim/image_design.h"
#include "sim/mesh_index.h"
#include "sim/path_source.h"
#include "sim/stock_faces.h"
#include "sim/waiver.h"

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
  Limit tool_clearance_mm{5.0, false};   ///< near the tool; default clearance_mm
  Limit joint_margin_deg{5.0, false};
  Limit slide_margin_mm{10.0, false};  ///< the same for external axes that slide; from memory
  Limit piece_mm{0.1, false};      ///< piece-located: default depth_mm / 3
  Limit arm_model_mm{0.05, false};
  Limit arm_model_deg{0.02, false};
  Limit read_back_deg{1.0, false};   ///< joint-path: logged joints against the motion
  Limit read_back_mm{2.0, false};    ///< the same for external axes that slide; from memory
  Limit frame_mm{0.1, false};        ///< frame-fit: default depth_mm / 3
  Limit tool_mm{0.075, false};       ///< tool-measured: default depth_mm / 4
  Limit scallop_mm{0.15, false};    ///< scallop: default depth_mm / 2
  Limit wall_mm{0.0, false};         ///< break-through: default three times the depth there
  Limit clamp_mm{3.0, false};        ///< clamp-zone
  Limit corner_mm{0.075, false};     ///< corner-rounding: default depth_mm / 4
  Limit plunge_diameters{0.5, false};       ///< plunge: depth of one, in cutter diameters; domain notes A15, wood
  Limit ramp_deg{3.0, false};               ///< plunge: steepest ramp of a cutter without cutting centre; A15
  Limit spindle_percent{70.0, false};       ///< spindle-load: of the spindle's power; domain notes A42
  Limit deflection_mm{0.15, false};         ///< deflection: default depth_mm / 2, half is left for all else
  Limit lost_motion_mm{0.1, false};         ///< lost-motion: default depth_mm / 3; domain notes A39
  Limit holding_factor{2.0, false};         ///< holding: what holds over what pulls; domain notes A25
  Limit wrist_twist_deg{270.0, false};      ///< wrist-winding, where a hose is on the arm
  std::optional<double> singular_value;     ///< singularity: smallest singular value
  std::optional<double> cycle_time_min;     ///< cycle-time
  Limit standing_wall_mm{0.0, false};       ///< thinnest wall between cuts; told only where it is given
  Limit confidence{0.95, false};
  std::vector<AcceptRegion> regions;        ///< in file order, names differ
};

/// The design: a target mesh, a picture of depths, or a depth below the stock along the path.
struct Design {
  std::shared_ptr<const MeshIndex> mesh_S;         ///< null for the other two
  std::shared_ptr<const ImageDesign> image;        ///< null for the other two
  std::optional<double> depth_below_stock_mm;
};

/// How the arm will run the path.
struct RunsAs {
  enum class How { kUnsaid, kJointPath, kPoses } how = How::kUnsaid;
  std::optional<kinematics::JointVector> start_posture;   ///< panel values at the first line
  /// Joint values logged on the real arm while it ran the path in the air.
  struct LogRow {
    int line = 0;
    kinematics::JointVector q;
  };
  std::vector<LogRow> read_back;
};

/// The slow pass through the air before the first cut. Defaults from memory.
struct AirPassRule {
  double raise_mm = 50.0;
  bool raise_given = false;
  /// Unit, which way; nothing: along the mean tool axis of the cuts.
  std::optional<Eigen::Vector3d> along_S;
};

/// Where a person may resume after a stop, and how the tool is drawn back from a
/// cut. Defaults from memory, the count from the design, section 6.
struct RestartRule {
  int most = 50;               ///< starts of cuts that are solved
  double back_mm = 50.0;       ///< along the tool axis
  int withdrawals = 500;       ///< cut lines from which drawing back is solved
  bool back_given = false;
};

/// Where the external axes stand while the path is run.
struct ExternalRule {
  kinematics::JointVector at = kinematics::JointVector(0);  ///< one per axis: rad, mm for a slide
  std::vector<bool> is_free;                                ///< the planner may choose; one per axis
  int samples = 9;                                          ///< values tried over the range of a free axis
};

/// A file of the path that the report folder holds on request.
enum class PathCopy { kJointPath, kPoseTable, kIso6983, kCutterLocation };

/// How the stock mesh came about.
struct StockScan {
  Declared said = Declared::kUnsaid;    ///< kNone: the mesh is not a scan
  bool one_sided = false;
  std::optional<Eigen::Vector3d> seen_from_S;   ///< unit, from the piece to the scanner
  std::optional<double> thickness_mm;
  std::vector<Eigen::Vector2d> thickness_at;    ///< x, y in S where it was measured
  std::optional<ScanBack::Plane> backing_S;     ///< what lies behind, in place of a thickness
};

/// One force coefficient per direction; one number in the file = tangential.
struct EdgeTriple {
  std::optional<double> tangential, radial, axial;
};

/// Feed per tooth that a chart gives for cutters of one diameter.
struct ChipRange {
  double diameter_mm = 0, least_mm = 0, most_mm = 0;
};

struct Material {
  std::string name, source;
  EdgeTriple cutting_force_n_mm2, edge_force_n_mm;
  std::optional<double> band;            ///< share by which the coefficients may be off
  double law_off = 0;                    ///< share by which they leave the law they stand for; beside the band
  std::vector<ChipRange> chip_load;      ///< by rising diameter; may be empty
  std::string chip_load_source;
};

/// Everything read, converted and checked: the only input of a dry run.
struct Job {
  std::string name;
  std::string folder;                    ///< of the job file, for messages
  Cell cell;
  std::string path_file;                 ///< as written
  std::string path_format;               ///< pose_table, iso6983 or cutter_location
  kinematics::ToolPath path;             ///< tip ends in S, as believed
  std::vector<PathEvent> events;         ///< in file order; `before` indexes `path`
  RunsAs runs;
  StockScan scan;
  std::optional<Material> material;
  std::shared_ptr<const MeshIndex> stock_S;
  StockFaces stock_faces;
  Design design;
  DepthAlong depth_along = DepthAlong::kStockNormal;
  Eigen::Vector3d depth_direction_S = Eigen::Vector3d::UnitZ();   ///< for kFixed
  kinematics::SpinRule spin = kinematics::SpinRule::kFixed;
  Eigen::Vector3d spin_toward_S = Eigen::Vector3d::UnitX();
  kinematics::FreedomRules spin_freedom;   ///< for SpinRule::kFree
  std::vector<kinematics::JointVector> approach, retreat, tool_change;
  ExternalRule external;
  AirPassRule air_pass;
  RestartRule restarts;
  std::set<PathCopy> write;              ///< on request, beside what a run writes anyway
  AcceptLimits accept;
  std::vector<std::string> require;      ///< check ids; empty = default set
  bool require_given = false;
  std::vector<Waiver> waivers;           ///< in file order; whether they count hangs on the day of the run
  double resolution_mm = 0.25;
  bool resolution_given = false;
  std::vector<InputFile> inputs;         ///< in the order they were read
};

struct LoadOptions {
  bool allow_outside = false;            ///< files outside the job's folder
};

/// A cell that is read alone.
struct LoadedCellFile {
  Cell cell;
  std::vector<InputFile> inputs;
};

/// Reads a cell and the files that it names. @throws InputError as LoadJob.
LoadedCellFile LoadCellFile(const std::string& cell_file, const LoadOptions& options);

/// Reads a job, its cell, path, meshes and tables; converts units; checks all.
/// @throws InputError with one complete sentence for the first fault found.
Job LoadJob(const std::string& job_file, const LoadOptions& options);

/// Keys that the maps of a job and its cell, or of a cell alone, may hold, such as
/// `cell/1 arm.joints[].range`: the file's kind and the dotted path, `[]` for the
/// place in a list and `N` for a number of the user's own. Only maps that the file
/// has are known. For keeping a format reference true. @throws InputError as LoadJob.
std::set<std::string> KeysKnownWhenReading(const std::string& job_or_cell_file);

}  // namespace aircut::sim
