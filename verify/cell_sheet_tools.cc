#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "kinematics/units.h"
#include "verify/cell_sheet_parts.h"
#include "verify/cell_words.h"
#include "verify/words.h"

// Cutters with their stacks, the spindle and the controller.
namespace aircut::verify {
namespace {

std::string Rpm(double rpm) { return Given(rpm) + " rpm"; }

// Angle between the edges and size of the tip, read off the outline of a cone.
std::string ConeText(const sim::CutterOutline& outline) {
  if (outline.shape != "v" && outline.shape != "tapered_ball") return "";
  const auto edge = std::find_if(outline.pieces.begin(), outline.pieces.end(), [](const sim::OutlinePiece& piece) {
    return !piece.arc && piece.to.y() > piece.from.y();
  });
  if (edge == outline.pieces.end()) return "";
  const Eigen::Vector2d along = edge->to - edge->from;
  std::string text = fmt::format(" of {}", GivenDegrees(2 * std::atan2(along.x(), along.y())));
  const sim::OutlinePiece& tip = outline.pieces.front();
  if (tip.arc) return text + fmt::format(", tip radius {}", GivenMm(tip.centre.y()));
  if (tip.to.y() == tip.from.y()) return text + fmt::format(", tip flat {}", GivenMm(2 * tip.to.x()));
  return text + ", sharp";
}

std::string ShapeText(const sim::CellCutter& cutter) {
  std::string shape = cutter.cutter.outline().shape;
  for (char& letter : shape) letter = letter == '_' ? ' ' : letter;
  shape += ConeText(cutter.cutter.outline());
  return fmt::format("{}, {} across, {}, {}-hand", shape, GivenMm(2 * cutter.cutter.radius_mm()), Plural(cutter.flutes, "flute"),
                     cutter.right_handed ? "right" : "left");
}

std::string StickOutText(const sim::CellCutter& cutter) {
  const double flutes_mm = cutter.cutter.flute_length_mm();
  std::string text = fmt::format("{}: flutes {}", GivenMm(cutter.stick_out_mm), GivenMm(flutes_mm));
  if (cutter.stick_out_mm > flutes_mm) {
    text += fmt::format(" + shank {}, {} thick", GivenMm(cutter.stick_out_mm - flutes_mm),
                        GivenMm(cutter.shank_diameter_mm));
  }
  return text;
}

// Holder steps from the nose up, added up.
std::string HolderText(const sim::CellCutter& cutter) {
  if (cutter.holder.empty()) return "none";
  std::string text;
  double sum_mm = 0;
  for (const sim::BodyCylinder& step : cutter.holder) {
    const double length_mm = step.z1_mm - step.z0_mm;
    sum_mm += length_mm;
    text += fmt::format("{}{} x {}", text.empty() ? "" : " + ", Given(2 * step.radius_mm), Given(length_mm));
  }
  return text + fmt::format(" mm = {} above the nose, {} above the tip", GivenMm(sum_mm),
                            GivenMm(sum_mm + cutter.stick_out_mm));
}

// How far the flange stands above the nose along the spindle axis, and beside it.
struct NoseOffset {
  double along_mm = 0, beside_mm = 0;
};

NoseOffset FlangeFromNose(const kinematics::Pose& X_FH) {
  const Eigen::Vector3d p_HF = X_FH.inverse().translation();
  return {p_HF.z(), p_HF.head<2>().norm()};
}

std::string SumRows(const sim::Cell& cell, const sim::CellCutter& cutter) {
  const NoseOffset offset = FlangeFromNose(cell.X_FH);
  const double along_mm = offset.along_mm + cutter.stick_out_mm;
  std::string text = SheetRow(
      "sum along the spindle", fmt::format("flange to nose {} + nose to tip {} = {}", GivenMm(offset.along_mm),
                                           GivenMm(cutter.stick_out_mm), GivenMm(along_mm)));
  const std::string beside = offset.beside_mm > 0.0005 ? "passes the flange centre at " + GivenMm(offset.beside_mm)
                                                       : "goes through the flange centre";
  const double straight_mm = std::hypot(along_mm, offset.beside_mm);
  return text + SheetRow("flange to tip", fmt::format("{} in a straight line, the spindle axis {}",
                                                      GivenMm(straight_mm), beside));
}

std::string ControlText(const sim::CellCutter& cutter) {
  const double height_mm = cutter.control_height_mm;
  if (height_mm == 0) return "the tip end";
  return fmt::format("a point on the axis {} {} the tip end", GivenMm(std::abs(height_mm)),
                     height_mm > 0 ? "above" : "below");
}

std::string LimitText(const sim::Cell& cell, const sim::CellCutter& cutter) {
  if (!(cutter.rpm_limit > 0)) return "not said: nothing keeps the spindle from turning it too fast";
  if (cell.spindle_max_rpm <= cutter.rpm_limit) {
    return fmt::format("{}: the spindle goes to {}, within it", Rpm(cutter.rpm_limit), Rpm(cell.spindle_max_rpm));
  }
  return fmt::format("{}: the spindle goes to {}, beyond it; the program must keep below", Rpm(cutter.rpm_limit),
                     Rpm(cell.spindle_max_rpm));
}

std::string MeasuredText(const sim::CellCutter& cutter) {
  std::string text;
  if (cutter.measured) {
    const double longer_mm = cutter.measured_stick_out_mm - cutter.stick_out_mm;
    text = fmt::format("stick-out {}", GivenMm(cutter.measured_stick_out_mm));
    if (std::abs(longer_mm) < 0.0005) {
      text += " as typed";
    } else {
      text += fmt::format(", {} {} than typed", GivenMm(std::abs(longer_mm)), longer_mm > 0 ? "longer" : "shorter");
    }
  }
  if (cutter.measured_diameter_mm) {
    text += fmt::format("{}diameter {}", text.empty() ? "" : "; ", GivenMm(*cutter.measured_diameter_mm));
  }
  if (text.empty()) return "no";
  return cutter.measured_by.empty() ? text : text + "; by " + cutter.measured_by;
}

std::string CutterSection(const sim::Cell& cell, const sim::CellCutter& cutter) {
  std::string text = fmt::format("Cutter {}: {}\n", cutter.number, ShapeText(cutter));
  text += SheetRow("holder", HolderText(cutter));
  text += SheetRow("stick-out, nose to tip", StickOutText(cutter));
  text += SumRows(cell, cutter);
  text += SheetRow("the path gives", ControlText(cutter));
  text += SheetRow("highest speed", LimitText(cell, cutter));
  text += SheetRow("measured", MeasuredText(cutter));
  if (cutter.modulus_gpa) text += SheetRow("modulus", Given(*cutter.modulus_gpa) + " GPa");
  return text;
}

std::string PowerText(const sim::Cell& cell) {
  std::string text;
  for (const sim::PowerPoint& point : cell.power) {
    text += fmt::format("{}{} W at {}", text.empty() ? "" : ", ", Given(point.power_w), Rpm(point.rpm));
  }
  return text.empty() ? "not said" : text;
}

std::string HousingText(const sim::Cell& cell) {
  if (cell.housing == sim::Declared::kNone) return "none";
  if (cell.housing_H.empty()) return "not said";
  double low_mm = cell.housing_H.front().z0_mm, high_mm = low_mm, radius_mm = 0;
  for (const sim::BodyCylinder& body : cell.housing_H) {
    low_mm = std::fmin(low_mm, body.z0_mm);
    high_mm = std::fmax(high_mm, body.z1_mm);
    radius_mm = std::fmax(radius_mm, body.radius_mm);
  }
  return fmt::format("from {} to {} above the nose, at most {} across", Given(low_mm), GivenMm(high_mm),
                     GivenMm(2 * radius_mm));
}

}  // namespace

std::string CutterSections(const sim::Cell& cell) {
  std::string text;
  for (const auto& [number, cutter] : cell.cutters) text += (text.empty() ? "" : "\n") + CutterSection(cell, cutter);
  return text.empty() ? "Cutters\n  none\n" : text;
}

std::string SpindleSection(const sim::Cell& cell) {
  std::string text = "Spindle\n";
  text += SheetRow("speed", fmt::format("{} to {}", Given(cell.spindle_min_rpm), Rpm(cell.spindle_max_rpm)));
  text += SheetRow("power", PowerText(cell));
  text += SheetRow("run-up", cell.run_up_s ? Given(*cell.run_up_s) + " s" : "not said");
  text += SheetRow("switched", cell.switched == sim::SpindleSwitch::kByPath
                                   ? "by the program"
                                   : "outside the program: somebody signs that it turns");
  return text + SheetRow("housing", HousingText(cell));
}

std::string ControllerSection(const sim::Cell& cell) {
  const sim::ControllerNotes& notes = cell.controller_notes;
  const kinematics::ControllerRules& rules = cell.controller;
  std::string text = "Controller\n";
  const bool blends = cell.controller.corner == kinematics::CornerRule::kBlend;
  const std::string within = rules.corner_distance_mm ? " within " + GivenMm(*rules.corner_distance_mm) : "";
  text += SheetRow("corners", blends ? "rounded" + within : "stops exactly at each");
  text += SheetRow("rapids", cell.controller.rapid == kinematics::RapidRule::kStraight
                                 ? "the tip goes straight"
                                 : "the joints go evenly, the tip on a curve");
  text += SheetRow("cycle", Given(cell.controller.cycle_s) + " s");
  text += SheetRow("looks ahead",
                   rules.look_ahead_moves ? Plural(*rules.look_ahead_moves, "move") : "not said: taken as endless");
  const char* over = notes.over_speed == sim::OverSpeed::kSlows   ? "it slows down"
                     : notes.over_speed == sim::OverSpeed::kStops ? "it stops with an error"
                                                                  : "not said";
  return text + SheetRow("joint asked too fast", over);
}

}  // namespace aircut::verify
