#include "sim/air_pass.h"

#include <cmath>

#include <fmt/format.h>

#include "kinematics/branch_follower.h"
#include "kinematics/path_targets.h"
#include "sim/chain_motion.h"
#include "sim/path_copy.h"
#include "sim/prepared_shape.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::MotionTrack;
using kinematics::MoveKind;
using kinematics::PathLine;
using kinematics::Pose;

// The mean of unit axes is shorter the farther they point apart; at 0.7 they lie
// on the rim of a cone of 45 degrees.
constexpr double kLeastMeanAxis = 0.7;
// Moments whose poses are held at a time.
constexpr int kBlockMoments = 16384;

bool StaysRapid(const AirPassTask& task, const PathLine& line) {
  return line.move == MoveKind::kRapid && task.main.controller.rapid == kinematics::RapidRule::kJoint;
}

// A straight rapid is run at a feed: no file can slow a rapid.
void RaisePath(const AirPassTask& task, AirPass& pass) {
  pass.path = task.main.path;
  for (std::size_t i = 0; i < pass.path.size(); ++i) {
    PathLine& line = pass.path[i];
    const double travel_mm = i > 0 ? (line.p_ST - task.main.path[i - 1].p_ST).norm() : 0.0;
    const bool rests = i > 0 && travel_mm <= kinematics::kNoTravel_mm;
    line.p_ST += pass.raise_mm * pass.along_S;
    line.R_ST = task.motion.R_ST_per_line[i];
    line.axis_S = line.R_ST->col(2);
    line.spindle_rpm = 0.0;
    if (!rests) line.duration_s.reset();
    if (rests && *line.R_ST != task.motion.R_ST_per_line[i - 1]) ++pass.turns_on_the_spot;
    if (StaysRapid(task, line)) {
      ++pass.joint_rapids;
      continue;
    }
    const bool was_rapid = line.move == MoveKind::kRapid;
    line.move = MoveKind::kCut;
    if (was_rapid || line.feed_mm_s > kSlowPlanned_mm_s) line.feed_mm_s = kSlowPlanned_mm_s;
  }
}

// The joints of the raised first line in the posture that the job's motion has
// there; nothing where the posture changes on the way: it may change again.
std::optional<kinematics::JointVector> StartPosture(const AirPassTask& task, const kinematics::PlanRequest& raised) {
  const std::vector<int>& postures = task.motion.posture_per_line;
  if (postures.empty()) return std::nullopt;
  for (const int posture : postures) {
    if (posture != postures.front()) return std::nullopt;
  }
  const MotionTrack& main = task.motion.tracks.front();
  std::size_t first = 0;
  while (first + 1 < main.size() && main.path_index[first] != 0) ++first;
  const kinematics::PathTargets targets(raised);
  const kinematics::BranchFollower follower(*raised.arm);
  return follower.Near(follower.Solve(targets.X_AF(0), targets.external(0)), postures.front(), main.q[first]);
}

void PlanPass(const AirPassTask& task, AirPass& pass) {
  kinematics::PlanRequest request = task.main;
  request.path = pass.path;
  request.spin = kinematics::SpinRule::kAsWritten;
  request.slow_mm_s = kSlowPlanned_mm_s;
  request.progress = nullptr;
  request.start_posture = StartPosture(task, request);
  pass.motion = kinematics::PlanMotion(request);
  if (!pass.motion.tracks.empty()) pass.motion.tracks.front().name = "slow air pass";
}

// Goes through a track and looks at every moment and at every step between two.
class TrackSurvey {
 public:
  TrackSurvey(const AirPassTask& task, AirPass& pass)
      : task_(task), pass_(pass), track_(pass.motion.tracks.front()),
        ratio_(pass.path.size(), 1.0) {}

  void Run() {
    pass_.fastest_of.assign(static_cast<std::size_t>(Links()) + 1, {});
    for (int link = 0; link <= Links(); ++link) pass_.fastest_of[static_cast<std::size_t>(link)].link = link;
    const int last = static_cast<int>(track_.size()) - 1;
    for (int first = 0; first < last; first += kBlockMoments) {
      const int count = std::min(kBlockMoments, last - first) + 1;
      const ChainMoments moments(*task_.main.arm, task_.cell.job.cell.X_WB, track_, first, count);
      for (int i = 0; i < count; ++i) {
        Cover(moments, i);
        if (i > 0) Step(moments, i);
        if (i > 0) StepOfWork(moments, i);
      }
    }
    LowerFeeds();
  }

