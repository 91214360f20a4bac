#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "sim/mesh_mending.h"

namespace aircut::sim {

/// What can be wrong with a scan at one place.
enum class ScanDoubt {
  kUnseen,    ///< the face looks away from the scanner
  kLongFace,  ///< a face far larger than the scan is fine: a hole that was filled, or a thinned mesh
  kSpike,     ///< a corner of the face stands off its neighbours
  kRim,       ///< nearer than one spacing to where the seen part ends
  kDrawn      ///< no face of the scan at all: it was drawn here to close the stock
};
inline constexpr int kScanDoubts = 5;

struct ScanRules {
  std::optional<Eigen::Vector3d> seen_from_S;  ///< unit, from the piece to the scanner; none: all round
  double spike_mm = 0.1;                       ///< a corner must stand this far off its neighbours to be a spike, and
                                               ///< well off what is usual in this scan
  std::vector<FaceOrigin> origin = {};         ///< one per face; empty: all are the scan's
};

/// A face counts as seen up to this cosine between its normal and the way to the
/// scanner: 85 degrees. Engineering judgement; real scanners end sooner.
inline constexpr double kSeenCosine = 0.087;
/// A face is long if an edge of it is this many times the median edge of the seen
/// faces. Source: domain notes A18 grant twice the spacing; faces of an honest scan
/// reach three times (engineering judgement).
inline constexpr double kLongEdges = 4.0;

/// Where a scanned surface does not hold. Immutable; cost linear in the faces.
class ScanQuality {
 public:
  /// @param mesh_S  not empty.
  ScanQuality(const Mesh& mesh_S, const ScanRules& rules);

  /// Median edge of the seen faces: how fine the scan is [mm].
  double spacing_mm() const { return spacing_mm_; }
  /// Faces that look towards the scanner.
  int seen_faces() const { return seen_faces_; }

  /// @returns the doubts about the surface at p_S, a point of face `triangle`.
  std::vector<ScanDoubt> At(int triangle, const Eigen::Vector3d& p_S) const;

 private:
  void LookAtFaces(const ScanRules& rules);
  void LookForSpikes(double spike_mm);
  void LookForRims();

  // Faces round each vertex, one after the other.
  struct Fans {
    std::vector<std::int32_t> start, face;
  };
  static Fans FansOf(const Mesh& mesh);
  bool SeenAcross(std::int32_t from, std::int32_t to) const;
  bool NearRim(int triangle, const Eigen::Vector3d& p_S) const;

  Mesh mesh_;                                  // welded
  Fans fans_;
  double spacing_mm_ = 0.0;
  int seen_faces_ = 0;
  std::vector<std::uint8_t> seen_, long_, drawn_, spike_;   // per face; spike per vertex
  // Edges where the seen part ends, per vertex the edges that begin there.
  std::vector<std::vector<std::int32_t>> rim_;
};

}  // namespace aircut::sim
