#include "sim/outline_split.h"

#include <algorithm>
#include <cmath>
#include <optional>

namespace aircut::sim {
namespace {

using Eigen::Vector2d;

constexpr double kStraight_rad = 1e-6;   // turns smaller than this are rounding
constexpr double kSame_mm = 1e-9;

double Cross(const Vector2d& a, const Vector2d& b) { return a.x() * b.y() - a.y() * b.x(); }

// Unit directions of a piece at its ends, going up.
Vector2d Along(const OutlinePiece& piece, const Vector2d& at) {
  if (!piece.arc) return (piece.to - piece.from).normalized();
  const Vector2d out = (at - piece.centre).normalized();
  return piece.clockwise ? Vector2d(out.y(), -out.x()) : Vector2d(-out.y(), out.x());
}
Vector2d Leaving(const OutlinePiece& piece) { return Along(piece, piece.from); }
Vector2d Arriving(const OutlinePiece& piece) { return Along(piece, piece.to); }

double RadiusOf(const OutlinePiece& arc) {
  return 0.5 * ((arc.from - arc.centre).norm() + (arc.to - arc.centre).norm());
}

bool IsLevel(const OutlinePiece& piece) { return !piece.arc && piece.to.y() - piece.from.y() < kSame_mm; }

// r of a rising line or bulging arc at a height between its ends.
double RadiusAt(const OutlinePiece& piece, double z) {
  if (piece.arc) {
    const double r = RadiusOf(piece), up = z - piece.centre.y();
    return piece.centre.x() + std::sqrt(std::max(0.0, r * r - up * up));
  }
  const double part = (z - piece.from.y()) / (piece.to.y() - piece.from.y());
  return piece.from.x() + part * (piece.to.x() - piece.from.x());
}

void AddChords(const OutlinePiece& arc, std::vector<OutlinePiece>& to) {
  const Vector2d a = arc.from - arc.centre, b = arc.to - arc.centre;
  const double turn = std::atan2(Cross(a, b), a.dot(b)), r = RadiusOf(arc);
  const double step = 2.0 * std::acos(std::max(0.0, 1.0 - kHollowSag_mm / r));
  const int chords = std::max(1, static_cast<int>(std::ceil(std::abs(turn) / step)));
  Vector2d from = arc.from;
  for (int n = 1; n <= chords; ++n) {
    const double angle = turn * n / chords;
    const Vector2d spoke(a.x() * std::cos(angle) - a.y() * std::sin(angle), a.x() * std::sin(angle) + a.y() * std::cos(angle));
    const Vector2d at = n == chords ? arc.to : Vector2d(arc.centre + spoke);
    to.push_back({from, at, false, Vector2d::Zero(), false});
    from = at;
  }
}

std::vector<OutlinePiece> WithoutHollowArcs(const std::vector<OutlinePiece>& pieces) {
  std::vector<OutlinePiece> straight;
  for (const OutlinePiece& piece : pieces) {
    if (piece.arc && piece.clockwise) AddChords(piece, straight);
    else straight.push_back(piece);
  }
  return straight;
}

// A straight line through the cutter, from a point of its outline up or down.
struct Extension {
  Vector2d from, along;   // `along` rises
  double RadiusAt(double z) const { return from.x() + (z - from.y()) * along.x() / along.y(); }
  Vector2d At(double z) const { return {std::max(0.0, RadiusAt(z)), z}; }
  // Height at which it meets the axis; only where it leans that way.
  double AxisHeight() const { return from.y() - from.x() * along.y() / along.x(); }
};

// Height between z_in, where the line is within the piece, and z_out, where it is not.
double LeavesAt(const Extension& line, const OutlinePiece& piece, double z_in, double z_out) {
  for (int n = 0; n < 60; ++n) {
    const double mid = 0.5 * (z_in + z_out);
    (line.RadiusAt(mid) <= RadiusAt(piece, mid) ? z_in : z_out) = mid;
  }
  return z_in;
}

// End of a line that goes into the cutter from a split, upwards from the end of
// pieces[at - 1] or downwards from the start of pieces[at].
class Extender {
 public:
  explicit Extender(const std::vector<OutlinePiece>& pieces) : pieces_(pieces) {}

  Vector2d Up(std::size_t at) const {
    const Extension line{pieces_[at - 1].to, Arriving(pieces_[at - 1])};
    if (line.along.y() < kStraight_rad) return line.from;
    double z = pieces_.back().to.y();
    for (std::size_t n = at; n < pieces_.size(); ++n) {
      const OutlinePiece& piece = pieces_[n];
      const auto stop = StopIn(line, piece, piece.from.y(), piece.to);
      if (!stop) continue;
      z = *stop;
      break;
    }
    if (line.along.x() < 0.0) z = std::min(z, line.AxisHeight());
    return line.At(z);
  }

  Vector2d Down(std::size_t at) const {
    const Extension line{pieces_[at].from, Leaving(pieces_[at])};
    if (line.along.y() < kStraight_rad) return line.from;
    double z = pieces_.front().from.y();
    for (std::size_t n = at; n-- > 0;) {
      const OutlinePiece& piece = pieces_[n];
      const auto stop = StopIn(line, piece, piece.to.y(), piece.from);
      if (!stop) continue;
      z = *stop;
      break;
    }
    if (line.along.x() > 0.0) z = std::max(z, line.AxisHeight());
    return line.At(z);
  }