 private:
  int Links() const { return static_cast<int>(task_.main.arm->chain().size()); }
  Vector3d Tip(int moment) const {
    const auto m = static_cast<std::size_t>(moment);
    const int line = track_.path_index[m];
    const std::size_t of = line >= 0                                              ? static_cast<std::size_t>(line)
                           : track_.phase[m] == kinematics::Phase::kReturn ? task_.main.path.size() - 1
                                                                                  : 0;
    return task_.cell.job.cell.X_WB * track_.X_BF[m] * task_.main.X_FT[of].translation();
  }

  static bool WorkRests(const ChainMoments& moments, int i) {
    return moments.WorkMotion(i, 0.0).matrix() == moments.WorkMotion(i - 1, 0.0).matrix();
  }

  void Take(double speed_mm_s, int link, int moment) {
    const FastestPoint point{speed_mm_s, link, track_.line[static_cast<std::size_t>(moment)]};
    Keep(point, pass_.fastest_of[static_cast<std::size_t>(link)]);
    Keep(point, pass_.fastest);
  }

  static void Keep(const FastestPoint& point, FastestPoint& fastest) {
    // What is not a number stays: it must not be taken for slow.
    if (point.speed_mm_s <= fastest.speed_mm_s || std::isnan(fastest.speed_mm_s)) return;
    fastest = point;
  }

  void Step(const ChainMoments& moments, int i) {
    const int moment = moments.first() + i;
    const auto m = static_cast<std::size_t>(moment);
    const double time_s = track_.time_s[m] - track_.time_s[m - 1];
    // At a change of cutters the tip jumps though nothing moves.
    const double tip_mm = time_s > 0.0 ? (Tip(moment) - Tip(moment - 1)).norm() : 0.0;
    double farthest_mm = tip_mm;
    if (time_s > 0.0) Take(tip_mm / time_s, 0, moment);
    // The feed is that seen from the work; a table that turns is no speed in the room.
    if (WorkRests(moments, i)) Take(track_.feed_mm_s[m], 0, moment);
    for (int link = 1; link <= Links(); ++link) {
      const int carrier = moments.line().foot() + link;
      const double gone_mm =
          (moments.X_WC(i, carrier).translation() - moments.X_WC(i - 1, carrier).translation()).norm();
      if (time_s > 0.0) Take(gone_mm / time_s, link, moment);
      if (gone_mm > farthest_mm) farthest_mm = gone_mm;
    }
    const int line = track_.path_index[m];
    if (line < 0 || tip_mm <= kinematics::kNoTravel_mm) return;
    double& ratio = ratio_[static_cast<std::size_t>(line)];
    if (farthest_mm > ratio * tip_mm) ratio = farthest_mm / tip_mm;
  }

  void Cover(const ChainMoments& moments, int i) {
    for (int body = 0; body < task_.cell.world.body_count(); ++body) {
      const BodyMount& mount = task_.cell.mounts[static_cast<std::size_t>(body)];
      if (mount.on == BodyMount::On::kWorld) continue;
      const Pose X_WA = moments.BodyPose(mount, i);
      for (const PreparedShape& shape : task_.cell.world.prepared().bodies[static_cast<std::size_t>(body)]) {
        for (const Ball& ball : shape.cover) {
          const Vector3d centre = X_WA * ball.centre;
          pass_.swept_W.extend(Vector3d(centre.array() - ball.radius_mm));
          pass_.swept_W.extend(Vector3d(centre.array() + ball.radius_mm));
        }
      }
    }
  }

