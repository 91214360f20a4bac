#include "tools/dry_run_verb.h"

#include <sys/resource.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <exception>
#include <filesystem>
#include <fstream>
#include <memory>
#include <new>
#include <optional>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

#include <fmt/format.h>

#include "sim/dry_run.h"
#include "sim/input_error.h"
#include "sim/job.h"
#include "tools/terminal.h"
#include "verify/check.h"
#include "verify/fine_measures.h"
#include "verify/deviation.h"
#include "verify/report.h"
#include "verify/verdict.h"
#include "verify/waivers.h"

namespace aircut::tools {
namespace {

namespace fs = std::filesystem;

constexpr int kMaxThreads = 1024;
constexpr char kExamples[] =
    "Examples:\n"
    "  aircut dryrun scenes/transom/job.yaml\n"
    "  aircut dryrun job.yaml --resolution 0.1 --out rose-report\n"
    "  aircut dryrun job.yaml --json --quiet > report.json\n"
    "  aircut dryrun job.yaml --without fixture                   # what if the fixture were rigid: never a pass\n"
    "  aircut dryrun job.yaml --baseline report-before --out report-after\n"
    "  aircut dryrun job.yaml --date 2026-11-27                  # the same page on any day\n"
    "  aircut dryrun job.yaml --resume states                    # after an edit, goes on where the path is still the same\n"
    "  aircut dryrun job.yaml --resume states --keep-before 4200 # free spin: what was chosen before line 4200 stays\n"
    "Exit codes: 0 pass, 1 fail, 3 unproven, 2 bad input or usage, 4 internal error.\n"
    "A pass is evidence for a safety checklist, not leave to run: guards, local codes and a slow air cut on the\n"
    "real machine stay.";

struct DryRunArguments {
  std::string job_file;
  std::string out;
  double resolution_mm = 0.0;
  bool resolution_given = false;
  int threads = 0;   // 0 = as many as the machine has
  bool json = false;
  bool quiet = false;
  bool allow_outside = false;
  std::string resume;
  std::vector<int> save_at;
  int keep_before = 0;
  std::vector<std::string> without;
  std::string baseline;
  std::string date;
};

// Tells on stderr how far the run is: one line that is written over where
// someone watches, one line a stage in a log.
class Progress {
 public:
  explicit Progress(bool quiet) : quiet_(quiet), live_(isatty(STDERR_FILENO) == 1) {}
  ~Progress() { Clear(); }
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;

  void Show(const std::string& stage, double fraction) {
    if (quiet_) return;
    const auto now = Clock::now();
    if (stage != stage_) {
      stage_ = stage;
      stage_start_ = now;
      if (!live_) std::fputs(fmt::format("aircut: {}\n", stage).c_str(), stderr);
    } else if (now - shown_ < std::chrono::milliseconds(100)) {
      return;
    }
    shown_ = now;
    if (live_) Write(fraction, std::chrono::duration<double>(now - stage_start_).count());
  }

  void Clear() {
    if (quiet_ || !live_ || width_ == 0) return;
    std::fputs(("\r" + std::string(width_, ' ') + "\r").c_str(), stderr);
    width_ = 0;
  }

 private:
  using Clock = std::chrono::steady_clock;

  void Write(double fraction, double spent_s) {
    const double done = std::clamp(std::isfinite(fraction) ? fraction : 0.0, 0.0, 1.0);
    std::string text = fmt::format("{}: {:3.0f} %", stage_, 100 * done);
    if (done > 0.02 && done < 1 && spent_s > 0.5) {
      text += fmt::format(", {:.1f} %/s, {:.0f} s left", 100 * done / spent_s, spent_s * (1 - done) / done);
    }
    const std::size_t pad = width_ > text.size() ? width_ - text.size() : 0;
    std::fputs(("\r" + text + std::string(pad, ' ')).c_str(), stderr);
    std::fflush(stderr);
    width_ = text.size();
  }

