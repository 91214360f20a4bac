#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "sim/dry_run.h"
#include "verify/deviation.h"
#include "verify/picture.h"
#include "verify/report_comparison.h"
#include "verify/verdict.h"

namespace aircut::verify {

/// The run of a folder that findings are held against, and what came of it.
struct Baseline {
  std::string folder;
  ReportedRun run;
};

struct ReportContext {
  const sim::Job& job;
  const sim::Run& run;
  const Deviation& deviation;
  const std::vector<CheckResult>& checks;
  const Verdict& verdict;
  double resolution_mm = 0.0;
  int threads = 1;
  double peak_mib = 0.0;
  std::string date = {};         ///< of the run, YYYY-MM-DD; empty = not known
  bool date_given = false;       ///< false: taken from the clock
  const Baseline* baseline = nullptr;   ///< the run that findings are held against; null: none
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
  const sim::Mesh* mesh_S = nullptr;                  ///< what was drawn; null: no close-ups, no solid
  const std::vector<float>* deviation_mm = nullptr;   ///< per vertex
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

/// What the page is made of: files of the report folder.
struct PageFiles {
  std::string report_json;           ///< text of report.json; its outputs are not looked at
  std::string figures_json;          ///< text of figures.json
  std::map<std::string, std::vector<unsigned char>> pictures;   ///< PNG by file name
};

/// The text of report.html: one page that loads nothing. All of it, and every number on
/// it, comes from these files. It is whole without scripts; with them the charts and the
/// piece can be turned and gone through.
/// @throws std::invalid_argument for texts that are not of a report.
std::string PageHtml(const PageFiles& files);

/// The same for a run that was not written.
std::string ReportHtml(const ReportContext& context, const PiecePicture& picture);

/// Writes report.html of a report folder again, from what lies in it, and its hash into
/// report.json. @throws sim::InputError where files of the page are missing or not of a report.
void RebuildPage(const std::filesystem::path& folder);

}  // namespace aircut::verify
