#include "kinematics/plan_faults.h"

#include <algorithm>
#include <cmath>
#include <iomanip>
#include <optional>
#include <sstream>

#include "kinematics/inverse_kinematics.h"
#include "kinematics/joint_room.h"
#include "kinematics/reach_shell.h"
#include "kinematics/units.h"

namespace aircut::kinematics {
namespace {

std::string Number(const double value, const int digits) {
  std::ostringstream text;
  text << std::fixed << std::setprecision(digits) << value;
  return text.str();
}

std::string Range(const ArmModel& arm, const int joint, const double lower, const double upper) {
  return ShownOf(arm, joint, lower) + " to " + ShownOf(arm, joint, upper);
}

// What a range belongs to: "joint 3", "the sum joint 3 + joint 2".
std::string Limited(const ArmModel& arm, const int joint, const bool of_sum) {
  if (!of_sum) return NameOfJoint(arm, joint);
  const JointSpec& spec = arm.joints()[static_cast<std::size_t>(joint)];
  return "the sum " + NameOfSum(joint, *spec.sum_limit);
}

// `room` below 0.
PlanFault RangeFault(const ArmModel& arm, const int joint, const JointRoom& room,
                     const std::string& place) {
  PlanFault fault;
  fault.kind = PlanFaultKind::kOutOfRange;
  fault.joint = joint;
  fault.value = -room.room_rad;
  fault.limit = room.value_rad < room.lower_rad ? room.lower_rad : room.upper_rad;
  fault.text = place + ": " + Limited(arm, joint, room.of_sum) + " would have to go to " +
               ShownOf(arm, joint, room.value_rad) + ", " + ShownOf(arm, joint, fault.value) +
               " beyond its range of " + Range(arm, joint, room.lower_rad, room.upper_rad) + ".";
  return fault;
}

void AppendStated(const ArmModel& arm, const JointVector& q, const std::string& place,
                  std::vector<PlanFault>& faults) {
  for (int j = 0; j < arm.joint_count(); ++j) {
    const JointRoom room = RoomOf(arm, q, j);
    if (room.room_rad >= 0.0) continue;
    PlanFault fault = RangeFault(arm, j, room, place);
    fault.path_index = -1;
    faults.push_back(fault);
  }
}

std::string PlaceOf(const PathLine& line) { return "Line " + std::to_string(line.line); }

void PutAt(const PathLine& line, const std::size_t i, PlanFault& fault) {
  fault.line = line.line;
  fault.path_index = static_cast<int>(i);
}

// Gathers lines next to each other with the same trouble into one fault.
class FaultCollector {
 public:
  // `fault` stands at path line `i`.
  void Add(const std::size_t i, PlanFault fault) {
    const int joint = fault.joint;
    auto same = std::find_if(open_.begin(), open_.end(), [&](const Open& open) {
      return open.fault.kind == fault.kind && open.fault.joint == joint && open.last + 1 == i;
    });
    if (same == open_.end()) {
      open_.push_back({std::move(fault), i, i});
      return;
    }
    same->last = i;
    const bool measured =
        fault.kind == PlanFaultKind::kOutOfReach || fault.kind == PlanFaultKind::kOutOfRange;
    if (measured && fault.value > same->fault.value) same->fault = std::move(fault);
  }

  // Closes what did not go on at line `i - 1`.
  void CloseBefore(const std::size_t i) {
    for (auto open = open_.begin(); open != open_.end();) {
      if (open->last + 1 < i) {
        Close(*open);
        open = open_.erase(open);
      } else {
        ++open;
      }
    }
  }

  std::vector<PlanFault> Take(const std::size_t end) {
    CloseBefore(end + 1);
    return std::move(closed_);
  }

 private:
  struct Open {
    PlanFault fault;
    std::size_t first = 0, last = 0;
  };

  void Close(Open& open) {
    const std::size_t lines = open.last - open.first + 1;
    if (lines > 1) {
      open.fault.text += " The same holds for " + std::to_string(lines) +
                         " lines next to each other, less or as badly.";
    }
    closed_.push_back(std::move(open.fault));
  }

