#pragma once

#include <optional>
#include <vector>

#include "sim/scan_fit.h"

namespace aircut::verify {

/// The surface that a run predicts, as its report keeps it.
struct PredictedSurface {
  sim::Mesh mesh_S;
  std::vector<float> deviation_mm;   ///< per vertex, + = left standing; NaN: not carving, or unknown
  std::vector<float> line;           ///< per vertex, the path line that left it; NaN: nothing cut here
  double voxel_mm = 0.0;             ///< of the grid that it was drawn from, > 0
};

/// A connected part of the piece where the measured surface is not where the run says.
struct ScanRegion {
  enum class Place { kCarving, kBeside } place = Place::kCarving;
  enum class Kind { kDeeper, kHigher } kind = Kind::kDeeper;   ///< than predicted
  double area_mm2 = 0.0;
  double worst_mm = 0.0;             ///< magnitude, measured against predicted
  Eigen::Vector3d at_S = Eigen::Vector3d::Zero();   ///< where that is
  int first_line = 0, last_line = 0; ///< path lines that left it; 0 = none known
};

/// What a scan of the real piece says of a run. Values are along the normal of the
/// predicted surface [mm], + = more material than predicted (or designed); of the
/// carving that the scan shows, area-weighted.
struct ScanComparison {
  sim::ScanFit fit;
  double carving_mm2 = 0.0, seen_share = 0.0;
  /// What a difference must exceed to be one: five times the scan's noise where nothing was
  /// cut (chance passes it once in a million), and a quarter of a voxel for the surface that
  /// the run is kept as.
  double bound_mm = 0.0;
  double mean_mm = 0.0, rms_mm = 0.0, p95_mm = 0.0;        ///< measured less predicted; p95 of its magnitude
  double covered_share = 0.0;                              ///< where that lies within the bound
  double predicted_p95_mm = 0.0, measured_p95_mm = 0.0;    ///< depth error against the design, magnitude
  std::vector<ScanRegion> regions;                         ///< beyond the bound, the carving's first, then largest first
  std::vector<float> difference_mm, measured_mm;           ///< per vertex; NaN where not seen or not carving
};

/// @param scan_Q outward triangles [mm], in a frame of its own.
/// @param region_mm2 smaller regions are not listed.
/// @throws std::invalid_argument where columns and vertices differ in number.
ScanComparison CompareWithScan(const PredictedSurface& predicted, const sim::Mesh& scan_Q, double region_mm2);

}  // namespace aircut::verify
