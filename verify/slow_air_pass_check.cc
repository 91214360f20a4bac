#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/motion_faults.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

std::string NameOf(const sim::Run& run, int body) {
  return run.world && body < run.world->body_count() ? run.world->body(body).name : fmt::format("body {}", body);
}

// Three decimals, without a sign before nothing.
std::string Direction(const Eigen::Vector3d& v) {
  const auto part = [](double x) { return std::round(1000.0 * x) / 1000.0 + 0.0; };
  return fmt::format("({:g}, {:g}, {:g})", part(v.x()), part(v.y()), part(v.z()));
}

std::string Raised(const sim::AirPass& pass) {
  return fmt::format("raised by {}{} along {}{}", Millimetres(pass.raise_mm), pass.raise_assumed ? " (default)" : "",
                     Direction(pass.along_S), pass.along_assumed ? ", the mean tool axis (default)" : "");
}

double LowerEnd(const sim::PairClearance& p) { return p.clearance_mm - p.bound_mm; }

Finding FindingOf(const sim::Run& run, const sim::PairClearance& p) {
  Finding f;
  f.line = p.line;
  f.time_s = p.time_s;
  f.at_S = PlaceInWork(run, p);
  f.value = p.clearance_mm;
  f.unit = "mm";
  f.text = fmt::format("In the slow air pass {} and {} would touch at {}, {}.", NameOf(run, p.a), NameOf(run, p.b),
                       p.line > 0 ? Lines(p.line, p.line) : std::string("the way to or from the path"), Clock(p.time_s));
  f.cause = "the path is not raised far enough, or `air_pass.along` does not lead away from the piece";
  return f;
}

// The raised path leaves reach or range.
CheckResult NotPlanned(const sim::Job& job, const sim::AirPass& pass) {
  CheckResult r;
  r.result = Result::kFail;
  for (const kinematics::PlanFault& fault : pass.motion.faults) {
    Finding f;
    f.line = fault.line;
    f.value = fault.value;
    f.limit = fault.limit;
    f.text = fmt::format("The path {} cannot be followed: {}", Raised(pass), fault.text);
    f.cause = "raised so far, or that way, the path leaves the arm's reach or the range of a joint";
    f.sure = IsSure(job, fault);
    r.findings.push_back(f);
  }
  r.why = r.findings.empty() ? "The raised path gave no motion." : r.findings.front().text;
  if (!r.findings.empty()) LeaveOpenIfUnsure(&r);
  TrimFindings(&r);
  return r;
}

// Touching is what the pass must not do; nothing when nothing surely touches or
// may touch.
std::optional<CheckResult> Contact(const CheckInputs& in, const sim::AirPass& pass) {
  if (pass.clearances.empty()) return Unproven("No pair of bodies was measured in the slow air pass.", {"bodies in the cell"});
  std::vector<Finding> findings;
  const sim::PairClearance* open = nullptr;
  for (const sim::PairClearance& p : pass.clearances) {
    if (p.clearance_mm <= 0.0) {
      findings.push_back(FindingOf(in.run, p));
    } else if (!(LowerEnd(p) > 0.0)) {
      open = &p;
    }
  }
  if (findings.empty() && open == nullptr) return std::nullopt;
  if (findings.empty()) {
    return Unproven(fmt::format("In the slow air pass {} and {} pass each other too near to tell, at {}.",
                                NameOf(in.run, open->a), NameOf(in.run, open->b), Lines(open->line, open->line)),
                    {"`air_pass.raise`: a little more"});
  }
  std::stable_sort(findings.begin(), findings.end(), [](const Finding& a, const Finding& b) { return a.value < b.value; });
  CheckResult r = Measured({findings.front().value, 0.0, 0.0, Sense::kAtLeast, "mm"});
  r.result = Result::kFail;
  r.why = findings.front().text;
  r.findings = std::move(findings);
  TrimFindings(&r);
  return r;
}

std::string NameOfPoint(int link) { return link == 0 ? std::string("the tool") : fmt::format("link {}", link); }

