#include <cmath>
#include <functional>

#include <fmt/format.h>

#include "kinematics/joint_room.h"
#include "kinematics/units.h"
#include "verify/report_parts.h"
#include "verify/report_text.h"

// The strip chart: traces over the job in the manner of a paper recorder.
namespace aircut::verify {
namespace {

constexpr double kLeft = 130, kRight = 1010, kTop = 34, kTraceHeight = 62, kTraceGap = 18;
constexpr int kColumns = 880;
constexpr std::size_t kMostFlags = 24;

// Lowest and highest value in each column of time; columns without a moment
// are bridged by the line between their neighbours.
struct Envelope {
  std::vector<double> low, high, x;
  double top = 0;
};

Envelope Summarise(const kinematics::MotionTrack& track,
                   const std::function<double(std::size_t)>& value) {
  Envelope envelope;
  const double span = track.time_s.back() - track.time_s.front();
  int last = -1;
  for (std::size_t i = 0; i < track.size(); ++i) {
    const double v = value(i);
    if (!std::isfinite(v)) continue;
    const double share = span > 0 ? (track.time_s[i] - track.time_s.front()) / span : 0;
    const int column = static_cast<int>(share * kColumns);
    if (column != last) {
      envelope.x.push_back(kLeft + (kRight - kLeft) * share);
      envelope.low.push_back(v);
      envelope.high.push_back(v);
      last = column;
    }
    envelope.low.back() = std::min(envelope.low.back(), v);
    envelope.high.back() = std::max(envelope.high.back(), v);
    envelope.top = std::max(envelope.top, v);
  }
  return envelope;
}

// A round number not below the value.
double RoundUp(double value) {
  if (!(value > 0)) return 1;
  const double ten = std::pow(10.0, std::floor(std::log10(value)));
  for (const double factor : {1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0}) {
    if (factor * ten >= value * (1 - 1e-9)) return factor * ten;
  }
  return 10 * ten;
}

struct Trace {
  std::string name, unit;
  Envelope envelope;
  std::optional<double> limit;
};

std::string Words(double x, double y, const std::string& text, const char* style) {
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" {}>{}</text>", x, y, style, text);
}

std::string TraceDrawing(const Trace& trace, double y0) {
  const double full = RoundUp(trace.envelope.top), base = y0 + kTraceHeight;
  const auto at = [&](double v) { return base - kTraceHeight * (v < 0 ? 0 : v) / full; };
  std::string svg = fmt::format("<path class=\"hair\" d=\"M{0} {1:.1f}H{2}\"/>", kLeft, base, kRight);
  svg += Words(4, y0 + 16, trace.name, "font-size=\"13\"");
  svg += Words(4, y0 + 31, trace.unit, "font-size=\"11\" class=\"soft\"");
  svg += Words(kLeft - 6, y0 + 9, Plain(full), "font-size=\"11\" text-anchor=\"end\"");
  svg += Words(kLeft - 6, base, "0", "font-size=\"11\" text-anchor=\"end\"");
  if (trace.limit && *trace.limit <= full) {
    svg += fmt::format("<path d=\"M{0} {1:.1f}H{2}\" fill=\"none\" stroke=\"#a3341c\" stroke-dasharray=\"5 3\" "
                       "stroke-width=\".9\"/>", kLeft, at(*trace.limit), kRight);
  }
  std::string path;
  for (std::size_t i = 0; i < trace.envelope.x.size(); ++i) {
    const double high = at(trace.envelope.high[i]), low = at(trace.envelope.low[i]);
    path += fmt::format("{}{:.1f} {:.1f}", path.empty() ? "M" : "L", trace.envelope.x[i], high);
    if (low - high > 0.05) path += fmt::format("V{:.1f}", low);
  }
  return svg + fmt::format("<path class=\"pen\" stroke-width=\"1\" stroke-linejoin=\"round\" d=\"{}\"/>\n", path);
}

// Seconds between time marks: about ten of them.
double TickStep(double span_s) {
  for (const double step : {1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1200.0, 1800.0, 3600.0}) {
    if (span_s <= 12 * step) return step;
  }
  return 3600.0 * std::ceil(span_s / 12 / 3600.0);
}

std::string TimeMarks(double span_s, double bottom) {
  std::string svg;
  const double step = TickStep(span_s);
  for (int i = 0; i * step <= span_s; ++i) {
    const double x = kLeft + (kRight - kLeft) * (span_s > 0 ? i * step / span_s : 0);
    svg += fmt::format("<path class=\"hair\" stroke-width=\".6\" d=\"M{:.1f} {}V{}\"/>", x, kTop, bottom);
    svg += Words(x, bottom + 16, ClockText(i * step), "font-size=\"11\" text-anchor=\"middle\"");
  }
  return svg;
}

std::string Flags(const Page& page, double span_s, double bottom) {
  std::string svg;
  std::size_t count = 0;
  double free_from = 0;
  for (const NumberedFinding& numbered : page.findings) {
    const auto& time_s = numbered.finding->time_s;
    if (!time_s || !(*time_s >= 0 && *time_s <= span_s) || ++count > kMostFlags) continue;
    const double x = kLeft + (kRight - kLeft) * (span_s > 0 ? *time_s / span_s : 0);
    // Flags of nearly one moment stand side by side.
    const double flag = std::abs(x - free_from) < 22 ? free_from + 22 : x;
    free_from = flag;
    const bool fail = numbered.check->result == Result::kFail;
    svg += fmt::format("<path d=\"M{0:.1f} 22V{1}\" stroke=\"{2}\" stroke-width=\".9\"/>", x, bottom,
                       fail ? "#a3341c" : "#1d2430");
    svg += fmt::format("<rect x=\"{:.1f}\" y=\"6\" width=\"20\" height=\"15\" {}/>", flag - 10,
                       fail ? "class=\"alarm\"" : "fill=\"#fff\" stroke=\"#1d2430\" stroke-width=\".8\"");
    svg += Words(flag, 17.5, std::to_string(numbered.number),
                 fail ? "font-size=\"11\" text-anchor=\"middle\" class=\"white\""
                      : "font-size=\"11\" text-anchor=\"middle\"");
  }
  return svg;
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

// What is proven for each stretch of the job, drawn as steps.
Trace ClearanceTrace(const Page& page) {
  Trace trace{"clearance", "mm at least", {}, page.context.job.accept.clearance_mm.value};
  const auto& stretches = page.context.run.clearance_over_time;
  const double begin_s = stretches.front().from_s, span_s = stretches.back().to_s - begin_s;
  const auto x = [&](double time_s) {
    return kLeft + (kRight - kLeft) * (span_s > 0 ? (time_s - begin_s) / span_s : 0);
  };
  for (const sim::ClearanceStretch& stretch : stretches) {
    if (!std::isfinite(stretch.lower_mm)) continue;
    for (const double time_s : {stretch.from_s, stretch.to_s}) {
      trace.envelope.x.push_back(x(time_s));
      trace.envelope.low.push_back(stretch.lower_mm);
      trace.envelope.high.push_back(stretch.lower_mm);
    }
    trace.envelope.top = std::max(trace.envelope.top, stretch.lower_mm);
  }
  return trace;
}

std::vector<Trace> TracesOf(const Page& page) {
  const sim::Run& run = page.context.run;
  const sim::Job& job = page.context.job;
  const kinematics::MotionTrack& track = run.motion.tracks.front();
  std::vector<Trace> traces;
  traces.push_back({"tip speed", "mm/s", Summarise(track, [&](std::size_t i) { return track.feed_mm_s[i]; }), {}});
  if (job.cell.arm) {
    traces.push_back({"joint margin", "°, nearest joint",
                      Summarise(track, [&](std::size_t i) { return JointMargin_deg(*job.cell.arm, track.q[i]); }),
                      job.accept.joint_margin_deg.value});
  }
  if (!run.clearance_over_time.empty()) traces.push_back(ClearanceTrace(page));
  // The contact record tells of the same moments only where the track was cut
  // as it was planned.
  if (run.executed && run.track.time_s.size() == track.size()) {
    traces.push_back({"bite", "mm", Summarise(track, [&](std::size_t i) { return DepthOfBite(run, i); }), {}});
  }
  return traces;
}

}  // namespace

std::string StripChart(const Page& page) {
  const std::vector<Trace> traces = TracesOf(page);
  const double bottom = kTop + static_cast<double>(traces.size()) * (kTraceHeight + kTraceGap) - kTraceGap;
  const auto& times = page.context.run.motion.tracks.front().time_s;
  const double span_s = times.back() - times.front();
  std::string svg = fmt::format("<svg class=\"strip\" viewBox=\"0 0 1030 {:.0f}\" role=\"img\" "
                                "aria-label=\"Tip speed, joint margin, clearance and bite over the job\">\n", bottom + 26);
  svg += TimeMarks(span_s, bottom) + "\n";
  for (std::size_t i = 0; i < traces.size(); ++i) {
    svg += TraceDrawing(traces[i], kTop + static_cast<double>(i) * (kTraceHeight + kTraceGap));
  }
  return svg + Flags(page, span_s, bottom) + "</svg>\n";
}

}  // namespace aircut::verify
