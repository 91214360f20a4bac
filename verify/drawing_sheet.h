#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>
#include <Eigen/Geometry>

#include "verify/picture.h"

namespace aircut::verify {

inline constexpr Colour kPaperColour{251, 250, 246};
inline constexpr Colour kInkColour{29, 36, 48};
inline constexpr Colour kPencilColour{122, 124, 126};   ///< for what stands back

struct Pen {
  double width_px = 1.2;
  Colour colour = kInkColour;
  double dash_px = 0.0;        ///< length of dashes and gaps; 0 = unbroken
};

enum class Anchor { kStart, kMiddle, kEnd };

struct TextStyle {
  double capital_px = 10.0;    ///< height of a capital letter
  Anchor anchor = Anchor::kStart;
  Pen pen = {};
};

/// A sheet of paper that is drawn on with pens: x right and y down from the
/// upper left corner, in pixels. Later ink lies over earlier ink. What falls
/// outside the sheet is left out.
class DrawingSheet {
 public:
  /// @throws std::invalid_argument unless both sizes are in [1, 8192].
  DrawingSheet(int width_px, int height_px);

  int width_px() const { return width_px_; }
  int height_px() const { return height_px_; }

  void Put(int x, int y, const Eigen::Vector3d& colour);
  void Line(const Eigen::Vector2d& from, const Eigen::Vector2d& to, const Pen& pen = {});
  void Lines(const std::vector<Eigen::Vector2d>& points, const Pen& pen = {});
  void Circle(const Eigen::Vector2d& centre, double radius_px, const Pen& pen = {});
  /// A line with an arrow head at both ends.
  void Dimension(const Eigen::Vector2d& from, const Eigen::Vector2d& to, const Pen& pen = {});
  void Fill(const Eigen::AlignedBox2d& box, const Colour& colour);
  /// @param at of the anchor on the baseline.
  void Text(const Eigen::Vector2d& at, const std::string& text, const TextStyle& style = {});
  /// @returns the box that Text would cover.
  static Eigen::AlignedBox2d TextBox(const Eigen::Vector2d& at, const std::string& text, const TextStyle& style = {});

  /// Nothing outside the box is drawn until ClipNone().
  void Clip(const Eigen::AlignedBox2d& box) { clip_ = box; }
  void ClipNone();

  std::vector<unsigned char> Png() const;

 private:
  void Ink(int x, int y, double cover, const Colour& colour);

  int width_px_, height_px_;
  std::vector<Eigen::Vector3f> pixels_;
  Eigen::AlignedBox2d clip_;
};

}  // namespace aircut::verify
