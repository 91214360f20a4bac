#include "sim/force_coefficients.h"

#include <filesystem>
#include <fstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

TEST(ForceBandTest, StatedPartsSpanTheBand) {
  Material material;
  material.cutting_force_n_mm2 = {40.0, 15.0, 4.0};
  material.edge_force_n_mm = {4.0, 3.0, 0.5};
  material.band = 0.25;
  const ForceBand band = *ForceBandOf(material);
  EXPECT_DOUBLE_EQ(band.at[kLeast].cutting_n_mm2[0], 30.0);
  EXPECT_DOUBLE_EQ(band.at[kNominal].cutting_n_mm2[1], 15.0);
  EXPECT_DOUBLE_EQ(band.at[kMost].edge_n_mm[1], 3.75);
  EXPECT_TRUE(band.assumed.empty());
}

// What is not stated is assumed, printed, and never narrows the answer.
TEST(ForceBandTest, PartsThatAreNotStatedAreAssumedFromABand) {
  Material material;
  material.cutting_force_n_mm2.tangential = 40.0;
  const ForceBand band = *ForceBandOf(material);
  std::vector<std::string> keys;
  for (const AssumedValue& value : band.assumed) {
    keys.push_back(value.key);
    EXPECT_FALSE(value.source.empty()) << value.key;
    EXPECT_LE(value.low, value.value);
  }
  EXPECT_THAT(keys, testing::UnorderedElementsAre(
                        "material.cutting_force_n_mm2.radial", "material.cutting_force_n_mm2.axial",
                        "material.edge_force_n_mm.tangential", "material.edge_force_n_mm.radial",
                        "material.edge_force_n_mm.axial", "material.band"));
  for (std::size_t d = 0; d < 3; ++d) {
    EXPECT_LE(band.at[kLeast].cutting_n_mm2[d], band.at[kNominal].cutting_n_mm2[d]);
    EXPECT_GT(band.at[kMost].cutting_n_mm2[d], band.at[kNominal].cutting_n_mm2[d]);
    EXPECT_GE(band.at[kMost].edge_n_mm[d], band.at[kNominal].edge_n_mm[d]);
  }
}

TEST(ForceBandTest, NoTangentialForceNoBand) { EXPECT_FALSE(ForceBandOf(Material{}).has_value()); }

std::string TextOf(const std::filesystem::path& file) {
  std::ifstream stream(file);
  return {std::istreambuf_iterator<char>(stream), {}};
}

// The tiny job with a material file of the library.
Material FromLibrary(const std::string& name) {
  test::TinyJob tiny;
  tiny.files["material.yaml"] = TextOf(std::string(AIRCUT_SCENES) + "/materials/" + name + ".yaml");
  tiny.Change("tiny.job.yaml", "resolution_mm", "material: {file: material.yaml}\nresolution_mm");
  const test::TempFolder folder;
  return *LoadJob(tiny.WriteTo(folder), {}).material;
}

double TotalSpecificForce(const Material& m, double chip_mm) {
  return *m.cutting_force_n_mm2.tangential + *m.edge_force_n_mm.tangential / chip_mm;
}

// CUT-23: MDF, force over chip area at 0.05 and 0.10 mm. CUT-24: PTFE and, between along
// and across the grain, beech. CUT-25: particle board, chip part within what was printed
// for two speeds. CUT-26: oak, between along and across the grain. Sources in the files.
TEST(MaterialLibraryTest, ValuesAreThoseOfTheirSources) {
  const Material mdf = FromLibrary("mdf"), ptfe = FromLibrary("ptfe"), beech = FromLibrary("beech_lvl"),
                 board = FromLibrary("particle_board"), oak = FromLibrary("white_oak");
  EXPECT_NEAR(TotalSpecificForce(mdf, 0.05), 98.6, 0.1);
  EXPECT_NEAR(TotalSpecificForce(mdf, 0.10), 65.0, 0.1);
  EXPECT_NEAR(TotalSpecificForce(ptfe, 0.10), 20.33 + 27.1, 1e-9);
  for (const double chip : {0.05, 0.1, 0.2}) {
    EXPECT_GT(TotalSpecificForce(beech, chip), 11.73 + 3.70 / chip);
    EXPECT_LT(TotalSpecificForce(beech, chip), 32.29 + 7.66 / chip);
  }
  EXPECT_NEAR(*board.cutting_force_n_mm2.tangential, (32.0 + 37.6) / 2, 1e-9);
  const ForceBand band = *ForceBandOf(oak);
  EXPECT_LT(band.at[kLeast].cutting_n_mm2[0], 19.2);
  EXPECT_GT(band.at[kMost].cutting_n_mm2[0], 55.7);
  EXPECT_NEAR(*oak.edge_force_n_mm.tangential, 0.0055 * 737.8, 0.1);
}

// Domain notes B4 as sanity bands; every file reads, names its source and rises by diameter.
TEST(MaterialLibraryTest, EveryFileReadsAndLiesInItsRange) {
  struct Range { const char* name; double low, high; };
  for (const Range& range : {Range{"white_oak", 20, 100}, Range{"softwood", 20, 100}, Range{"beech_lvl", 20, 100},
                             Range{"mdf", 25, 40}, Range{"particle_board", 32, 37.6}, Range{"ptfe", 10, 60},
                             Range{"rigid_foam", 0.5, 5}, Range{"soft_wax", 0.3, 3}, Range{"aluminium_6061", 244, 244},
                             Range{"aluminium_6082", 631, 631}, Range{"aluminium_7075", 600, 1319}}) {
    const Material material = FromLibrary(range.name);
    EXPECT_GE(*material.cutting_force_n_mm2.tangential, range.low) << range.name;
    EXPECT_LE(*material.cutting_force_n_mm2.tangential, range.high) << range.name;
    EXPECT_FALSE(material.source.empty()) << range.name;
    EXPECT_TRUE(material.band.has_value()) << range.name;
    EXPECT_TRUE(ForceBandOf(material)->assumed.empty()) << range.name;
  }
  std::size_t files = 0;
  for (const auto& entry : std::filesystem::directory_iterator(std::string(AIRCUT_SCENES) + "/materials")) {
    files += entry.path().extension() == ".yaml" ? 1 : 0;
  }
  EXPECT_EQ(files, 11u) << "a file of the library is not looked at here";
}

}  // namespace
}  // namespace aircut::sim
