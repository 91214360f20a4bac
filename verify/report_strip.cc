#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/report_parts.h"
#include "verify/report_text.h"

// The strip chart: traces over the job in the manner of a paper recorder.
namespace aircut::verify {
namespace {

constexpr double kLeft = 130, kRight = 1010, kTop = 34, kTraceHeight = 62, kTraceGap = 18;
constexpr std::size_t kMostFlags = 24;

struct Span {
  double from_s = 0.0, to_s = 0.0;
};

// A round number not below the value.
double RoundUp(double value) {
  if (!(value > 0)) return 1;
  const double ten = std::pow(10.0, std::floor(std::log10(value)));
  for (const double factor : {1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0}) {
    if (factor * ten >= value * (1 - 1e-9)) return factor * ten;
  }
  return 10 * ten;
}

std::string Words(double x, double y, const std::string& text, const char* style) {
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" {}>{}</text>", x, y, style, text);
}

double XOf(double time_s, const Span& span) {
  const double length_s = span.to_s - span.from_s;
  return kLeft + (kRight - kLeft) * (length_s > 0 ? (time_s - span.from_s) / length_s : 0);
}

std::string TraceDrawing(const PageJson& trace, const Span& span, double y0) {
  const std::vector<double> time_s = trace["time_s"], low_of = trace["low"], high_of = trace["high"];
  const double top = high_of.empty() ? 0.0 : *std::max_element(high_of.begin(), high_of.end());
  const double full = RoundUp(top), base = y0 + kTraceHeight;
  const auto at = [&](double v) { return base - kTraceHeight * (v < 0 ? 0 : v) / full; };
  std::string svg = fmt::format("<path class=\"hair\" d=\"M{0} {1:.1f}H{2}\"/>", kLeft, base, kRight);
  svg += Words(4, y0 + 16, TextAt(trace, "name"), "font-size=\"13\"");
  svg += Words(4, y0 + 31, TextAt(trace, "unit"), "font-size=\"11\" class=\"soft\"");
  svg += Words(kLeft - 6, y0 + 9, Plain(full), "font-size=\"11\" text-anchor=\"end\"");
  svg += Words(kLeft - 6, base, "0", "font-size=\"11\" text-anchor=\"end\"");
  const std::optional<double> limit = NumberAt(trace, "limit");
  if (limit && *limit <= full) {
    svg += fmt::format("<path d=\"M{0} {1:.1f}H{2}\" fill=\"none\" stroke=\"#a3341c\" stroke-dasharray=\"5 3\" "
                       "stroke-width=\".9\"/>", kLeft, at(*limit), kRight);
  }
  std::string path;
  for (std::size_t i = 0; i < time_s.size(); ++i) {
    const double high = at(high_of[i]), low = at(low_of[i]);
    path += fmt::format("{}{:.1f} {:.1f}", path.empty() ? "M" : "L", XOf(time_s[i], span), high);
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
  for (const PageFinding& numbered : page.findings) {
    const std::optional<double> time_s = NumberAt(*numbered.json, "time_s");
    if (!time_s || !(*time_s >= 0 && *time_s <= span_s) || ++count > kMostFlags) continue;
    const double x = kLeft + (kRight - kLeft) * (span_s > 0 ? *time_s / span_s : 0);
    // Flags of nearly one moment stand side by side.
    const double flag = std::abs(x - free_from) < 22 ? free_from + 22 : x;
    free_from = flag;
    const bool fail = numbered.fails();
    svg += fmt::format("<a href=\"#f{0}\" data-f=\"{0}\" aria-label=\"finding {0}\">", numbered.number);
    svg += fmt::format("<path d=\"M{0:.1f} 22V{1}\" stroke=\"{2}\" stroke-width=\".9\"/>", x, bottom,
                       fail ? "#a3341c" : "#1d2430");
    svg += fmt::format("<rect x=\"{:.1f}\" y=\"6\" width=\"20\" height=\"15\" {}/>", flag - 10,
                       fail ? "class=\"alarm\"" : "fill=\"#fff\" stroke=\"#1d2430\" stroke-width=\".8\"");
    svg += Words(flag, 17.5, std::to_string(numbered.number),
                 fail ? "font-size=\"11\" text-anchor=\"middle\" class=\"white\""
                      : "font-size=\"11\" text-anchor=\"middle\"");
    svg += "</a>";
  }
  return svg;
}

}  // namespace

std::string StripChart(const Page& page) {
  const PageJson& chart = page.figures["over_the_job"];
  if (chart.is_null()) return "";
  const PageJson& traces = chart["traces"];
  const Span span{ValueAt(chart, "from_s"), ValueAt(chart, "to_s")};
  const double bottom = kTop + static_cast<double>(traces.size()) * (kTraceHeight + kTraceGap) - kTraceGap;
  std::string names;
  for (const PageJson& trace : traces) names += (names.empty() ? "" : ", ") + TextAt(trace, "name");
  std::string svg = fmt::format("<div id=\"charts\" class=\"charts\" hidden></div>\n<svg class=\"strip\" viewBox=\"0 0 1030 {:.0f}\" role=\"group\" "
                                "aria-label=\"Over the job: {}\">\n", bottom + 26, names);
  svg += TimeMarks(span.to_s - span.from_s, bottom) + "\n";
  for (std::size_t i = 0; i < traces.size(); ++i) {
    svg += TraceDrawing(traces[i], span, kTop + static_cast<double>(i) * (kTraceHeight + kTraceGap));
  }
  return svg + Flags(page, span.to_s - span.from_s, bottom) + "</svg>\n";
}

}  // namespace aircut::verify
