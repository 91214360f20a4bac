#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

namespace aircut::verify {

enum class Result { kPass, kUnproven, kFail };

const char* WordFor(Result result);   ///< "pass", "unproven", "fail"

/// One thing wrong at one place.
struct Finding {
  std::string check;                     ///< id of the check that owns it
  std::string text;                      ///< sentence with numbers and units
  int line = 0;                          ///< first path line, 0 = none
  std::vector<int> lines;                ///< first and last path line where it spans several
  std::optional<double> time_s;
  std::optional<Eigen::Vector3d> at_S;   ///< place on the workpiece [mm]
  double value = 0.0;
  double limit = 0.0;
  std::string unit;
  std::string cause;                     ///< probable cause in the files; empty = unknown
  bool sure = true;                      ///< false: a search found no better, there may be one
};

enum class Group { kPremise, kHazard, kQuality };

/// How a larger value compares with the limit.
enum class Sense { kAtMost, kAtLeast };

/// Outcome of one check.
struct CheckResult {
  std::string id;
  Group group = Group::kQuality;
  bool required = false;
  Result result = Result::kUnproven;
  std::optional<double> worst, bound, limit;
  Sense sense = Sense::kAtMost;
  std::string unit;
  bool assumed = false;                  ///< the limit is a default, not given
  bool waived = false;
  std::string why;                       ///< one sentence
  std::string where;                     ///< short place for the table
  std::vector<std::string> needs;        ///< inputs that would settle it
  std::vector<Finding> findings;
};

/// The rule of decision: pass only if worst + bound is inside the limit, fail
/// only if worst - bound is outside it, otherwise unproven. NaN never passes.
Result Decide(double worst, double bound, double limit, Sense sense);

}  // namespace aircut::verify
