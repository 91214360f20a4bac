#pragma once

#include <cstdint>
#include <vector>

#include "kinematics/motion_planner.h"
#include "kinematics/time_law.h"

namespace aircut::kinematics {

/// One short part of the way as the time law takes it: the cubic through both
/// ends with the rates there, in the parameter of its curve.
struct LawPiece {
  JointVector q_from, q_to;
  JointVector rates_from, rates_to;   ///< dq per unit of the parameter
  double length = 0.0;                ///< > 0
  double written_speed = 0.0;         ///< of the tip, or of the turn; may be infinite
  double move_length = 0.0;           ///< of the whole line, in mm or rad; 0: no cycle rule
  double tip_from = 0.0, tip_to = 0.0;  ///< tip speed per unit at the ends; both 0 where it rests
  double curvature_per_mm = 0.0;      ///< of the tip's way, where it travels
  int line_feed = -1;                 ///< which line's feed it belongs to
  int least_parts = 1;                ///< it is cut into at least so many intervals
  /// Where the way likely begins and ends to brake for a standstill at its ends,
  /// as distances from them: nodes are put there. 0: none.
  double brake_from = 0.0, brake_to = 0.0;
};

/// Gathers the way of a motion, node by node, as a problem for the time law, and
/// gives times, speeds and what held them back. Every piece begins where the
/// last one ended.
class LawAssembly {
 public:
  /// Keeps references.
  LawAssembly(const ArmModel& arm, const ControllerRules& rules, std::optional<double> slow_mm_s,
              const Eigen::Vector3d* p_FT);

  /// The node at which the way stands now; 0 at the beginning.
  std::uint32_t node() const { return static_cast<std::uint32_t>(length_.size()); }
  bool empty() const { return length_.empty(); }

  void AddPiece(const LawPiece& piece);
  /// The arm stands still at the present node, under any reading of the control.
  void Stand();
  /// It stands still there because the control stops at every line.
  void StandByRule(double corner_speed);
  /// The present node is passed at most at this speed of the parameter.
  void PassAt(double speed, const Hold& hold);
  /// A move ends at the present node.
  void EndMove();

  /// What came of it. Structure of arrays over nodes or intervals.
  struct Result {
    std::vector<double> time_s;         ///< per node, from the first one
    std::vector<double> speed;          ///< of the parameter, per node
    std::vector<Hold> held_by;          ///< per interval
    double ideal_s = 0.0;               ///< endless look-ahead, no cycle, no stop by rule
    double stop_each_s = 0.0;           ///< as modelled, standing still at the end of every move
  };
  /// To be called once, last. All empty for a way of no length.
  Result Solve();

  /// Gives lengths and times below 90 % of the written feed to `feeds`.
  /// @returns the time of all cuts below 90 % [s].
  double MeasureFeeds(const Result& result, std::vector<LineFeed>& feeds) const;

 private:
  struct Cap {
    double x = 0.0;
    Hold hold;
  };
  struct Note {                         // per interval
    double tip_from = 0, tip_to = 0;
    int line_feed = -1;
  };
  struct Place {                        // inside a piece
    double s = 0.0;
    JointVector rates, bend;            // dq/ds, d2q/ds2
  };

  Place At(const LawPiece& piece, double s) const;
  std::vector<double> Parts(const LawPiece& piece) const;
  int PartsForRates(const LawPiece& piece) const;
  int PartsForBend(const LawPiece& piece) const;
  double FastestSquare(const LawPiece& piece, const Place& end) const;
  void CapNode(std::uint32_t node, const LawPiece& piece, const Place& place);
  void Lower(std::vector<Cap>& caps, std::uint32_t node, double speed, const Hold& hold);
  void AddRows(const Place& from, const Place& to, const LawPiece& piece);
  void AddToolRows(const LawPiece& piece);
  double FastestOrigin(const JointVector& q, const JointVector& rates) const;
  double FastestOriginBound(const JointVector& rates) const;
  bool IsFarFromSlow(const LawPiece& piece) const;

  const ArmModel& arm_;
  const ControllerRules& rules_;
  std::optional<double> slow_mm_s_;
  const Eigen::Vector3d* p_FT_;
  std::vector<double> lever_mm_;        // per joint of the chain: from its axis to the flange, stretched
  std::vector<double> length_;
  std::vector<std::uint32_t> first_row_{0};
  std::vector<LawRow> rows_;
  std::vector<Note> notes_;
  std::vector<Cap> caps_, ideal_;       // per node
  std::vector<std::uint32_t> move_ends_;
};

}  // namespace aircut::kinematics
