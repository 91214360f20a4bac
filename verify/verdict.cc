#include "verify/verdict.h"

#include <algorithm>
#include <array>
#include <string_view>

#include <fmt/format.h>

#include "verify/blind_spots.h"
#include "verify/lines_to_sign.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

// A failing check speaks for the job in this order: what can hurt someone
// first, then what spoils the piece, then what only asks for care.
constexpr std::array<std::string_view, 24> kSpeaksFirst = {
    "inputs",       "clash",         "body-contact",  "rapid-contact",  "stopped-contact",
    "events",       "clamp-zone",    "break-through", "joint-path",     "arm-model",
    "reach",        "joint-range",   "posture-change", "gouge",         "depth",
    "joint-speed",  "leftover",      "flute-length",  "tool-measured",  "piece-located",
    "frame-fit",    "scan-support",  "payload",       "bodies-declared"};

std::size_t RankOf(const CheckResult& check) {
  const auto found = std::find(kSpeaksFirst.begin(), kSpeaksFirst.end(), check.id);
  return static_cast<std::size_t>(found - kSpeaksFirst.begin());
}

// Required by the job, or a hazard check: these never leave.
bool Counts(const CheckResult& check) {
  return check.required || check.group == Group::kHazard;
}

// Leaving a hazard check out of `require:` caps the verdict. Source: design, section 1.
bool IsLeftOut(const CheckResult& check) {
  return check.group == Group::kHazard && !check.required;
}

using Checks = std::vector<const CheckResult*>;

Checks Where(const std::vector<CheckResult>& checks, bool (*holds)(const CheckResult&)) {
  Checks found;
  for (const CheckResult& check : checks) {
    if (holds(check)) found.push_back(&check);
  }
  return found;
}

std::vector<std::string> IdsOf(const Checks& checks) {
  std::vector<std::string> ids;
  for (const CheckResult* check : checks) ids.push_back(check->id);
  return ids;
}

// The checks by what they mean for the verdict.
struct Tally {
  Checks counted, failed, open, passed, left_out, not_asked, not_asked_failed;
  std::vector<std::string> without;   // error layers that the run left out
};

Tally TallyOf(const std::vector<CheckResult>& checks) {
  Tally t;
  t.counted = Where(checks, [](const CheckResult& c) { return Counts(c); });
  t.failed = Where(checks, [](const CheckResult& c) {
    return Counts(c) && c.result == Result::kFail;
  });
  t.open = Where(checks, [](const CheckResult& c) {
    return Counts(c) && c.result == Result::kUnproven;
  });
  t.passed = Where(checks, [](const CheckResult& c) {
    return Counts(c) && c.result == Result::kPass;
  });
  t.left_out = Where(checks, IsLeftOut);
  t.not_asked = Where(checks, [](const CheckResult& c) { return !Counts(c); });
  t.not_asked_failed = Where(checks, [](const CheckResult& c) {
    return !Counts(c) && c.result == Result::kFail;
  });
  std::stable_sort(t.failed.begin(), t.failed.end(), [](const CheckResult* a, const CheckResult* b) {
    return RankOf(*a) < RankOf(*b);
  });
  // What this version computes can be settled by an input: name that first.
  std::stable_sort(t.open.begin(), t.open.end(), [](const CheckResult* a, const CheckResult* b) {
    return a->computed && !b->computed;
  });
  return t;
}

Result ResultOf(const Tally& t) {
  if (!t.failed.empty()) return Result::kFail;
  const bool all_shown = t.open.empty() && t.left_out.empty() && !t.counted.empty() && t.without.empty();
  return all_shown ? Result::kPass : Result::kUnproven;
}

std::string Capitalised(const std::string& text) {
  if (text.empty() || text[0] < 'a' || text[0] > 'z') return text;
  std::string capital = text;
  capital[0] = static_cast<char>(text[0] - 'a' + 'A');
  return capital;
}

std::string Sentence(const std::string& text) {
  const bool ends = !text.empty() && text.back() == '.';
  return Capitalised(text) + (ends ? "" : ".");
}

std::int64_t Size(const Checks& checks) { return static_cast<std::int64_t>(checks.size()); }

