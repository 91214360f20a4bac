#pragma once

#include <atomic>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>

#include <unistd.h>

namespace aircut::test {

/// A folder of its own that goes away with the object.
class TempFolder {
 public:
  TempFolder() {
    static std::atomic<int> count{0};
    path_ = std::filesystem::temp_directory_path() /
            ("aircut_test_" + std::to_string(getpid()) + "_" + std::to_string(count++));
    std::filesystem::create_directories(path_);
  }
  ~TempFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;

  const std::filesystem::path& path() const { return path_; }
  /// Writes a file below the folder; @returns its path.
  std::filesystem::path Write(const std::string& name, const std::string& bytes) const {
    const std::filesystem::path file = path_ / name;
    std::filesystem::create_directories(file.parent_path());
    std::ofstream(file, std::ios::binary) << bytes;
    return file;
  }

 private:
  std::filesystem::path path_;
};

/// @returns `text` with the one place of `from` replaced. @throws if it is not
/// there exactly once: a test that changes nothing would prove nothing.
inline std::string Replaced(const std::string& text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  if (at == std::string::npos || text.find(from, at + 1) != std::string::npos) {
    throw std::logic_error("must be there exactly once: " + from);
  }
  return text.substr(0, at) + to + text.substr(at + from.size());
}

inline const char* TinyCellYaml() {
  return R"(aircut: cell/1
name: test bench (invented)
units: {length: mm, angle: deg}
arm:
  name: small six-axis arm (invented)
  base_in_world: {position: [0, 0, 0], rotation: {axis: [0, 0, 1], angle: 0}}
  kinematics: {form: spherical_wrist, a1: 150, a2: -120, b: 0, c1: 500, c2: 700, c3: 700, c4: 120}
  joints:
    - {range: [-170, 170], speed: 150, acceleration: 400, sign: 1, zero: 0}
    - {range: [-100, 150], speed: 150, acceleration: 400, sign: 1, zero: 0}
    - {range: [-160, 160], speed: 150, acceleration: 400, sign: 1, zero: 0}
    - {range: [-190, 190], speed: 250, acceleration: 800, sign: 1, zero: 0}
    - {range: [-120, 120], speed: 250, acceleration: 800, sign: 1, zero: 0}
    - {range: [-350, 350], speed: 350, acceleration: 1200, sign: 1, zero: 0}
  links:
    - {of: 0, cylinder: {from: [0, 0, 0], to: [0, 0, 350], radius: 150}}
    - {of: 1, capsule: {from: [0, 0, -100], to: [150, 0, 0], radius: 110}}
    - {of: 2, capsule: {from: [0, 0, 0], to: [0, 0, 700], radius: 60}}
    - {of: 3, capsule: {from: [0, 0, 0], to: [-120, 0, 0], radius: 70}}
    - {of: 4, capsule: {from: [0, 0, 100], to: [0, 0, 560], radius: 45}}
    - {of: 5, capsule: {from: [0, 0, 0], to: [0, 0, 40], radius: 50}}
    - {of: 6, cylinder: {from: [0, 0, -30], to: [0, 0, 0], radius: 45}}
  home: [0, 25, 109, 0, 46, 0]
  payload: {limit_kg: 20, tool_kg: 4}
controller:
  corner: {rule: blend, distance: 0.5}
  cycle_s: 0.012
  rapid: straight
spindle:
  nose_in_flange: {position: [0, 0, 150], rotation: {axis: [1, 0, 0], angle: 180}}
  housing: [{cylinder: {from: [0, 0, 0], to: [0, 0, 140], radius: 40}}]
  speed_rpm: [3000, 24000]
  run_up_s: 0.1
  switched: by_path
cutters:
  1: {shape: ball, diameter: 6, flutes: 2, flute_length: 22, shank_diameter: 6, stick_out: 40, holder: [{diameter: 28, length: 30}], control_point: tip_end, hand: right, rpm_limit: 24000, measured: {stick_out: 40}}
  2: {shape: flat, diameter: 8, flutes: 2, flute_length: 20, shank_diameter: 8, stick_out: 40, holder: none, control_point: 'tip_end', hand: 'right'}
workpiece:
  in_world: {position: [1000, -20, 250], rotation: {axis: [0, 0, 1], angle: 0}}
  touched: touched.csv
fixture:
  parts: [{box: {min: [-20, -20, -60], max: [80, 60, -1]}}]
  clamps: none
bodies: {hose: none, dust_hood: none, floor: {z: 0}}
obstacles: [{name: fence, box: {min: [1800, -1000, 0], max: [1850, 1000, 2000]}}]
)";
}

