#pragma once

#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "verify/report.h"

namespace aircut::verify {

// Private to the page: its sections, made of the files of the report folder.

using PageJson = nlohmann::json;

/// A finding as the page tells it.
struct PageFinding {
  int number = 0;                    ///< the same everywhere on the page
  const PageJson* json = nullptr;
  std::string result;                ///< of its check: fail, unproven or pass
  bool fails() const { return result == "fail"; }
};

/// What the sections of the page are made of.
struct Page {
  PageJson report, figures;
  const std::map<std::string, std::vector<unsigned char>>& pictures;
  std::vector<const PageJson*> checks;           ///< fail, unproven, pass; report order within
  std::vector<PageFinding> findings;             ///< by number
};

/// @returns the number at a key; nothing for null.
std::optional<double> NumberAt(const PageJson& json, const char* key);
/// @returns the number at a key; NaN for null.
double ValueAt(const PageJson& json, const char* key);
/// @returns the text at a key, escaped.
std::string TextAt(const PageJson& json, const char* key);

/// A picture as a data address; empty where there is no such file.
std::string PictureAddress(const Page& page, const std::string& file);

/// The style sheet of the page: screen and A4.
const char* PageStyle();

/// The small numbered flag that ties finding, check and place together: filled with the
/// alarm colour for a fail, outlined otherwise; a link to the finding.
std::string Tab(const PageFinding& finding);

// Sections of report.html, in reading order; empty text where there is nothing to tell.
std::string PictureSection(const Page& page);
std::string SolidSection(const Page& page);        ///< for scripts: piece and cell to be turned
std::string DepthSections(const Page& page);       ///< sections and histogram
std::string FeatureSection(const Page& page);      ///< limits by region, small things of design and cut
std::string NearestSection(const Page& page);      ///< where bodies come nearest, drawn
std::string BlindSpotSection(const Page& page);
std::string PremiseSection(const Page& page);
std::string CheckSection(const Page& page);
std::string FindingSection(const Page& page);
std::string WaiverSection(const Page& page);
std::string FirstCutSection(const Page& page);
std::string TimeSection(const Page& page);
std::string StripChart(const Page& page);          ///< for a complete motion only
std::string LayerSection(const Page& page);        ///< error layers, and apart from them the uncertainties
std::string SourceSection(const Page& page);

}  // namespace aircut::verify
