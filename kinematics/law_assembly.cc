#include "kinematics/law_assembly.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "kinematics/forward_kinematics.h"

namespace aircut::kinematics {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// Nothing runs faster than this in any parameter: keeps the law's numbers finite.
constexpr double kAnySpeed = 1e6;
// Intervals of the law are not longer than this [mm]: speeds are found on their ends.
constexpr double kMostTravel_mm = 1.0;
// A row counts as reached from this share of its limit on, against rounding.
constexpr double kReached = 1.0 - 1e-6;
// Most change of a rate over one interval, so that limits hold within 0.4 % in it.
constexpr double kMostChange = 0.1;
constexpr double kMostPartsForRates = 64.0;
// Share of a joint's acceleration limit that may be left between nodes.
constexpr double kMostLeave = 0.004;
// Of a joint's speed: a written speed below it is never held back by rates.
constexpr double kFarBelow = 0.5;
// Shorter parts of a piece are not worth a node.
constexpr double kLeastPart = 1e-6;
// A cut counts as slow below this share of its written feed.
constexpr double kSlowShare = 0.9;
// Where tangential and centripetal acceleration share one limit.
constexpr double kHalfShare = 0.70710678118654752440;
// Step of the difference that gives the speeds of link origins [parameter].
constexpr double kOriginStep = 1e-5;

double Square(const double value) { return value * value; }

}  // namespace

LawAssembly::LawAssembly(const ArmModel& arm, const ControllerRules& rules,
                         const std::optional<double> slow_mm_s, const Eigen::Vector3d* p_FT)
    : arm_(arm), rules_(rules), slow_mm_s_(slow_mm_s), p_FT_(p_FT) {
  caps_.push_back({0.0, {HeldBy::kStop, -1}});
  ideal_ = caps_;
  double lever = 0.0;
  for (auto joint = arm.chain().rbegin(); joint != arm.chain().rend(); ++joint) {
    lever += joint->after.translation().norm();
    lever_mm_.insert(lever_mm_.begin(), lever);
    lever += joint->before.translation().norm();
  }
}

LawAssembly::Place LawAssembly::At(const LawPiece& piece, const double s) const {
  const double h = piece.length, u = s / h;
  const JointVector mean = (piece.q_to - piece.q_from) / h;
  const JointVector off = 6.0 * (mean - 0.5 * (piece.rates_from + piece.rates_to));
  const JointVector slope = piece.rates_to - piece.rates_from;
  Place place;
  place.s = s;
  place.rates = piece.rates_from + u * slope + u * (1.0 - u) * off;
  place.bend = (slope + (1.0 - 2.0 * u) * off) / h;
  return place;
}

// Speeds are capped at nodes. Where a rate changes by a share d from one to the
// next, it can be exceeded between them by 0.375 d^2; where the written speed is
// far below what the joints could do, no rate is a cap.
int LawAssembly::PartsForRates(const LawPiece& piece) const {
  double least = kInfinity, most = 0.0, change = 0.0;
  for (const JointVector* rates : {&piece.rates_from, &piece.rates_to}) {
    double largest = 0.0;
    for (Eigen::Index j = 0; j < rates->size(); ++j) {
      const double limit = arm_.joints()[static_cast<std::size_t>(j)].speed_rad_s;
      largest = std::fmax(largest, std::abs((*rates)[j]) / limit);
      change = std::fmax(change, std::abs(piece.rates_to[j] - piece.rates_from[j]) / limit);
    }
    least = std::fmin(least, largest);
    most = std::fmax(most, largest);
  }
  const double tip = std::fmax(piece.tip_from, piece.tip_to);
  const double written = piece.written_speed / (tip > 0.0 ? tip : 1.0);
  if (most * written < kFarBelow && IsFarFromSlow(piece)) return 1;
  const double parts = change / (kMostChange * std::fmax(least, most / kMostPartsForRates));
  return static_cast<int>(std::ceil(std::fmin(parts, kMostPartsForRates)));
}

