#include <cmath>

#include <fmt/format.h>

#include "verify/cause_words.h"
#include "verify/report_parts.h"
#include "verify/report_text.h"

// The drawing of the carved piece with its scale, findings and axes.
namespace aircut::verify {
namespace {

constexpr int kScaleRoom = 186;        // right of the picture
constexpr std::size_t kMostMarks = 24;

std::string Hex(const Colour& c) { return fmt::format("#{:02x}{:02x}{:02x}", c[0], c[1], c[2]); }

std::string Text(double x, double y, const std::string& text, const char* style = "") {
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"16\" {}>{}</text>", x, y, style, text);
}

// The stepped scale, purple above, with the band of tolerance drawn in ink.
std::string ScaleDrawing(double tolerance_mm, int x, int height) {
  const std::vector<ColourStep> steps = DeviationScale(tolerance_mm);
  const double room = (height - 170.0) / static_cast<double>(steps.size());
  const double step_px = room > 44 ? 44 : room < 6 ? 6 : room, width = 24;
  double y = 0.5 * (height - 24 - step_px * static_cast<double>(steps.size()));
  std::string svg = Text(x, y - 34, "depth error, mm") + Text(x, y - 12, "left standing");
  for (std::size_t i = steps.size(); i-- > 0;) {
    const ColourStep& step = steps[i];
    svg += fmt::format("<rect x=\"{}\" y=\"{:.1f}\" width=\"{}\" height=\"{}\" fill=\"{}\"/>", x, y,
                       width, step_px, Hex(step.colour));
    if (step.to_mm < 0) {
      svg += fmt::format("<rect x=\"{}\" y=\"{:.1f}\" width=\"{}\" height=\"{}\" fill=\"url(#deep)\"/>",
                         x, y, width, step_px);
    }
    const bool within = step.from_mm < 0 && step.to_mm > 0;
    if (within) {
      svg += fmt::format("<rect class=\"pen\" x=\"{}\" y=\"{:.1f}\" width=\"{}\" height=\"{}\" "
                         "stroke-width=\"1.6\"/>", x, y, width, step_px);
      svg += Text(x + width + 8, y + step_px / 2 + 5, "within ±" + Plain(tolerance_mm));
    } else if (step.to_mm < 0) {
      svg += Text(x + width + 8, y + 5, Plain(step.to_mm));
    } else {
      svg += Text(x + width + 8, y + step_px + 5, "+" + Plain(step.from_mm));
    }
    y += step_px;
  }
  svg += Text(x, y + 22, "cut too deep");
  const Colour other = DeviationColour(std::nan(""), tolerance_mm);
  svg += fmt::format("<rect x=\"{}\" y=\"{:.1f}\" width=\"{}\" height=\"16\" fill=\"{}\"/>", x, y + 44,
                     width, Hex(other));
  return svg + Text(x + width + 8, y + 57, "not of the design,") +
         Text(x + width + 8, y + 76, "or not known");
}

// A round length of about a sixth of the picture.
std::string ScaleBar(const PieceView& view) {
  const double wanted_mm = view.mm_per_px * view.width_px / 6.0;
  double length_mm = std::pow(10.0, std::floor(std::log10(wanted_mm)));
  for (const double factor : {5.0, 2.0}) {
    if (length_mm * factor <= wanted_mm) {
      length_mm *= factor;
      break;
    }
  }
  const double px = length_mm / view.mm_per_px, y = view.height_px - 22.0;
  return fmt::format("<path class=\"pen\" stroke-width=\"2\" d=\"M24 {0:.1f}v8h{1:.1f}v-8\"/>", y - 4, px) +
         Text(24 + px / 2, y - 8, Plain(length_mm) + "\u00a0mm", "text-anchor=\"middle\"");
}

// Directions of the axes of S that are not seen end on.
std::string Axes(const PieceView& view) {
  const double x0 = 46, y0 = view.height_px - 96.0, length = 44;
  std::string svg;
  const char* names[] = {"x", "y", "z"};
  for (int axis = 0; axis < 3; ++axis) {
    const double right = view.right_S[axis], up = view.up_S[axis];
    if (std::hypot(right, up) < 0.3) continue;
    const double x = x0 + length * right, y = y0 - length * up;
    svg += fmt::format("<path class=\"pen\" stroke-width=\"1.3\" d=\"M{:.1f} {:.1f}L{:.1f} {:.1f}\"/>", x0, y0, x, y);
    svg += Text(x0 + (length + 13) * right, y0 - (length + 13) * up + 5, names[axis],
                "text-anchor=\"middle\" font-style=\"italic\"");
  }
  return svg;
}

struct Mark {
  Eigen::Vector2d px;
  const NumberedFinding* finding = nullptr;
};

std::vector<Mark> MarksOf(const Page& page, const PieceView& view) {
  std::vector<Mark> marks;
  for (const NumberedFinding& numbered : page.findings) {
    if (!numbered.finding->at_S || marks.size() == kMostMarks) continue;
    Eigen::Vector2d px = view.PixelOf(*numbered.finding->at_S);
    const bool seen = px.x() >= 14 && px.x() <= view.width_px - 14 && px.y() >= 14 &&
                      px.y() <= view.height_px - 14;
    if (!seen) continue;
    // Marks of one place stand side by side.
    for (const Mark& other : marks) {
      if (std::abs(other.px.y() - px.y()) < 20 && std::abs(other.px.x() - px.x()) < 27) {
        px.x() = other.px.x() + 28;
      }
    }
    marks.push_back({px, &numbered});
  }
  return marks;
}

std::string MarkDrawing(const Mark& mark) {
  const bool fail = mark.finding->check->result == Result::kFail;
  const double x = mark.px.x(), y = mark.px.y();
  return fmt::format("<rect {} x=\"{:.1f}\" y=\"{:.1f}\" width=\"26\" height=\"19\"/>",
                     fail ? "class=\"alarm\"" : "fill=\"#fff\" stroke=\"#1d2430\"", x - 13, y - 10) +
         Text(x, y + 5, std::to_string(mark.finding->number),
              fail ? "text-anchor=\"middle\" class=\"white\"" : "text-anchor=\"middle\"");
}

const char* AlongText(sim::DepthAlong along) {
  switch (along) {
    case sim::DepthAlong::kStockNormal: return "along the normal of the uncarved face";
    case sim::DepthAlong::kAxis: return "along the tool axis";
    case sim::DepthAlong::kFixed: return "along the direction that the job states";
  }
  return "";
}

std::string Caption(const Page& page) {
  const Deviation& deviation = page.context.deviation;
  std::string text = fmt::format("Depth error {}. ", AlongText(page.context.job.depth_along));
  if (deviation.carve_samples > deviation.unknown_samples && deviation.unseen_share < 1.0) {
    const double bound = deviation.bound_of_p95_mm;
    const int decimals = bound > 0 ? DecimalsFor(bound) : 2;
    text += fmt::format(
        "{} within ±{}\u00a0mm · RMS {}\u00a0mm · 95\u00a0% within {}\u00a0mm · deepest {}\u00a0mm below, "
        "highest {}\u00a0mm above the design",
        Percent(deviation.within_tolerance), Plain(page.context.job.accept.depth_mm.value),
        Number(deviation.rms_mm, decimals), Number(deviation.p95_mm, decimals),
        Number(deviation.max_gouge_mm, decimals), Number(deviation.max_leftover_mm, decimals));
    if (bound > 0) text += fmt::format(" · computing adds at most {}\u00a0mm", BoundText(bound));
    text += ".";
  }
  if (deviation.unknown_samples > 0) {
    text += fmt::format(" At {} of {} places nothing can be said.", Number(deviation.unknown_samples, 0),
                        Number(deviation.carve_samples, 0));
  }
  if (deviation.unseen_share > 0) {
    text += fmt::format(" {} of it lie under faces that no scan has seen and are not in these numbers.",
                        Percent(deviation.unseen_share));
  }
  if (deviation.cause) {
    text += fmt::format(" Probable cause, from {} places: {}.", Number(deviation.cause->places, 0),
                        CauseText(*deviation.cause, page.context.job));
  }
  return text;
}

}  // namespace

