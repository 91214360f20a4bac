#include <cmath>

#include <fmt/format.h>

#include "verify/report_parts.h"
#include "verify/report_text.h"
#include "verify/words.h"

// The drawing of the carved piece with its scale, findings and axes.
namespace aircut::verify {
namespace {

constexpr int kScaleRoom = 204;        // right of the picture
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

PieceView ViewIn(const PageJson& json) {
  const auto vector = [&](const char* key) {
    const PageJson& v = json[key];
    return Eigen::Vector3d(v[0].get<double>(), v[1].get<double>(), v[2].get<double>());
  };
  PieceView view;
  view.right_S = vector("right"), view.up_S = vector("up"), view.look_S = vector("look"), view.centre_S = vector("centre_mm");
  view.mm_per_px = ValueAt(json, "mm_per_px");
  view.width_px = json["width_px"], view.height_px = json["height_px"];
  return view;
}

struct Mark {
  Eigen::Vector2d px;
  const PageFinding* finding = nullptr;
};

std::vector<Mark> MarksOf(const Page& page, const PieceView& view) {
  std::vector<Mark> marks;
  for (const PageFinding& finding : page.findings) {
    const PageJson& at = (*finding.json)["at_mm"];
    if (at.is_null() || marks.size() == kMostMarks) continue;
    Eigen::Vector2d px = view.PixelOf({at[0].get<double>(), at[1].get<double>(), at[2].get<double>()});
    const bool seen = px.x() >= 14 && px.x() <= view.width_px - 14 && px.y() >= 14 &&
                      px.y() <= view.height_px - 14;
    if (!seen) continue;
    // Marks of one place stand side by side.
    for (const Mark& other : marks) {
      if (std::abs(other.px.y() - px.y()) < 20 && std::abs(other.px.x() - px.x()) < 27) {
        px.x() = other.px.x() + 28;
      }
    }
    marks.push_back({px, &finding});
  }
  return marks;
}

std::string MarkDrawing(const Mark& mark) {
  const bool fail = mark.finding->fails();
  const double x = mark.px.x(), y = mark.px.y();
  const std::string link = fmt::format("<a href=\"#f{0}\" data-f=\"{0}\" aria-label=\"finding {0}\">", mark.finding->number);
  return link + fmt::format("<rect {} x=\"{:.1f}\" y=\"{:.1f}\" width=\"26\" height=\"19\"/>",
                     fail ? "class=\"alarm\"" : "fill=\"#fff\" stroke=\"#1d2430\"", x - 13, y - 10) +
         Text(x, y + 5, std::to_string(mark.finding->number),
              fail ? "text-anchor=\"middle\" class=\"white\"" : "text-anchor=\"middle\"") +
         "</a>";
}

// The largest error in sight first, each with the side it lies on.
std::string Caption(const Page& page) {
  const PageJson &deviation = page.report["deviation"], &depth = page.report["depth"];
  std::string text = fmt::format("Depth error {}. ", TextAt(depth, "along"));
  const double unseen = ValueAt(depth, "unseen_share"), bound = ValueAt(depth, "p95_bound_mm");
  if (!deviation["within_tolerance"].is_null() && unseen < 1.0) {
    const int decimals = bound > 0 ? DecimalsFor(bound) : 2;
    const std::string within = page.report["features"]["regions"].empty()
                                   ? fmt::format("±{}\u00a0mm", Plain(ValueAt(depth, "tolerance_mm")))
                                   : std::string("the limit of their place");
    text += fmt::format(
        "{} within {} · RMS {}\u00a0mm · 95\u00a0% within {}\u00a0mm · deepest {}\u00a0mm below, "
        "highest {}\u00a0mm above the design",
        Percent(ValueAt(deviation, "within_tolerance")), within, Number(ValueAt(deviation, "rms_mm"), decimals),
        Number(ValueAt(deviation, "p95_mm"), decimals), Number(ValueAt(deviation, "max_gouge_mm"), decimals),
        Number(ValueAt(deviation, "max_leftover_mm"), decimals));
    if (bound > 0) text += fmt::format(" · computing adds at most {}\u00a0mm", BoundText(bound));
    text += ".";
  }
  if (depth["unknown_places"] > 0) {
    text += fmt::format(" At {} of {} places nothing can be said.", Number(ValueAt(depth, "unknown_places"), 0),
                        Number(ValueAt(depth, "places"), 0));
  }
  if (unseen > 0) {
    text += fmt::format(" {} of it lie under faces that no scan has seen and are not in these numbers.", Percent(unseen));
  }
  if (!depth["cause"].is_null()) {
    text += fmt::format(" Probable cause, from {} places: {}.", Number(ValueAt(depth, "cause_places"), 0), TextAt(depth, "cause"));
  }
  return text;
}

}  // namespace

std::string PictureSection(const Page& page) {
  std::string html = "<h2>The piece as it would be cut</h2>\n";
  const PageJson& piece = page.figures["piece"];
  const std::string address = piece.is_null() ? "" : PictureAddress(page, piece["file"]);
  if (address.empty()) {
    return html + fmt::format("<p class=\"note\">There is no carved piece to draw. {}</p>\n", Caption(page));
  }
  const PieceView view = ViewIn(piece);
  html += fmt::format("<figure><svg viewBox=\"0 0 {} {}\" role=\"group\" aria-label=\"Depth error over the "
                      "carved piece\">\n", view.width_px + kScaleRoom, view.height_px);
  html += "<defs><pattern id=\"deep\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" "
          "patternTransform=\"rotate(45)\"><path d=\"M0 0V7\" stroke=\"#3a2600\" stroke-opacity=\".3\" "
          "stroke-width=\"1.6\"/></pattern></defs>\n";
  html += fmt::format("<image width=\"{}\" height=\"{}\" href=\"{}\"/>\n", view.width_px, view.height_px, address);
  html += ScaleBar(view) + Axes(view) + "\n";
  for (const Mark& mark : MarksOf(page, view)) html += MarkDrawing(mark) + "\n";
  html += ScaleDrawing(ValueAt(page.report["depth"], "tolerance_mm"), view.width_px + 22, view.height_px);
  return html + fmt::format("\n</svg><figcaption>{}</figcaption></figure>\n", Caption(page));
}

// Hidden until a script can draw: the drawing above and below says the same on paper.
std::string SolidSection(const Page& page) {
  if (page.figures["solids"].is_null()) return "";
  return "<div id=\"solid\" class=\"solid\" hidden></div>\n";
}

std::string NearestSection(const Page& page) {
  const PageJson& nearest = page.figures["nearest"];
  if (nearest.is_null()) return "";
  const int line = nearest["line"];
  const std::string at = line > 0 ? Lines(line, line) : std::string("the way to or from the path");
  const double apart_mm = ValueAt(nearest, "apart_mm");
  return fmt::format(
      "<h2>Where bodies come nearest</h2>\n<figure><img class=\"wide\" src=\"{2}\" width=\"900\" height=\"560\" alt=\"{0} and {1} "
      "where they come nearest\"><figcaption>{0} and {1} at {3}, {4}: {5}. Rings mark the nearest point of each, seen square to the line between "
      "them; the piece is drawn uncut.</figcaption></figure>\n",
      TextAt(nearest, "first"), TextAt(nearest, "second"), PictureAddress(page, nearest["file"]), at, ClockText(ValueAt(nearest, "time_s")),
      apart_mm > 0 ? fmt::format("{} apart", Millimetres(apart_mm)) : std::string("they would collide"));
}

}  // namespace aircut::verify
