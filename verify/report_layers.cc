#include <array>
#include <utility>

#include <fmt/format.h>

#include "verify/report_parts.h"
#include "verify/report_text.h"
#include "verify/words.h"

// The page's section on what bends: error layers with their signs, the cut as commanded
// beside the cut as executed, and apart from them the uncertainties.
namespace aircut::verify {
namespace {

std::string NameOf(const std::string& layer) {
  static constexpr std::array<std::pair<const char*, const char*>, 7> kNames = {{{"arm", "arm bends"},
                                                                                 {"spindle", "spindle gives"},
                                                                                 {"tool", "cutter bends"},
                                                                                 {"fixture", "fixture gives"},
                                                                                 {"lost-motion", "joints lose motion"},
                                                                                 {"drift", "arm grows warm"},
                                                                                 {"corner-rounding", "corners are rounded"}}};
  for (const auto& [word, name] : kNames) {
    if (layer == word) return name;
  }
  return Escaped(layer);
}

std::string Mm(std::optional<double> value_mm) {
  return value_mm ? Number(*value_mm, 3) + "\u00a0mm" : std::string("–");
}

std::string Signed(std::optional<double> value_mm) { return (value_mm && *value_mm > 0 ? "+" : "") + Mm(value_mm); }

std::string BothCuts(const PageJson& execution) {
  return fmt::format("<table><thead><tr><th scope=\"col\">cut</th><th scope=\"col\">95 % of the carving within</th></tr></thead><tbody>\n"
                     "<tr><td>as commanded, nothing bends</td><td class=\"nw\">{}</td></tr>\n"
                     "<tr><td>as executed, everything else on this page</td><td class=\"nw\">{}</td></tr></tbody></table>\n",
                     Mm(NumberAt(execution, "commanded_p95_mm")), Mm(NumberAt(execution, "executed_p95_mm")));
}

std::string LayerRows(const PageJson& layers) {
  std::string html = "<table><thead><tr><th scope=\"col\">error layer</th><th scope=\"col\">95 % of the carving</th>"
                     "<th scope=\"col\">on average</th></tr></thead><tbody>\n";
  for (const PageJson& layer : layers) {
    html += fmt::format("<tr><td>{}</td><td class=\"nw\">{}</td><td class=\"nw\">{}</td></tr>\n",
                        NameOf(layer["layer"].get<std::string>()), Signed(NumberAt(layer, "signed_mm_p95")),
                        Signed(NumberAt(layer, "mean_mm")));
  }
  return html + "</tbody></table>\n<p class=\"note\">To first order, along the depth direction: + leaves material standing, "
                "− cuts deeper.</p>\n";
}

std::string HowItSettled(const PageJson& execution) {
  std::string html = fmt::format("<p class=\"note\">Forces and displacements {} in {}: {} were still open, {} would do.",
                                 execution["settled"] == true ? "settled" : "did <b>not</b> settle",
                                 Plural(execution["cuts"].get<int>(), "cut"), Mm(NumberAt(execution, "moved_mm")),
                                 Mm(NumberAt(execution, "settled_mm")));
  return html + "</p>\n";
}

std::string Recuts(const PageJson& execution) {
  std::string html;
  for (const PageJson& recut : execution["recuts"]) {
    html += fmt::format("<p class=\"note\">Cut once more without the largest layer ({}): {} on average, {} by the first order.</p>\n",
                        NameOf(recut["layer"].get<std::string>()), Signed(NumberAt(recut, "recut_mm")),
                        Signed(NumberAt(recut, "first_order_mm")));
  }
  return html;
}

std::string ArmTest(const PageJson& test) {
  if (test.is_null()) return "";
  return fmt::format("<p class=\"note\">The arm's stiffness comes from {} in {}: of the deflection the fit leaves {}, and 95 % of "
                     "the poses, each held out of it, are told to within {}.</p>\n",
                     Plural(test["poses"].get<int>(), "pose"), TextAt(test, "file"), Percent(ValueAt(test, "residual")),
                     Percent(ValueAt(test, "band")));
}

std::string LeftOut(const PageJson& execution) {
  std::string html;
  for (const PageJson& word : execution["left_out"]) {
    html += fmt::format("<p>Left out of this run, a what-if: {}.</p>\n", Escaped(word.get<std::string>()));
  }
  for (const PageJson& missing : execution["missing"]) {
    html += fmt::format("<p class=\"note\">Not in it: {}</p>\n", TextAt(missing, "why"));
  }
  return html;
}

std::string Uncertainties(const PageJson& uncertain) {
  std::string html = "<h3>Uncertainties, which are no errors that are there</h3>\n";
  if (uncertain.empty()) return html + "<p class=\"note\">Nothing was said of how well piece, arm and bit are known.</p>\n";
  html += "<table><thead><tr><th scope=\"col\">source</th><th scope=\"col\">standard uncertainty</th><th scope=\"col\">k</th>"
          "<th scope=\"col\">share</th><th scope=\"col\">the same everywhere</th></tr></thead><tbody>\n";
  for (const PageJson& u : uncertain) {
    html += fmt::format("<tr><td>{}</td><td class=\"nw\">{}\u00a0mm</td><td>{}</td><td>{}</td><td>{}</td></tr>\n", TextAt(u, "source"),
                        Number(ValueAt(u, "u_mm"), 3), Plain(ValueAt(u, "k")), Percent(ValueAt(u, "share")), u["shared"] == true ? "yes" : "no");
  }
  return html + "</tbody></table>\n<p class=\"note\">To first order, along the depth; they widen the answer of `depth-confidence`, "
                "which also says what is not known.</p>\n";
}

}  // namespace

std::string LayerSection(const Page& page) {
  const PageJson &layers = page.report["layers"], &execution = page.report["execution"];
  std::string html = "<h2>As executed: what bends, and by how much</h2>\n";
  if (layers.empty()) html += "<p class=\"note\">Nothing that this run was told of displaces the tool.</p>\n";
  if (!layers.empty()) html += LayerRows(layers);
  if (execution["displaced"] == true) html += BothCuts(execution) + HowItSettled(execution);
  return html + Recuts(execution) + ArmTest(execution["arm_test"]) + LeftOut(execution) + Uncertainties(page.report["uncertainty"]);
}

}  // namespace aircut::verify
