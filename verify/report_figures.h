#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "verify/report.h"

namespace aircut::verify {

/// A trace over the job: lowest and highest value of each of at most some hundred
/// stretches of time.
struct Trace {
  std::string name, unit;
  std::vector<double> time_s, low, high;
  std::optional<double> limit;
};

/// Traces of a complete motion, in the order in which they are drawn.
std::vector<Trace> TracesOf(const ReportContext& context);

/// How the depth error spreads over the carving, in steps of a fifth of the tolerance.
struct DepthHistogram {
  double step_mm = 0.0;
  double from_mm = 0.0;              ///< lower end of the first step
  std::vector<double> share;         ///< of the known carve area
  double below = 0.0, above = 0.0;   ///< share beyond the ends
};
std::optional<DepthHistogram> HistogramOf(const ReportContext& context);

/// The design and what is left along a line across the piece, seen from the side.
struct DepthSection {
  int along = 0;                     ///< axis of S that the line runs along
  int across = 0;                    ///< axis of S at which it lies
  double at_mm = 0.0;                ///< there
  std::vector<double> place_mm;      ///< along the line, rising
  std::vector<double> design_mm, cut_mm;   ///< height along the third axis
};
/// Two sections through the worst place of the carving, or its middle where nothing is
/// known of it.
std::vector<DepthSection> SectionsOf(const ReportContext& context);

/// The pair of bodies with the least room along the job's motion, drawn where they are
/// nearest; nothing where none comes near.
struct NearestPicture {
  std::string first, second;         ///< their names
  int line = 0;
  double time_s = 0.0, apart_mm = 0.0;
  std::vector<unsigned char> png;
};
std::optional<NearestPicture> NearestOf(const ReportContext& context);

/// The bodies of the cell at the moment of a finding, drawn as NearestOf; nothing where
/// the finding is not of two bodies.
std::optional<NearestPicture> NearestOf(const ReportContext& context, const Finding& finding);

/// figures.json and the pictures beside it, by file name: all that the page draws.
struct Figures {
  std::string json;
  std::map<std::string, std::vector<unsigned char>> pictures;
};
Figures FiguresOf(const ReportContext& context, const PiecePicture& piece);

/// Pictures of findings that a report holds; others are drawn on request.
inline constexpr int kMostFindingPictures = 24;

/// Every name that FiguresOf may give a file, figures.json included.
const std::vector<std::string>& FigureFileNames();

}  // namespace aircut::verify
