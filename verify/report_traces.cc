#include <cmath>
#include <functional>

#include "kinematics/joint_room.h"
#include "kinematics/units.h"
#include "verify/layer_shares.h"
#include "verify/report_figures.h"

// What is traced over the job.
namespace aircut::verify {
namespace {

constexpr int kColumns = 880;

// Lowest and highest value in each column of time; columns without a moment
// are bridged by the line between their neighbours.
Trace Summarise(const char* name, const char* unit, const kinematics::MotionTrack& track,
                const std::function<double(std::size_t)>& value) {
  Trace envelope{name, unit, {}, {}, {}, {}};
  const double span = track.time_s.back() - track.time_s.front();
  int last = -1;
  for (std::size_t i = 0; i < track.size(); ++i) {
    const double v = value(i);
    if (!std::isfinite(v)) continue;
    const double share = span > 0 ? (track.time_s[i] - track.time_s.front()) / span : 0;
    const int column = static_cast<int>(share * kColumns);
    if (column != last) {
      envelope.time_s.push_back(track.time_s[i]);
      envelope.low.push_back(v);
      envelope.high.push_back(v);
      last = column;
    }
    envelope.low.back() = std::min(envelope.low.back(), v);
    envelope.high.back() = std::max(envelope.high.back(), v);
  }
  return envelope;
}

double JointMargin_deg(const kinematics::ArmModel& arm, const kinematics::JointVector& q) {
  double margin_rad = INFINITY;
  if (q.size() != arm.joint_count()) return margin_rad;
  for (int j = 0; j < static_cast<int>(arm.chain().size()); ++j)
    margin_rad = std::min(margin_rad, kinematics::RoomOf(arm, q, j).room_rad);
  return kinematics::DegFromRad(margin_rad);
}

double DepthOfBite(const sim::Run& run, std::size_t moment) {
  if (moment == 0 || moment > run.cut.contact.sweeps.size()) return 0.0;
  return run.cut.contact.sweeps[moment - 1].bite_mm;
}

// Mean force of a turn on the cutter, at the bad end of the material's band.
double Force_n(const sim::Run& run, std::size_t moment) {
  const sim::SweepLoad* load = moment == 0 ? nullptr : run.load.Of(moment - 1);
  return load == nullptr ? 0.0 : load->mean_S_n[sim::kMost].cast<double>().norm();
}

void AddLoadTraces(const ReportContext& context, const kinematics::MotionTrack& track, std::vector<Trace>* traces) {
  const sim::Run& run = context.run;
  if (!run.load.force) return;
  traces->push_back(Summarise("cutting force", "N at most", track, [&](std::size_t i) { return Force_n(run, i); }));
  if (run.execution.layers.empty()) return;
  const std::vector<double> bent_mm = DeflectionOfSweeps_mm(run);
  traces->push_back(Summarise("deflection", "mm of depth at most", track,
                              [&](std::size_t i) { return i == 0 || i > bent_mm.size() ? 0.0 : bent_mm[i - 1]; }));
  traces->back().limit = context.job.accept.deflection_mm.value;
}

// What is proven for each stretch of the job, drawn as steps.
Trace ClearanceTrace(const ReportContext& context) {
  Trace trace{"clearance", "mm at least", {}, {}, {}, context.job.accept.clearance_mm.value};
  const auto& stretches = context.run.clearance_over_time;
  for (const sim::ClearanceStretch& stretch : stretches) {
    if (!std::isfinite(stretch.lower_mm)) continue;
    for (const double time_s : {stretch.from_s, stretch.to_s}) {
      trace.time_s.push_back(time_s);
      trace.low.push_back(stretch.lower_mm);
      trace.high.push_back(stretch.lower_mm);
    }
  }
  return trace;
}

}  // namespace

std::vector<Trace> TracesOf(const ReportContext& context) {
  const sim::Run& run = context.run;
  const sim::Job& job = context.job;
  if (!run.motion.complete()) return {};
  const kinematics::MotionTrack& track = run.motion.tracks.front();
  std::vector<Trace> traces;
  traces.push_back(Summarise("tip speed", "mm/s", track, [&](std::size_t i) { return track.feed_mm_s[i]; }));
  if (job.cell.arm) {
    traces.push_back(Summarise("joint margin", "°, nearest joint", track,
                               [&](std::size_t i) { return JointMargin_deg(*job.cell.arm, track.q[i]); }));
    traces.back().limit = job.accept.joint_margin_deg.value;
  }
  if (!run.clearance_over_time.empty()) traces.push_back(ClearanceTrace(context));
  // The contact record tells of the same moments only where the track was cut
  // as it was planned.
  if (run.executed && run.track.time_s.size() == track.size()) {
    traces.push_back(Summarise("bite", "mm", track, [&](std::size_t i) { return DepthOfBite(run, i); }));
    AddLoadTraces(context, track, &traces);
  }
  return traces;
}

}  // namespace aircut::verify