// Accelerations are bounded at nodes. On an interval of length L over which
// d2q/ds2 changes by d and s is accelerated by u, a joint's acceleration leaves
// the straight run between its ends by at most 5/8 u L d.
int LawAssembly::PartsForBend(const LawPiece& piece) const {
  const Place ends[] = {At(piece, 0.0), At(piece, piece.length)};
  double u_most = kInfinity;
  for (const Place& end : ends) {
    const double x_most = FastestSquare(piece, end);
    for (Eigen::Index j = 0; j < end.rates.size(); ++j) {
      const double c = arm_.joints()[static_cast<std::size_t>(j)].acceleration_rad_s2;
      u_most = std::fmin(u_most, (c + std::abs(end.bend[j]) * x_most) / std::abs(end.rates[j]));
    }
  }
  double parts2 = 1.0;
  for (Eigen::Index j = 0; j < piece.q_to.size(); ++j) {
    const double c = arm_.joints()[static_cast<std::size_t>(j)].acceleration_rad_s2;
    const double leaves = 0.625 * u_most * piece.length * std::abs(ends[1].bend[j] - ends[0].bend[j]);
    parts2 = std::fmax(parts2, leaves / (kMostLeave * c));
  }
  return static_cast<int>(std::ceil(std::fmin(std::sqrt(parts2), kMostPartsForRates)));
}

// No x beyond it is possible at an end of a piece: written speed, joint speeds,
// and accelerations through the bend alone.
double LawAssembly::FastestSquare(const LawPiece& piece, const Place& end) const {
  const double tip = end.s > 0.0 ? piece.tip_to : piece.tip_from;
  double x_most = Square(std::fmin(kAnySpeed, piece.written_speed / (tip > 0.0 ? tip : 1.0)));
  for (Eigen::Index j = 0; j < end.rates.size(); ++j) {
    const JointSpec& joint = arm_.joints()[static_cast<std::size_t>(j)];
    x_most = std::fmin(x_most, Square(joint.speed_rad_s / end.rates[j]));
    x_most = std::fmin(x_most, joint.acceleration_rad_s2 / std::abs(end.bend[j]));
  }
  return x_most;
}

// Ends of the intervals that a piece is cut into; the last one is its length.
std::vector<double> LawAssembly::Parts(const LawPiece& piece) const {
  const double tip = std::fmax(piece.tip_from, piece.tip_to);
  const double travel = piece.length * tip;
  const int parts = std::max({piece.least_parts, PartsForRates(piece), PartsForBend(piece),
                              static_cast<int>(std::ceil(travel / kMostTravel_mm))});
  std::vector<double> ends;
  for (int i = 1; i < parts; ++i) ends.push_back(piece.length * i / parts);
  for (const double from_end : {piece.brake_from, piece.length - piece.brake_to}) {
    const double least = kLeastPart * piece.length;
    if (from_end > least && from_end < piece.length - least) ends.push_back(from_end);
  }
  std::sort(ends.begin(), ends.end());
  const auto close = [&piece](double a, double b) { return b - a < kLeastPart * piece.length; };
  ends.erase(std::unique(ends.begin(), ends.end(), close), ends.end());
  ends.push_back(piece.length);
  return ends;
}

void LawAssembly::Lower(std::vector<Cap>& caps, const std::uint32_t node, const double speed,
                        const Hold& hold) {
  const double x = Square(speed);
  if (x < caps[node].x) caps[node] = {x, hold};
}

double LawAssembly::FastestOrigin(const JointVector& q, const JointVector& rates) const {
  const std::vector<Pose> before = LinkPoses(arm_, q - kOriginStep * rates);
  const std::vector<Pose> after = LinkPoses(arm_, q + kOriginStep * rates);
  double fastest = (after.back() * *p_FT_ - before.back() * *p_FT_).norm();
  for (std::size_t i = 0; i < before.size(); ++i) {
    fastest = std::fmax(fastest, (after[i].translation() - before[i].translation()).norm());
  }
  return fastest / (2.0 * kOriginStep);
}

// No origin and no tip is faster in one unit of the parameter, stretched arm or not.
double LawAssembly::FastestOriginBound(const JointVector& rates) const {
  if (!arm_.externals().empty()) return kInfinity;
  const JointVector turns = arm_.ModelAngles(rates) - arm_.ModelAngles(JointVector::Zero(rates.size()));
  double sum = 0.0;
  for (Eigen::Index j = 0; j < turns.size(); ++j) {
    sum += std::abs(turns[j]) * (lever_mm_[static_cast<std::size_t>(j)] + p_FT_->norm());
  }
  return sum;
}

// At the written speed, or there is no slow pass.
bool LawAssembly::IsFarFromSlow(const LawPiece& piece) const {
  if (!slow_mm_s_) return true;
  const double tip = std::fmin(piece.tip_from, piece.tip_to);
  if (!(tip > 0.0)) return false;
  const double fastest = std::fmax(FastestOriginBound(piece.rates_from), FastestOriginBound(piece.rates_to));
  return fastest * piece.written_speed / tip < kFarBelow * *slow_mm_s_;
}

