#include "verify/logged_walk.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "verify/words.h"

namespace aircut::verify {
namespace {

using kinematics::JointVector;
using LogRow = sim::RunsAs::LogRow;

double Apart(const JointVector& a, const JointVector& b) {
  if (a.size() != b.size() || !a.allFinite() || !b.allFinite()) {
    return std::numeric_limits<double>::infinity();
  }
  return (a - b).cwiseAbs().maxCoeff();
}

// A place on the motion: this share of the way from moment `segment` to the next.
struct At {
  std::size_t segment = 0;
  double share = 0.0;
};

// First share in [from, 1] of the way from a to b that is near to q in every joint.
std::optional<double> FirstNear(const JointVector& a, const JointVector& b, const JointVector& q,
                                double limit_rad, double from) {
  if (!std::isfinite(Apart(a, q)) || !std::isfinite(Apart(b, q))) return std::nullopt;
  double low = from, high = 1.0;
  for (Eigen::Index j = 0; j < q.size(); ++j) {
    const double way = b[j] - a[j], off = q[j] - a[j];
    if (way == 0.0) {
      if (std::abs(off) > limit_rad) return std::nullopt;
      continue;
    }
    const double t0 = (off - limit_rad) / way, t1 = (off + limit_rad) / way;
    low = std::max(low, std::min(t0, t1));
    high = std::min(high, std::max(t0, t1));
  }
  return low <= high ? std::optional<double>(low) : std::nullopt;
}

class Walker {
 public:
  Walker(const PlannedJoints& planned, double limit_rad) : planned_(planned), limit_rad_(limit_rad) {
    travel_rad_.push_back(0.0);
    for (std::size_t i = 1; i < planned.q.size(); ++i) {
      travel_rad_.push_back(travel_rad_.back() + Apart(planned.q[i - 1], planned.q[i]));
    }
  }

  // Moves on to the row; false: it lies nowhere ahead.
  bool Take(const LogRow& row) {
    const std::optional<At> next = NextNear(row.q);
    if (!next) return false;
    if (walk_.rows_used > 0) LookForGap(TravelTo(*next));
    at_ = *next;
    ++walk_.rows_used;
    nearest_ = std::max(nearest_, at_.segment);
    while (nearest_ + 1 < planned_.q.size() &&
           Apart(planned_.q[nearest_ + 1], row.q) <= Apart(planned_.q[nearest_], row.q)) {
      ++nearest_;
    }
    walk_.worst_rad = std::max(walk_.worst_rad, std::min(Apart(Here(), row.q),
                                                         Apart(planned_.q[nearest_], row.q)));
    arrived_ = walk_.rows_used > 1 && Apart(planned_.q.back(), row.q) <= limit_rad_ &&
               travel_rad_.back() - TravelTo(at_) <= kGapLimits * limit_rad_;
    return true;
  }

  LoggedWalk Left(const LogRow& row) {
    if (arrived_) return Whole();   // it is on its way home
    std::size_t nearest = at_.segment;
    for (std::size_t i = at_.segment; i < planned_.q.size(); ++i) {
      if (travel_rad_[i] - TravelTo(at_) > 2.0 * kGapLimits * limit_rad_) break;
      if (Apart(planned_.q[i], row.q) < Apart(planned_.q[nearest], row.q)) nearest = i;
    }
    walk_.end = LoggedWalk::End::kLeft;
    walk_.log_line = row.line;
    walk_.line = planned_.line[nearest];
    const JointVector& q = planned_.q[nearest];
    for (Eigen::Index j = 0; j < std::min(q.size(), row.q.size()); ++j) {
      if (j > 0 && std::abs(q[j] - row.q[j]) <= std::abs(walk_.planned_rad - walk_.logged_rad)) continue;
      walk_.joint = static_cast<int>(j);
      walk_.logged_rad = row.q[j];
      walk_.planned_rad = q[j];
    }
    walk_.worst_rad = Apart(q, row.q);
    return walk_;
  }

  LoggedWalk Whole() {
    if (!arrived_ && walk_.gap.empty()) {
      walk_.gap = walk_.rows_used == 0
                      ? "no row lies at the first line"
                      : "it ends on the way to " + Lines(LineHere(), LineHere());
    }
    walk_.end = walk_.gap.empty() ? LoggedWalk::End::kWhole : LoggedWalk::End::kShort;
    return walk_;
  }

 private:
  std::optional<At> NextNear(const JointVector& q) const {
    if (planned_.q.size() == 1 && Apart(planned_.q[0], q) <= limit_rad_) return At{};
    double from = at_.share;
    for (std::size_t i = at_.segment; i + 1 < planned_.q.size(); ++i, from = 0.0) {
      const auto share = FirstNear(planned_.q[i], planned_.q[i + 1], q, limit_rad_, from);
      if (share) return At{i, *share};
    }
    return std::nullopt;
  }

  double TravelTo(const At& at) const {
    const std::size_t next = std::min(at.segment + 1, travel_rad_.size() - 1);
    return travel_rad_[at.segment] + at.share * (travel_rad_[next] - travel_rad_[at.segment]);
  }

  void LookForGap(double travel_rad) {
    if (travel_rad - TravelTo(at_) <= kGapLimits * limit_rad_ || !walk_.gap.empty()) return;
    walk_.gap = "rows are missing from the way to " + Lines(LineHere(), LineHere()) + " on";
  }

  int LineHere() const {
    return planned_.line[std::min(at_.segment + 1, planned_.line.size() - 1)];
  }

  JointVector Here() const {
    const std::size_t next = std::min(at_.segment + 1, planned_.q.size() - 1);
    return planned_.q[at_.segment] + at_.share * (planned_.q[next] - planned_.q[at_.segment]);
  }

  const PlannedJoints& planned_;
  double limit_rad_;
  std::vector<double> travel_rad_;   // of the farthest joint, summed up to each moment
  LoggedWalk walk_;
  At at_;
  std::size_t nearest_ = 0;
  bool arrived_ = false;
};

}  // namespace

PlannedJoints PlannedAlongPath(const kinematics::Motion& motion) {
  PlannedJoints planned;
  if (motion.tracks.empty()) return planned;
  const kinematics::MotionTrack& track = motion.tracks[0];
  if (track.path_index.size() != track.q.size() || track.line.size() != track.q.size()) return planned;
  const auto& index = track.path_index;
  if (index.empty()) return planned;
  const int last = *std::max_element(index.begin(), index.end());
  const auto first_at = std::find(index.rbegin(), index.rend(), 0);
  const auto last_at = std::find(index.rbegin(), index.rend(), last);
  if (last < 0 || first_at == index.rend()) return planned;
  const auto begin = static_cast<std::size_t>(index.rend() - first_at) - 1;
  const auto end = static_cast<std::size_t>(index.rend() - last_at);
  for (std::size_t i = begin; i < end; ++i) {
    planned.q.push_back(track.q[i]);
    planned.line.push_back(track.line[i]);
  }
  return planned;
}

LoggedWalk WalkLog(const PlannedJoints& planned, const std::vector<LogRow>& log, double limit_rad) {
  Walker walker(planned, limit_rad);
  bool started = false;
  for (const LogRow& row : log) {
    started = started || Apart(row.q, planned.q.front()) <= limit_rad;
    if (started && !walker.Take(row)) return walker.Left(row);
  }
  return walker.Whole();
}

}  // namespace aircut::verify
