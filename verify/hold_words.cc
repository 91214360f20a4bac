#include "verify/hold_words.h"

namespace aircut::verify {

std::string WordsFor(const kinematics::Hold& hold) {
  using kinematics::HeldBy;
  const std::string joint = "joint " + std::to_string(hold.joint + 1);
  switch (hold.by) {
    case HeldBy::kFeed: return "feed";
    case HeldBy::kJointSpeed: return joint + " speed";
    case HeldBy::kJointAcceleration: return joint + " acceleration";
    case HeldBy::kToolAcceleration: return "tool acceleration";
    case HeldBy::kCorner: return "corner";
    case HeldBy::kLookAhead: return "look-ahead";
    case HeldBy::kCycle: return "cycle";
    case HeldBy::kSlowPass: return "reduced speed";
    case HeldBy::kStop: break;
  }
  return "stop";
}

}  // namespace aircut::verify