void LawAssembly::CapNode(const std::uint32_t node, const LawPiece& piece, const Place& place) {
  const double u = place.s / piece.length;
  const double tip = piece.tip_from + u * (piece.tip_to - piece.tip_from);
  const double per_unit = tip > 0.0 ? tip : 1.0;
  double fastest = 0.0;   // of the tip and the origins, where the pass may have to be slowed
  if (slow_mm_s_ && !IsFarFromSlow(piece)) {
    fastest = FastestOrigin(piece.q_from + u * (piece.q_to - piece.q_from), place.rates);
  }
  for (std::vector<Cap>* caps : {&caps_, &ideal_}) {
    Lower(*caps, node, kAnySpeed, {HeldBy::kFeed, -1});
    Lower(*caps, node, piece.written_speed / per_unit, {HeldBy::kFeed, -1});
    for (Eigen::Index j = 0; j < place.rates.size(); ++j) {
      const double rate = std::abs(place.rates[j]);
      const double limit = arm_.joints()[static_cast<std::size_t>(j)].speed_rad_s;
      if (rate * kAnySpeed > limit) Lower(*caps, node, limit / rate, {HeldBy::kJointSpeed, static_cast<int>(j)});
    }
    if (rules_.tool_acceleration_mm_s2 && piece.curvature_per_mm > 0.0) {
      const double x = kHalfShare * *rules_.tool_acceleration_mm_s2 / piece.curvature_per_mm;
      Lower(*caps, node, std::sqrt(x) / per_unit, {HeldBy::kToolAcceleration, -1});
    }
    if (slow_mm_s_ && fastest > 0.0) Lower(*caps, node, *slow_mm_s_ / fastest, {HeldBy::kSlowPass, -1});
  }
  if (piece.move_length > 0.0) {
    Lower(caps_, node, piece.move_length / rules_.cycle_s / per_unit, {HeldBy::kCycle, -1});
  }
}

// Joint accelerations at both ends of an interval, either way. A row that no x
// below the caps and no u that the other rows leave can reach is left out.
void LawAssembly::AddRows(const Place& from, const Place& to, const LawPiece& piece) {
  const double length = to.s - from.s;
  const double x_from = ideal_[ideal_.size() - 2].x, x_to = ideal_.back().x;
  double u_most = kInfinity;
  for (Eigen::Index j = 0; j < from.rates.size(); ++j) {
    const double c = arm_.joints()[static_cast<std::size_t>(j)].acceleration_rad_s2;
    u_most = std::fmin(u_most, (c + std::abs(from.bend[j]) * x_from) / std::abs(from.rates[j]));
    u_most = std::fmin(u_most, (c + std::abs(to.bend[j]) * x_to) / std::abs(to.rates[j]));
  }
  for (Eigen::Index j = 0; j < from.rates.size(); ++j) {
    const double c = arm_.joints()[static_cast<std::size_t>(j)].acceleration_rad_s2;
    const Hold hold{HeldBy::kJointAcceleration, static_cast<int>(j)};
    const double end_a = to.rates[j] + 2.0 * length * to.bend[j];
    for (const double sign : {1.0, -1.0}) {
      if (std::abs(from.rates[j]) * u_most + std::abs(from.bend[j]) * x_from > kReached * c) {
        rows_.push_back({sign * from.rates[j], sign * from.bend[j], c, hold});
      }
      if (std::abs(to.rates[j]) * u_most + std::abs(to.bend[j]) * x_to > kReached * c) {
        rows_.push_back({sign * end_a, sign * to.bend[j], c, hold});
      }
    }
  }
  AddToolRows(piece);
  first_row_.push_back(static_cast<std::uint32_t>(rows_.size()));
}

void LawAssembly::AddToolRows(const LawPiece& piece) {
  const double tip = std::fmax(piece.tip_from, piece.tip_to);
  if (!rules_.tool_acceleration_mm_s2 || tip <= 0.0) return;
  const double share = piece.curvature_per_mm > 0.0 ? kHalfShare : 1.0;
  const double c = share * *rules_.tool_acceleration_mm_s2;
  for (const double sign : {1.0, -1.0}) {
    rows_.push_back({sign * tip, 0.0, c, {HeldBy::kToolAcceleration, -1}});
  }
}

