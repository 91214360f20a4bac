#pragma once

#include <optional>

#include "sim/iso6983_feed.h"
#include "sim/iso6983_place.h"
#include "sim/iso6983_words.h"
#include "sim/path_arc.h"
#include "sim/path_source.h"

namespace aircut::sim {

/// What a program of the ISO 6983 family does, block by block: the state that its
/// words leave behind, and the rows and events that come of it. See iso6983.h.
class IsoProgram {
 public:
  /// Both must outlive this. @throws PathFault for rules that cannot be read.
  IsoProgram(const PathRules& rules, const PathSink& sink);

  /// Puts words in force before the first line. @throws PathFault for words that
  /// are not allowed there.
  void Start(const IsoBlock& modal);
  /// Runs one block. @throws PathFault.
  void Run(const IsoBlock& block, int line);
  /// Checks that the program came to its end. @throws PathFault.
  void Finish() const;

 private:
  enum class Motion { kNone, kRapid, kStraight, kClockwise, kCounterclockwise };
  enum class Percent { kNone, kOpen, kClosed };

  void RunPercent();
  void TakeUnits(const IsoBlock& block);
  void TakeSpindleSpeed(const IsoBlock& block);
  void TakeToolChange(const IsoBlock& block);
  void TakeSpindle(const IsoBlock& block);
  void TakeCoolant(const IsoBlock& block);
  void TakeDwell(const IsoBlock& block);
  void TakeModes(const IsoBlock& block);
  void TakeLengthOffset(const IsoBlock& block);
  void TakeProgramWord(const IsoBlock& block);

  bool HasMove(const IsoBlock& block) const;
  void CheckLooseWords(const IsoBlock& block) const;
  void Move(const IsoBlock& block);
  void MoveStraight(const IsoBlock& block);
  void MoveOnArc(const IsoBlock& block);
  Arc ArcTo(const IsoBlock& block, const IsoPoint& target) const;
  void FillState(PoseRow& row) const;
  void ShowStart();
  void Emit(const PoseRow& row);
  void Tell(PathEventKind kind, double value);
  IsoTravel TravelTo(const IsoPoint& target, const IsoPose& pose) const;
  double Scale() const;
  IsoDistance Distance() const;

  const PathRules& rules_;
  const PathSink& sink_;
  IsoPlace place_;
  IsoFeed feed_;
  int line_ = 0, rows_ = 0;
  Percent percent_ = Percent::kNone;
  bool has_ended_ = false;
  std::optional<double> scale_mm_;
  std::optional<IsoDistance> distance_;
  std::optional<ArcPlane> plane_;
  Motion motion_ = Motion::kNone;
  std::optional<int> next_tool_, tool_;
  bool has_changed_tool_ = false;
  std::optional<double> speed_rpm_;      // S as written
  double spindle_rpm_ = 0.0;             // + clockwise, 0 = stopped
  bool has_default_speed_ = false;       // in force until the first spindle word
  bool has_declared_start_ = false;
  std::optional<double> length_offset_mm_;
};

}  // namespace aircut::sim
