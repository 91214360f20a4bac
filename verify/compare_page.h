#pragma once

#include <string>

#include "verify/report_comparison.h"

namespace aircut::verify {

/// A report that was read, and the folder it lies in.
struct ReadRun {
  std::string folder;
  const ReportedRun& run;
};

/// The differences as one page that loads nothing and runs nothing. Pictures of the
/// pieces are taken from the folders where they are.
std::string ComparisonHtml(const ReadRun& before, const ReadRun& after, const Comparison& comparison);

/// The same as JSON: verdicts, checks, findings and numbers that changed.
std::string ComparisonJson(const ReadRun& before, const ReadRun& after, const Comparison& comparison);

}  // namespace aircut::verify
