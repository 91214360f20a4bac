#include "sim/edge_sums.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace aircut::sim {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr double kFullTurn = 6.28318530717958647692;
constexpr double kSector_rad = kFullTurn / kArcSectors;

using Ways = std::array<Vector2d, kArcSectors>;

// Mean of the unit vectors between two angles.
Vector2d MeanWay(double from_rad, double to_rad) {
  const double middle = 0.5 * (from_rad + to_rad), half = 0.5 * (to_rad - from_rad);
  return std::sin(half) / half * Vector2d(std::cos(middle), std::sin(middle));
}

// Over whole sectors; immutable, as the table below.
const Ways& WholeSectors() {
  static const Ways ways = [] {
    Ways made;
    for (std::size_t s = 0; s < kArcSectors; ++s) {
      const double from = static_cast<double>(s) * kSector_rad;
      made[s] = MeanWay(from, from + kSector_rad);
    }
    return made;
  }();
  return ways;
}

// Unit vectors to the borders between sectors; border s is where sector s begins.
const Ways& Borders() {
  static const Ways ways = [] {
    Ways made;
    for (std::size_t s = 0; s < kArcSectors; ++s) {
      const double at = static_cast<double>(s) * kSector_rad;
      made[s] = {std::cos(at), std::sin(at)};
    }
    return made;
  }();
  return ways;
}

// Gauss and Legendre's five places in (-1, 1) and their weights.
constexpr int kNodes = 5;
constexpr std::array<double, kNodes> kPlace = {-0.9061798459386640, -0.5384693101056831, 0.0,
                                               0.5384693101056831, 0.9061798459386640};
constexpr std::array<double, kNodes> kWeight = {0.2369268850561891, 0.4786286704993665, 0.5688888888888889,
                                                0.4786286704993665, 0.2369268850561891};

// A place on the outline: its radius and height, its outward normal, and the length
// of outline that it stands for.
struct Node {
  double r = 0, z = 0, n_r = 0, n_z = 0, length = 0;
};

// The part of a piece of the outline that lies in the engaged heights.
class Clipped {
 public:
  Clipped(const OutlinePiece& piece, double low, double high) : piece_(piece) {
    const double z0 = piece.from.y(), z1 = piece.to.y();
    if (z1 < low || z0 > high) return;
    piece.arc ? ClipArc(low, high) : ClipLine(low, high);
  }
  bool empty() const { return !(to_ > from_); }

  // @param at in [-1, 1] along the part. @param weight of its half length.
  Node At(double at, double weight) const {
    const double u = 0.5 * (from_ + to_) + 0.5 * (to_ - from_) * at;
    const double half = 0.5 * (to_ - from_) * weight;
    if (!piece_.arc) {
      const Vector2d along = piece_.to - piece_.from;
      const double length = along.norm();
      const Vector2d p = piece_.from + u * along;
      return {p.x(), p.y(), along.y() / length, -along.x() / length, half * length};
    }
    // On an arc u is the angle from the centre, downwards for a hollow one.
    const double turn = piece_.clockwise ? -u : u;
    const Vector2d out(std::cos(turn), std::sin(turn));
    const Vector2d p = piece_.centre + radius_ * out;
    const double side = piece_.clockwise ? -1.0 : 1.0;
    return {p.x(), p.y(), side * out.x(), side * out.y(), half * radius_};
  }

 private:
  void ClipLine(double low, double high) {
    const double z0 = piece_.from.y(), rise = piece_.to.y() - z0;
    from_ = rise > 0.0 ? std::clamp((low - z0) / rise, 0.0, 1.0) : 0.0;
    to_ = rise > 0.0 ? std::clamp((high - z0) / rise, 0.0, 1.0) : 1.0;
  }
  // Height rises along an arc; its sine about the centre gives the angle back.
  void ClipArc(double low, double high) {
    radius_ = (piece_.from - piece_.centre).norm();
    const double side = piece_.clockwise ? -1.0 : 1.0;
    const double start = side * Angle(piece_.from), end = Unwound(side * Angle(piece_.to), start);
    from_ = low > piece_.from.y() ? AngleAt(low, start, end) : start;
    to_ = high < piece_.to.y() ? AngleAt(high, start, end) : end;
  }
  double Angle(const Vector2d& p) const {
    const Vector2d q = p - piece_.centre;
    return std::atan2(q.y(), q.x());
  }
  static double Unwound(double angle, double start) {
    return angle < start ? angle + kFullTurn : angle;
  }
  double AngleAt(double z, double start, double end) const {
    const double up = std::clamp((z - piece_.centre.y()) / radius_, -1.0, 1.0);
    const double rising = std::asin(up), falling = 0.5 * kFullTurn - rising;
    // Outward arcs rise on their right side, hollow ones on their left.
    const double angle = piece_.clockwise ? -falling : rising;
    const double near = angle + kFullTurn * std::round((0.5 * (start + end) - angle) / kFullTurn);
    return std::clamp(near, start, end);
  }

  const OutlinePiece& piece_;
  double from_ = 0, to_ = 0, radius_ = 0;
};

// The engaged sectors, packed, so that the loop over them runs straight.
struct Packed {
  explicit Packed(const EdgeEngagement& engaged) {
    for (std::size_t s = 0; s < kArcSectors; ++s) {
      if (!(engaged.sector[s] > 0.0)) continue;
      index[count] = s;
      cosine[count] = engaged.way[s].x();
      sine[count] = engaged.way[s].y();
      ++count;
    }
  }
  std::size_t count = 0;
  std::array<std::size_t, kArcSectors> index;
  std::array<double, kArcSectors> cosine, sine;
  // Sums of the current part, then of all.
  std::array<double, kArcSectors> chip{}, chip_r{}, chip_z{}, edge{}, edge_r{}, edge_z{}, chip_lever{},
      edge_lever{}, moment{};

