#pragma once

#include <vector>

#include "sim/box_tree.h"
#include "sim/mesh.h"

namespace aircut::sim {

/// Generalised winding number of a triangle mesh about a point: its solid angle over
/// 4 pi. 1 inside a closed, outward mesh, 0 outside; on a face, edge or corner the part
/// of the surroundings that is inside; in between where the mesh has holes. The sum
/// over all triangles, in double. Sources: Jacobson, Kavan, Sorkine-Hornung, ACM Trans.
/// Graphics 32(4) 2013; van Oosterom, Strackee, IEEE Trans. Biomedical Eng. 30(2) 1983.
double WindingNumber(const Mesh& mesh, const Eigen::Vector3d& p);

/// The same for many points: far groups of triangles speak by the first two terms of
/// their Taylor series about their middle, near ones one by one (the idea of Barill,
/// Dickson, Schmidt, Levin, Jacobson, ACM Trans. Graphics 37(4) 2018, with a proven
/// bound instead of a tuned one). Immutable; any thread.
class WindingField {
 public:
  /// @param mesh not empty; finite.
  explicit WindingField(Mesh mesh);

  struct Value {
    double number = 0.0;
    double bound = 0.0;   ///< |number - WindingNumber| <= bound
  };
  /// @param far a group speaks by its series from this many of its radii on, > 1.
  Value At(const Eigen::Vector3d& p, double far) const { return Sum(p, far, -1); }

  /// The same at the middle of a triangle that itself counts nothing: 1/2 on a face of
  /// a solid that nothing else encloses or crosses there (GEO-01).
  Value OnTriangle(std::int32_t triangle, double far) const;

  /// @returns true if the winding number at p is above 1/2: as by the full sum.
  bool Inside(const Eigen::Vector3d& p) const;

 private:
  // Triangles under one child of a node, about their middle.
  struct Group {
    Eigen::Vector3d middle = Eigen::Vector3d::Zero();
    Eigen::Vector3d area = Eigen::Vector3d::Zero();           // sum of area vectors [mm2]
    Eigen::Matrix3d first = Eigen::Matrix3d::Zero();          // sum of (place - middle) area^T
    double size_mm2 = 0.0, radius_mm = 0.0;                   // area without direction
  };

  Value Sum(const Eigen::Vector3d& p, double far, std::int32_t left_out) const;
  Group GroupOf(const std::vector<std::int32_t>& places) const;
  std::vector<std::int32_t> PlacesUnder(std::int32_t node, int slot) const;

  Mesh mesh_;
  BoxTree tree_;
  std::vector<Group> groups_;   // four a node
};

/// @returns how many of `most` triangles, evenly taken, something else of the surface
/// encloses: inner walls, parts that overlap.
int CountEnclosed(const Mesh& mesh, const WindingField& field, int most);

/// Per triangle 1 where nothing else of the surface encloses it, nor those that share a
/// corner with it: the winding number on them is 1/2. There and only there the
/// triangle's own side tells inside from outside.
/// @param mesh every border closed; @param field of that mesh. The result does not
/// depend on threads.
std::vector<std::uint8_t> PlainTriangles(const Mesh& mesh, const WindingField& field);

}  // namespace aircut::sim
