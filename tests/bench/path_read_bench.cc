// Two million pose lines of each path format, read as a stream and counted, or
// kept as path lines. The peer is the plain way: std::getline and std::strtod
// into seven numbers, without any check. One thread. Each run checks the number
// of rows and the sum of their x; a peak that grows beyond 1 GiB is an error.

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <string>
#include <vector>

#include <unistd.h>

#include <benchmark/benchmark.h>
#include <fmt/format.h>

#include "kinematics/tool_path.h"
#include "sim/path_file.h"

namespace aircut::sim {
namespace {

constexpr int kRows = 2'000'000;
constexpr double kMostMemory_mib = 1024.0;

struct Format {
  const char* name;
  const char* start;
  const char* pose;   // x, y, z, i, k: the axis leans about y
  const char* end;
};

constexpr Format kFormats[] = {
    {"pose_table", "x_mm,y_mm,z_mm,i,j,k,feed_mm_min,spindle_rpm,tool\n",
     "{:.4f},{:.4f},{:.4f},{:.9f},0,{:.9f},1500,18000,1\n", ""},
    {"iso6983", "G21 G90 G17 G94\nT1 M6\nS18000 M3\nF1500\n",
     "G1 X{:.4f} Y{:.4f} Z{:.4f} I{:.9f} J0 K{:.9f}\n", "M30\n"},
    {"cutter_location", "UNITS/MM\nMULTAX/ON\nLOADTL/1\nSPINDL/18000,RPM,CLW\nFEDRAT/1500,MMPM\n",
     "GOTO/{:.4f},{:.4f},{:.4f},{:.9f},0,{:.9f}\n", "FINI\n"}};

/// Vector words give the axis where the format needs a rule.
PathRules Rules() {
  PathRules rules;
  rules.rotary = RotaryRule{};
  return rules;
}

double PlaceX(int i) { return std::floor(1000.0 * std::sin(1e-3 * i)) / 8.0; }

/// The files, written once and taken away at the end.
class Files {
 public:
  Files() : folder_(std::filesystem::temp_directory_path() / fmt::format("aircut_bench_{}", getpid())) {
    std::filesystem::create_directories(folder_);
  }
  ~Files() {
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
  }
  Files(const Files&) = delete;
  Files& operator=(const Files&) = delete;

  std::filesystem::path Of(const Format& format) const {
    const std::filesystem::path file = folder_ / format.name;
    if (std::filesystem::exists(file)) return file;
    std::ofstream out(file, std::ios::binary);
    out << format.start;
    for (int i = 0; i < kRows; ++i) {
      const double angle = 0.2 * std::sin(1e-4 * i);
      out << fmt::format(fmt::runtime(format.pose), PlaceX(i), 1e-4 * i, -1.0 - 1e-7 * i, std::sin(angle),
                         std::cos(angle));
    }
    out << format.end;
    return file;
  }

 private:
  std::filesystem::path folder_;
};

const Files& TheFiles() {
  static const Files files;
  return files;
}

double MeantSum() {
  static const double sum = [] {
    double total = 0.0;
    for (int i = 0; i < kRows; ++i) total += PlaceX(i);
    return total;
  }();
  return sum;
}

/// Memory of this process [MiB] as the kernel counts it: `VmHWM` or `VmRSS`.
double Memory_mib(const std::string& entry) {
  std::ifstream status("/proc/self/status");
  for (std::string line; std::getline(status, line);) {
    if (line.rfind(entry + ":", 0) == 0) return std::strtod(line.c_str() + entry.size() + 1, nullptr) / 1024.0;
  }
  return 0.0;
}

struct Tally {
  int rows = 0;
  double sum = 0.0;
};

/// Times `read`, checks its answer and how far the memory peak rose.
template <typename Read>
void Measure(benchmark::State& state, const std::filesystem::path& file, Read read) {
  double rise_mib = 0.0;
  for (auto _ : state) {
    std::ofstream("/proc/self/clear_refs") << "5";   // the peak starts anew
    const double before_mib = Memory_mib("VmRSS");
    const Tally tally = read(file);
    rise_mib = std::max(rise_mib, Memory_mib("VmHWM") - before_mib);
    if (tally.rows != kRows || tally.sum != MeantSum()) {
      state.SkipWithError("the rows are not those that were written");
      return;
    }
  }
  if (rise_mib > kMostMemory_mib) state.SkipWithError("the memory peak grew beyond 1 GiB");
  state.SetItemsProcessed(state.iterations() * kRows);
  state.counters["peak_mib"] = rise_mib;
}

void Ours(benchmark::State& state, const Format& format) {
  Measure(state, TheFiles().Of(format), [&](const std::filesystem::path& file) {
    Tally tally;
    const PathSink sink = {[&](const PoseRow& row) { ++tally.rows, tally.sum += row.p_SQ.x(); },
                           [](const PathEvent&) {}};
    ReadPathFile(format.name, file, Rules(), sink);
    return tally;
  });
}

void OursKept(benchmark::State& state, const Format& format) {
  Measure(state, TheFiles().Of(format), [&](const std::filesystem::path& file) {
    kinematics::ToolPath path;
    const auto keep = [&](const PoseRow& row) {
      kinematics::PathLine line;
      line.line = row.line;
      line.p_ST = row.p_SQ;
      line.axis_S = row.axis_S;
      line.feed_mm_s = row.feed_mm_s;
      line.spindle_rpm = row.spindle_rpm;
      line.tool = row.tool;
      path.push_back(line);
    };
    ReadPathFile(format.name, file, Rules(), {keep, [](const PathEvent&) {}});
    Tally tally;
    for (const kinematics::PathLine& line : path) ++tally.rows, tally.sum += line.p_ST.x();
    return tally;
  });
}

void Plain(benchmark::State& state, const Format& format) {
  Measure(state, TheFiles().Of(format), [](const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    Tally tally;
    for (std::string line; std::getline(in, line);) {
      const char* text = line.c_str();
      if (line.compare(0, 5, "GOTO/") == 0) text += 5;
      if (line.compare(0, 4, "G1 X") == 0) text += 4;
      double values[7] = {};
      int count = 0;
      for (char* end = nullptr; count < 7; text = end + (*end == ',' ? 1 : 2)) {
        values[count] = std::strtod(text, &end);
        if (end == text) break;
        ++count;
        if (*end != ',' && *end != ' ') break;
      }
      if (count < 6) continue;
      ++tally.rows;
      tally.sum += values[0];
    }
    return tally;
  });
}

void Register(const std::string& name, void (*run)(benchmark::State&, const Format&), const Format& format) {
  benchmark::RegisterBenchmark(name.c_str(), run, format)->Unit(benchmark::kMillisecond)->UseRealTime();
}

// Registered when the program starts, as the macros of the library do.
const int kRegistered = [] {
  for (const Format& format : kFormats) {
    Register(fmt::format("PathRead/ours/{}", format.name), Ours, format);
    Register(fmt::format("PathRead/getline_strtod/{}", format.name), Plain, format);
    Register(fmt::format("PathReadKept/ours/{}", format.name), OursKept, format);
  }
  return 0;
}();

}  // namespace
}  // namespace aircut::sim
