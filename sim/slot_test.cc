#include "sim/slot_test.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>
#include <fmt/format.h>

#include "sim/input_error.h"
#include "sim/named_table.h"
#include "sim/turn_force.h"

namespace aircut::sim {
namespace {

enum Column { kDepth, kFeed, kRpm, kAhead, kLeft, kUp };

// What one slot test leaves open on the next piece of the same material: domain notes B4.
constexpr double kLeastBand = 0.2;
// Singular values below this share of the largest: rows that differ too little.
constexpr double kTooAlike = 1e-3;

const std::vector<KnownColumn>& Columns() {
  static const std::vector<KnownColumn> columns = {
      {"depth_mm", kDepth, 1.0},        {"depth_in", kDepth, 25.4},       {"feed_mm_min", kFeed, 1.0 / 60.0},
      {"feed_in_min", kFeed, 25.4 / 60}, {"feed_mm_s", kFeed, 1.0},        {"spindle_rpm", kRpm, 1.0},
      {"fx_n", kAhead, 1.0},            {"fy_n", kLeft, 1.0},             {"fz_n", kUp, 1.0}};
  return columns;
}

double Positive(const NamedTable& table, int column) {
  const double value = table.Value(column);
  if (!(value > 0.0)) table.Fail(fmt::format("{} = {}, must be > 0: write it as cut", table.Name(column), table.Text(column)));
  return value;
}

// Mean force on the tool for one unit of each coefficient: tangential, radial and axial
// of the chip, then of the edge.
Eigen::Matrix<double, 3, 6> MeansOf(const SlotRow& row, const CellCutter& cutter) {
  Eigen::Matrix<double, 3, 6> means;
  PlainCut cut;
  cut.feed_mm_s = row.feed_mm_s;
  cut.rpm = row.rpm;
  cut.depth_mm = row.depth_mm;
  for (int c = 0; c < 6; ++c) {
    ForceCoefficients unit;
    (c < 3 ? unit.cutting_n_mm2 : unit.edge_n_mm)[static_cast<std::size_t>(c % 3)] = 1.0;
    means.col(c) = LoadOf(cutter.cutter.outline(), {cutter.flutes, cutter.right_handed}, cut, unit).force.mean_n;
  }
  return means;
}

// Columns of a matrix scaled to one, so that chip and edge weigh alike in the rank.
bool TellsApart(const Eigen::MatrixXd& means) {
  Eigen::MatrixXd scaled = means;
  for (Eigen::Index c = 0; c < scaled.cols(); ++c) scaled.col(c) /= std::max(scaled.col(c).norm(), 1e-300);
  const Eigen::VectorXd values = scaled.jacobiSvd().singularValues();
  return values(values.size() - 1) > kTooAlike * values(0);
}

}  // namespace

std::vector<SlotRow> ReadSlotTable(const std::filesystem::path& file, double flutes_mm) {
  NamedTable table(file, Columns());
  table.Require(kDepth, kLeft);
  std::vector<SlotRow> rows;
  while (table.Next()) {
    SlotRow row;
    row.line = table.line();
    row.depth_mm = Positive(table, kDepth);
    if (row.depth_mm > flutes_mm) {
      table.Fail(fmt::format("{} = {} is deeper than the flutes, {:.6g} mm: mend the depth or the cutter's number",
                             table.Name(kDepth), table.Text(kDepth), flutes_mm));
    }
    row.feed_mm_s = Positive(table, kFeed);
    row.rpm = Positive(table, kRpm);
    row.ahead_n = table.Value(kAhead);
    row.left_n = table.Value(kLeft);
    if (table.Has(kUp)) row.up_n = table.Value(kUp);
    rows.push_back(row);
  }
  return rows;
}

SlotFit FitSlotTest(const std::string& label, const std::vector<SlotRow>& rows, const CellCutter& cutter) {
  if (rows.size() < 3) {
    throw InputError(fmt::format("{}: {} rows, must be three or more: cut slots at two feeds and repeat one",
                                 label, rows.size()));
  }
  const bool has_up = rows.front().up_n.has_value();
  const Eigen::Index per_row = has_up ? 3 : 2;
  const std::vector<int> unknowns = has_up ? std::vector<int>{0, 1, 2, 3, 4, 5} : std::vector<int>{0, 1, 3, 4};
  Eigen::MatrixXd means(per_row * static_cast<Eigen::Index>(rows.size()), static_cast<Eigen::Index>(unknowns.size()));
  Eigen::VectorXd measured(means.rows());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const Eigen::Matrix<double, 3, 6> of_row = MeansOf(rows[i], cutter);
    const Eigen::Index at = per_row * static_cast<Eigen::Index>(i);
    for (std::size_t c = 0; c < unknowns.size(); ++c) {
      means.block(at, static_cast<Eigen::Index>(c), per_row, 1) = of_row.col(unknowns[c]).head(per_row);
    }
    // The table has the force on the piece; on the tool it points the other way.
    const Eigen::Vector3d on_tool(-rows[i].ahead_n, -rows[i].left_n, -rows[i].up_n.value_or(0.0));
    measured.segment(at, per_row) = on_tool.head(per_row);
  }
  if (!TellsApart(means)) {
    throw InputError(fmt::format("{}: all rows have the same feed per tooth, must have two or more: chip and edge "
                                 "cannot be told apart, cut slots at a second feed", label));
  }
  const Eigen::VectorXd found = means.colPivHouseholderQr().solve(measured);
  SlotFit fit;
  for (std::size_t c = 0; c < unknowns.size(); ++c) {
    EdgeTriple& triple = unknowns[c] < 3 ? fit.cutting_n_mm2 : fit.edge_n_mm;
    const std::array<std::optional<double>*, 3> parts = {&triple.tangential, &triple.radial, &triple.axial};
    *parts[static_cast<std::size_t>(unknowns[c] % 3)] = found(static_cast<Eigen::Index>(c));
  }
  if (!(*fit.cutting_n_mm2.tangential > 0.0 && *fit.edge_n_mm.tangential > -1e-9 * *fit.cutting_n_mm2.tangential)) {
    throw InputError(fmt::format(
        "{}: the fit gives a tangential cutting force of {:.3g} N/mm2 and an edge force of {:.3g} N/mm, must not be below "
        "0: write the mean force on the piece, x along the feed, y to its left as seen from the spindle", label,
        *fit.cutting_n_mm2.tangential, *fit.edge_n_mm.tangential));
  }
  fit.rows = static_cast<int>(rows.size());
  const double count = static_cast<double>(measured.size());
  const double free = std::max(1.0, count - static_cast<double>(unknowns.size()));
  fit.residual_n = std::sqrt((means * found - measured).squaredNorm() / free);
  fit.force_n = std::sqrt(measured.squaredNorm() / count);
  fit.band = std::max(kLeastBand, 2.0 * fit.residual_n / fit.force_n);
  return fit;
}

}  // namespace aircut::sim
