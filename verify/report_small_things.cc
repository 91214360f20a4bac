#include <fmt/format.h>

#include "verify/report_parts.h"
#include "verify/report_text.h"
#include "verify/words.h"

// The page's section on limits by region and on the small things of design and cut.
namespace aircut::verify {
namespace {

std::string Mm(const PageJson& json, const char* key, int decimals) { return Number(ValueAt(json, key), decimals) + "\u00a0mm"; }

std::string At(const PageJson& json) {
  const PageJson& at = json["at_mm"];
  return at.is_null() ? "" : Place({at[0].get<double>(), at[1].get<double>(), at[2].get<double>()});
}

std::string Row(const std::string& what, const std::string& told) {
  return fmt::format("<tr><td>{}</td><td>{}</td></tr>\n", what, told);
}

std::string RegionTable(const PageJson& regions) {
  if (regions.empty()) return "";
  std::string html = "<table><thead><tr><th scope=\"col\">where</th><th scope=\"col\">limit</th><th scope=\"col\">95 % within</th>"
                     "<th scope=\"col\">of its area within the limit</th><th scope=\"col\">deepest below, highest above</th></tr></thead><tbody>\n";
  for (const PageJson& r : regions) {
    const bool known = !r["p95_mm"].is_null();
    html += fmt::format("<tr><td>{}</td><td class=\"nw\">{}</td><td class=\"nw\">{}</td><td class=\"nw\">{}</td><td class=\"nw\">{}</td></tr>\n",
                        r["region"].is_null() ? std::string("everywhere else") : "region " + TextAt(r, "region"),
                        Plain(ValueAt(r, "limit_mm")) + "\u00a0mm", known ? Mm(r, "p95_mm", 2) : "–",
                        known ? Percent(ValueAt(r, "within")) : "–",
                        known ? Mm(r, "max_gouge_mm", 2) + ", " + Mm(r, "max_leftover_mm", 2) : "–");
  }
  return html + "</tbody></table>\n";
}

std::string UnreachableRow(const PageJson& u) {
  if (u.is_null()) return "";
  return Row("out of the cutters' reach, not counted as left over",
             fmt::format("{}\u00a0mm², {}\u00a0mm³, up to {} deep at {}; asked of balls of the smallest tip or corner radius in "
                         "the path", Number(ValueAt(u, "area_mm2"), 0), Number(ValueAt(u, "volume_mm3"), 0), Mm(u, "deepest_mm", 2), At(u)));
}

std::string HollowRow(const PageJson& h) {
  if (h.is_null()) return "";
  const double radius_mm = ValueAt(h, "radius_mm"), cutter_mm = ValueAt(h, "cutter_radius_mm");
  const std::string smallest = "the smallest tip or corner radius in the path, " + Mm(h, "cutter_radius_mm", 2);
  const std::string against = cutter_mm > radius_mm ? ", smaller than " + smallest
                              : cutter_mm > 0.0     ? ", not smaller than " + smallest
                                                    : std::string("; a cutter in the path is sharp");
  return Row("tightest hollow of the design", fmt::format("radius {} at {}{}", Mm(h, "radius_mm", 2), At(h), against));
}

std::string WallRow(const PageJson& walls, const char* count, const char* list, const char* what) {
  const int thin = walls[count].get<int>();
  const std::string limit = Plain(ValueAt(walls, "limit_mm")) + "\u00a0mm";
  if (thin == 0) return Row(what, fmt::format("none thinner than {}", limit));
  const PageJson& thinnest = walls[list][0];
  return Row(what, fmt::format("{} thinner than {}, the thinnest {} at {}", Count(thin), limit, Mm(thinnest, "thickness_mm", 2), At(thinnest)));
}

std::string StepRow(const PageJson& steps) {
  const PageJson& s = steps["largest"];
  if (s.is_null()) return "";
  std::string told = fmt::format("at most {} at {}, between lines {} and {}", Mm(s, "height_mm", 3), At(s), Count(s["high_line"].get<int>()),
                                 Count(s["low_line"].get<int>()));
  if (s["high_cutter"] != s["low_cutter"]) {
    told += fmt::format(", cutters {} and {}", s["high_cutter"].get<int>(), s["low_cutter"].get<int>());
  }
  const int over = steps["over_limit"].get<int>();
  told += over > 0 ? fmt::format("; {} of {} places measured are above {}", Count(over), Count(steps["places"].get<int>()),
                                 Plain(ValueAt(steps, "limit_mm")) + "\u00a0mm")
                   : fmt::format("; {} measured", Plural(steps["places"].get<int>(), "place"));
  return Row("step between passes side by side", told);
}

}  // namespace

std::string FeatureSection(const Page& page) {
  const PageJson& features = page.report["features"];
  std::string rows = UnreachableRow(features["unreachable"]) + HollowRow(features["hollow"]);
  if (const PageJson& walls = features["walls"]; !walls.is_null()) {
    rows += WallRow(walls, "in_cut", "thinnest_in_cut", "standing walls, as cut");
    if (!walls["in_design"].is_null()) rows += WallRow(walls, "in_design", "thinnest_in_design", "standing walls, as designed");
  }
  rows += StepRow(features["steps"]);
  const std::string regions = RegionTable(features["regions"]);
  if (rows.empty() && regions.empty()) return "";
  std::string html = "<h2>By region, and the small things</h2>\n" + regions;
  if (rows.empty()) return html;
  return html + "<table><thead><tr><th scope=\"col\">what</th><th scope=\"col\">told, not judged</th></tr></thead><tbody>\n" + rows + "</tbody></table>\n";
}

}  // namespace aircut::verify
