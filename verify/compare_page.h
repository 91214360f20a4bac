#pragma once

#include <string>

#include "verify/report_comparison.h"
#include "verify/scan_comparison.h"
#include "verify/scan_verdict.h"

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

/// A scan of the real piece that was held against a run.
struct ReadScan {
  std::string folder, scan;                ///< of the report, and the scan's file
  const PredictedSurface& predicted;
  const ScanComparison& comparison;
  const ScanVerdict& verdict;
  std::optional<double> depth_limit_mm;    ///< what the job accepts; nothing: not stated
};

/// What the scan says of the run as one page that loads nothing and runs nothing, with the
/// piece drawn by measured less predicted.
std::string ScanHtml(const ReadScan& read);

/// The same as JSON: the fit, the numbers and all regions; null for what is not known.
std::string ScanJson(const ReadScan& read);

}  // namespace aircut::verify
