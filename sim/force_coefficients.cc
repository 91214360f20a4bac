#include "sim/force_coefficients.h"

#include <algorithm>
#include <optional>

namespace aircut::sim {
namespace {

// Where a part is not stated: least, usual and largest of it over another part.
struct Rest {
  const char* key;
  std::array<double, kBandEnds> ratio;
  const char* unit;
  const char* source;
};

// Shares of the tangential part in the seven rows of aluminium that the domain notes,
// B4, give, and lengths over which an edge rubs as much as a chip of that thickness
// cuts: 0.02 to 0.03 mm in those rows, 0.11 mm in MDF, 0.24 to 0.32 mm in beech (CUT-23,
// CUT-24).
constexpr const char* kShares = "shares of the tangential part in published tests on aluminium (CJME 2021, table 5)";
constexpr Rest kRadial{"material.cutting_force_n_mm2.radial", {0.15, 0.35, 0.60}, "N/mm2", kShares};
constexpr Rest kAxial{"material.cutting_force_n_mm2.axial", {0.0, 0.20, 0.45}, "N/mm2", kShares};
constexpr Rest kEdge{"material.edge_force_n_mm.tangential", {0.02, 0.10, 0.32}, "N/mm",
                     "0.02 to 0.32 mm of chip: published tests on aluminium, MDF and beech"};
constexpr Rest kEdgeRadial{"material.edge_force_n_mm.radial", {0.75, 0.90, 1.05}, "N/mm", kShares};
constexpr Rest kEdgeAxial{"material.edge_force_n_mm.axial", {0.0, 0.0, 0.30}, "N/mm", "from memory"};

// A prediction without a cut on the very material: up to as much again, or as little.
constexpr double kUnstatedBand = 1.0;
constexpr const char* kBandSource = "spread between published tests of one material; domain notes B4: 0.5 to 1";

struct Parts {
  std::array<double, kBandEnds> value{};
};

Parts PartOf(const std::optional<double>& stated, const Rest& rest, const Parts& base, ForceBand& band) {
  if (stated) return {{*stated, *stated, *stated}};
  Parts parts;
  for (std::size_t b = 0; b < kBandEnds; ++b) parts.value[b] = rest.ratio[b] * base.value[b];
  band.assumed.push_back(
      {rest.key, parts.value[kMost], parts.value[kLeast], parts.value[kMost], rest.unit, rest.source});
  return parts;
}

double BandOf(const Material& material, ForceBand& band) {
  if (material.band) return *material.band;
  band.assumed.push_back({"material.band", kUnstatedBand, 0.5, kUnstatedBand, "", kBandSource});
  return kUnstatedBand;
}

}  // namespace

std::optional<ForceBand> ForceBandOf(const Material& material) {
  const EdgeTriple& cutting = material.cutting_force_n_mm2;
  const EdgeTriple& edge = material.edge_force_n_mm;
  if (!cutting.tangential) return std::nullopt;
  ForceBand band;
  const double t = *cutting.tangential;
  const Parts tangential{{t, t, t}};
  const Parts edge_tangential = PartOf(edge.tangential, kEdge, tangential, band);
  const std::array<Parts, 3> cuts = {tangential, PartOf(cutting.radial, kRadial, tangential, band),
                                     PartOf(cutting.axial, kAxial, tangential, band)};
  const std::array<Parts, 3> edges = {edge_tangential, PartOf(edge.radial, kEdgeRadial, edge_tangential, band),
                                      PartOf(edge.axial, kEdgeAxial, edge_tangential, band)};
  // The law itself lies within its own band of what stands for it.
  const double spread = (BandOf(material, band) + material.law_off) / (1.0 - material.law_off);
  const std::array<double, kBandEnds> factor = {std::max(0.0, 1.0 - spread), 1.0, 1.0 + spread};
  for (std::size_t b = 0; b < kBandEnds; ++b) {
    for (std::size_t d = 0; d < 3; ++d) {
      band.at[b].cutting_n_mm2[d] = factor[b] * cuts[d].value[b];
      band.at[b].edge_n_mm[d] = factor[b] * edges[d].value[b];
    }
  }
  return band;
}

}  // namespace aircut::sim
