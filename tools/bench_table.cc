// Turns the benchmark program's JSON into one line a benchmark and into
// build/bench.json. Benchmarks are named `Topic/ours` and `Topic/<peer>`,
// with the parameters of the run behind them.
#include <cstdio>
#include <fstream>
#include <iterator>
#include <map>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace {

using Json = nlohmann::ordered_json;

struct Measured {
  double value = 0.0;
  std::string unit;
  double Seconds() const {
    return value * (unit == "ns" ? 1e-9 : unit == "us" ? 1e-6 : unit == "ms" ? 1e-3 : 1.0);
  }
};

/// Name of one benchmark: what is measured and who does it.
struct Name {
  std::string topic;
  std::string who;
};

Name Split(const std::string& full) {
  std::vector<std::string> parts;
  std::string::size_type from = 0;
  for (std::string::size_type at; (at = full.find('/', from)) != std::string::npos; from = at + 1)
    parts.push_back(full.substr(from, at - from));
  parts.push_back(full.substr(from));
  Name name{parts[0], parts.size() > 1 ? parts[1] : "ours"};
  for (std::size_t i = 2; i < parts.size(); ++i) {
    const bool how_it_was_timed = parts[i] == "real_time" || parts[i] == "process_time" ||
                                  parts[i] == "manual_time" ||
                                  parts[i].find(':') != std::string::npos;
    if (!how_it_was_timed) name.topic += "/" + parts[i];
  }
  return name;
}

std::string RunName(const Json& run) {
  return run.contains("run_name") ? run["run_name"].get<std::string>()
                                  : run["name"].get<std::string>();
}

/// The median where a benchmark was repeated, else the single run.
bool Counts(const Json& run) {
  if (run.contains("error_occurred") && run["error_occurred"].get<bool>()) return false;
  const std::string type = run.value("run_type", "iteration");
  return type == "iteration" || run.value("aggregate_name", "") == "median";
}

using ByWho = std::map<std::string, Measured>;

int Print(const Json& raw, const std::string& out_file) {
  std::vector<std::string> order;
  std::map<std::string, ByWho> table;
  for (const Json& run : raw["benchmarks"]) {
    if (!Counts(run)) continue;
    const Name name = Split(RunName(run));
    if (table.find(name.topic) == table.end()) order.push_back(name.topic);
    table[name.topic][name.who] = {run["real_time"].get<double>(), run["time_unit"].get<std::string>()};
  }
  Json rows = Json::array();
  fmt::print("{:<44} {:>12} {:<4} {:<24} {:>9}\n", "name", "value", "unit", "peer", "ratio");
  for (const std::string& topic : order) {
    const ByWho& by_who = table[topic];
    const auto ours = by_who.find("ours");
    if (ours == by_who.end()) continue;
    const auto add = [&](const std::string& peer, const Json& ratio) {
      rows.push_back({{"name", topic}, {"value", ours->second.value}, {"unit", ours->second.unit},
                      {"peer", peer}, {"ratio", ratio}});
      fmt::print("{:<44} {:>12.4g} {:<4} {:<24} {:>9}\n", topic, ours->second.value,
                 ours->second.unit, peer,
                 ratio.is_null() ? "-" : fmt::format("{:.2f}", ratio.get<double>()));
    };
    if (by_who.size() == 1) add("-", nullptr);
    for (const auto& [who, measured] : by_who)
      if (who != "ours") add(who, measured.Seconds() / ours->second.Seconds());
  }
  std::ofstream(out_file) << Json{{"machine", raw.value("context", Json::object())},
                                  {"benchmarks", rows}}.dump(1) << "\n";
  return rows.empty() ? 1 : 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    std::fputs("usage: bench_table RAW.json OUT.json\n", stderr);
    return 2;
  }
  std::ifstream in(argv[1]);
  const Json raw = Json::parse(std::string(std::istreambuf_iterator<char>(in), {}), nullptr, false);
  if (raw.is_discarded() || !raw.contains("benchmarks")) {
    fmt::print(stderr, "{}: no benchmark results in this file\n", argv[1]);
    return 2;
  }
  return Print(raw, argv[2]);
}