std::string Headline(const Tally& t, Result result) {
  if (result == Result::kPass && !t.not_asked_failed.empty()) {
    return fmt::format("No fault found in {} asked for; not asked for, but failing: {}. This is not leave to run.",
                       Plural(Size(t.passed), "check"), List(IdsOf(t.not_asked_failed), 3));
  }
  if (result == Result::kPass) {
    return fmt::format("No fault found in {} of these files. This is not leave to run.",
                       Plural(Size(t.passed), "check"));
  }
  if (result == Result::kFail) {
    const CheckResult& first = *t.failed.front();
    return Sentence(first.findings.empty() ? first.why : first.findings.front().text);
  }
  if (t.counted.empty()) return "Nothing was checked, so nothing is shown.";
  if (t.open.empty() && t.left_out.empty()) {
    return fmt::format("Not proven: this is a what-if without {}.", List(t.without));
  }
  if (t.open.empty()) {
    return fmt::format("Not proven: `require:` leaves out {} ({}).",
                       Plural(Size(t.left_out), "hazard check"), List(IdsOf(t.left_out), 3));
  }
  return fmt::format("Not proven: {} of {} required checks could not be settled ({}).",
                     Count(Size(t.open)), Count(Size(t.counted)), List(IdsOf(t.open), 3));
}

// Where a check has no cause in the files, what usually mends it.
std::string UsualMend(const std::string& id) {
  if (id == "clearance") return "give the bodies more room: another spin, or a higher retract";
  if (id == "leftover") return "add a finishing pass, or a smaller cutter where the big one cannot go";
  if (id == "gouge" || id == "depth") {
    return "compare the path's height and cutter with the design at the place named";
  }
  return "mend the place named above in the path or in the cell";
}

std::string MendFirst(const Tally& t, Result result) {
  if (result == Result::kPass) return "";
  if (result == Result::kFail) {
    const CheckResult& first = *t.failed.front();
    const bool known = !first.findings.empty() && !first.findings.front().cause.empty();
    return Sentence(known ? first.findings.front().cause : UsualMend(first.id));
  }
  if (t.open.empty() && !t.left_out.empty()) {
    return fmt::format("Name {} under `require:`; hazard checks are not for leaving out.",
                       List(IdsOf(t.left_out)));
  }
  if (t.open.empty() && !t.without.empty()) return "Run it again with every layer.";
  if (t.open.empty()) return "Name the checks that the job needs under `require:`.";
  const CheckResult& first = *t.open.front();
  if (!first.computed) {
    return fmt::format("This version does not compute {}; settle that on the shop floor, or leave "
                       "it out of `require:` and answer for it yourself.",
                       List(IdsOf(t.open), 4));
  }
  if (first.needs.empty()) return Sentence(first.why);
  return fmt::format("{} needs {}.", Capitalised(first.id), first.needs.front());
}

std::string Reason(const Tally& t) {
  std::string text = fmt::format("{} of {} required checks pass", Count(Size(t.passed)),
                                 Count(Size(t.counted)));
  if (!t.failed.empty()) text += "; failed: " + List(IdsOf(t.failed));
  if (!t.open.empty()) text += "; unproven: " + List(IdsOf(t.open));
  text += ".";
  if (!t.left_out.empty()) {
    text += fmt::format(" Hazard checks that the job leaves out of `require:`, which alone keeps it "
                        "from a pass: {}.", List(IdsOf(t.left_out)));
  }
  if (!t.without.empty()) {
    text += fmt::format(" Left out of this run, which alone keeps it from a pass: {}.", List(t.without));
  }
  if (!t.not_asked.empty()) {
    text += fmt::format(" Not asked for: {}", Plural(Size(t.not_asked), "check"));
    if (!t.not_asked_failed.empty()) {
      text += fmt::format(", of which failed all the same: {}", List(IdsOf(t.not_asked_failed)));
    }
    text += ".";
  }
  return text;
}

}  // namespace

Verdict Judge(const sim::Job& job, const std::vector<CheckResult>& checks,
              const std::vector<std::string>& without) {
  Tally tally = TallyOf(checks);
  tally.without = without;
  Verdict verdict;
  verdict.result = ResultOf(tally);
  verdict.headline = Headline(tally, verdict.result);
  verdict.mend_first = MendFirst(tally, verdict.result);
  verdict.reason = Reason(tally);
  verdict.cannot_see = BlindSpotsOf(job, checks);
  verdict.to_sign = LinesToSign(job);
  return verdict;
}

}  // namespace aircut::verify
