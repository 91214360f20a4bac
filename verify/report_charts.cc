#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "verify/report_parts.h"
#include "verify/report_text.h"

// Design against cut in two sections, and how the depth error spreads.
namespace aircut::verify {
namespace {

constexpr double kWidth = 1030, kLeft = 64, kRight = 1010, kTop = 14, kHeight = 150;
constexpr double kMostStretch = 20.0;

std::string Words(double x, double y, const std::string& text, const char* style = "font-size=\"12\"") {
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" {}>{}</text>", x, y, style, text);
}

// Where a section is drawn: places to the right, heights up, heights stretched.
struct Frame {
  double left_mm = 0, per_mm = 1, top_mm = 0, stretch = 1;
  double X(double mm) const { return kLeft + (mm - left_mm) * per_mm; }
  double Y(double mm) const { return kTop + (top_mm - mm) * per_mm * stretch; }
};

// Heights are stretched by a whole number, so that the tolerance can be seen; what is steep
// is drawn smaller.
Frame FrameOf(const std::vector<double>& place, const std::vector<double>& a, const std::vector<double>& b, double around_mm) {
  const auto [low_a, high_a] = std::minmax_element(a.begin(), a.end());
  const auto [low_b, high_b] = std::minmax_element(b.begin(), b.end());
  const double low = std::min(*low_a, *low_b) - around_mm, high = std::max(*high_a, *high_b) + around_mm;
  Frame frame;
  frame.left_mm = place.front();
  frame.per_mm = (kRight - kLeft) / std::max(place.back() - place.front(), 1e-6);
  frame.top_mm = high;
  const double most = kHeight / std::max((high - low) * frame.per_mm, 1e-9);
  frame.per_mm *= std::min(most, 1.0);
  frame.stretch = std::max(1.0, std::floor(std::min(most, kMostStretch)));
  return frame;
}

std::string Line(const std::vector<double>& place, const std::vector<double>& height, const Frame& frame, double raised_mm = 0.0) {
  std::string path;
  for (std::size_t i = 0; i < place.size(); ++i) {
    path += fmt::format("{}{:.1f} {:.1f}", i == 0 ? "M" : "L", frame.X(place[i]), frame.Y(height[i] + raised_mm));
  }
  return path;
}

// The tolerance on both sides of the design, as a closed band.
std::string Band(const std::vector<double>& place, const std::vector<double>& height, const Frame& frame, double tolerance_mm) {
  std::string path = Line(place, height, frame, tolerance_mm);
  for (std::size_t i = place.size(); i-- > 0;) path += fmt::format("L{:.1f} {:.1f}", frame.X(place[i]), frame.Y(height[i] - tolerance_mm));
  return path + "Z";
}

std::string ScaleWords(double stretch) {
  return stretch > 1 ? fmt::format("heights are drawn {} times as large as lengths", Plain(stretch))
                     : std::string("heights and lengths are drawn to one scale");
}

std::string SectionDrawing(const PageJson& section, double tolerance_mm) {
  const std::vector<double> place = section["place_mm"], design = section["design_mm"], cut = section["cut_mm"];
  const Frame frame = FrameOf(place, design, cut, 2 * tolerance_mm);
  const auto lowest = [](const std::vector<double>& v) { return *std::min_element(v.begin(), v.end()); };
  const double bottom = frame.Y(std::min(lowest(design), lowest(cut)) - 2 * tolerance_mm);
  const std::string along = TextAt(section, "along"), across = TextAt(section, "across");
  std::string svg = fmt::format("<figure><svg class=\"chart\" viewBox=\"0 0 {} {:.0f}\" role=\"img\" aria-label=\"Section along {} at {} {} mm\">\n",
                                kWidth, bottom + 30, along, across, Number(ValueAt(section, "at_mm"), 1));
  svg += fmt::format("<path class=\"band\" d=\"{}\"/>\n<path class=\"pen\" stroke-width=\".8\" stroke-dasharray=\"5 3\" d=\"{}\"/>\n"
                     "<path class=\"pen\" stroke-width=\"1.5\" d=\"{}\"/>\n",
                     Band(place, design, frame, tolerance_mm), Line(place, design, frame), Line(place, cut, frame));
  svg += fmt::format("<path class=\"hair\" d=\"M{} {:.1f}H{}\"/>", kLeft, bottom + 6, kRight);
  svg += Words(kLeft, bottom + 21, along + " " + Number(place.front(), 0) + "\u00a0mm") +
         Words(frame.X(place.back()), bottom + 21, Number(place.back(), 0) + "\u00a0mm", "font-size=\"12\" text-anchor=\"end\"");
  const double bar_mm = std::max(1.0, std::floor(0.2 * kHeight / (frame.per_mm * frame.stretch)));
  svg += fmt::format("<path class=\"pen\" stroke-width=\"1.6\" d=\"M46 {:.1f}h-6v{:.1f}h6\"/>", kTop + 10.0, bar_mm * frame.per_mm * frame.stretch) +
         Words(36, kTop + 14 + 0.5 * bar_mm * frame.per_mm * frame.stretch, Plain(bar_mm), "font-size=\"12\" text-anchor=\"end\"");
  return svg + fmt::format("</svg><figcaption>Along {} at {} {}\u00a0mm: cut (full line) and design (dashed) with its tolerance of ±{}\u00a0mm (grey); "
                           "{}.</figcaption></figure>\n",
                           along, across, Number(ValueAt(section, "at_mm"), 1), Plain(tolerance_mm), ScaleWords(frame.stretch));
}

std::string HistogramDrawing(const PageJson& h, double tolerance_mm) {
  const std::vector<double> share = h["share"];
  const double below = ValueAt(h, "below"), above = ValueAt(h, "above"), step_mm = ValueAt(h, "step_mm"), from_mm = ValueAt(h, "from_mm");
  const double most = std::max({*std::max_element(share.begin(), share.end()), below, above, 1e-9});
  const double width = (kRight - kLeft) / (static_cast<double>(share.size()) + 2.0), base = kTop + kHeight;
  const auto x_of = [&](double mm) { return kLeft + width * (1.0 + (mm - from_mm) / step_mm); };
  std::string svg = fmt::format("<figure><svg class=\"chart\" viewBox=\"0 0 {} {:.0f}\" role=\"img\" aria-label=\"How the depth error spreads over the "
                                "carving\">\n", kWidth, base + 40);
  svg += fmt::format("<rect class=\"band\" x=\"{:.1f}\" y=\"{}\" width=\"{:.1f}\" height=\"{}\"/>", x_of(-tolerance_mm), kTop - 8,
                     x_of(tolerance_mm) - x_of(-tolerance_mm), kHeight + 8);
  const auto bar = [&](double x, double part, const char* style) {
    const double height = kHeight * part / most;
    if (part > 0) svg += fmt::format("<rect class=\"{}\" x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\"/>", style, x + 1, base - height, width - 2, height);
  };
  bar(kLeft, below, "deep");
  for (std::size_t i = 0; i < share.size(); ++i) {
    const double low = from_mm + static_cast<double>(i) * step_mm, middle = low + 0.5 * step_mm;
    bar(x_of(low), share[i], middle < -tolerance_mm ? "deep" : middle > tolerance_mm ? "high" : "within");
  }
  bar(kRight - width, above, "high");
  svg += fmt::format("\n<path class=\"pen\" d=\"M{} {}H{}\"/>", kLeft, base, kRight);
  for (const int tolerances : {-4, -2, -1, 0, 1, 2, 4}) {
    const double mm = tolerances * tolerance_mm;
    svg += Words(x_of(mm), base + 16, (mm > 0 ? "+" : "") + Plain(mm), "font-size=\"12\" text-anchor=\"middle\"");
  }
  svg += Words(kLeft, base + 32, "cut too deep", "font-size=\"12\"") + Words(kRight, base + 32, "left standing, mm", "font-size=\"12\" text-anchor=\"end\"") +
         Words(kLeft - 6, kTop + 6, Percent(most), "font-size=\"12\" text-anchor=\"end\"") + Words(kLeft - 6, base, "0", "font-size=\"12\" text-anchor=\"end\"");
  return svg + fmt::format("</svg><figcaption>Share of the carved area by depth error, in steps of {}\u00a0mm; grey is the tolerance of ±{}\u00a0mm. Beyond the "
                           "ends: {} deeper, {} higher.</figcaption></figure>\n", Plain(step_mm), Plain(tolerance_mm), Percent(below), Percent(above));
}

}  // namespace

std::string DepthSections(const Page& page) {
  const double tolerance_mm = ValueAt(page.report["depth"], "tolerance_mm");
  std::string html;
  if (!page.figures["histogram"].is_null()) html += HistogramDrawing(page.figures["histogram"], tolerance_mm);
  for (const PageJson& section : page.figures["sections"]) html += SectionDrawing(section, tolerance_mm);
  return html.empty() ? "" : "<h2>Depth against the design</h2>\n" + html;
}

}  // namespace aircut::verify
