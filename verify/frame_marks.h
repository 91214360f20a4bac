#pragma once

#include <string>
#include <vector>

#include "verify/body_view.h"

namespace aircut::verify {

/// A frame to draw: its letter, and its pose in the frame of the view.
struct NamedFrame {
  std::string letter;
  kinematics::Pose X_VA = kinematics::Pose::Identity();
};

/// Draws frames as small axes of fixed length on the sheet, and their letters
/// and the names of bodies where they hide each other least.
class Labels {
 public:
  Labels(const SheetView& view, DrawingSheet& sheet) : view_(view), sheet_(sheet) {}

  void Frame(const NamedFrame& frame);
  /// Writes `text` near `at`, on paper of its own.
  void Name(const Eigen::Vector3d& at, const std::string& text);

 private:
  void Write(const Eigen::Vector2d& near, const std::string& text, const TextStyle& style);
  void Axis(const Eigen::Vector2d& from, const Eigen::Vector3d& direction, const char* letter);

  const SheetView& view_;
  DrawingSheet& sheet_;
  std::vector<Eigen::AlignedBox2d> taken_;
};

/// A bar of a round length, about `wanted_px` long, with its length above it.
void DrawScaleBar(const Eigen::Vector2d& at, double mm_per_px, double wanted_px, DrawingSheet& sheet);

}  // namespace aircut::verify
