#include "verify/page_scripts.h"

#include "sim/file_hash.h"
#include "verify/report_text.h"

// The bytes of the files that the build names (verify/CMakeLists.txt), as they are.
#define AIRCUT_EMBED(symbol, file)                                                  \
  __asm__(".section .rodata\n"                                                      \
          ".global " #symbol "_begin\n" #symbol "_begin:\n.incbin \"" file "\"\n"   \
          ".global " #symbol "_end\n" #symbol "_end:\n.byte 0\n.previous\n");       \
  extern "C" const char symbol##_begin[], symbol##_end[];

AIRCUT_EMBED(aircut_charts_js, AIRCUT_CHARTS_JS)
AIRCUT_EMBED(aircut_charts_css, AIRCUT_CHARTS_CSS)
AIRCUT_EMBED(aircut_charts_notice, AIRCUT_CHARTS_NOTICE)
AIRCUT_EMBED(aircut_solids_js, AIRCUT_SOLIDS_JS)
AIRCUT_EMBED(aircut_solids_notice, AIRCUT_SOLIDS_NOTICE)
AIRCUT_EMBED(aircut_page_js, AIRCUT_PAGE_JS)

namespace aircut::verify {
namespace {

std::string Between(const char* begin, const char* end) { return {begin, end}; }

// A map of the source that is not there would be asked for.
std::string WithoutSourceMap(std::string text) {
  const std::size_t at = text.rfind("//# sourceMappingURL=");
  if (at != std::string::npos) text.resize(at);
  return text;
}

std::string CssWithoutSourceMap(std::string text) {
  const std::size_t at = text.rfind("/*# sourceMappingURL=");
  if (at != std::string::npos) text.resize(at);
  return text;
}

PageScript Script(const std::string& text) {
  const std::string hex = sim::Sha256OfText(text);
  std::vector<unsigned char> bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2) {
    bytes.push_back(static_cast<unsigned char>(std::stoi(hex.substr(i, 2), nullptr, 16)));
  }
  return {text, Base64(bytes)};
}

}  // namespace

const std::vector<PageScript>& PageScripts() {
  static const std::vector<PageScript> scripts = {
      Script(WithoutSourceMap(Between(aircut_charts_js_begin, aircut_charts_js_end))),
      Script(WithoutSourceMap(Between(aircut_solids_js_begin, aircut_solids_js_end))),
      Script(Between(aircut_page_js_begin, aircut_page_js_end))};   // immutable
  return scripts;
}

const std::string& ChartStyle() {
  static const std::string style = CssWithoutSourceMap(Between(aircut_charts_css_begin, aircut_charts_css_end));   // immutable
  return style;
}

const std::string& PageNotices() {
  static const std::string notices = "three.js\n\n" + Between(aircut_solids_notice_begin, aircut_solids_notice_end) +
                                     "\n\ndygraphs\n\n" + Between(aircut_charts_notice_begin, aircut_charts_notice_end);   // immutable
  return notices;
}

}  // namespace aircut::verify
