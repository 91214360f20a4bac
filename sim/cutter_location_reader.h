#pragma once

#include <functional>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "sim/cutter_location.h"
#include "sim/cutter_location_orders.h"
#include "sim/cutter_location_statements.h"

namespace aircut::sim {

/// State of a cutter-location file while it is read; see ReadCutterLocation.
class CutterLocationReader {
 public:
  CutterLocationReader(const std::filesystem::path& file, const PathRules& rules,
                       const PathSink& sink);
  void ReadAll();

  /// Whether a job may list the word under path.ignore_words: never where the
  /// path would be another one without it.
  enum class Ignoring { kAllowed, kNever };
  /// A statement and what it does.
  struct Entry {
    CutterLocationWord word;
    void (CutterLocationReader::*act)();
    Ignoring ignoring;
  };
  /// Moves and what shapes them first.
  static const std::vector<Entry>& Entries();

 private:
  static std::vector<Entry> MovingEntries();
  static std::vector<Entry> OtherEntries();

  void Act();
  void RefuseUnknown() const;
  void Finish() const;

  // One for each statement or group of statements.
  void Pass() {}
  void Tolerance();
  void Refuse();
  void Units();
  void Multax();
  void From();
  void Goto();
  void GoDelta();
  void ToolAxis();
  void Rapid();
  void Feed();
  void Spindle();
  void LoadTool();
  void Cutter();
  void Coolant() { Tell(PathEventKind::kCoolant, ReadCoolant(in_)); }
  void Delay() { Tell(PathEventKind::kDwell, ReadDelay(in_)); }
  void Stop() { Order(PathEventKind::kStop); }
  void OptionalStop() { Order(PathEventKind::kOptionalStop); }
  void End();
  void Finis();

  void Order(PathEventKind kind);
  void Tell(PathEventKind kind, double value) const;
  void RequireBare() const;
  double UnitOfLength() const;
  Eigen::Vector3d PointOf(std::size_t first) const;
  Eigen::Vector3d AxisOf(std::size_t first) const;
  Eigen::Matrix3d TurnOf(std::size_t first) const;
  Eigen::Vector3d PointWithAxis();
  void Move(const Eigen::Vector3d& p_SQ, kinematics::MoveKind kind);
  PoseRow WithFeed(PoseRow row) const;
  void UseDefaults();

  CutterLocationStatements in_;
  const std::string label_;
  const PathDefaults& defaults_;
  const std::optional<SecondVector> second_vector_;
  const PathSink& sink_;
  std::set<std::string, std::less<>> ignored_;

  int count_ = 0;  // rows handed out
  std::optional<double> mm_per_unit_;
  enum class Axes { kThree, kFive } axes_ = Axes::kThree;
  Eigen::Vector3d axis_S_ = Eigen::Vector3d::UnitZ();
  std::optional<Eigen::Matrix3d> R_ST_;   // of the last point that said it whole
  bool is_axis_stated_ = false;
  std::optional<Eigen::Vector3d> p_SQ_;  // where the last motion ended
  std::optional<int> rapid_line_;        // of a RAPID that waits for its motion
  std::optional<FeedOrder> feed_;
  std::optional<double> spindle_rpm_;     // nothing until it is stated
  std::optional<double> last_speed_rpm_;  // what SPINDL/ON goes back to
  std::optional<int> tool_;
  enum class Ended { kNo, kEnd, kFini } ended_ = Ended::kNo;
};

}  // namespace aircut::sim
