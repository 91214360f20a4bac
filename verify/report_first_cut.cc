#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/report_json_parts.h"
#include "verify/report_text.h"
#include "verify/safety_distance.h"
#include "verify/words.h"

// The checklist before the first cut, as report.json holds it.
namespace aircut::verify {
namespace {

constexpr double kExampleFragment_g = 5.0;

// A number that must not look smaller than it is.
double Up(double value) { return std::ceil(value - 1e-9); }

std::string PlainPlace(const Eigen::Vector3d& p, int decimals) {
  return fmt::format("({}, {}, {})\u00a0mm", Number(p.x(), decimals), Number(p.y(), decimals), Number(p.z(), decimals));
}

const CheckResult* FindCheck(const ReportContext& context, const std::string& id) {
  for (const CheckResult& check : context.checks) {
    if (check.id == id) return &check;
  }
  return nullptr;
}

// A pass that may be told of: planned, and not known to touch or to be too fast.
const sim::AirPass* PassOf(const ReportContext& context) {
  const CheckResult* check = FindCheck(context, "slow-air-pass");
  const bool planned = context.run.air_pass && context.run.air_pass->planned();
  return planned && check != nullptr && check->result != Result::kFail ? &*context.run.air_pass : nullptr;
}

std::string WithoutPassText(const kinematics::Motion& motion) {
  if (!motion.complete()) return "not known: the path cannot be followed to its end";
  double fastest = 0;
  for (const double feed : motion.tracks.front().feed_mm_s) {
    if (!(feed <= fastest)) fastest = feed;
  }
  if (!std::isfinite(fastest)) return "not known";
  const std::string told = fmt::format("fastest tip speed of this job {}\u00a0mm/s", Number(std::ceil(fastest), 0));
  if (fastest <= sim::kReducedSpeed_mm_s) return told + "; other parts of the arm may move faster than the tip";
  return fmt::format("{}: set the speed override to {}\u00a0% or less; other parts of the arm may move faster "
                     "than the tip", told, Number(std::floor(100.0 * sim::kReducedSpeed_mm_s / fastest), 0));
}

double SpeedOf(const sim::AirPass& pass, std::size_t link) {
  return link < pass.fastest_of.size() ? pass.fastest_of[link].speed_mm_s : NAN;
}

// The elbow turns about joint 3: the origin of link 2 or of link 3 lies there, as the
// geometry is written; the faster of the two is told.
double ElbowSpeed(const sim::AirPass& pass) {
  const double two = SpeedOf(pass, 2), three = SpeedOf(pass, 3);
  return two > three || std::isnan(two) ? two : three;
}

std::string SpeedText(const ReportContext& context, const sim::AirPass& pass) {
  const CheckResult* check = FindCheck(context, "slow-air-pass");
  const auto shown = [](double speed) { return std::isfinite(speed) ? Number(Up(speed), 0) + "\u00a0mm/s" : std::string("not known"); };
  return fmt::format(
      "slow_air_pass.csv, {}: raised by {}\u00a0mm along ({}, {}, {}) on the piece, {}; highest speed of the tool {}, of the elbow "
      "{}, of any joint of the arm {}, against {:.0f}\u00a0mm/s; it is the controller's own reduced-speed mode that enforces it",
      check->result == Result::kPass ? "nothing found to touch" : "not proven to be clear", Plain(pass.raise_mm),
      Number(pass.along_S.x(), 2), Number(pass.along_S.y(), 2), Number(pass.along_S.z(), 2),
      ClockText(pass.motion.tracks.front().time_s.back()), shown(SpeedOf(pass, 0)), shown(ElbowSpeed(pass)),
      shown(pass.fastest.speed_mm_s), sim::kReducedSpeed_mm_s);
}

Json AirPassJson(const sim::AirPass* pass) {
  if (pass == nullptr) return nullptr;
  return {{"raise_mm", Finite(pass->raise_mm)},
          {"along", PlaceJson(pass->along_S)},
          {"time_s", Finite(pass->motion.tracks.front().time_s.back())},
          {"tool_mm_s", Finite(SpeedOf(*pass, 0))},
          {"elbow_mm_s", Finite(ElbowSpeed(*pass))},
          {"fastest_mm_s", Finite(pass->fastest.speed_mm_s)},
          {"limit_mm_s", sim::kReducedSpeed_mm_s},
          {"swept_from_mm", PlaceJson(pass->swept_W.min())},
          {"swept_to_mm", PlaceJson(pass->swept_W.max())}};
}

// A place of the tip as a person can read it off the panel.
struct PanelPlace {
  int line = 0;
  double time_s = 0.0;
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();     // on the piece as it lies
  Eigen::Vector3d p_work = Eigen::Vector3d::Zero();  // in the work frame that the controller holds
  std::optional<Eigen::Vector3d> p_B;                // in the arm's base; nothing without a motion
};

// The sweeps of a track that was cut as it was planned lie between its moments.
PanelPlace PlaceAt(const ReportContext& context, std::size_t sweep) {
  const sim::Run& run = context.run;
  const sim::SweepInfo& info = run.track.sweeps[sweep];
  PanelPlace place{info.line, run.track.time_s[sweep + 1], run.track.p_ST[sweep + 1], {}, {}};
  place.p_work = run.X_WS_actual.isApprox(context.job.cell.X_WS, 0.0)
                     ? place.p_S : context.job.cell.X_WS.inverse() * (run.X_WS_actual * place.p_S);
  if (!run.executed || run.motion.tracks.empty() || run.motion.tracks.front().size() != run.track.time_s.size()) return place;
  const kinematics::MotionTrack& track = run.motion.tracks.front();
  place.p_work = track.X_ST[sweep + 1].translation();
  const auto tool = static_cast<std::size_t>(info.tool);
  const auto cutter = tool < run.track.tools.size() ? context.job.cell.cutters.find(run.track.tools[tool].number)
                                                    : context.job.cell.cutters.end();
  if (cutter == context.job.cell.cutters.end()) return place;
  const kinematics::Pose X_BH = track.X_BF[sweep + 1] * context.job.cell.X_FH;
  place.p_B = X_BH * Eigen::Vector3d(0, 0, -cutter->second.stick_out_mm);
  return place;
}

std::optional<PanelPlace> FirstContact(const ReportContext& context) {
  const sim::TouchedSpan span = sim::TouchedSweeps(context.run.cut.contact);
  if (span.empty() || span.last >= context.run.track.sweeps.size()) return std::nullopt;
  return PlaceAt(context, span.first);
}

std::string PanelText(const PanelPlace& place) {
  std::string text = fmt::format("work frame {}", PlainPlace(place.p_work, 1));
  if (place.p_B) text += fmt::format(", arm's base {}", PlainPlace(*place.p_B, 1));
  return text;
}

std::string ContactText(const std::optional<PanelPlace>& first) {
  if (!first) return "the cutter meets no material in this run";
  return fmt::format("line {}, {} into the job, tip at height z {}\u00a0mm in the work frame; the panel then shows for the tip end: {}",
                     Number(first->line, 0), ClockText(first->time_s), Number(first->p_work.z(), 1), PanelText(*first));
}

Json PanelJson(const std::optional<PanelPlace>& place) {
  if (!place) return nullptr;
  return {{"line", place->line},
          {"time_s", Finite(place->time_s)},
          {"on_piece_mm", PlaceJson(place->p_S)},
          {"work_frame_mm", PlaceJson(place->p_work)},
          {"base_mm", place->p_B ? PlaceJson(*place->p_B) : Json(nullptr)}};
}

// Above the first contact the gap under the tip is known: a rule or a block tells
// whether frame and stick-out are right before anything turns.
Json CheckPointJson(const std::optional<PanelPlace>& first, const sim::AirPass* pass) {
  if (!first || pass == nullptr) return nullptr;
  return {{"line", first->line},
          {"work_frame_mm", PlaceJson(first->p_work + pass->raise_mm * pass->along_S)},
          {"gap_mm", Finite(pass->raise_mm)}};
}

std::string CheckPointText(const std::optional<PanelPlace>& first, const sim::AirPass* pass) {
  if (!first || pass == nullptr) {
    return "not known; stop above the first contact by hand and measure the gap under the tip";
  }
  const Eigen::Vector3d at = first->p_work + pass->raise_mm * pass->along_S;
  return fmt::format("stop the slow air pass at line {}: tip at {} in the work frame, and {}\u00a0mm of air under it, along the "
                     "direction of raising, down to where it will first touch; measure the gap with a rule or a block",
                     Number(first->line, 0), PlainPlace(at, 1), Plain(pass->raise_mm));
}

std::string SweptText(const sim::AirPass* pass) {
  if (pass == nullptr) return "not known";
  return fmt::format("the bodies described sweep {} to {} in the world during the slow air pass, the way from home and back "
                     "included; people and what was not described are not in it",
                     PlainPlace(pass->swept_W.min(), 0), PlainPlace(pass->swept_W.max(), 0));
}

std::string CuttersText(const ReportContext& context) {
  std::string text;
  for (const sim::TrackTool& tool : context.run.track.tools) {
    const auto found = context.job.cell.cutters.find(tool.number);
    if (found == context.job.cell.cutters.end()) continue;
    const sim::CellCutter& cutter = found->second;
    std::string shape = cutter.cutter.outline().shape;
    std::replace(shape.begin(), shape.end(), '_', ' ');
    text += fmt::format("{}cutter {}: {}, diameter {}\u00a0mm, stick-out {}\u00a0mm ({})",
                        text.empty() ? "" : "; ", cutter.number, shape, Plain(2 * cutter.cutter.radius_mm()),
                        Plain(cutter.measured ? cutter.measured_stick_out_mm : cutter.stick_out_mm),
                        cutter.measured ? "measured" : "typed, not measured");
  }
  return text.empty() ? "–" : text;
}

std::string ProgramText(const sim::Job& job) {
  for (const sim::InputFile& input : job.inputs) {
    if (input.role == "path") return fmt::format("{}, SHA-256 begins {}", input.file, input.sha256.substr(0, 16));
  }
  return "–";
}

std::string PieceText(const sim::PieceLocation& location) {
  if (!location.given) return "no touched points given: not tied to the floor";
  return fmt::format("{} touched points; largest distance from the scan where the frame puts it {}\u00a0mm, "
                     "after fitting {}\u00a0mm",
                     location.points, Number(location.before_mm, 2), Number(location.residual_mm, 2));
}

// The fastest that each cutter turns on this path.
Json EdgeSpeedsJson(const ReportContext& context) {
  Json speeds = Json::array();
  for (const sim::TrackTool& tool : context.run.track.tools) {
    const auto found = context.job.cell.cutters.find(tool.number);
    double rpm = 0;
    for (const kinematics::PathLine& line : context.job.path) {
      if (line.tool == tool.number) rpm = std::max(rpm, std::abs(line.spindle_rpm));
    }
    if (found == context.job.cell.cutters.end() || !(rpm > 0)) continue;
    const double diameter_mm = 2 * found->second.cutter.radius_mm(), speed = RimSpeed_m_s(diameter_mm, rpm);
    speeds.push_back({{"cutter", tool.number}, {"diameter_mm", Finite(diameter_mm)}, {"rpm", Finite(rpm)},
                      {"rpm_limit", found->second.rpm_limit > 0 ? Finite(found->second.rpm_limit) : Json(nullptr)},
                      {"edge_m_s", Finite(speed)}, {"fragment_j", Finite(FragmentEnergy_j(kExampleFragment_g, speed))}});
  }
  return speeds;
}

std::string EdgeText(const Json& speeds) {
  std::string text;
  for (const Json& s : speeds) {
    if (s["edge_m_s"].is_null()) continue;
    text += fmt::format("{}cutter {} at {} rpm: its edge runs at {}\u00a0m/s{}; a fragment of {:.0f}\u00a0g that leaves at that "
                        "speed carries {}\u00a0J",
                        text.empty() ? "" : "; ", s["cutter"].get<int>(), Number(s["rpm"].get<double>(), 0),
                        Number(s["edge_m_s"].get<double>(), 1),
                        s["rpm_limit"].is_null() ? std::string(", rated speed not stated")
                                                 : fmt::format(", rated to {} rpm in the cell file", Number(s["rpm_limit"].get<double>(), 0)),
                        kExampleFragment_g, Number(s["fragment_j"].get<double>(), 2));
  }
  return text.empty() ? "–" : text;
}

const char* KindWords(sim::ProtectiveDevice::Kind kind) {
  switch (kind) {
    case sim::ProtectiveDevice::Kind::kLightCurtain: return "light curtain";
    case sim::ProtectiveDevice::Kind::kBeams: return "beams";
    case sim::ProtectiveDevice::Kind::kScanner: return "scanner";
  }
  return "";
}

Json DistancesJson(const ReportContext& context) {
  const std::optional<sim::Stopping>& stopping = context.job.cell.stopping;
  if (!stopping) return nullptr;
  Json devices = Json::array();
  for (const sim::ProtectiveDevice& device : stopping->devices) {
    const SafetyDistance s = SafetyDistanceOf(device, stopping->measured_s);
    devices.push_back({{"name", device.name}, {"kind", KindWords(device.kind)}, {"response_s", device.response_s},
                       {"time_s", s.time_s}, {"speed_mm_s", s.speed_mm_s}, {"intrusion_mm", s.intrusion_mm},
                       {"distance_mm", s.distance_mm}, {"beam_heights_mm", s.beam_heights_mm}});
  }
  return {{"measured_stop_s", stopping->measured_s}, {"measured_by", stopping->by}, {"scope", SafetyDistanceScope()},
          {"devices", std::move(devices)}};
}

void Add(Json& lines, const std::string& ask, const std::string& told) {
  lines.push_back({{"ask", ask}, {"told", told}});
}

Json FromRun(const ReportContext& context) {
  const sim::AirPass* pass = PassOf(context);
  const std::optional<PanelPlace> first = FirstContact(context);
  Json lines = Json::array();
  Add(lines, "The program loaded is the file that was checked", ProgramText(context.job));
  Add(lines, "The bit in the collet: shape, diameter, stick-out, direction of turning", CuttersText(context));
  Add(lines, "The piece lies where the frame says: touched again just before the cut", PieceText(context.run.location));
  Add(lines, fmt::format("Slow air pass, spindle stopped, bit raised clear of the stock, tool at most {:.0f}\u00a0mm/s (reduced "
                         "speed of ISO 10218-1), hand on the stop", sim::kReducedSpeed_mm_s),
      pass != nullptr ? SpeedText(context, *pass) : WithoutPassText(context.run.motion));
  Add(lines, "The space swept is clear of people and things", SweptText(pass));
  Add(lines, "Stopped-bit check point: the gap under the tip measured", CheckPointText(first, pass));
  Add(lines, "First contact seen at the right place and height", ContactText(first));
  return lines;
}

// Nothing in a file can answer these.
Json ByPeople(const ReportContext& context, const Json& speeds) {
  Json lines = Json::array();
  Add(lines, "Risk assessment of this cell and this job made, and read by who runs it", "–");
  Add(lines, "Guards and interlocks in place and tested today", "–");
  Add(lines, "Emergency stop tested today, from where the person stands", "–");
  Add(lines, "People: nobody inside the fence or within reach; the way out is free", "–");
  Add(lines, "Work-holding: pushed by hand in three directions, clamps outside the path", "–");
  Add(lines, "Spindle and bit rated for this speed; bit clean, sharp, unchipped, clamped to depth; guard against thrown parts", EdgeText(speeds));
  Add(lines, "Dust extraction runs; no sparks, no heat left in the chips, extinguisher at hand, fire watch after the cut", "–");
  for (const std::string& line : context.verdict.to_sign) Add(lines, line, "–");
  return lines;
}

}  // namespace

Json FirstCutJson(const ReportContext& context) {
  const sim::AirPass* pass = PassOf(context);
  const std::optional<PanelPlace> first = FirstContact(context);
  const Json speeds = EdgeSpeedsJson(context);
  return {{"order", Json::array({"local codes and licensed practice", "the site's rules", "the makers' manuals", "this report"})},
          {"from_run", FromRun(context)},
          {"by_people", ByPeople(context, speeds)},
          {"air_pass", AirPassJson(pass)},
          {"first_contact", PanelJson(first)},
          {"check_point", CheckPointJson(first, pass)},
          {"edge_speeds", speeds},
          {"distances", DistancesJson(context)}};
}

}  // namespace aircut::verify
