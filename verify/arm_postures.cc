#include "verify/arm_postures.h"

#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/inverse_kinematics.h"
#include "kinematics/numeric_ik.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

constexpr int kPostures = 500;

}  // namespace

std::string PosturesText(const kinematics::ArmModel& arm) {
  if (kinematics::HasClosedForm(arm)) return "in closed form, up to eight a pose";
  try {
    const kinematics::SearchTrial trial = kinematics::NumericIk(arm).Try(kPostures);
    return fmt::format("searched, as this arm has no closed form: found at {} of {} reachable poses tried",
                       Count(trial.found), Count(trial.poses));
  } catch (const std::invalid_argument& error) {
    return error.what();
  }
}

}  // namespace aircut::verify