  void Add(const Node& node, const Vector3d& travel) {
    const double h_x = travel.x() * node.n_r, h_y = travel.y() * node.n_r, h_0 = travel.z() * node.n_z;
    for (std::size_t k = 0; k < count; ++k) {
      const double h = h_0 + h_x * cosine[k] + h_y * sine[k];
      const double length = h > 0.0 ? node.length : 0.0;
      const double area = h * length;
      chip[k] += area;
      chip_r[k] += area * node.n_r;
      chip_z[k] += area * node.n_z;
      chip_lever[k] += area * node.r;
      moment[k] += area * node.z;
      edge[k] += length;
      edge_r[k] += length * node.n_r;
      edge_z[k] += length * node.n_z;
      edge_lever[k] += length * node.r;
    }
  }
};

double ThickestAt(const Node& node, const EdgeEngagement& engaged) {
  const Vector3d travel = engaged.travel_mm + node.z * engaged.turn;
  const Ways& borders = Borders();
  double most = 0.0;
  for (std::size_t s = 0; s < kArcSectors; ++s) {
    if (!(engaged.sector[s] > 0.0)) continue;
    for (const std::size_t border : {s, (s + 1) % kArcSectors}) {
      const double h = travel.z() * node.n_z +
                       node.n_r * (travel.x() * borders[border].x() + travel.y() * borders[border].y());
      most = h > most ? h : most;
    }
  }
  return most;
}

EdgeSums Unpacked(const Packed& packed, const EdgeEngagement& engaged) {
  EdgeSums sums;
  sums.way.fill(Vector2d::Zero());
  double chip = 0.0, edge = 0.0, moment = 0.0, volume = 0.0;
  for (std::size_t k = 0; k < packed.count; ++k) {
    const std::size_t s = packed.index[k];
    const double w = engaged.sector[s];
    sums.sector[s] = {w * packed.chip[k],   w * packed.chip_r[k], w * packed.chip_z[k],     w * packed.edge[k],
                      w * packed.edge_r[k], w * packed.edge_z[k], w * packed.chip_lever[k], w * packed.edge_lever[k]};
    sums.way[s] = engaged.way[s].normalized();
    chip += sums.sector[s].chip_mm2;
    edge += sums.sector[s].edge_mm;
    moment += w * packed.moment[k];
    volume += sums.sector[s].chip_lever_mm3;
  }
  sums.tooth_mm3 = kSector_rad * volume;
  sums.chip_mean_mm = edge > 0.0 ? chip / edge : 0.0;
  sums.height_mm = chip > 0.0 ? moment / chip : 0.5 * (engaged.low_mm + engaged.high_mm);
  return sums;
}

}  // namespace

void EdgeEngagement::TakeArc(std::uint32_t arc) {
  const std::uint32_t left = (arc << 1) | (arc >> (kArcSectors - 1));
  const std::uint32_t right = (arc >> 1) | (arc << (kArcSectors - 1));
  const std::uint32_t closed = arc | (left & right);
  for (std::size_t s = 0; s < kArcSectors; ++s) sector[s] = (closed >> s) & 1U ? 1.0 : 0.0;
  way = WholeSectors();
}

void EdgeEngagement::TakeArc(double from_rad, double to_rad) {
  if (!(to_rad > from_rad && to_rad - from_rad <= kFullTurn + 1e-9)) {
    throw std::invalid_argument("TakeArc: to_rad must lie up to a full turn after from_rad");
  }
  sector.fill(0.0);
  way.fill(Vector2d::Zero());
  const int first = static_cast<int>(std::floor(from_rad / kSector_rad));
  for (int s = first; s * kSector_rad < to_rad; ++s) {
    const double low = std::max(from_rad, s * kSector_rad), high = std::min(to_rad, (s + 1) * kSector_rad);
    if (!(high - low > 1e-12)) continue;
    const auto wrapped = static_cast<std::size_t>(((s % kArcSectors) + kArcSectors) % kArcSectors);
    const double share = (high - low) / kSector_rad, before = sector[wrapped];
    way[wrapped] = (before * way[wrapped] + share * MeanWay(low, high)) / (before + share);
    sector[wrapped] = std::min(1.0, before + share);
  }
}

EdgeSums SumEdges(const CutterOutline& outline, const EdgeEngagement& engaged) {
  Packed packed(engaged);
  double most = 0.0;
  for (const OutlinePiece& piece : outline.pieces) {
    const Clipped part(piece, engaged.low_mm, engaged.high_mm);
    if (part.empty()) continue;
    for (std::size_t n = 0; n < kNodes; ++n) {
      const Node node = part.At(kPlace[n], kWeight[n]);
      packed.Add(node, engaged.travel_mm + node.z * engaged.turn);
    }
    for (const double end : {-1.0, 1.0}) most = std::max(most, ThickestAt(part.At(end, 0.0), engaged));
    if (piece.arc) most = std::max(most, ThickestAt(part.At(0.0, 0.0), engaged));
  }
  EdgeSums sums = Unpacked(packed, engaged);
  sums.chip_most_mm = most;
  return sums;
}

double ThickestChip_mm(const CutterOutline& outline, const EdgeEngagement& engaged, double z_mm) {
  double most = 0.0;
  for (const OutlinePiece& piece : outline.pieces) {
    if (z_mm < piece.from.y() || z_mm > piece.to.y()) continue;
    constexpr double kThin_mm = 1e-6;
    const Clipped part(piece, z_mm - kThin_mm, z_mm + kThin_mm);
    if (!part.empty()) most = std::max(most, ThickestAt(part.At(0.0, 0.0), engaged));
  }
  return most;
}

}  // namespace aircut::sim
