#include "tools/scene_files.h"

#include <cmath>
#include <fstream>
#include <iterator>
#include <stdexcept>

#include <fmt/format.h>

namespace aircut::tools {

void WriteText(const std::filesystem::path& file, const std::string& text) {
  std::ofstream out(file, std::ios::binary);
  out << text;
  out.close();
  if (!out) throw std::runtime_error("cannot write " + file.string());
}

std::string Fixed(double value, int decimals) {
  const double scale = std::pow(10.0, decimals);
  const double rounded = std::round(value * scale) / scale;
  return fmt::format("{:.{}f}", rounded == 0.0 ? 0.0 : rounded, decimals);
}

double OnLattice(double value) { return std::round(value * 1e4) / 1e4; }

void WritePoseTable(const std::filesystem::path& file, const PoseTable& table) {
  std::string text;
  for (const std::string& remark : table.remarks) text += "# " + remark + "\n";
  text += "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,tool,move,dwell_s\n";
  for (const ScenePose& pose : table.poses) {
    const Eigen::Vector3d& p = pose.p_ST;
    const Eigen::Vector3d& a = pose.axis_S;
    fmt::format_to(std::back_inserter(text), "{},{},{},{},{},{},{:.0f},{:.0f},{},{},{:g}\n",
                   Fixed(p.x(), 3), Fixed(p.y(), 3), Fixed(p.z(), 4), Fixed(a.x(), 6),
                   Fixed(a.y(), 6), Fixed(a.z(), 6), pose.feed_mm_min, table.spindle_rpm,
                   table.tool, pose.move == ScenePose::Move::kCut ? "cut" : "rapid",
                   pose.dwell_s);
  }
  WriteText(file, text);
}

void WriteTouched(const std::filesystem::path& file, const std::vector<Eigen::Vector3d>& points_W) {
  std::string text = "x_mm,y_mm,z_mm\n";
  for (const Eigen::Vector3d& p : points_W)
    text += Fixed(p.x(), 3) + "," + Fixed(p.y(), 3) + "," + Fixed(p.z(), 3) + "\n";
  WriteText(file, text);
}

void WriteReadouts(const std::filesystem::path& file, const std::vector<PanelReadout>& rows) {
  std::string text;
  for (std::size_t j = 1; j <= rows.front().joints_deg.size(); ++j) text += fmt::format("q{}_deg,", j);
  text += "x_mm,y_mm,z_mm,qw,qx,qy,qz\n";
  for (const PanelReadout& row : rows) {
    for (const double q : row.joints_deg) text += Fixed(q, 4) + ",";
    const Eigen::Vector3d& p = row.X_BF.translation();
    Eigen::Quaterniond turn(row.X_BF.linear());
    if (turn.w() < 0.0) turn.coeffs() = -turn.coeffs();
    text += Fixed(p.x(), 3) + "," + Fixed(p.y(), 3) + "," + Fixed(p.z(), 3) + "," + Fixed(turn.w(), 7) + "," +
            Fixed(turn.x(), 7) + "," + Fixed(turn.y(), 7) + "," + Fixed(turn.z(), 7) + "\n";
  }
  WriteText(file, text);
}

void WriteFitPoints(const std::filesystem::path& file, const std::vector<NamedPair>& pairs) {
  std::string text = "name,x_mm,y_mm,z_mm,wx_mm,wy_mm,wz_mm\n";
  for (const NamedPair& pair : pairs) {
    text += pair.name;
    for (const Eigen::Vector3d* p : {&pair.p_S, &pair.p_W}) {
      text += "," + Fixed(p->x(), 3) + "," + Fixed(p->y(), 3) + "," + Fixed(p->z(), 3);
    }
    text += "\n";
  }
  WriteText(file, text);
}

}  // namespace aircut::tools
