#pragma once

#include <string>
#include <vector>

#include "verify/report.h"

namespace aircut::verify {

/// A finding with the number that it has everywhere on the page.
struct NumberedFinding {
  int number = 0;
  const Finding* finding = nullptr;
  const CheckResult* check = nullptr;
};

/// What the sections of the page are made of.
struct Page {
  const ReportContext& context;
  std::vector<const CheckResult*> computed;      ///< fail, unproven, pass; catalogue order within
  std::vector<const CheckResult*> not_computed;
  std::vector<NumberedFinding> findings;         ///< in the order of `computed`
};

/// The style sheet of the page: screen and A4.
const char* PageStyle();

/// The small numbered flag that ties finding, check and place together; filled
/// with the alarm colour for a fail, outlined otherwise.
std::string Tab(const NumberedFinding& finding);

// Sections of report.html, in reading order; empty text where there is nothing
// to tell.
std::string PictureSection(const Page& page, const PiecePicture& picture);
std::string NearestSection(const Page& page);   ///< where bodies come nearest, drawn
std::string BlindSpotSection(const Page& page);
std::string CheckSection(const Page& page);
std::string ExecutedSection(const Page& page);  ///< what bends, beside the cut as commanded
std::string FindingSection(const Page& page);
std::string FirstCutSection(const Page& page);
std::string TimeSection(const Page& page);
std::string StripChart(const Page& page);   ///< for a complete motion only
std::string SourceSection(const Page& page);

}  // namespace aircut::verify
