#pragma once

#include <filesystem>
#include <optional>
#include <vector>

namespace aircut::verify {

/// What to draw of a report folder.
struct ReportPictureRequest {
  std::filesystem::path folder;
  std::optional<int> finding;        ///< its number on the page; nothing: the whole piece
  std::optional<double> across_mm;   ///< seen from left to right around a finding; nothing: as in the report
  int width_px = 1100, height_px = 760;
};

/// Draws the carved piece of a report, or the place of one of its findings, from
/// carved.ply and report.json, without a display. A finding of two bodies is the
/// picture that the run left. The same bytes for the same folder. @returns a PNG.
/// @throws sim::InputError where the folder, the finding or its place is not there.
std::vector<unsigned char> PictureOfReport(const ReportPictureRequest& request);

}  // namespace aircut::verify
