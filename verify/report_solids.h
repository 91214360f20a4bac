#pragma once

#include <nlohmann/json.hpp>

#include "verify/report.h"

namespace aircut::verify {

/// Piece and cell as the page turns them: each body with places in whole steps from its
/// lowest corner (`v`, 16 bits little-endian, base64), corners of triangles (`i`, 16
/// bits) and, of the piece, the step of the depth-error scale of each vertex (`d`, 8 bits
/// signed; 127 = not of the design). The piece is in S, all else in W. null without a piece.
/// @param time_s of the job at which the arm is shown.
nlohmann::ordered_json SolidsJson(const ReportContext& context, const PiecePicture& piece, double time_s);

/// @returns the joints at a time of a track, between its moments in a straight line.
kinematics::JointVector JointsAt(const kinematics::MotionTrack& track, double time_s);

}  // namespace aircut::verify
