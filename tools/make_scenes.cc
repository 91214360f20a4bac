// Writes the generated inputs of the scenes.
#include <cstdio>
#include <exception>
#include <string>

#include "tools/clash_scenes.h"
#include "tools/ring_scene.h"
#include "tools/scan_package.h"
#include "tools/scan_scene.h"
#include "tools/soft_fixture_scene.h"
#include "tools/tight_reach_scene.h"
#include "tools/transom_scene.h"
#include "tools/v_lettering_scene.h"

int main(int argc, char** argv) {
  const std::string what = argc > 1 ? argv[1] : "";
  try {
    if (what == "transom" && argc == 3) {
      aircut::tools::WriteTransomScene(argv[2]);
      return 0;
    }
    if (what == "ring" && argc == 3) {
      aircut::tools::WriteRingScene(argv[2]);
      return 0;
    }
    if (what == "clash" && argc == 3) {
      aircut::tools::WriteClashScenes(argv[2]);
      return 0;
    }
    if (what == "tight_reach" && argc == 3) {
      aircut::tools::WriteTightReachScene(argv[2]);
      return 0;
    }
    if (what == "v_lettering" && argc == 3) {
      aircut::tools::WriteVLetteringScene(argv[2]);
      return 0;
    }
    if (what == "soft_fixture" && argc == 3) {
      aircut::tools::WriteSoftFixtureScene(argv[2]);
      return 0;
    }
    if (what == "scan" && argc == 4) {
      aircut::tools::WriteScanScene(argv[2], argv[3]);
      return 0;
    }
    if (what == "scan-package" && argc == 4) {
      aircut::tools::WriteScanFromPackage(argv[2], argv[3]);
      return 0;
    }
  } catch (const std::exception& error) {
    std::fprintf(stderr, "make_scenes: %s\n", error.what());
    return 2;
  }
  std::fputs(
      "usage: make_scenes transom FOLDER\n"
      "       make_scenes ring FOLDER\n"
      "       make_scenes tight_reach FOLDER\n"
      "       make_scenes v_lettering FOLDER\n"
      "       make_scenes soft_fixture FOLDER\n"
      "       make_scenes clash SCENES\n"
      "       make_scenes scan SCAN.ply FOLDER\n"
      "       make_scenes scan-package index.js SCAN.ply\n",
      stderr);
  return 2;
}
