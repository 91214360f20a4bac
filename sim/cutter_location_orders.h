#pragma once

#include <array>
#include <optional>

#include "sim/cutter_location_statements.h"

namespace aircut::sim {

/// What FEDRAT says. The value holds until the next FEDRAT, INVERS too.
struct FeedOrder {
  enum class Unit { kMmPerSecond, kMmPerTurn, kMovesPerMinute } unit = Unit::kMmPerSecond;
  double value = 0.0;  ///< > 0, in `unit`
};

/// What SPINDL says.
struct SpindleOrder {
  enum class What { kSpeed, kOn, kOff } what = What::kOff;
  double speed_rpm = 0.0;  ///< kSpeed: + clockwise (CLW) seen from the spindle
};

/// What LOADTL or TOOLNO says.
struct ToolOrder {
  int tool = 0;
  std::optional<double> length;  ///< in the unit of the file
};

/// FEDRAT/f,MMPM | MMPR | IPM | IPR | INVERS, in either order. Per minute, per
/// turn of the spindle, or 1 / minutes that each move takes.
/// @throws InputError, as all below, with the place of the statement.
FeedOrder ReadFeedOrder(const CutterLocationStatements& statement);

/// SPINDL/s,RPM,CLW | CCLW in any order, SPINDL/ON or SPINDL/OFF.
SpindleOrder ReadSpindleOrder(const CutterLocationStatements& statement);

/// LOADTL/n[,LENGTH,l] or TOOLNO/n[,LENGTH,l].
ToolOrder ReadToolOrder(const CutterLocationStatements& statement);

/// CUTTER/d[,r[,e,f,alpha,beta,h]] as PathEvent::shape. With d alone r = 0; with d
/// and r alone e = d/2 - r, f = r, both angles 0. h = 0 means that it is not said.
/// @param mm_per_unit length unit of the file.
std::array<double, 7> ReadCutterShape(const CutterLocationStatements& statement,
                                      double mm_per_unit);

/// DELAY/t. @returns seconds, >= 0.
double ReadDelay(const CutterLocationStatements& statement);

/// COOLNT/ON | FLOOD | MIST | OFF. @returns 1 or 0.
double ReadCoolant(const CutterLocationStatements& statement);

}  // namespace aircut::sim
