#pragma once

#include <array>
#include <optional>
#include <vector>

#include <Eigen/Core>

namespace aircut::verify {

/// Where the design is hollowed out most tightly, against the cutters of the path.
struct SmallestHollow {
  /// Of the largest ball that rests there without entering the design by more than
  /// kHollowTouch_mm; at an edge that is sharp inwards next to nothing.
  double radius_mm = 0.0;
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();
  double cutter_radius_mm = 0.0;      ///< smallest tip or corner radius of the cutters that cut, 0: sharp
};
inline constexpr double kHollowTouch_mm = 0.01;

/// A wall that stands between two cuts, or between a cut and the edge of the piece.
struct StandingWall {
  double thickness_mm = 0.0;
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();   ///< on its one side, where it is thinnest
  int line = 0;                                    ///< that cut this side; 0: of the design
};

/// Walls thinner than asked for, each told at its thinnest, thinnest first.
struct StandingWalls {
  double limit_mm = 0.0;
  int places = 0;                          ///< sides of cuts or of the design that were looked at
  std::vector<StandingWall> in_cut;        ///< as the piece would be cut
  std::vector<StandingWall> in_design;     ///< as it was designed; empty also without a target mesh
};

/// A step of height between the floors of two passes side by side, along the depth direction.
struct PassStep {
  double height_mm = 0.0, bound_mm = 0.0;
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();
  std::array<int, 2> lines = {0, 0};       ///< of the higher and the lower one
  std::array<int, 2> tools = {0, 0};       ///< numbers of their cutters
};

/// Steps between neighbouring passes, measured by lines of rays across them.
struct PassSteps {
  int places = 0;                  ///< pairs of passes that were measured
  double limit_mm = 0.0;           ///< higher than this a step is listed
  std::optional<PassStep> largest;
  std::vector<PassStep> steps;     ///< higher than the limit, highest first, one a place
};

/// What is told of the small things of a design and its cut, and not judged.
struct FineFeatures {
  std::optional<SmallestHollow> hollow;    ///< nothing: no target mesh, or none tighter than kWidestHollow_mm
  std::optional<StandingWalls> walls;      ///< nothing: not asked for
  PassSteps steps;
};
inline constexpr double kWidestHollow_mm = 50.0;

}  // namespace aircut::verify
