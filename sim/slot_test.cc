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

// Two or three rows a slot; `unknowns` are those of the six coefficients that it tells.
struct SlotEquations {
  std::vector<int> unknowns;
  Eigen::MatrixXd means;
  Eigen::VectorXd measured;
};

SlotEquations EquationsOf(const std::vector<SlotRow>& rows, const CellCutter& cutter) {
  const bool has_up = rows.front().up_n.has_value();
  const Eigen::Index per_row = has_up ? 3 : 2;
  SlotEquations e;
  e.unknowns = has_up ? std::vector<int>{0, 1, 2, 3, 4, 5} : std::vector<int>{0, 1, 3, 4};
  e.means.resize(per_row * static_cast<Eigen::Index>(rows.size()), static_cast<Eigen::Index>(e.unknowns.size()));
  e.measured.resize(e.means.rows());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const Eigen::Matrix<double, 3, 6> of_row = MeansOf(rows[i], cutter);
    const Eigen::Index at = per_row * static_cast<Eigen::Index>(i);
    for (std::size_t c = 0; c < e.unknowns.size(); ++c) {
      e.means.block(at, static_cast<Eigen::Index>(c), per_row, 1) = of_row.col(e.unknowns[c]).head(per_row);
    }
    // The table has the force on the piece; on the tool it points the other way.
    const Eigen::Vector3d on_tool(-rows[i].ahead_n, -rows[i].left_n, -rows[i].up_n.value_or(0.0));
    e.measured.segment(at, per_row) = on_tool.head(per_row);
  }
  return e;
}

SlotFit CoefficientsOf(const SlotEquations& e, const Eigen::VectorXd& found) {
  SlotFit fit;
  for (std::size_t c = 0; c < e.unknowns.size(); ++c) {
    EdgeTriple& triple = e.unknowns[c] < 3 ? fit.cutting_n_mm2 : fit.edge_n_mm;
    const std::array<std::optional<double>*, 3> parts = {&triple.tangential, &triple.radial, &triple.axial};
    *parts[static_cast<std::size_t>(e.unknowns[c] % 3)] = found(static_cast<Eigen::Index>(c));
  }
  return fit;
}

void RequirePushing(const std::string& label, const SlotFit& fit) {
  const double cutting = *fit.cutting_n_mm2.tangential, edge = *fit.edge_n_mm.tangential;
  if (cutting > 0.0 && edge > -1e-9 * cutting) return;
  throw InputError(fmt::format(
      "{}: the fit gives a tangential cutting force of {:.3g} N/mm2 and an edge force of {:.3g} N/mm, must not be below "
      "0: write the mean force on the piece, x along the feed, y to its left as seen from the spindle", label, cutting, edge));
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
  const SlotEquations e = EquationsOf(rows, cutter);
  if (!TellsApart(e.means)) {
    throw InputError(fmt::format("{}: all rows have the same feed per tooth, must have two or more: chip and edge "
                                 "cannot be told apart, cut slots at a second feed", label));
  }
  const Eigen::VectorXd found = e.means.colPivHouseholderQr().solve(e.measured);
  SlotFit fit = CoefficientsOf(e, found);
  RequirePushing(label, fit);
  fit.rows = static_cast<int>(rows.size());
  const double count = static_cast<double>(e.measured.size());
  const double free = std::max(1.0, count - static_cast<double>(found.size()));
  fit.residual_n = std::sqrt((e.means * found - e.measured).squaredNorm() / free);
  fit.force_n = std::sqrt(e.measured.squaredNorm() / count);
  fit.band = std::max(kLeastBand, 2.0 * fit.residual_n / fit.force_n);
  return fit;
}

}  // namespace aircut::sim
