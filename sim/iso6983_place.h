#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "sim/iso6983_words.h"
#include "sim/path_source.h"

namespace aircut::sim {

/// Coordinates of the path, in the frame of its zero.
struct IsoPoint {
  Eigen::Vector3d p_mm = Eigen::Vector3d::Zero();        ///< words X Y Z
  Eigen::Vector3d turn_deg = Eigen::Vector3d::Zero();    ///< words A B C
  Eigen::Vector3d axis = Eigen::Vector3d::UnitZ();       ///< vector words I J K
};

/// Control point and tool axis as the workpiece sees them.
struct IsoPose {
  Eigen::Vector3d p_SQ = Eigen::Vector3d::Zero();
  Eigen::Vector3d axis_S = Eigen::Vector3d::UnitZ();
  std::optional<Eigen::Matrix3d> R_ST;   ///< three rotary words say it whole
};

/// Which coordinates a block counts from where.
enum class IsoDistance { kAbsolute, kIncremental };

/// Where the path stands: what its words have said so far, and how that lies in S.
/// A coordinate that no word has given yet is not known, and a move that needs it
/// is a fault.
class IsoPlace {
 public:
  /// @param rules  must outlive this.
  /// @throws PathFault if the order of the rotary words cannot be read.
  explicit IsoPlace(const PathRules& rules);

  /// Whether I J K of straight moves give the tool axis.
  bool HasVectorWords() const { return vector_words_; }
  /// Whether the work turns under an upright tool.
  bool TurnsWork() const { return turns_work_; }

  /// @param scale_mm  length of one unit of the words.
  /// @returns the target of a straight move.
  /// @throws PathFault if a coordinate is not known or a word is not allowed.
  IsoPoint StraightTarget(const IsoBlock& block, double scale_mm, IsoDistance distance) const;
  /// @returns the target of an arc; its I J K are not looked at.
  /// @throws PathFault as above, or if rotary words turn an axis or the start is not known.
  IsoPoint ArcTarget(const IsoBlock& block, double scale_mm, IsoDistance distance) const;

  /// Takes a target as the place where the path now stands.
  void MoveTo(const IsoPoint& point);
  /// Takes the coordinates that the block gives as known, without a move.
  /// @throws PathFault as StraightTarget does.
  void Declare(const IsoBlock& block, double scale_mm);

  /// What is no longer known after a word: see Forget.
  enum class Lost { kHeight, kEverything };
  /// @param after  the word after which the place is not known, e.g. M06.
  void Forget(Lost lost, std::string_view after);

  /// @param number  54 to 59. @throws PathFault if the job gives no value for it.
  void SetWorkOffset(int number);

  /// Whether every coordinate is known, so that a move has a start.
  bool IsKnown() const;
  const IsoPoint& point() const { return point_; }
  IsoPose InStock(const IsoPoint& point) const;

 private:
  IsoPoint TakeWords(const IsoBlock& block, double scale_mm, IsoDistance distance) const;
  void TakeAxis(const IsoBlock& block, IsoPoint& point) const;
  void RequireRotary(char letter) const;
  void RequireKnown(const IsoBlock& block) const;
  Eigen::Matrix3d Turn(const Eigen::Vector3d& turn_deg) const;

  const PathRules& rules_;
  bool vector_words_ = false, turns_work_ = false;
  std::string order_;                    // letters of the rotary words, from the base outwards
  kinematics::Pose X_S0_ = kinematics::Pose::Identity();   // path zero in S
  std::optional<int> work_offset_;
  IsoPoint point_;
  unsigned known_ = 0;                   // bits of kWordOrder
  std::string lost_after_;
};

}  // namespace aircut::sim