  bool quiet_, live_;
  std::string stage_;
  Clock::time_point stage_start_{}, shown_{};
  std::size_t width_ = 0;
};

double PeakMib() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024.0;   // the system counts in KiB
}

// rose.job.yaml -> rose; job.yaml -> job.
std::string StemOf(const fs::path& job_file) {
  std::string stem = job_file.stem().string();
  const std::string tail = ".job";
  if (stem.size() > tail.size() && stem.compare(stem.size() - tail.size(), tail.size(), tail) == 0) {
    stem.resize(stem.size() - tail.size());
  }
  return stem;
}

fs::path ReportFolder(const DryRunArguments& arguments) {
  if (!arguments.out.empty()) return arguments.out;
  const fs::path job(arguments.job_file);
  return job.parent_path() / ("report-" + StemOf(job));
}

void CheckResume(const DryRunArguments& arguments) {
  const bool needs_folder = !arguments.save_at.empty() || arguments.keep_before != 0;
  if (needs_folder && arguments.resume.empty()) {
    throw sim::InputError("--save-at and --keep-before need a folder: add --resume DIR, the same one for every run of a job");
  }
  if (arguments.keep_before < 0) {
    throw sim::InputError(fmt::format("--keep-before = {} must be a line of the path, from 1", arguments.keep_before));
  }
  for (const int line : arguments.save_at) {
    if (line < 1) throw sim::InputError(fmt::format("--save-at = {} must be a line of the path, from 1", line));
  }
  if (!arguments.resume.empty() && fs::exists(arguments.resume) && !fs::is_directory(arguments.resume)) {
    throw sim::InputError(fmt::format("--resume = {} is a file: name a folder, it is made where it is missing",
                                      arguments.resume));
  }
}

// Words of the layers that can be left out.
std::vector<std::string> LayerWords() {
  std::vector<std::string> words;
  for (const sim::ErrorLayer layer : sim::kErrorLayers) words.emplace_back(sim::WordFor(layer));
  return words;
}

void TakeWithout(const DryRunArguments& arguments, sim::RunOptions& options) {
  for (const std::string& word : arguments.without) {
    const auto layer = sim::LayerFor(word);
    if (!layer) {
      throw sim::InputError(fmt::format("--without {} is no error layer, must be one of {}: mend the word", word,
                                        fmt::join(LayerWords(), ", ")));
    }
    options.without.insert(*layer);
  }
}

// The one place where the clock is asked what day it is: all else is told.
std::string DayOfRun(const DryRunArguments& arguments) {
  if (!arguments.date.empty()) {
    if (sim::DayOf(arguments.date)) return arguments.date;
    throw sim::InputError(fmt::format("--date = {:.40} is no day of the calendar: write year-month-day, such as 2026-12-31", arguments.date));
  }
  const std::time_t now = std::time(nullptr);
  std::tm day{};
  localtime_r(&now, &day);
  return fmt::format("{:04}-{:02}-{:02}", day.tm_year + 1900, day.tm_mon + 1, day.tm_mday);
}

void CheckArguments(const DryRunArguments& arguments) {
  if (arguments.resolution_given && !(arguments.resolution_mm > 0 && std::isfinite(arguments.resolution_mm))) {
    throw sim::InputError(fmt::format("--resolution = {} must be > 0 mm: give the edge of a voxel, such as 0.25",
                                      arguments.resolution_mm));
  }
  if (arguments.threads < 0 || arguments.threads > kMaxThreads) {
    throw sim::InputError(fmt::format("--threads = {} must be from 1 to {}, or 0 for as many as the machine has",
                                      arguments.threads, kMaxThreads));
  }
  CheckResume(arguments);
  verify::RequireReportFolder(ReportFolder(arguments));
}

std::string TextOf(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

void PrintChecks(const std::vector<verify::CheckResult>& checks) {
  for (const verify::CheckResult& check : checks) {
    if (check.result == verify::Result::kPass) continue;
    fmt::print("  {} {:<16} {}{}\n", Painted(check.result, 9), check.id, check.waived ? "(waived, counts all the same) " : "", check.why);
  }
  const auto passed = std::count_if(checks.begin(), checks.end(), [](const verify::CheckResult& check) {
    return check.result == verify::Result::kPass;
  });
  fmt::print("  {} of {} checks pass.\n", passed, checks.size());
}

std::string ResumeText(const sim::Run& run) {
  if (run.sweeps_taken_up == 0) {
    return "The cut was made from the start: nothing that is kept leads up to this path, stock and resolution.";
  }
  const std::size_t next = std::min(static_cast<std::size_t>(run.sweeps_taken_up), run.track.sweeps.size() - 1);
  return fmt::format("The cut went on from line {}: up to there it is that of an earlier run, to the last bit.",
                     run.track.sweeps[next].line);
}

// How the findings stand against the earlier report.
void PrintBaseline(const verify::Baseline& baseline, const std::string& report_json) {
  const auto count = [&](const char* since) {
    const std::string word = fmt::format("\"since\": \"{}\"", since);
    int found = 0;
    for (std::size_t at = report_json.find(word); at != std::string::npos; at = report_json.find(word, at + 1)) ++found;
    return found;
  };
  const int unchanged = count("unchanged"), grown = count("grown"), kept = unchanged + grown;
  fmt::print("Against {}: {} findings new, {} grown, {} unchanged, {} gone.\n", baseline.folder, count("new"), grown, unchanged,
             static_cast<int>(baseline.run.findings.size()) - kept);
}

ExitCode CodeOf(verify::Result result) {
  switch (result) {
    case verify::Result::kPass: return kExitPass;
    case verify::Result::kFail: return kExitFail;
    case verify::Result::kUnproven: break;
  }
  return kExitUnproven;
}

ExitCode DryRun(const DryRunArguments& arguments) {
  CheckArguments(arguments);
  const std::string today = DayOfRun(arguments);
  std::optional<verify::Baseline> baseline;
  if (!arguments.baseline.empty()) baseline = verify::Baseline{arguments.baseline, verify::ReadReport(arguments.baseline)};
  Progress progress(arguments.quiet);
  sim::RunOptions options;
  TakeWithout(arguments, options);
  progress.Show("read the files", 0);
  sim::LoadOptions load;
  load.allow_outside = arguments.allow_outside;
  const sim::Job job = sim::LoadJob(arguments.job_file, load);

  options.resolution_mm = arguments.resolution_given ? arguments.resolution_mm : job.resolution_mm;
  const int cores = static_cast<int>(std::thread::hardware_concurrency());
  options.threads = arguments.threads > 0 ? arguments.threads : std::max(1, std::min(cores, kMaxThreads));
  options.progress = [&progress](const std::string& stage, double fraction) { progress.Show(stage, fraction); };
  options.resume = {arguments.resume, {arguments.save_at.begin(), arguments.save_at.end()}};
  if (arguments.keep_before > 0) options.keep_before_line = arguments.keep_before;
  const sim::Run run = sim::Execute(job, options);

  progress.Show("check", 0);
  verify::Deviation deviation = verify::Measure(job, run);
  deviation.fine = verify::MeasureFineFeatures({job, run, deviation, options.threads});
  std::vector<verify::CheckResult> checks = verify::RunChecks({job, run, deviation, options.threads});
  verify::MarkWaived(verify::JudgeWaivers(job.waivers, checks, today), &checks);
  const verify::Verdict verdict = verify::Judge(job, checks, arguments.without);

  progress.Show("write the report", 0);
  const fs::path folder = ReportFolder(arguments);
  const verify::ReportContext context{job, run, deviation, checks, verdict,
                                      options.resolution_mm, options.threads, PeakMib(),
                                      today, !arguments.date.empty(), baseline ? &*baseline : nullptr};
  verify::WriteReport(context, folder);
  progress.Clear();

  if (arguments.json) {
    fmt::print("{}", TextOf(folder / "report.json"));
  } else {
    fmt::print("{}\n", verdict.headline);
    if (!verdict.mend_first.empty()) fmt::print("{}\n", verdict.mend_first);
    fmt::print("{}\n", verdict.reason);
    PrintChecks(checks);
    if (baseline) PrintBaseline(*baseline, TextOf(folder / "report.json"));
    if (!arguments.resume.empty()) fmt::print("{}\n", ResumeText(run));
    fmt::print("Report: {}\n", (folder / "report.html").string());
  }
  return CodeOf(verdict.result);
}

ExitCode RunDryRun(const DryRunArguments& arguments) {
  try {
    return DryRun(arguments);
  } catch (const sim::InputError& error) {
    fmt::print(stderr, "aircut: {}\n", error.what());
    return kExitBadInput;
  } catch (const fs::filesystem_error& error) {
    fmt::print(stderr, "aircut: {}: name another folder with --out, or check its rights and the free space\n",
               error.what());
    return kExitBadInput;
  } catch (const std::bad_alloc&) {
    fmt::print(stderr, "aircut: out of memory: give a coarser --resolution\n");
    return kExitInternal;
  } catch (const std::exception& error) {
    fmt::print(stderr, "aircut: internal error: {}; please report it with the job's files\n", error.what());
    return kExitInternal;
  }
}

}  // namespace

void AddDryRunVerb(CLI::App& app, ExitCode& code) {
  const auto arguments = std::make_shared<DryRunArguments>();
  CLI::App* verb = app.add_subcommand("dryrun", "run a job dry and write a report");
  verb->footer(kExamples);
  verb->add_option("job", arguments->job_file, "the job, a YAML file")->required()->type_name("JOB.yaml");
  verb->add_option("--out", arguments->out, "folder of the report (default: report-<job> beside the job)")
      ->type_name("DIR");
  CLI::Option* resolution =
      verb->add_option("--resolution", arguments->resolution_mm, "edge of a voxel (default: of the job, else 0.25)")
          ->type_name("MM");
  verb->add_option("--threads", arguments->threads, "threads to use (default: as many as the machine has)")
      ->type_name("N");
  verb->add_option("--resume", arguments->resume,
                   "folder that keeps states of the cut from run to run; goes on from the last one that fits")
      ->type_name("DIR");
  verb->add_option("--save-at", arguments->save_at,
                   "lines of the path before which a state is kept (default: at 50, 75 and 90 % of the cut)")
      ->type_name("LINE")->delimiter(',');
  verb->add_option("--keep-before", arguments->keep_before,
                   "keep the posture and spin that the run in the --resume folder chose before this line; the speeds "
                   "stay too, but for the last moves before it where the new path brakes otherwise")
      ->type_name("LINE");
  verb->add_option("--without", arguments->without,
                   "error layers to leave out, a what-if that never passes: " + fmt::format("{}", fmt::join(LayerWords(), ", ")))
      ->type_name("LAYER")->delimiter(',');
  verb->add_option("--baseline", arguments->baseline, "folder of an earlier report: findings are marked new, grown or unchanged, and those gone are told")
      ->type_name("DIR");
  verb->add_option("--date", arguments->date, "day of the run, by which waivers count or are over (default: of the clock)")
      ->type_name("YYYY-MM-DD");
  verb->add_flag("--json", arguments->json, "print report.json instead of sentences");
  verb->add_flag("--quiet", arguments->quiet, "no progress");
  verb->add_flag("--allow-outside", arguments->allow_outside, "allow files outside the job's folder");
  verb->callback([arguments, resolution, &code] {
    arguments->resolution_given = resolution->count() > 0;
    code = RunDryRun(*arguments);
  });
}

}  // namespace aircut::tools
