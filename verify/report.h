#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "sim/dry_run.h"
#include "verify/deviation.h"
#include "verify/picture.h"
#include "verify/verdict.h"

namespace aircut::verify {

struct ReportContext {
  const sim::Job& job;
  const sim::Run& run;
  const Deviation& deviation;
  const std::vector<CheckResult>& checks;
  const Verdict& verdict;
  double resolution_mm = 0.0;
  int threads = 1;
  double peak_mib = 0.0;
};

/// A file of the report folder, as report.json lists it.
struct OutputFile {
  std::string file;      ///< name inside the folder
  std::string sha256;
  std::int64_t bytes = 0;
};

/// The drawing of the carved piece and where its eye stands.
struct PiecePicture {
  std::vector<unsigned char> png;   ///< empty: nothing to draw
  PieceView view;
};

/// Asks before a long run whether a report may go to `folder`: it is new, empty
/// or holds nothing but a report. Changes nothing.
/// @throws sim::InputError as WriteReport.
void RequireReportFolder(const std::filesystem::path& folder);

/// Writes report.html, carved.ply, moments.csv, findings.sarif, junit.xml, where the
/// arm is to run it joint_path.csv, and the files of SideFiles into `folder` and
/// report.json last, with the hashes of its siblings. Nothing is computed here. All of it is written beside the folder as `<folder>.part`,
/// which then takes the folder's place in one step: a kill at any moment leaves
/// the old report or the new one. All files but report.json (which tells the
/// run's times) have the same bytes for the same input, for any thread count.
/// @throws sim::InputError if the folder cannot be written, or holds anything
/// that is not of a report (it would be lost).
void WriteReport(const ReportContext& context, const std::filesystem::path& folder);

/// The text of report.json (schema: verify/report.schema.json).
std::string ReportJson(const ReportContext& context, const std::vector<OutputFile>& outputs = {});

/// The text of report.html: one page, no scripts, loads nothing. The picture is
/// embedded; findings are marked on it.
std::string ReportHtml(const ReportContext& context, const PiecePicture& picture);

}  // namespace aircut::verify
