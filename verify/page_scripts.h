#pragma once

#include <string>
#include <vector>

namespace aircut::verify {

/// A script that stands in the page.
struct PageScript {
  std::string text;
  std::string sha256_base64;     ///< for the page's Content-Security-Policy
};

/// In order: charts (dygraphs), solids (three.js), then what ties them to this page.
const std::vector<PageScript>& PageScripts();

/// Style of the charts.
const std::string& ChartStyle();

/// Copyright and licence texts of the packaged scripts, as their packages state them.
const std::string& PageNotices();

}  // namespace aircut::verify
