#include "sim/executed_track.h"

#include <cmath>
#include <map>

#include "kinematics/external_axes.h"
#include "kinematics/straight_move.h"
#include "sim/actual_cutter.h"

namespace aircut::sim {
namespace {

using kinematics::MotionTrack;
using kinematics::MoveKind;
using kinematics::PathLine;
using kinematics::Phase;
using kinematics::Pose;

SpindleState StateOf(const Job& job, const PathLine& line) {
  const Cell& cell = job.cell;
  const CellCutter& cutter = cell.cutters.at(line.tool);
  const double rpm = std::abs(line.spindle_rpm);
  if (rpm == 0.0) return SpindleState::kStopped;
  // + is clockwise seen from the spindle, which cuts with a right-hand cutter.
  if ((line.spindle_rpm > 0.0) != cutter.right_handed) return SpindleState::kWrongWay;
  if (rpm < cell.spindle_min_rpm) return SpindleState::kTooSlow;
  if (rpm > cell.spindle_max_rpm || (cutter.rpm_limit > 0.0 && rpm > cutter.rpm_limit)) {
    return SpindleState::kTooFast;
  }
  return SpindleState::kRight;
}

// The spindle housing turns with the arm, but it is round where it matters:
// in T it stands above H like the holder does.
TrackTool ToolOf(const Cell& cell, const CellCutter& c) {
  std::vector<BodyCylinder> bodies;
  const double flutes = c.cutter.flute_length_mm();
  const double nose = c.measured_stick_out_mm, longer = nose - c.stick_out_mm;
  if (nose > flutes) bodies.push_back({flutes, nose, 0.5 * c.shank_diameter_mm});
  for (const BodyCylinder& h : c.holder) {
    bodies.push_back({h.z0_mm + longer, h.z1_mm + longer, h.radius_mm});
  }
  for (const BodyCylinder& h : cell.housing_H) {
    bodies.push_back({h.z0_mm + nose, h.z1_mm + nose, h.radius_mm});
  }
  return {c.number, ActualCutter(c), bodies};
}

class TrackBuilder {
 public:
  explicit TrackBuilder(const Job& job) : job_(job) {
    for (const auto& [number, cutter] : job.cell.cutters) {
      index_[number] = static_cast<std::int16_t>(track_.tools.size());
      track_.tools.push_back(ToolOf(job.cell, cutter));
    }
  }

  void AddMoment(double time_s, const Pose& X_ST) {
    track_.time_s.push_back(time_s);
    track_.p_ST.push_back(X_ST.translation());
    track_.axis_S.push_back(X_ST.linear().col(2).normalized());
  }
  void AddSweep(const PathLine& line, Phase phase) {
    SweepInfo info;
    const bool on_path = phase == Phase::kCut || phase == Phase::kRapid;
    info.line = on_path ? line.line : 0;
    info.tool = index_.at(line.tool);
    info.rapid = phase != Phase::kCut;
    info.swap = !track_.sweeps.empty() && track_.sweeps.back().tool != info.tool;
    info.spindle = phase == Phase::kApproach ? SpindleState::kStopped : StateOf(job_, line);
    track_.sweeps.push_back(info);
  }
  ToolTrack Take() { return std::move(track_); }

 private:
  const Job& job_;
  std::map<int, std::int16_t> index_;
  ToolTrack track_;
};

Pose ActualToolInFlange(const Cell& cell, int tool) {
  const double stick_out = cell.cutters.at(tool).measured_stick_out_mm;
  return cell.X_FH * Eigen::Translation3d(0.0, 0.0, -stick_out);
}

// The flange in B as the axes under the work have carried it: at rest with the work.
Pose FromTable(const kinematics::ArmModel& arm, const kinematics::JointVector& q, const Pose& X_BF) {
  if (arm.externals().empty()) return X_BF;
  return kinematics::TableMotion(arm, kinematics::ExternalPart(arm, q)).inverse() * X_BF;
}

// Approach moves carry the first line's cutter, return moves the last one's.
const PathLine& LineOf(const Job& job, const MotionTrack& motion, std::size_t moment) {
  const int index = motion.path_index[moment];
  if (index >= 0) return job.path[static_cast<std::size_t>(index)];
  return motion.phase[moment] == Phase::kReturn ? job.path.back() : job.path.front();
}

}  // namespace

std::vector<int> ToolPerMoment(const Job& job, const MotionTrack& motion) {
  std::vector<int> tools(motion.size());
  for (std::size_t m = 0; m < motion.size(); ++m) tools[m] = LineOf(job, motion, m).tool;
  return tools;
}

ToolTrack TrackFromMotion(const Job& job, const MotionTrack& motion, const Pose& X_WS_actual) {
  TrackBuilder builder(job);
  const Pose X_SB = X_WS_actual.inverse() * job.cell.X_WB;
  std::map<int, Pose> X_FT;
  for (const auto& [number, cutter] : job.cell.cutters) {
    X_FT[number] = ActualToolInFlange(job.cell, number);
  }
  for (std::size_t m = 0; m < motion.size(); ++m) {
    const PathLine& line = LineOf(job, motion, m);
    const Pose X_KF = FromTable(*job.cell.arm, motion.q[m], motion.X_BF[m]);
    builder.AddMoment(motion.time_s[m], X_SB * X_KF * X_FT.at(line.tool));
    if (m > 0) builder.AddSweep(line, motion.phase[m]);
  }
  return builder.Take();
}

double WrittenTime_s(const PathLine& from, const PathLine& to) {
  if (to.move != MoveKind::kCut) return 0.0;
  const double travel_mm = (to.p_ST - from.p_ST).norm();
  const bool turns = (to.axis_S - from.axis_S).norm() > kinematics::kNoTurn_rad || to.R_ST != from.R_ST;
  if (to.duration_s) return travel_mm > kinematics::kNoTravel_mm || turns ? *to.duration_s : 0.0;
  return to.feed_mm_s > 0.0 ? travel_mm / to.feed_mm_s : 0.0;
}

ToolTrack TrackFromPath(const Job& job, const Pose& X_WS_actual) {
  TrackBuilder builder(job);
  const Pose X_SA = job.cell.X_WS.inverse() * X_WS_actual;   // actual piece in the believed frame
  double time_s = 0.0;
  for (std::size_t i = 0; i < job.path.size(); ++i) {
    const PathLine& line = job.path[i];
    const CellCutter& cutter = job.cell.cutters.at(line.tool);
    Pose X_ST = Pose::Identity();
    const Eigen::Vector3d aside = std::abs(line.axis_S.x()) < 0.9 ? Eigen::Vector3d::UnitX()
                                                                  : Eigen::Vector3d::UnitY();
    X_ST.linear() = kinematics::RotationFromAxis(line.axis_S, aside);
    const double longer = cutter.measured_stick_out_mm - cutter.stick_out_mm;
    X_ST.translation() = line.p_ST - longer * line.axis_S;
    if (i > 0) time_s += job.path[i - 1].dwell_s + WrittenTime_s(job.path[i - 1], line);
    builder.AddMoment(time_s, X_SA.inverse() * X_ST);
    if (i > 0) builder.AddSweep(line, line.move == MoveKind::kCut ? Phase::kCut : Phase::kRapid);
  }
  return builder.Take();
}

}  // namespace aircut::sim
