#include "verify/stroke_font.h"

#include <algorithm>
#include <map>

namespace aircut::verify {
namespace {

// A letter is strokes parted by blanks; a stroke is points of two characters: x
// from '0', y from 'e' = baseline; a capital ends at 'q' = 12, a small letter at
// 'm'. '~' makes the points the guide of a smooth curve from first to last.
constexpr double kCapital = 12.0, kGap = 3.2, kBlank = 5.0;
constexpr int kCurveSteps = 5;

const std::map<char32_t, const char*>& Letters() {
  static const std::map<char32_t, const char*> letters = {   // immutable
      {'A', "0e4q8e 1i7i"}, {'B', "0e0q ~0q4q7q7k4k0k ~0k5k8k8e5e0e"}, {'C', "~8o7q4q0q0e4e7e8g"},
      {'D', "0e0q ~0q3q8q8e3e0e"}, {'E', "7q0q0e7e 0k5k"}, {'F', "7q0q0e 0k5k"},
      {'G', "~8o7q4q0q0e4e7e8g 8g8k5k"}, {'H', "0e0q 8e8q 0k8k"}, {'I', "0e0q"}, {'J', "~5q5h5e2e0e0g"},
      {'K', "0e0q 7q0i 2k8e"}, {'L', "0q0e6e"}, {'M', "0e0q4h8q8e"}, {'N', "0e0q8e8q"}, {'O', "~4q0q0e8e8q4q"},
      {'P', "0e0q ~0q5q8q8j5j0j"}, {'Q', "~4q0q0e8e8q4q 5h8d"}, {'R', "0e0q ~0q5q8q8j5j0j 4j8e"},
      {'S', "~8o7q4q0q0k4k8k8e4e1e0g"}, {'T', "0q8q 4q4e"}, {'U', "~0q0i0e4e8e8i8q"}, {'V', "0q4e8q"},
      {'W', "0q2e5o7e9q"}, {'X', "0e8q 0q8e"}, {'Y', "0q4k8q 4k4e"}, {'Z', "0q8q0e8e"},
      {'a', "~6k5m3m0m0e3e5e6g 6m6e"}, {'b', "0q0e ~0k1m3m6m6e3e1e0g"}, {'c', "~6k5m3m0m0e3e5e6g"},
      {'d', "~6k5m3m0m0e3e5e6g 6q6e"}, {'e', "0i6i ~6i6m3m0m0e3e5e6g"}, {'f', "~5q2q2n2e 0m4m"},
      {'g', "~6k5m3m0m0e3e5e6g ~6m6d6a3a1a0b"}, {'h', "0q0e ~0i1m4m6m6j6e"}, {'i', "0m0e 0p0q"},
      {'j', "~2m2c2a0a 2p2q"}, {'k', "0q0e 5m0h 2j6e"}, {'l', "0q0e"},
      {'m', "0m0e ~0j0m2m4m4j4e ~4j4m6m8m8j8e"}, {'n', "0m0e ~0i1m4m6m6j6e"}, {'o', "~3m0m0e6e6m3m"},
      {'p', "0m0a ~0k1m3m6m6e3e1e0g"}, {'q', "~6k5m3m0m0e3e5e6g 6m6a"}, {'r', "0m0e ~0j1m3m4m"},
      {'s', "~5k4m3m0m0i3i5i5e3e1e0g"}, {'t', "~2p2g2e4e5f 0m4m"}, {'u', "~0m0h0e3e5e6h 6m6e"}, {'v', "0m3e6m"},
      {'w', "0m2e4l6e8m"}, {'x', "0e6m 0m6e"}, {'y', "0m3e 6m1a"}, {'z', "0m6m0e6e"},
      {'0', "~3q0q0e7e7q3q"}, {'1', "0n3q3e"}, {'2', "~0n0q3q7q7l5j0e 0e7e"}, {'3', "~0o1q4q7q7k3k ~3k7k7e3e1e0g"},
      {'4', "5e5q0h7h"}, {'5', "6q1q0k ~0k2m4m7m7e3e1e0g"}, {'6', "~6p4q0p0e7e7l3l0k0j"}, {'7', "0q7q2e"},
      {'8', "~3q0q0l7k7e0e0k7l7q3q"}, {'9', "~1f3e7f7q0q0j4j7k7l"},
      {'.', "0e0f"}, {',', "1f0c"}, {':', "0e0f 0k0l"}, {';', "1f0c 1k1l"}, {'-', "0j4j"}, {'+', "0j6j 3g3m"},
      {'=', "0h6h 0l6l"}, {'(', "~2r0o0f2c"}, {')', "~0r2o2f0c"}, {'[', "2r0r0c2c"}, {']', "0r2r2c0c"},
      {'/', "0c5r"}, {'_', "0d6d"}, {'\'', "0q0n"}, {'"', "0q0n 2q2n"}, {'#', "1e3q 4e6q 0i7i 0m7m"},
      {'!', "0q0i 0e0f"}, {'?', "~0o0q3q6q6l3l3i 3e3f"}, {'*', "0h6n 0n6h"}, {'<', "6o0k6g"}, {'>', "0o6k0g"},
      {'%', "0e7q ~1q0q0n2n2q1q ~6h5h5e7e7h6h"}, {'&', "~7j5e0e0i5n5q2q1n7e"}, {'@', "~6h6l3l3h6h8h8n0q0e8d"},
      {0xB0, "~2q0q0m4m4q2q"}, {0xB2, "~0o0q2q3q3o0l 0l3l"}, {0xF8, "~4p0p0f8f8p4p 0d8r"}};
  return letters;
}

std::vector<char32_t> Characters(const std::string& text) {
  std::vector<char32_t> out;
  for (std::size_t i = 0; i < text.size();) {
    const auto lead = static_cast<unsigned char>(text[i++]);
    char32_t c = lead;
    if (lead >= 0xC0) c = lead < 0xE0 ? lead & 0x1F : lead < 0xF0 ? lead & 0x0F : lead & 0x07;
    while (lead >= 0xC0 && i < text.size() && (static_cast<unsigned char>(text[i]) & 0xC0) == 0x80) {
      c = c << 6 | (static_cast<unsigned char>(text[i++]) & 0x3F);
    }
    out.push_back(c);
  }
  return out;
}

using Stroke = std::vector<Eigen::Vector2d>;

// Quadratic arcs that touch the middle of every side of the guide.
Stroke Smooth(const Stroke& guide) {
  Stroke curve = {guide.front()};
  for (std::size_t i = 1; i + 1 < guide.size(); ++i) {
    const Eigen::Vector2d from = curve.back();
    const bool last = i + 2 == guide.size();
    const Eigen::Vector2d to = last ? guide.back() : Eigen::Vector2d(0.5 * (guide[i] + guide[i + 1]));
    for (int step = 1; step <= kCurveSteps; ++step) {
      const double t = static_cast<double>(step) / kCurveSteps;
      curve.push_back((1 - t) * (1 - t) * from + 2 * t * (1 - t) * guide[i] + t * t * to);
    }
  }
  return curve;
}

std::vector<Stroke> StrokesOf(const std::string& code) {
  std::vector<Stroke> strokes;
  for (std::size_t i = 0; i < code.size();) {
    const bool smooth = code[i] == '~';
    if (smooth) ++i;
    Stroke stroke;
    for (; i + 1 < code.size() && code[i] != ' '; i += 2) stroke.emplace_back(code[i] - '0', code[i + 1] - 'e');
    strokes.push_back(smooth ? Smooth(stroke) : stroke);
    ++i;   // the blank
  }
  return strokes;
}

}  // namespace

Lettering Letter(const std::string& text, double capital) {
  constexpr char kBox[] = "0e0q7q7e0e";
  const double scale = capital / kCapital;
  Lettering lettering;
  double at = 0, end = 0;
  for (const char32_t c : Characters(text)) {
    if (c == ' ') {
      at += kBlank;
      continue;
    }
    const auto found = Letters().find(c);
    double width = 0;
    for (Stroke& stroke : StrokesOf(found == Letters().end() ? kBox : found->second)) {
      for (Eigen::Vector2d& p : stroke) {
        width = std::max(width, p.x());
        p = scale * (p + Eigen::Vector2d(at, 0));
      }
      lettering.strokes.push_back(std::move(stroke));
    }
    end = at + width;
    at = end + kGap;
  }
  lettering.width = scale * end;
  return lettering;
}

}  // namespace aircut::verify