std::string PictureSection(const Page& page, const PiecePicture& picture) {
  std::string html = "<h2>The piece as it would be cut</h2>\n";
  if (picture.png.empty()) {
    return html + fmt::format("<p class=\"note\">There is no carved piece to draw. {}</p>\n", Caption(page));
  }
  const PieceView& view = picture.view;
  html += fmt::format("<figure><svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Depth error over the "
                      "carved piece\">\n", view.width_px + kScaleRoom, view.height_px);
  html += "<defs><pattern id=\"deep\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" "
          "patternTransform=\"rotate(45)\"><path d=\"M0 0V7\" stroke=\"#3a2600\" stroke-opacity=\".3\" "
          "stroke-width=\"1.6\"/></pattern></defs>\n";
  html += fmt::format("<image width=\"{}\" height=\"{}\" href=\"data:image/png;base64,{}\"/>\n",
                      view.width_px, view.height_px, Base64(picture.png));
  html += ScaleBar(view) + Axes(view) + "\n";
  for (const Mark& mark : MarksOf(page, view)) html += MarkDrawing(mark) + "\n";
  html += ScaleDrawing(page.context.job.accept.depth_mm.value, view.width_px + 22, view.height_px);
  return html + fmt::format("\n</svg><figcaption>{}</figcaption></figure>\n", Caption(page));
}

}  // namespace aircut::verify
