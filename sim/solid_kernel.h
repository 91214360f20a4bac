#pragma once

namespace aircut::sim {

/// Corners of a solid side by side, as the processor takes them.
inline constexpr int kCornerLanes = 8;
struct alignas(64) CornerLanes {
  double x[kCornerLanes], y[kCornerLanes], z[kCornerLanes];
};

/// What is known of a solid outside a BoxTree, in its frame [mm]: two half spaces and a
/// box that hold it, and a point of it.
struct SolidBounds {
  double n[2][3];        ///< unit
  double low_mm[2];      ///< the solid has n * p >= low
  double min[3], max[3];
  double near_p[3];
};

/// Lower bounds of a solid's distance from each child of a BoxNode. Slots without a child
/// hold values without meaning.
struct alignas(32) ChildBounds {
  double plane_mm[4];   ///< the better of the two half spaces
  double boxes2[4];     ///< squared distance of the boxes
  double near2[4];      ///< squared distance of the box from near_p; not a bound
};

/// Built for several instruction sets; the same bits from each. Plain arrays only:
/// the builds share no inline code.
struct SolidKernels {
  /// @param count of `corners`, > 0; @param along x, y, z of any length.
  /// @returns the corner farthest along `along`; of several as far, the first of the
  /// first lane that has one.
  int (*farthest)(const CornerLanes* corners, int count, const double* along);
  /// @returns how far that is: products of x, y and z summed in this order.
  double (*height)(const CornerLanes* corners, int count, const double* along);
  /// @param low, @param high the boxes of a BoxNode: [axis][child].
  void (*bound)(const float (*low)[4], const float (*high)[4], const SolidBounds& solid, ChildBounds* out);
  const char* instruction_set;
};

/// The widest kernels that this processor runs.
const SolidKernels& ChooseSolidKernels();
/// All that this processor runs, the plain ones first (for tests).
int SolidKernelCount();
const SolidKernels& SolidKernelsAt(int index);

}  // namespace aircut::sim