 private:
  static std::optional<double> StopIn(const Extension& line, const OutlinePiece& piece, double z_in,
                                      const Vector2d& far_end) {
    const double r = line.RadiusAt(far_end.y());
    if (IsLevel(piece)) {
      const double least = std::min(piece.from.x(), piece.to.x());
      return r > least + kSame_mm ? std::optional(far_end.y()) : std::nullopt;
    }
    if (r <= far_end.x() + kSame_mm) return std::nullopt;
    return LeavesAt(line, piece, z_in, far_end.y());
  }

  const std::vector<OutlinePiece>& pieces_;
};

// Draws a convex profile from the axis up and back to the axis.
class ProfileDrawing {
 public:
  explicit ProfileDrawing(const Vector2d& start) : at_(0.0, start.y()), along_(1.0, 0.0) {
    LineTo(start);
  }

  void LineTo(const Vector2d& to) {
    if ((to - at_).norm() < kSame_mm) return;
    const Vector2d along = (to - at_).normalized();
    const bool goes_on = !profile_.lines.empty() && on_line_ && std::abs(Cross(along_, along)) < kStraight_rad;
    if (!goes_on) {
      Turn(along);
      const Vector2d n(along.y(), -along.x());
      profile_.lines.push_back({n.x(), n.y(), n.dot(at_)});
    }
    Reach(to, along, true);
  }

  void ArcTo(const OutlinePiece& arc) {
    const Vector2d leaving = Leaving(arc), arriving = Arriving(arc);
    Turn(leaving);
    profile_.arcs.push_back({arc.centre.x(), arc.centre.y(), RadiusOf(arc), leaving.x(), leaving.y(), arriving.x(), arriving.y()});
    const double r = RadiusOf(arc);
    const bool passes_widest = leaving.x() >= 0.0 && arriving.x() <= 0.0;
    if (passes_widest) profile_.radius_mm = std::max(profile_.radius_mm, arc.centre.x() + r);
    profile_.far_mm = std::max(profile_.far_mm, arc.centre.norm() + r);
    Reach(arc.to, arriving, false);
  }

  ConvexProfile Ready() {
    LineTo({0.0, at_.y()});
    Turn({-1.0, 0.0});
    profile_.z1_mm = at_.y();
    for (const auto& l : profile_.lines) {
      profile_.lines_f.push_back({static_cast<float>(l.n_r), static_cast<float>(l.n_z), static_cast<float>(l.offset)});
    }
    for (const auto& a : profile_.arcs) {
      profile_.arcs_f.push_back({static_cast<float>(a.r), static_cast<float>(a.z), static_cast<float>(a.radius),
                                 static_cast<float>(a.from_r), static_cast<float>(a.from_z), static_cast<float>(a.to_r),
                                 static_cast<float>(a.to_z)});
    }
    return std::move(profile_);
  }

 private:
  void Turn(const Vector2d& next) {
    if (Cross(along_, next) > kStraight_rad || along_.dot(next) < 0.0) {
      profile_.arcs.push_back({at_.x(), at_.y(), 0.0, along_.x(), along_.y(), next.x(), next.y()});
    }
  }
  void Reach(const Vector2d& to, const Vector2d& along, bool line) {
    if (!drawn_) profile_.z0_mm = at_.y();
    drawn_ = true;
    at_ = to;
    along_ = along;
    on_line_ = line;
    profile_.radius_mm = std::max(profile_.radius_mm, to.x());
    profile_.far_mm = std::max(profile_.far_mm, to.norm());
  }

  ConvexProfile profile_;
  Vector2d at_, along_;
  bool on_line_ = false, drawn_ = false;
};

}  // namespace

std::vector<ConvexProfile> SplitOutline(const CutterOutline& outline) {
  const std::vector<OutlinePiece> pieces = WithoutHollowArcs(outline.pieces);
  const Extender extend(pieces);
  const auto turns_outwards = [&](std::size_t at) {
    return Cross(Arriving(pieces[at - 1]), Leaving(pieces[at])) < -kStraight_rad;
  };
  std::vector<ConvexProfile> parts;
  for (std::size_t first = 0; first < pieces.size();) {
    std::size_t last = first + 1;
    while (last < pieces.size() && !turns_outwards(last)) ++last;
    ProfileDrawing drawing(first > 0 ? extend.Down(first) : pieces.front().from);
    drawing.LineTo(pieces[first].from);
    for (std::size_t n = first; n < last; ++n) {
      if (pieces[n].arc) drawing.ArcTo(pieces[n]);
      else drawing.LineTo(pieces[n].to);
    }
    if (last < pieces.size()) drawing.LineTo(extend.Up(last));
    parts.push_back(drawing.Ready());
    first = last;
  }
  return parts;
}

ConvexProfile ProfileAbove(const CutterOutline& outline, double z_mm) {
  std::optional<ProfileDrawing> drawing;
  for (const OutlinePiece& piece : outline.pieces) {
    if (piece.to.y() <= z_mm) continue;
    if (!drawing) {
      OutlinePiece rest = piece;
      if (piece.from.y() < z_mm) rest.from = {RadiusAt(piece, z_mm), z_mm};
      drawing.emplace(rest.from);
      rest.arc ? drawing->ArcTo(rest) : drawing->LineTo(rest.to);
      continue;
    }
    piece.arc ? drawing->ArcTo(piece) : drawing->LineTo(piece.to);
  }
  return drawing->Ready();
}

}  // namespace aircut::sim
