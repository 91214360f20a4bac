#pragma once

#include <filesystem>

namespace aircut::tools {

/// Writes what a person would have noted at the arm of the boat shop: read-outs
/// of its panel (`readouts.csv`) and the points that the work frame was fitted to
/// (`plate_points.csv`), each with a little scatter. @throws std::runtime_error
/// if a file cannot be written.
void WriteShopEvidence(const std::filesystem::path& folder);

}  // namespace aircut::tools
