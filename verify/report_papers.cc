#include <cmath>

#include <fmt/format.h>

#include "verify/report_parts.h"
#include "verify/report_text.h"

// What people have to sign before the first cut, and what the run was made of.
namespace aircut::verify {
namespace {

std::string SignTable(const char* caption, const char* told, const PageJson& lines) {
  std::string html = fmt::format("<h3>{}</h3>\n<table class=\"sign\"><thead><tr><th scope=\"col\">line</th><th scope=\"col\">{}</th>"
                                 "<th scope=\"col\">name, date, signature</th></tr></thead><tbody>\n", caption, told);
  for (const PageJson& line : lines) {
    html += fmt::format("<tr><td>{}</td><td>{}</td><td></td></tr>\n", TextAt(line, "ask"), TextAt(line, "told"));
  }
  return html + "</tbody></table>\n";
}

std::string HeightsText(const PageJson& heights) {
  std::string text;
  for (const PageJson& mm : heights) text += (text.empty() ? "; beams at " : ", ") + Number(mm.get<double>(), 0);
  return text.empty() ? "" : text + "\u00a0mm above the floor";
}

// Distances are rounded up: a shorter one would be too near.
std::string DistanceTable(const PageJson& distances) {
  if (distances.is_null()) return "";
  std::string html = fmt::format(
      "<h3>Least distances of protective devices, for information</h3>\n<p class=\"note\">S = K T + C of ISO 13855, from a stop time of {}\u00a0s "
      "as measured ({}). {}</p>\n<table><thead><tr><th scope=\"col\">device</th><th scope=\"col\">T, with its response</th><th scope=\"col\">K</th>"
      "<th scope=\"col\">C</th><th scope=\"col\">at least</th></tr></thead><tbody>\n",
      Plain(ValueAt(distances, "measured_stop_s")), TextAt(distances, "measured_by"), TextAt(distances, "scope"));
  for (const PageJson& d : distances["devices"]) {
    html += fmt::format("<tr><td>{}, {}{}</td><td class=\"nw\">{}\u00a0s</td><td class=\"nw\">{}\u00a0mm/s</td><td class=\"nw\">{}\u00a0mm</td>"
                        "<td class=\"nw\">{}\u00a0mm</td></tr>\n",
                        TextAt(d, "name"), TextAt(d, "kind"), HeightsText(d["beam_heights_mm"]), Plain(ValueAt(d, "time_s")),
                        Number(ValueAt(d, "speed_mm_s"), 0), Plain(ValueAt(d, "intrusion_mm")),
                        Number(std::ceil(ValueAt(d, "distance_mm") - 1e-9), 0));
  }
  return html + "</tbody></table>\n";
}

std::string InputTable(const PageJson& inputs) {
  std::string html = "<table class=\"inputs\"><thead><tr><th scope=\"col\">what</th><th scope=\"col\">file</th><th scope=\"col\">bytes</th>"
                     "<th scope=\"col\">SHA-256</th></tr></thead><tbody>\n";
  for (const PageJson& input : inputs) {
    html += fmt::format("<tr><td>{}</td><td><code>{}</code></td><td class=\"nw\">{}</td><td><code>{}</code></td></tr>\n",
                        TextAt(input, "role"), TextAt(input, "file"), Number(ValueAt(input, "bytes"), 0), TextAt(input, "sha256"));
  }
  return html + "</tbody></table>\n";
}

std::string DefaultsText(const PageJson& defaults) {
  std::string text;
  for (const PageJson& d : defaults) {
    text += fmt::format("{}{} {}{}", text.empty() ? "" : " · ", TextAt(d, "what"), Plain(ValueAt(d, "value")), UnitText(d["unit"]));
  }
  if (text.empty()) return "";
  return fmt::format("<h3>Defaults used</h3>\n<p class=\"note\">Not stated by the job: {}.</p>\n", text);
}

std::string AssumedText(const PageJson& values) {
  if (values.empty()) return "";
  std::string html = "<h3>Assumed worst</h3>\n<p class=\"note\">Nobody stated these; the bad end of a band stands for each: ";
  for (std::size_t i = 0; i < values.size(); ++i) {
    const PageJson& a = values[i];
    html += fmt::format("{}<code>{}</code> {}{} (of {} to {}; {})", i > 0 ? " · " : "", TextAt(a, "key"), Plain(ValueAt(a, "value")),
                        UnitText(a["unit"]), Plain(ValueAt(a, "low")), Plain(ValueAt(a, "high")), TextAt(a, "source"));
  }
  return html + ".</p>\n";
}

// What was asked for and could not be written, or not whole.
std::string CopiesText(const PageJson& notes) {
  if (notes.empty()) return "";
  std::string html = "<h3>Copies of the path</h3>\n<ul class=\"note\">\n";
  for (const PageJson& n : notes) html += fmt::format("<li><code>{}</code> {}</li>\n", TextAt(n, "file"), TextAt(n, "note"));
  return html + "</ul>\n";
}

// Nobody outside knows how a control plans: the three times say what hangs on it.
std::string ThreeTimesTable(const PageJson& times) {
  return fmt::format(
      "<table class=\"narrow\"><thead><tr><th scope=\"col\">reading of the control</th><th scope=\"col\">time</th></tr></thead><tbody>\n"
      "<tr><td>ideal: it knows the whole path and no cycle</td><td class=\"nw\">{}</td></tr>\n"
      "<tr><td>as the cell describes it</td><td class=\"nw\">{}</td></tr>\n"
      "<tr><td>it stands still at every line</td><td class=\"nw\">{}</td></tr></tbody></table>\n"
      "<p class=\"note\">A real control differs from all three: time one run in the air.</p>\n",
      ClockText(ValueAt(times, "ideal_s")), ClockText(ValueAt(times, "modelled_s")), ClockText(ValueAt(times, "stop_each_s")));
}

std::string HeldTable(const PageJson& held) {
  if (held.empty()) return "";
  std::string html = "<table class=\"narrow\"><thead><tr><th scope=\"col\">what set the speed of the cuts</th><th scope=\"col\">time</th></tr></thead><tbody>\n";
  for (const PageJson& row : held) {
    html += fmt::format("<tr><td>{}</td><td class=\"nw\">{}</td></tr>\n", TextAt(row, "by"), ClockText(ValueAt(row, "time_s")));
  }
  return html + "</tbody></table>\n";
}

}  // namespace

std::string FirstCutSection(const Page& page) {
  const PageJson& cut = page.report["first_cut"];
  std::string order;
  for (std::size_t i = 0; i < cut["order"].size(); ++i) {
    order += (i == 0 ? "" : i + 1 < cut["order"].size() ? ", " : ", then ") + Escaped(cut["order"][i].get<std::string>());
  }
  return fmt::format("<h2>Before the first cut</h2>\n<p class=\"order\">Order of authority: {}.</p>\n"
                     "<p class=\"note\">A dry run is evidence for some of the lines below; it is never permission to run, and "
                     "stands for no guard, no stop and no slow air pass.</p>\n", order) +
         SignTable("What the dry run supports", "from the dry run", cut["from_run"]) +
         SignTable("What only people can answer", "for information", cut["by_people"]) + DistanceTable(cut["distances"]);
}

std::string SourceSection(const Page& page) {
  const PageJson& r = page.report;
  return "<h2>What was read</h2>\n" + InputTable(r["inputs"]) +
         fmt::format("<p class=\"note\">Made by aircut {} ({}).</p>\n", TextAt(r["program"], "version"), TextAt(r["program"], "build")) +
         DefaultsText(r["defaults"]) + AssumedText(r["assumed_values"]) + CopiesText(r["path_copies"]);
}

std::string TimeSection(const Page& page) {
  const PageJson& times = page.report["times"];
  std::string html = "<h2>Over the job</h2>\n";
  if (times.is_null()) return html + "<p class=\"note\">No motion over time: the path cannot be followed to its end.</p>\n";
  html += StripChart(page);
  html += fmt::format(
      "<p class=\"note\">{} in all: {} cutting, {} in rapid moves, {} on the way from home and back. For {} of the "
      "cutting the feed is held below 90\u00a0% of what is written. The time law is the fastest under the written "
      "feed, joint speed and joint acceleration, as far as the control looks ahead; corners are rounded as the cell "
      "says. {} moments are in <code>moments.csv</code>, each with what held it.</p>\n",
      ClockText(ValueAt(page.report, "cycle_time_s")), ClockText(ValueAt(times, "cutting_s")), ClockText(ValueAt(times, "rapid_s")),
      ClockText(ValueAt(times, "way_s")), ClockText(ValueAt(times, "below_feed_s")), Number(ValueAt(times, "moments"), 0));
  return html + "<div class=\"pair\"><div>" + ThreeTimesTable(times) + "</div><div>" + HeldTable(times["held"]) + "</div></div>\n";
}

}  // namespace aircut::verify