  // Points of the work's covers between two moments: no more than its bodies do.
  void StepOfWork(const ChainMoments& moments, int i) {
    const auto m = static_cast<std::size_t>(moments.first() + i);
    const double time_s = track_.time_s[m] - track_.time_s[m - 1];
    if (WorkRests(moments, i) || !(time_s > 0.0)) return;
    const Pose motion = moments.WorkMotion(i, 0.0) * moments.WorkMotion(i - 1, 0.0).inverse();
    pass_.work_at_most_mm_s = MostWorkSpeed_mm_s(task_.cell) * (1.0 + kSlowOvershoot);
    for (int body = 0; body < task_.cell.world.body_count(); ++body) {
      const BodyMount& mount = task_.cell.mounts[static_cast<std::size_t>(body)];
      if (mount.on != BodyMount::On::kWork) continue;
      const Pose X_WA = moments.BodyPose(mount, i - 1);
      for (const PreparedShape& shape : task_.cell.world.prepared().bodies[static_cast<std::size_t>(body)]) {
        for (const Ball& ball : shape.cover) {
          const Vector3d centre = X_WA * ball.centre;
          const double gone_mm = (motion * centre - centre).norm();
          pass_.work_at_least_mm_s = std::max(pass_.work_at_least_mm_s, gone_mm / time_s);
        }
      }
    }
  }

  // A link that goes faster than the tip holds the tip's feed down.
  void LowerFeeds() {
    for (std::size_t i = 0; i < pass_.path.size(); ++i) {
      PathLine& line = pass_.path[i];
      const double most_mm_s = kSlowPlanned_mm_s / ratio_[i];
      if (line.move == MoveKind::kCut && line.feed_mm_s > most_mm_s) line.feed_mm_s = most_mm_s;
    }
  }

  const AirPassTask& task_;
  AirPass& pass_;
  const MotionTrack& track_;
  std::vector<double> ratio_;   // travel of the fastest link over that of the tip, per line, >= 1
};

}  // namespace

Vector3d MeanToolAxis(const kinematics::ToolPath& path) {
  Vector3d sum = Vector3d::Zero();
  std::size_t cuts = 0;
  for (const PathLine& line : path) {
    if (line.move != MoveKind::kCut) continue;
    sum += line.axis_S;
    ++cuts;
  }
  if (cuts == 0 || !(sum.norm() >= kLeastMeanAxis * static_cast<double>(cuts))) return Vector3d::Zero();
  return sum.normalized();
}

AirPass MakeAirPass(const AirPassTask& task) {
  const AirPassRule& rule = task.cell.job.air_pass;
  AirPass pass;
  pass.raise_mm = rule.raise_mm;
  pass.raise_assumed = !rule.raise_given;
  pass.along_assumed = !rule.along_S.has_value();
  pass.along_S = rule.along_S.value_or(MeanToolAxis(task.main.path));
  if (!task.motion.complete() || task.motion.R_ST_per_line.size() != task.main.path.size()) {
    pass.why_not = "The path itself cannot be followed to its end, so there is nothing to raise.";
  } else if (pass.along_S.isZero(0.0)) {
    pass.why_not = "The tool axes point too far apart to say which way is away from the piece.";
  }
  if (!pass.why_not.empty()) return pass;
  RaisePath(task, pass);
  PlanPass(task, pass);
  if (!pass.motion.complete()) return pass;
  std::vector<ClearancePair> pairs = task.pairs;
  for (const ClearancePair& pair : ToolAgainstPiece(task.kinds)) pairs.push_back(pair);
  pass.clearances = ClearancesAlong(task.cell, pass.motion.tracks.front(), pairs).pairs;
  TrackSurvey(task, pass).Run();
  return pass;
}

std::string AirPassTable(const Job& job, const AirPass& pass) {
  const std::string head = fmt::format(
      "# slow air pass: the path raised by {} mm along ({:.6f}, {:.6f}, {:.6f}) in S, spindle stopped\n"
      "# feeds keep tip and links at {:.0f} mm/s at most; it is the controller's own reduced-speed mode\n"
      "# (ISO 10218-1) that enforces {:.0f} mm/s. path: {{format: pose_table}}, spin: {{rule: as_written}}\n",
      pass.raise_mm, pass.along_S.x(), pass.along_S.y(), pass.along_S.z(), kSlowPlanned_mm_s, kReducedSpeed_mm_s);
  std::vector<PoseRow> rows;
  for (const PathLine& line : pass.path) rows.push_back(RowOf(job.cell, line, *line.R_ST));
  return head + PoseTableOf(pass.path, std::move(rows));
}

}  // namespace aircut::sim