void LawAssembly::AddPiece(const LawPiece& piece) {
  Place from = At(piece, 0.0);
  CapNode(node(), piece, from);
  double s = 0.0;
  for (const double end : Parts(piece)) {
    const Place to = At(piece, end);
    const double slope = (piece.tip_to - piece.tip_from) / piece.length;
    notes_.push_back({piece.tip_from + slope * s, piece.tip_from + slope * end, piece.line_feed});
    length_.push_back(end - s);
    caps_.push_back({kInfinity, {}});
    ideal_.push_back({kInfinity, {}});
    CapNode(node(), piece, to);
    AddRows(from, to, piece);
    from = to;
    s = end;
  }
}

void LawAssembly::Stand() {
  PassAt(0.0, {HeldBy::kStop, -1});
}

void LawAssembly::StandByRule(const double corner_speed) {
  Lower(caps_, node(), 0.0, {HeldBy::kStop, -1});
  Lower(ideal_, node(), corner_speed, {HeldBy::kCorner, -1});
}

void LawAssembly::PassAt(const double speed, const Hold& hold) {
  Lower(caps_, node(), speed, hold);
  Lower(ideal_, node(), speed, hold);
}

void LawAssembly::EndMove() {
  if (move_ends_.empty() ? node() > 0 : move_ends_.back() < node()) move_ends_.push_back(node());
}

LawAssembly::Result LawAssembly::Solve() {
  Result result;
  if (empty()) return result;
  Stand();
  EndMove();
  TimeLawProblem problem;
  problem.length = std::move(length_);
  problem.first_row = std::move(first_row_);
  problem.rows = std::move(rows_);
  problem.move_ends = std::move(move_ends_);
  const auto set_caps = [&problem](const std::vector<Cap>& caps) {
    problem.x_max.clear();
    problem.x_hold.clear();
    for (const Cap& cap : caps) {
      problem.x_max.push_back(cap.x);
      problem.x_hold.push_back(cap.hold);
    }
  };
  set_caps(ideal_);
  result.ideal_s = SolveTimeLaw(problem).duration_s;
  std::vector<Cap> stopped = caps_;
  for (const std::uint32_t end : problem.move_ends) stopped[end] = {0.0, {HeldBy::kStop, -1}};
  set_caps(stopped);
  result.stop_each_s = SolveTimeLaw(problem).duration_s;
  set_caps(caps_);
  problem.look_ahead_moves = rules_.look_ahead_moves;
  TimeLaw law = SolveTimeLaw(problem);
  double clock_s = 0.0;
  for (std::size_t i = 0; i < law.x.size(); ++i) {
    if (i > 0) clock_s += IntervalTime(problem.length[i - 1], law.x[i - 1], law.x[i]);
    result.time_s.push_back(clock_s);
    result.speed.push_back(std::sqrt(law.x[i]));
  }
  result.held_by = std::move(law.held_by);
  length_ = std::move(problem.length);
  return result;
}

double LawAssembly::MeasureFeeds(const Result& result, std::vector<LineFeed>& feeds) const {
  double slow_s = 0.0;
  std::vector<double> longest_s(feeds.size(), 0.0);
  for (std::size_t i = 0; i < notes_.size(); ++i) {
    const Note& note = notes_[i];
    if (note.line_feed < 0) continue;
    LineFeed& feed = feeds[static_cast<std::size_t>(note.line_feed)];
    const bool travels = note.tip_from + note.tip_to > 0.0;
    const double per_unit = travels ? 0.5 * (note.tip_from + note.tip_to) : 1.0;
    const double v0 = result.speed[i] * per_unit, v1 = result.speed[i + 1] * per_unit;
    const double dt = result.time_s[i + 1] - result.time_s[i];
    const double slow = kSlowShare * feed.written_mm_s;
    const double low = std::fmin(v0, v1), high = std::fmax(v0, v1);
    // The speed is even in time, its square in the way.
    const double of_time = high < slow ? 1.0 : low >= slow ? 0.0 : (slow - low) / (high - low);
    const double of_way =
        high < slow ? 1.0
                    : low >= slow ? 0.0 : (slow * slow - low * low) / (high * high - low * low);
    slow_s += of_time * dt;
    if (travels) {
      feed.length_mm += length_[i] * per_unit;
      feed.slow_mm += of_way * length_[i] * per_unit;
    }
    const bool first = feed.length_mm <= length_[i] * per_unit;
    const double moving = high;
    if (first || moving < feed.lowest_mm_s) feed.lowest_mm_s = moving;
    const auto slot = static_cast<std::size_t>(note.line_feed);
    if (of_time * dt > longest_s[slot]) {
      longest_s[slot] = of_time * dt;
      feed.hold = result.held_by[i];
    }
  }
  return slow_s;
}

}  // namespace aircut::kinematics
