#pragma once

#include <array>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace aircut::verify {

/// A finding as report.json holds it.
struct ReportedFinding {
  std::string check, text;
  int line = 0;                                  ///< 0 = none
  std::optional<std::array<double, 3>> at_mm;    ///< on the workpiece
  double value = 0.0, limit = 0.0;
};

struct ReportedCheck {
  std::string id, result;                        ///< pass, unproven or fail
};

/// A number of a report by its name; empty where the report could not tell it.
struct ReportedNumber {
  std::string name;
  std::optional<double> value;
};

/// What two reports are compared by.
struct ReportedRun {
  std::string job;                               ///< name of it
  std::string headline;
  std::string verdict;
  std::vector<ReportedCheck> checks;
  std::vector<ReportedFinding> findings;
  std::vector<ReportedNumber> numbers;
};

/// Reads report.json of a folder that `aircut dryrun` wrote.
/// @throws sim::InputError in one sentence where it is not there or not such a report.
ReportedRun ReadReport(const std::filesystem::path& folder);

struct NumberChange {
  std::string name;
  std::optional<double> before, after;
  bool worse = false;
};

struct FindingChange {
  ReportedFinding before, after;
  bool grown = false;          ///< farther beyond its limit than before
};

struct CheckChange {
  std::string id, before, after;
  bool worse = false;
};

/// From a first report to a second one. Findings are the same where check and place (within
/// 2 mm; without a place the line) agree, nearest first. Worse: a check's result nearer to
/// fail, a new or grown finding, a larger depth error, less within the limit, a number that
/// is not known any more. Time and volume are told, not judged.
struct Comparison {
  std::vector<CheckChange> checks;               ///< whose result changed
  std::vector<ReportedFinding> added, gone;
  std::vector<FindingChange> kept;
  std::vector<NumberChange> numbers;             ///< that changed

  bool worse() const;
};

/// What a finding is, seen from an earlier report.
enum class Since { kNew, kUnchanged, kGrown };

/// One mark a finding of `after`, in their order; and those of `before` that are gone.
struct FindingMarks {
  std::vector<Since> since;
  std::vector<ReportedFinding> gone;
};
FindingMarks MarkFindings(const std::vector<ReportedFinding>& before, const std::vector<ReportedFinding>& after);

Comparison Compare(const ReportedRun& before, const ReportedRun& after);

}  // namespace aircut::verify