/// The geometry of the arm of TinyCellYaml, as it stands there.
inline const char* TinyArmForm() {
  return "{form: spherical_wrist, a1: 150, a2: -120, b: 0, c1: 500, c2: 700, c3: 700, c4: 120}";
}

/// The same arm as rows of a table with its wrist pulled apart: axis 5 passes axis
/// 4 at 30 mm and axis 6 passes axis 5 at 40 mm, so that it has no closed form. Its
/// link frames are those of the rows: the bodies of the links do not fit.
inline const char* OffsetWristForm() {
  return "{form: dh_standard, rows: [{a: 150, alpha: -90, d: 500, theta_offset: 0}, "
         "{a: 700, alpha: 0, d: 0, theta_offset: -90}, {a: 120, alpha: -90, d: 0, theta_offset: -90}, "
         "{a: 30, alpha: 90, d: 700, theta_offset: 0}, {a: 40, alpha: -90, d: 0, theta_offset: 0}, "
         "{a: 0, alpha: 0, d: 120, theta_offset: 180}]}";
}

inline const char* TinyJobYaml() {
  return R"(aircut: job/1
name: one groove
units: {length: mm, angle: deg, feed: mm/min}
cell: tiny.cell.yaml
path: {file: groove.csv, format: pose_table, tool: 1}
stock: {mesh: block.ply}
design: {depth_below_stock: 1.0}
depth_along: stock_normal
spin: {rule: fixed, toward: [-1, 0, 0]}
accept: {depth_mm: 0.2, gouge_mm: 0.2, leftover_mm: 0.2, clearance_mm: 5, joint_margin_deg: 5}
require: [inputs, events, reach, joint-range, joint-speed, posture-change, clash, rapid-contact, stopped-contact, body-contact, gouge, clamp-zone, break-through, depth, leftover, flute-length, piece-located]
resolution_mm: 0.25
)";
}

/// A groove 1 mm deep and 40 mm long along x in the top of the block, entered
/// and left straight along the tool axis.
inline std::string TinyPathCsv() {
  std::ostringstream out;
  out << "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,move\n"
         "10,20,60,0,0,1,0,12000,rapid\n"
         "10,20,22,0,0,1,0,12000,rapid\n"
         "10,20,19,0,0,1,300,12000,cut\n";
  for (int x = 11; x <= 50; ++x) out << x << ",20,19,0,0,1,600,12000,cut\n";
  out << "50,20,22,0,0,1,600,12000,cut\n"
         "50,20,60,0,0,1,0,12000,rapid\n";
  return out.str();
}

/// A block of 60 x 40 x 20 mm, its lowest corner at the origin.
inline const char* TinyStockPly() {
  return R"(ply
format ascii 1.0
element vertex 8
property double x
property double y
property double z
element face 6
property list uchar int vertex_indices
end_header
0 0 0
60 0 0
60 40 0
0 40 0
0 0 20
60 0 20
60 40 20
0 40 20
4 0 3 2 1
4 4 5 6 7
4 0 1 5 4
4 1 2 6 5
4 2 3 7 6
4 3 0 4 7
)";
}

/// Points on the faces of the block as it really lies: where the frame says.
inline const char* TinyTouchedCsv() {
  return "x_mm,y_mm,z_mm\n"
         "1010,-10,270\n1050,-10,270\n1030,10,270\n"
         "1020,-20,260\n1040,-20,260\n"
         "1000,0,260\n";
}

/// A whole small job as files: change or drop some, then write them.
struct TinyJob {
  std::map<std::string, std::string> files = {{"tiny.job.yaml", TinyJobYaml()},
                                              {"tiny.cell.yaml", TinyCellYaml()},
                                              {"groove.csv", TinyPathCsv()},
                                              {"block.ply", TinyStockPly()},
                                              {"touched.csv", TinyTouchedCsv()}};

  TinyJob& Change(const std::string& file, const std::string& from, const std::string& to) {
    files.at(file) = Replaced(files.at(file), from, to);
    return *this;
  }
  TinyJob& Drop(const std::string& file) {
    files.erase(file);
    return *this;
  }
  /// @returns the path of the job file.
  std::string WriteTo(const TempFolder& folder, const std::string& below = "") const {
    for (const auto& [name, bytes] : files) folder.Write(below + name, bytes);
    return (folder.path() / below / "tiny.job.yaml").string();
  }
};

}  // namespace aircut::test