// What was measured is a lower end of the fastest speed, what the time law holds an
// upper one; measured beyond that, the law did not hold it and no upper end is known.
CheckResult Speed(const sim::AirPass& pass) {
  const double held_mm_s = sim::kSlowPlanned_mm_s * (1.0 + sim::kSlowOvershoot);
  const double fastest_mm_s = pass.fastest.speed_mm_s;
  CheckResult r = Measured({fastest_mm_s, std::max(0.0, held_mm_s - fastest_mm_s), sim::kReducedSpeed_mm_s,
                            Sense::kAtMost, "mm/s"});
  const std::string where = NameOfPoint(pass.fastest.link) + ", " + Lines(pass.fastest.line, pass.fastest.line);
  r.where = where;
  if (r.result == Result::kFail) {
    Finding f;
    f.line = pass.fastest.line;
    f.value = fastest_mm_s;
    f.limit = sim::kReducedSpeed_mm_s;
    f.unit = "mm/s";
    f.text = fmt::format("The slow air pass reaches {:.0f} mm/s: {}.", fastest_mm_s, where);
    r.why = f.text;
    r.findings = {f};
  } else if (!(fastest_mm_s <= held_mm_s)) {
    r = Unproven(fmt::format("The slow air pass was planned at {:.0f} mm/s but reaches {:.1f} mm/s: {}.",
                             sim::kSlowPlanned_mm_s, fastest_mm_s, where),
                 {"a slow pass that the time law holds"});
  }
  return r;
}

// The time law holds tip and links, not what a table turns.
std::optional<CheckResult> WorkSpeed(const sim::AirPass& pass) {
  if (pass.work_at_most_mm_s <= sim::kReducedSpeed_mm_s) return std::nullopt;
  if (pass.work_at_least_mm_s <= sim::kReducedSpeed_mm_s) {
    return Unproven(
        fmt::format(
            "In the slow air pass the work is carried along by the axes under it; that it stays below "
            "{:.0f} mm/s was not shown.",
            sim::kReducedSpeed_mm_s),
        {"`arm.home` and `approach` that leave the axes under the work where the path has them"});
  }
  CheckResult r = Measured({pass.work_at_least_mm_s, 0.0, sim::kReducedSpeed_mm_s, Sense::kAtMost, "mm/s"});
  r.where = "the work";
  r.why = fmt::format("In the slow air pass the axes under the work carry it at {:.0f} mm/s.",
                      pass.work_at_least_mm_s);
  Finding f;
  f.value = pass.work_at_least_mm_s;
  f.limit = sim::kReducedSpeed_mm_s;
  f.unit = "mm/s";
  f.text = r.why;
  r.findings = {f};
  return r;
}

std::string Notes(const sim::AirPass& pass) {
  std::string text = fmt::format(" It is the controller's own reduced-speed mode (ISO 10218-1) that enforces {:.0f} mm/s.",
                                 sim::kReducedSpeed_mm_s);
  if (pass.joint_rapids > 0) {
    text += fmt::format(" {} stay joint moves in the file: no feed slows them.", Plural(pass.joint_rapids, "rapid"));
  }
  if (pass.turns_on_the_spot > 0) {
    text += fmt::format(" At {} the tool turns on the spot: no feed slows it.", Plural(pass.turns_on_the_spot, "line"));
  }
  return text;
}

}  // namespace

CheckResult CheckSlowAirPass(const CheckInputs& in) {
  if (!in.run.air_pass) {
    return Unproven("The arm could not follow the path (see reach, joint-range, posture-change).",
                    {"a path that the arm can follow"});
  }
  const sim::AirPass& pass = *in.run.air_pass;
  const bool assumed = pass.raise_assumed || pass.along_assumed;
  CheckResult r;
  if (!pass.why_not.empty()) return Unproven(pass.why_not, {"`air_pass.along`: the direction away from the piece"});
  if (!pass.motion.complete()) {
    r = NotPlanned(in.job, pass);
  } else if (const std::optional<CheckResult> touching = Contact(in, pass)) {
    r = *touching;
  } else {
    r = Speed(pass);
    const std::optional<CheckResult> work = WorkSpeed(pass);
    if (work && work->result > r.result) r = *work;
  }
  if (r.result == Result::kPass && pass.motion.posture_per_line != in.run.motion.posture_per_line) {
    r = Unproven("The raised path is followed in another posture than the job's own motion, so the arm would not be seen "
                 "where it will be.",
                 {"`air_pass.raise` or `air_pass.along` with which the posture is the same"});
  }
  r.assumed = assumed;
  if (r.result != Result::kPass) return r;
  const sim::PairClearance& nearest = *std::min_element(
      pass.clearances.begin(), pass.clearances.end(), [](const auto& a, const auto& b) { return LowerEnd(a) < LowerEnd(b); });
  r.why = fmt::format("The path {} runs in {} at no more than {:.0f} mm/s; nothing that the cell describes comes nearer "
                      "than {}. Tool and links sweep {} to {} in the world.",
                      Raised(pass), Clock(pass.motion.tracks.front().time_s.back()), std::ceil(*r.worst + *r.bound),
                      Millimetres(LowerEnd(nearest)), Place(pass.swept_W.min()), Place(pass.swept_W.max())) +
          Notes(pass);
  return r;
}

}  // namespace aircut::verify
