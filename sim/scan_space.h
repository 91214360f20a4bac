#pragma once

#include <array>
#include <vector>

#include "sim/scan_solid.h"

namespace aircut::sim {

/// What an open scan knows of a place.
enum class Seen : std::uint8_t {
  kKnown,       ///< seen air, or material between the seen face and the back
  kUnderHole,   ///< below a bridge over a hole of the scan
  kBeside,      ///< beside the rim, no higher than the rim is there: the piece may go on
  kBehind       ///< below the back
};

/// The space about an open scan as its scanner saw it: columns along the view, square and
/// `pitch_mm` wide. Error: sideways one column; heights those of the scan. Beside the
/// rim a column has the height of the nearest column that was seen, up to
/// kBesideReach_mm away; farther out the outermost column speaks. Immutable.
class ScanSpace {
 public:
  /// @param solid_S, origin as SolidOfScan makes them.
  ScanSpace(const Mesh& solid_S, const std::vector<FaceOrigin>& origin, const ScanBack& back);

  struct View {
    Seen seen = Seen::kKnown;
    double below_mm = 0.0;   ///< below the face of the column, kBehind: below the back; above the face < 0
  };
  View At(const Eigen::Vector3d& p_S) const;
  double pitch_mm() const { return pitch_mm_; }
  /// Highest place of the scan along the view: nothing above it is unknown [mm].
  double highest_mm() const { return highest_mm_; }
  /// Height of a place along the view [mm].
  double HeightOf(const Eigen::Vector3d& p_S) const { return p_S.dot(back_.seen_from_S); }

 private:
  struct Column {
    Seen seen = Seen::kBeside;
    bool filled = false;
    float top_mm = 0.0F;   // along the view
  };
  void Raise(const std::array<Eigen::Vector3d, 3>& face, Seen seen);
  void FillBeside();
  std::size_t ColumnAt(const Eigen::Vector3d& p_S) const;

  ScanBack back_;
  Eigen::Vector3d across_, along_;   // unit, square to the view
  Eigen::Vector2d corner_mm_;
  Eigen::Vector2i count_;
  double pitch_mm_ = 0.0, highest_mm_ = 0.0;
  std::vector<Column> columns_;
};

/// How far beside the rim the piece may go on. Engineering judgement: more than a cutter
/// is wide.
inline constexpr double kBesideReach_mm = 60.0;

}  // namespace aircut::sim
