#include "verify/finding_picture.h"

#include <algorithm>

#include "verify/drawing_sheet.h"
#include "verify/frame_marks.h"
#include "verify/mesh_thinning.h"

namespace aircut::verify {
namespace {

constexpr double kRing_px = 13.0;
constexpr double kLeastAround_mm = 24.0, kMostAround_mm = 90.0;
constexpr Colour kAlarmColour{163, 52, 28};

void PutPixels(const PiecePixels& pixels, DrawingSheet& sheet) {
  std::size_t i = 0;
  for (int y = 0; y < pixels.view.height_px; ++y) {
    for (int x = 0; x < pixels.view.width_px; ++x, i += 3) {
      sheet.Put(x, y, {double(pixels.rgb[i]), double(pixels.rgb[i + 1]), double(pixels.rgb[i + 2])});
    }
  }
}

// The axes of S that are not seen end on, in the lower right corner on paper of their own.
void DrawAxes(const PieceView& view, DrawingSheet& sheet) {
  const Eigen::Vector2d corner(view.width_px - 40.0, view.height_px - 30.0);
  constexpr double kLength_px = 22.0;
  const char* names[] = {"x", "y", "z"};
  sheet.Fill({corner - Eigen::Vector2d(34, 36), corner + Eigen::Vector2d(36, 26)}, kPaperColour);
  for (int axis = 0; axis < 3; ++axis) {
    const Eigen::Vector2d along(view.right_S[axis], -view.up_S[axis]);
    if (along.norm() < 0.3) continue;
    sheet.Line(corner, corner + kLength_px * along, {1.4});
    sheet.Text(corner + (kLength_px + 9.0) * along + Eigen::Vector2d(0, 4), names[axis], {8.0, Anchor::kMiddle, {1.1}});
  }
}

void DrawRing(const PieceView& view, const PlacePicture& request, DrawingSheet& sheet) {
  const Eigen::Vector2d at = view.PixelOf(*request.at_S);
  sheet.Circle(at, kRing_px, {3.6, kPaperColour});
  sheet.Circle(at, kRing_px, {2.0, kAlarmColour});
  if (request.label.empty()) return;
  const Eigen::Vector2d text = at + Eigen::Vector2d(kRing_px + 6, -kRing_px + 4);
  const TextStyle style{10.0, Anchor::kStart, {1.4}};
  Eigen::AlignedBox2d box = DrawingSheet::TextBox(text, request.label, style);
  sheet.Fill({box.min() - Eigen::Vector2d(4, 4), box.max() + Eigen::Vector2d(4, 2)}, kPaperColour);
  sheet.Text(text, request.label, style);
}

PictureRequest RequestOf(const PlacePicture& request) {
  PictureRequest piece;
  piece.mesh_S = request.mesh_S;
  piece.deviation_mm = request.deviation_mm;
  piece.look_S = request.look_S;
  piece.tolerance_mm = request.tolerance_mm;
  piece.width_px = request.width_px, piece.height_px = request.height_px;
  if (request.at_S) piece.closeup = PictureRequest::Closeup{*request.at_S, request.across_mm};
  return piece;
}

}  // namespace

double CloseUpAcross_mm(double whole_mm) { return std::clamp(0.25 * whole_mm, kLeastAround_mm, kMostAround_mm); }

std::vector<unsigned char> DrawPlace(const PlacePicture& request) {
  PictureRequest piece = RequestOf(request);
  ThinnedMesh part;
  if (request.at_S && request.mesh_S != nullptr) {
    // Only what may be seen: shading looks a few pixels beyond the edge.
    static const std::vector<float> kNone;
    part = CutOut(*request.mesh_S, request.deviation_mm != nullptr ? *request.deviation_mm : kNone, *request.at_S, request.across_mm);
    piece.mesh_S = &part.mesh;
    piece.deviation_mm = &part.value;
  }
  const PiecePixels pixels = PaintPiece(piece);
  DrawingSheet sheet(pixels.view.width_px, pixels.view.height_px);
  PutPixels(pixels, sheet);
  const double bar_px = request.width_px / 5.0, foot = request.height_px - 12.0;
  sheet.Fill({Eigen::Vector2d(6, foot - 26), Eigen::Vector2d(22 + bar_px, foot + 6)}, kPaperColour);
  DrawScaleBar({14, foot}, pixels.view.mm_per_px, bar_px, sheet);
  DrawAxes(pixels.view, sheet);
  if (request.at_S) DrawRing(pixels.view, request, sheet);
  return sheet.Png();
}

}  // namespace aircut::verify