  std::vector<Open> open_;
  std::vector<PlanFault> closed_;
};

// Of an arm whose solutions are searched: beyond the ball of all its links it is
// sure, inside it a search may have missed what there is.
PlanFault SearchFault(const ChainReach& reach, const Pose& X_AF, const PathLine& line) {
  PlanFault fault;
  fault.kind = PlanFaultKind::kOutOfReach;
  fault.value = std::max(reach.Beyond_mm(X_AF), 0.0);
  fault.limit = reach.outer_mm();
  if (fault.value > 0.0) {
    fault.text = PlaceOf(line) + ": the last axis is " + Number(fault.value, 1) +
                 " mm outside what the arm can reach (" + Number(fault.limit, 1) +
                 " mm from axis 1 when all links are stretched).";
  } else {
    fault.text = PlaceOf(line) + ": no solution was found for this pose by search.";
  }
  return fault;
}

PlanFault ReachFault(const ReachShell& shell, const Pose& X_BF, const PathLine& line,
                     const int posture) {
  PlanFault fault;
  fault.kind = PlanFaultKind::kOutOfReach;
  fault.value = std::max(shell.Beyond_mm(X_BF), 0.0);
  fault.limit = shell.outer_mm();
  if (fault.value > 0.0) {
    fault.text = PlaceOf(line) + ": the wrist centre is " + Number(fault.value, 1) +
                 " mm outside what the arm can reach (" + Number(fault.limit, 1) +
                 " mm from axis 2 when stretched).";
  } else {
    fault.text = PlaceOf(line) + ": posture " + std::to_string(posture) +
                 ", which fits the lines around it best, does not reach this pose.";
  }
  return fault;
}

PlanFault BreakFault(const PathTargets& targets, const PostureChoice& choice, const std::size_t i,
                     const LineState state) {
  PlanFault fault;
  fault.kind = PlanFaultKind::kPostureBreak;
  fault.value = i > 0 ? choice.posture[i - 1] : choice.posture[i];
  fault.limit = choice.posture[i];
  const std::string place = PlaceOf(targets.line(i));
  if (state == LineState::kJump) {
    fault.text = place + ": posture " + std::to_string(choice.posture[i]) +
                 " cannot follow the straight move to this line: the joints would have to jump.";
  } else if (choice.posture[i - 1] == choice.posture[i]) {
    fault.text = place + ": a joint would have to unwind by whole turns on the straight move to "
                 "this line.";
  } else {
    fault.text = place + ": the arm would have to change from posture " +
                 std::to_string(choice.posture[i - 1]) + " to " +
                 std::to_string(choice.posture[i]) + " on the straight move to this line.";
  }
  return fault;
}

}  // namespace

std::vector<PlanFault> FaultsOfStatedJoints(const PlanRequest& request) {
  std::vector<PlanFault> faults;
  AppendStated(*request.arm, request.home, "Home", faults);
  for (std::size_t i = 0; i < request.approach.size(); ++i) {
    AppendStated(*request.arm, request.approach[i], "Approach " + std::to_string(i + 1), faults);
  }
  for (std::size_t i = 0; i < request.retreat.size(); ++i) {
    AppendStated(*request.arm, request.retreat[i], "Return " + std::to_string(i + 1), faults);
  }
  for (std::size_t i = 0; i < request.tool_change.size(); ++i) {
    AppendStated(*request.arm, request.tool_change[i], "Tool change " + std::to_string(i + 1),
                 faults);
  }
  return faults;
}

std::vector<PlanFault> FaultsOfPath(const PathTargets& targets, const ArmModel& arm,
                                    const PostureChoice& choice) {
  std::optional<ReachShell> shell;
  std::optional<ChainReach> reach;   // where the arm has no closed form
  if (HasClosedForm(arm)) {
    shell.emplace(arm);
  } else {
    reach.emplace(arm);
  }
  FaultCollector collector;
  for (std::size_t i = 0; i < targets.size(); ++i) {
    const PathLine& line = targets.line(i);
    const auto add = [&](PlanFault fault) {
      PutAt(line, i, fault);
      collector.Add(i, std::move(fault));
    };
    collector.CloseBefore(i);
    const LineState state = choice.state[i];
    if (state == LineState::kNoSolution) {
      add(shell ? ReachFault(*shell, targets.X_AF(i), line, choice.posture[i])
                : SearchFault(*reach, targets.X_AF(i), line));
      continue;
    }
    if (state != LineState::kFollowed) add(BreakFault(targets, choice, i, state));
    for (int j = 0; j < arm.joint_count(); ++j) {
      const JointRoom room = RoomOf(arm, choice.q[i], j);
      if (room.room_rad < 0.0) add(RangeFault(arm, j, room, PlaceOf(line)));
    }
  }
  return collector.Take(targets.size());
}

PlanFault FaultOfMove(const PathTargets& targets, const PostureChoice& choice, const std::size_t i,
                      const Obstruction obstruction) {
  PlanFault fault;
  PutAt(targets.line(i), i, fault);
  fault.value = choice.posture[i];
  fault.limit = choice.posture[i];
  const std::string place = PlaceOf(targets.line(i));
  const std::string posture = "posture " + std::to_string(choice.posture[i]);
  if (obstruction == Obstruction::kSingular) {
    fault.kind = PlanFaultKind::kAtSingularity;
    fault.text = place + ": " + posture +
                 " passes a singular place on the straight move to this line, where a joint "
                 "would need endless speed.";
  } else if (obstruction == Obstruction::kNoSolution) {
    fault.kind = PlanFaultKind::kOutOfReach;
    fault.value = 0.0;
    fault.limit = 0.0;
    fault.text = place + ": " + posture +
                 " reaches both ends of the straight move to this line, not its middle.";
  } else {
    fault.kind = PlanFaultKind::kPostureBreak;
    fault.text = place + ": " + posture +
                 " cannot follow the straight move to this line: the joints would have to jump.";
  }
  return fault;
}

PlanFault FaultOfMargin(const ArmModel& arm, const int joint, const JointMargin& margin) {
  const JointSpec& spec = arm.joints()[static_cast<std::size_t>(joint)];
  const double lower_rad = margin.of_sum ? spec.sum_limit->lower_rad : spec.lower_rad;
  const double upper_rad = margin.of_sum ? spec.sum_limit->upper_rad : spec.upper_rad;
  PlanFault fault;
  fault.kind = PlanFaultKind::kOutOfRange;
  fault.line = margin.line;
  fault.path_index = margin.path_index;
  fault.joint = joint;
  fault.value = -margin.margin_rad;
  fault.limit = upper_rad;
  fault.text = "Line " + std::to_string(margin.line) + ": on the way to it " +
               Limited(arm, joint, margin.of_sum) + " leaves its range of " +
               Range(arm, joint, lower_rad, upper_rad) + " by " + ShownOf(arm, joint, -margin.margin_rad) +
               ".";
  return fault;
}

}  // namespace aircut::kinematics
