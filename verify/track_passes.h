#pragma once

#include <optional>
#include <vector>

#include "sim/tool_track.h"

namespace aircut::verify {

/// Radius of the ball that ends the cutter at its tip, 0 where it ends otherwise [mm].
double TipBallRadius_mm(const sim::Cutter& cutter);

/// A place of the track that cut something.
struct PassPlace {
  Eigen::Vector3d p_S;        ///< the tip ball's centre, else the tip end
  Eigen::Vector3d feed_S;     ///< unit
  double way_mm = 0.0;        ///< along the track from its start
};

/// Which sweeps of a track are of one pass, and which run side by side. The track must outlive it.
class TrackPasses {
 public:
  explicit TrackPasses(const sim::ToolTrack& track);

  std::size_t ToolOf(int sweep) const { return static_cast<std::size_t>(track_.sweeps[static_cast<std::size_t>(sweep)].tool); }
  const sim::Cutter& CutterOf(int sweep) const { return track_.tools[ToolOf(sweep)].cutter; }

  /// The place of a sweep nearest to a point; nothing for one without travel.
  std::optional<PassPlace> At(int sweep, const Eigen::Vector3d& p_S) const;

  /// The way between two places of one pass is about their distance; between two passes
  /// the tool has gone a longer way.
  static bool OnePass(const PassPlace& a, const PassPlace& b);
  bool OnePass(int a, int b, const Eigen::Vector3d& p_S) const;

  /// Passes side by side run along each other, either way, and are two.
  static bool SideBySide(const PassPlace& a, const PassPlace& b);

 private:
  const sim::ToolTrack& track_;
  std::vector<double> way_mm_;
  std::vector<double> tip_ball_mm_;
};

}  // namespace aircut::verify
