#pragma once

namespace aircut::sim {

// Pieces of a convex profile in the (r, z) half plane, in double for the rays and
// in single precision for the kernels; plain, since kernels share no inline code.

/// Outside where n_r r + n_z z > offset; n is a unit vector.
template <class Real>
struct ProfileLine {
  Real n_r = 0, n_z = 0, offset = 0;
};

/// An arc that bulges outwards, or with radius 0 the corner between two lines. It
/// is nearest where p - centre lies ahead of `from` and behind `to`, the unit
/// directions of the profile where the arc begins and ends, going up.
template <class Real>
struct ProfileArc {
  Real r = 0, z = 0, radius = 0;
  Real from_r = 0, from_z = 0, to_r = 0, to_z = 0;
};

}  // namespace aircut::sim
