#pragma once

namespace aircut::sim {

/// Force per length of edge as the load takes it: cutting times the chip's thickness, plus
/// edge. `off` is by how much that line leaves the law it stands for, as a share of the law.
struct EdgeLine {
  double cutting_n_mm2 = 0, edge_n_mm = 0;
  double off = 0;
};

/// Specific cutting force after Kienzle: an edge of length b that cuts a chip of thickness h
/// takes kc11 b h^(1 - mc), with h in mm. Source: external checks CUT-08 to CUT-10.
struct KienzleLaw {
  double kc11_n_mm2 = 0, mc = 0;
  double thin_mm = 0, thick_mm = 0;    ///< chips for which it is to hold

  double Force_n_mm(double chip_mm) const;
  /// The line nearest to the law by least squares of relative errors, over chips from thin to
  /// thick spread by ratio. The law bends downwards, so outside them the line lies above it.
  EdgeLine Line() const;
};

/// Orthogonal cutting after Merchant: the chip shears where that takes least. Friction on the
/// rake face, shear stress in the plane; no edge force. Source: external check CUT-22.
struct MerchantLaw {
  double shear_stress_n_mm2 = 0;
  double friction = 0;                 ///< coefficient on the rake face
  double rake_rad = 0;

  double shear_angle_rad() const;
  double cutting_n_mm2() const;        ///< along the cut, over the chip's area
  double thrust_n_mm2() const;         ///< square to it, pushing the tool off; negative: it is pulled in
};

}  // namespace aircut::sim
