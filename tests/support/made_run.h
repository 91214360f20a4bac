#pragma once

#include <cmath>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "kinematics/units.h"
#include "tests/support/made_premises.h"
#include "tests/support/sample_arm.h"
#include "verify/check.h"
#include "verify/checks.h"
#include "verify/verdict.h"

namespace aircut::support {

/// A job and what a dry run of it might have computed, made by hand: a board
/// 100 x 100 x 20 mm with its face at z = 0, a 6 mm ball, one groove field of
/// 20 x 20 mm, 1 mm deep, from (40, 40). As made, every check that is computed
/// passes; a test breaks one thing.
struct MadeRun {
  sim::Job job;
  sim::Run run;
};

inline constexpr double kMadeSpacing_mm = 0.5;
inline constexpr int kMadeSide = 40;   ///< samples along one side of the field
inline constexpr double kMadeVoxel_mm = 0.25;

inline sim::CellCutter MadeCutter() {
  sim::CellCutter cutter;
  cutter.number = 1;
  cutter.cutter = sim::Cutter::Ball(6.0, 22.0);
  cutter.flutes = 2;
  cutter.shank_diameter_mm = 6.0;
  cutter.stick_out_mm = cutter.measured_stick_out_mm = 40.0;
  cutter.measured = true;
  cutter.rpm_limit = 24000.0;
  cutter.chip_load = sim::CellCutter::ChipLoad{0.02, 0.12};
  cutter.strength_mpa = 2500.0;
  cutter.holder = {{40.0, 85.0, 14.0}};
  return cutter;
}

inline sim::Cell MadeCell() {
  sim::Cell cell;
  cell.name = "made by hand";
  cell.arm = std::make_shared<const kinematics::ArmModel>(SampleArm());
  cell.links = {{2, {sim::CapsuleShape{{0, 0, 0}, {-1000, 0, 0}, 160.0}}}};
  cell.housing_H = {{0.0, 260.0, 55.0}};
  cell.housing_shapes_H = {sim::CylinderShape{{0, 0, 0}, {0, 0, 260}, 55.0}};
  cell.fixture = sim::Declared::kGiven;
  cell.clamps_said = sim::Declared::kNone;
  cell.run_up_s = 3.0;
  cell.fixture_S = {sim::BoxShape{{-40, -40, -60}, {140, 140, -20}}};
  cell.floor_z_mm = 0.0;
  cell.spindle_min_rpm = 3000.0;
  cell.spindle_max_rpm = 24000.0;
  cell.power = {{3000.0, 500.0}, {12000.0, 2200.0}, {24000.0, 2200.0}};
  cell.modes = {{14.0, "tap test"}};
  cell.cutters.emplace(1, MadeCutter());
  return cell;
}

inline void SetLine(int line, const Eigen::Vector3d& tip, kinematics::MoveKind move,
                    kinematics::PathLine* p) {
  p->line = line;
  p->p_ST = tip;
  p->feed_mm_s = 25.0;
  p->move = move;
  p->spindle_rpm = 18000.0;
  p->tool = 1;
}

/// Line 2 is a rapid above the field, lines 3 to 12 cut, line 13 draws back.
inline kinematics::ToolPath MadePath() {
  using kinematics::MoveKind;
  kinematics::ToolPath path(12);
  SetLine(2, {40, 40, 10}, MoveKind::kRapid, &path[0]);
  for (int i = 0; i < 10; ++i) {
    SetLine(3 + i, {i % 2 == 0 ? 40.0 : 60.0, 40.0 + 2.0 * i, -1.0}, MoveKind::kCut,
            &path[static_cast<std::size_t>(1 + i)]);
  }
  SetLine(13, {60, 58, 10}, MoveKind::kRapid, &path[11]);
  return path;
}

inline sim::Job MadeJob() {
  sim::Job job;
  job.name = "made by hand";
  job.cell = MadeCell();
  job.path_file = "path.csv";
  job.path = MadePath();
  job.stock_S = std::make_shared<const sim::MeshIndex>(sim::BoxMesh({0, 0, -20}, {100, 100, 0}));
  job.design.depth_below_stock_mm = 1.0;
  // Cutter and spindle are ordered before the first line, which is waited at.
  sim::PathEvent tool{sim::PathEventKind::kTool, 2, 0, 1.0, {}};
  sim::PathEvent spindle{sim::PathEventKind::kSpindle, 2, 0, 18000.0, {}};
  sim::PathEvent dwell{sim::PathEventKind::kDwell, 2, 1, 3.5, {}};
  job.events = {tool, spindle, dwell};
  job.inputs = {{"job", "job.yaml", "aa", 1}, {"path", "path.csv", "4f2a0000000000000091", 1}};
  MakePremises(&job);
  return job;
}

/// A sweep to every line, one before the first and one after the last.
inline void MakeTrack(const sim::Job& job, sim::Run* run) {
  sim::ToolTrack& track = run->track;
  track.tools = {{1, sim::Cutter::Ball(6.0, 22.0), {{22.0, 40.0, 3.0}, {40.0, 85.0, 14.0},
                                                    {40.0, 300.0, 55.0}}}};
  std::vector<Eigen::Vector3d> tips = {{0, 0, 300}};
  for (const kinematics::PathLine& line : job.path) tips.push_back(line.p_ST);
  tips.push_back({0, 0, 300});
  for (std::size_t i = 0; i < tips.size(); ++i) {
    track.time_s.push_back(static_cast<double>(i));
    track.p_ST.push_back(tips[i]);
    track.axis_S.push_back(Eigen::Vector3d::UnitZ());
  }
  for (std::size_t i = 0; i + 1 < tips.size(); ++i) {
    const bool on_path = i < job.path.size();
    const bool cut = on_path && job.path[i].move == kinematics::MoveKind::kCut;
    sim::SweepInfo sweep;
    sweep.line = on_path ? job.path[i].line : 0;
    sweep.rapid = !cut;
    track.sweeps.push_back(sweep);
    sim::SweepContact contact;
    contact.removed_units = cut ? 100 : 0;
    contact.bite_mm = cut ? 1.0f : 0.0f;
    contact.bite_bound_mm = cut ? 0.01f : 0.0f;
    contact.axial_mm = cut ? 1.0f : 0.0f;
    run->cut.contact.sweeps.push_back(contact);
  }
  run->cut.contact.voxel_mm = kMadeVoxel_mm;
  run->cut.contact.bite_bound_mm = 0.01;
}

inline int MadeSampleAt(int column, int row) { return row * kMadeSide + column; }

/// A square grid of samples at design depth, all cut exactly.
inline void MakeSamples(sim::Run* run) {
  run->sample_spacing_mm = kMadeSpacing_mm;
  for (int row = 0; row < kMadeSide; ++row) {
    for (int column = 0; column < kMadeSide; ++column) {
      sim::DesignSample s;
      s.ray.p_SQ = {40.0 + kMadeSpacing_mm * column, 40.0 + kMadeSpacing_mm * row, -1.0};
      s.ray.up_S = Eigen::Vector3d::UnitZ();
      s.area_mm2 = kMadeSpacing_mm * kMadeSpacing_mm;
      s.path_index = 1;
      run->samples.push_back(s);
      sim::RayDepth d;
      d.has_material = d.touched = true;
      d.stock_top_mm = 1.0;
      d.bottom_mm = -19.0;
      d.sweep = 2;
      run->depths.push_back(d);
      run->grid_gaps.push_back({0.01f, static_cast<float>(kMadeVoxel_mm)});
    }
  }
}

inline void MakeMotion(const sim::Job& job, sim::Run* run) {
  kinematics::Motion& motion = run->motion;
  kinematics::MotionTrack track;
  track.name = "main";
  track.time_s = {0.0, 13.0};
  track.q.assign(2, PanelFromDeg({10, 20, 30, 15, 60, 40}));
  track.line = {3, 12};
  track.path_index = {1, 10};
  track.phase.assign(2, kinematics::Phase::kCut);
  motion.tracks = {track};
  motion.times = {540.0, 600.0, 900.0};
  for (int joint = 0; joint < 6; ++joint) {
    motion.joint_margins.push_back({kinematics::RadFromDeg(20.0 + joint), 5, 3});
  }
  for (std::size_t i = 0; i < job.path.size(); ++i) {
    motion.posture_per_line.push_back(3);
    if (job.path[i].move != kinematics::MoveKind::kCut) continue;
    kinematics::JointSpeedDemand demand;
    demand.line = job.path[i].line;
    demand.path_index = static_cast<int>(i);
    demand.joint = 3;
    demand.ratio = 0.6;
    demand.ratio_bound = 1e-6;
    demand.acceleration_ratio = 0.3;
    motion.demands.push_back(demand);
    kinematics::LineFeed feed;
    feed.line = demand.line;
    feed.path_index = demand.path_index;
    feed.written_mm_s = feed.lowest_mm_s = 25.0;
    feed.length_mm = 20.0;
    motion.line_feeds.push_back(feed);
  }
  run->executed = true;
}

/// A slow air pass that was planned, held its speed and met nothing.
inline sim::AirPass MakeAirPass(const sim::PairClearance& pair) {
  sim::AirPass pass;
  pass.raise_mm = 50.0;
  kinematics::MotionTrack track;
  track.name = "slow air pass";
  track.time_s = {0.0, 192.0};
  pass.motion.tracks = {track};
  pass.fastest = {239.0, 4, 12};
  pass.clearances = {pair, pair};
  pass.clearances[0].clearance_mm = 12.0;
  pass.clearances[0].bound_mm = 2.5;
  pass.swept_W = Eigen::AlignedBox3d(Eigen::Vector3d(-10, -20, 0), Eigen::Vector3d(1500, 20, 1100));
  return pass;
}

/// Every cut is the same: 1 mm deep, 40 W and 12 N at the bad end of its band.
inline void MakeLoad(sim::Job* job, sim::Run* run) {
  sim::Material oak;
  oak.name = "oak";
  oak.cutting_force_n_mm2 = {40.0, 15.0, 4.0};
  oak.edge_force_n_mm = {4.0, 3.0, 0.5};
  oak.band = 0.5;
  job->material = oak;
  sim::CuttingLoad& load = run->load;
  load.force = sim::ForceBandOf(oak);
  load.of_sweep.assign(run->track.sweeps.size(), -1);
  for (std::size_t i = 0; i < run->track.sweeps.size(); ++i) {
    if (!run->cut.contact.sweeps[i].cuts()) continue;
    sim::SweepLoad one;
    one.sweep = static_cast<std::int32_t>(i);
    one.feed_mm_s = 25.0f;
    one.rpm = 18000.0f;
    one.feed_per_tooth_mm = one.chip_most_mm = 0.042f;
    one.chip_bound_mm = 0.001f;
    one.depth_mm = 1.0f;
    one.height_mm = 0.6f;
    for (std::size_t b = 0; b < sim::kBandEnds; ++b) {
      const float share = 0.5f * static_cast<float>(b + 1);   // 0.5, 1, 1.5
      one.power_w[b] = 40.0f * share / 1.5f;
      one.mean_S_n[b] = Eigen::Vector3f(0, 4.0f * share, 0);
      one.peak_S_n[b] = Eigen::Vector3f(0, 8.0f * share, 0);
    }
    load.of_sweep[i] = static_cast<std::int32_t>(load.sweeps.size());
    load.sweeps.push_back(one);
  }
}

/// Arm, cutter and fixture bend by 0.01 mm each; two clamps hold the board.
inline void MakeSprings(sim::Job* job, sim::Run* run) {
  sim::Cell& cell = job->cell;
  cell.drives.assign(6, sim::JointDrive{1e6, 1e-4});
  cell.clamps_said = sim::Declared::kGiven;
  for (const double x : {0.0, 90.0}) {
    sim::Clamp clamp;
    clamp.p_S = {x + 5.0, 50, 0};
    clamp.direction_S = -Eigen::Vector3d::UnitZ();
    clamp.force_n = 900;
    clamp.friction = 0.35;
    clamp.body_S = {sim::BoxShape{{x, 45, 0}, {x + 10, 55, 10}}};
    cell.clamps.push_back(clamp);
  }
  for (const sim::ErrorLayer layer : {sim::ErrorLayer::kArm, sim::ErrorLayer::kTool, sim::ErrorLayer::kFixture}) {
    sim::LayerShift shift{layer, {}};
    const Eigen::Vector3f d(0, 0, 0.01F);
    shift.of_sweep.assign(run->track.sweeps.size(), {d, d, d});
    run->execution.layers.push_back(shift);
  }
}

inline MadeRun MakeRun() {
  MadeRun made;
  made.job = MadeJob();
  MakeTrack(made.job, &made.run);
  MakeSamples(&made.run);
  MakeMotion(made.job, &made.run);
  MakeLoad(&made.job, &made.run);
  MakeSprings(&made.job, &made.run);
  sim::PieceLocation& at = made.run.location;
  at.given = true;
  at.points = 8;
  at.directions_seen = 6;
  at.before_mm = 0.02;
  at.residual_mm = 0.01;
  sim::PairClearance pair;
  pair.a = 0;
  pair.b = 1;
  pair.clearance_mm = 20.0;
  pair.bound_mm = 0.05;
  pair.time_s = 4.0;
  pair.line = 5;
  pair.p_WA = Eigen::Vector3d(0, 0, 50);
  pair.p_WB = Eigen::Vector3d(0, 0, 70);
  made.run.clearances = {pair};
  made.run.air_pass = MakeAirPass(pair);
  made.run.air_pass->motion.posture_per_line = made.run.motion.posture_per_line;
  made.run.body_kinds = {sim::BodyKind::kCutter, sim::BodyKind::kFixture};
  return made;
}

/// The result of one check on a made run.
inline verify::CheckResult Check(const MadeRun& made,
                                 verify::CheckResult (*check)(const verify::CheckInputs&)) {
  const verify::Deviation deviation = verify::Measure(made.job, made.run);
  return check({made.job, made.run, deviation});
}

/// The arm stops following at a line.
inline void BreakMotion(MadeRun* made, kinematics::PlanFaultKind kind) {
  kinematics::PlanFault fault;
  fault.kind = kind;
  fault.line = 7;
  fault.path_index = 5;
  fault.joint = 4;
  fault.value = 0.1;
  fault.text = "Line 7: the arm cannot follow.";
  made->run.motion.faults = {fault};
  made->run.motion.tracks.clear();
  made->run.executed = false;
  made->run.clearances.clear();
  made->run.air_pass.reset();
}

}  // namespace aircut::support
