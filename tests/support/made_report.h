#pragma once

#include <cmath>
#include <memory>

#include "tests/support/sample_arm.h"
#include "verify/report.h"

namespace aircut::support {

/// Values of a finished dry run, made up so that every part of a report has
/// something to tell. Nothing in it was computed.
struct MadeReport {
  sim::Job job;
  sim::Run run;
  verify::Deviation deviation;
  std::vector<verify::CheckResult> checks;
  verify::Verdict verdict;
  verify::ReportContext Context() const { return {job, run, deviation, checks, verdict, 0.25, 2, 512.5}; }
};

inline kinematics::MotionTrack MadeTrack(int moments) {
  kinematics::MotionTrack track;
  track.name = "main";
  for (int i = 0; i < moments; ++i) {
    const double t = 1420.0 * i / (moments - 1), turn = 0.01 * i;
    track.time_s.push_back(t);
    track.q.push_back(PanelFromDeg({20 * std::sin(turn), 10 + 8 * std::cos(turn), 5, 30 * std::sin(turn / 3),
                                    70 + 45 * std::sin(turn / 7), 12 * std::cos(turn)}));
    track.X_BF.push_back(kinematics::Pose::Identity());
    track.X_ST.push_back(kinematics::Pose(Eigen::Translation3d(80 * std::cos(turn), 80 * std::sin(turn), -3)));
    track.feed_mm_s.push_back(i < 40 || i + 40 > moments ? 310.0 * (i % 40) / 40 : 25 - 9 * std::pow(std::sin(turn / 5), 20));
    track.line.push_back(i < 40 ? 0 : i);
    track.phase.push_back(i < 40 ? kinematics::Phase::kApproach
                                 : i + 40 > moments ? kinematics::Phase::kReturn
                                                    : i % 50 < 2 ? kinematics::Phase::kRapid : kinematics::Phase::kCut);
    track.path_index.push_back(i < 40 ? -1 : i - 40);
  }
  return track;
}

inline verify::CheckResult MadeCheck(const char* id, verify::Group group, verify::Result result) {
  verify::CheckResult check;
  check.id = id;
  check.group = group;
  check.result = result;
  check.required = true;
  return check;
}

inline verify::Finding MadeGouge() {
  verify::Finding finding;
  finding.check = "gouge";
  finding.text = "Between lines 31,204 and 38,911 the ball end cuts up to 2.06 mm below the design over 1,140 mm² "
                 "of the lower rim (limit 0.30 mm).";
  finding.line = 36502;
  finding.lines = {31204, 38911};
  finding.time_s = 1054.0;
  finding.at_S = Eigen::Vector3d(41.2, -58.9, -5.3);
  finding.value = 2.06;
  finding.limit = 0.3;
  finding.unit = "mm";
  finding.cause = "the path lies 2.0 mm below the piece as it was touched";
  return finding;
}

inline verify::CheckResult MadeGougeCheck() {
  verify::CheckResult gouge = MadeCheck("gouge", verify::Group::kHazard, verify::Result::kFail);
  gouge.worst = 2.063, gouge.bound = 0.012, gouge.limit = 0.3, gouge.unit = "mm";
  gouge.where = "lower rim, 1,140 mm²", gouge.why = "A region larger than 1 mm² is cut too deep.";
  gouge.findings = {MadeGouge()};
  return gouge;
}

inline verify::CheckResult MadeLeftoverCheck() {
  verify::CheckResult leftover = MadeCheck("leftover", verify::Group::kQuality, verify::Result::kPass);
  leftover.worst = 0.21, leftover.bound = 0.01, leftover.limit = 0.3, leftover.unit = "mm", leftover.required = false;
  leftover.why = "Nothing larger than 1 mm² is left standing above the limit.";
  verify::Finding note = MadeGouge();
  note.check = "leftover", note.text = "At most 0.21 mm is left standing in the upper right.", note.cause = "";
  note.lines.clear(), note.line = 1200, note.time_s = 300.0, note.at_S = Eigen::Vector3d(60, 45, -2);
  leftover.findings = {note};
  return leftover;
}

inline std::vector<verify::CheckResult> MadeChecks() {
  using verify::Group;
  using verify::Result;
  std::vector<verify::CheckResult> checks;
  verify::CheckResult piece = MadeCheck("piece-located", Group::kPremise, Result::kFail);
  piece.worst = 2.001, piece.bound = 0.001, piece.limit = 0.1, piece.unit = "mm", piece.assumed = true;
  piece.where = "touched point 4";
  piece.why = "The touched piece stands 2.00 mm above the frame that the path rides on.";
  checks.push_back(piece);
  checks.push_back(MadeCheck("frame-fit", Group::kPremise, Result::kUnproven));
  checks.back().why = "Nothing settles it.";
  verify::CheckResult range = MadeCheck("joint-range", Group::kHazard, Result::kPass);
  range.worst = 7.04, range.limit = 5.0, range.sense = verify::Sense::kAtLeast, range.unit = "deg";
  range.where = "joint 5, line 12,044", range.why = "Every joint keeps its margin.";
  checks.push_back(range);
  verify::CheckResult clash = MadeCheck("clash", Group::kHazard, Result::kUnproven);
  clash.worst = 0.02, clash.bound = 0.05, clash.limit = 0.0, clash.unit = "mm", clash.sense = verify::Sense::kAtLeast;
  clash.where = "spindle and left clamp, 8:53", clash.why = "The bodies pass closer than the search can tell.";
  clash.needs = {"a smaller resolution"};
  checks.push_back(clash);
  checks.push_back(MadeGougeCheck());
  checks.push_back(MadeLeftoverCheck());
  for (const char* id : {"scallop", "chip-load", "cycle-time"}) {
    checks.push_back(MadeCheck(id, Group::kQuality, Result::kUnproven));
      checks.back().why = "Nothing settles it.";
  }
  return checks;
}

inline MadeReport MakeReport() {
  MadeReport made;
  made.job.name = "compass rose, port transom";
  made.job.path_file = "rose.csv";
  made.job.cell.name = "boat shop cell";
  made.job.cell.arm = std::make_shared<kinematics::ArmModel>(SampleArm());
  made.job.accept.gouge_mm.given = made.job.accept.depth_mm.given = true;
  const std::string digits = "0123456789abcdef";
  made.job.inputs = {{"job", "job.yaml", digits + digits + digits + digits, 1830},
                     {"path", "rose.csv", digits + digits + digits + "fedcba9876543210", 3412877}};
  made.run.motion.tracks = {MadeTrack(4000)};
  made.run.motion.cut_below_feed_s = 184.0;
  made.run.cut.removed_mm3 = 61234.5;
  made.run.stage_s = {{"load", 0.4}, {"cut", 1.25}};
  made.deviation.carve_samples = 10000;
  made.deviation.unknown_samples = 12;
  made.deviation.within_tolerance = 0.7829;
  made.deviation.mean_mm = -0.51, made.deviation.rms_mm = 0.81, made.deviation.p95_mm = 2.04;
  made.deviation.max_gouge_mm = 2.063, made.deviation.max_leftover_mm = 0.21, made.deviation.bound_of_p95_mm = 0.012;
  made.checks = MadeChecks();
  made.verdict.result = verify::Result::kFail;
  made.verdict.headline = "The lower rim of the rose would be cut 2.1 mm too deep.";
  made.verdict.mend_first = "in the files the path lies 2.0 mm below the piece as it was touched.";
  made.verdict.reason = "piece-located and gouge fail. Not asked for: leftover. Not settled: 4 checks.";
  made.verdict.cannot_see = {{"The bit in the collet is not the bit in the file", "Measure it with the setter."},
                             {"The program was edited after this run", "Compare its hash with the one below."}};
  return made;
}

}  // namespace aircut::support
