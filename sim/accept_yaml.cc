#include "sim/job_parts.h"

namespace aircut::sim {

AcceptLimits ReadAccept(const YamlMap& top) {
  AcceptLimits accept;
  const auto value = top.Find("accept");
  if (!value) return accept;
  const YamlMap map = value->Map({"depth_mm",     "gouge_mm",         "leftover_mm",     "region_mm2",
                                  "clearance_mm", "tool_clearance_mm", "joint_margin_deg", "slide_margin_mm", "piece_mm",
                                  "arm_model_mm", "arm_model_deg",    "read_back_deg",   "read_back_mm",
                                  "frame_mm",     "tool_mm",          "wall_mm",         "clamp_mm",
                                  "corner_mm",    "wrist_twist_deg",  "singular_value",  "cycle_time_min",
                                  "scallop_mm",   "confidence",   "plunge_diameters", "ramp_deg",
                                  "deflection_mm", "lost_motion_mm", "holding_factor", "spindle_percent", "standing_wall_mm",
                                  "regions"});
  const auto read = [&map](const char* key, Limit& limit, const Bound& bound) {
    if (const auto given = map.Find(key)) limit = {given->Number(bound), true};
  };
  const Bound tolerance = Bound::Positive("write the limit you accept, in mm", 1000);
  const Bound angle = Bound::Positive("write the limit you accept, in degrees", 90);
  const Bound distance = Bound::Within(0, 1000, "write the distance you want to keep, in mm");
  read("depth_mm", accept.depth_mm, tolerance);
  read("gouge_mm", accept.gouge_mm, tolerance);
  read("leftover_mm", accept.leftover_mm, tolerance);
  read("region_mm2", accept.region_mm2, Bound::Within(0, 1e6, "write the smallest area that counts, in mm2"));
  read("clearance_mm", accept.clearance_mm, Bound::Within(0, 1000, "write the clearance you want, in mm"));
  accept.tool_clearance_mm = accept.clearance_mm;
  read("tool_clearance_mm", accept.tool_clearance_mm, distance);
  read("joint_margin_deg", accept.joint_margin_deg, Bound::Within(0, 90, "write the margin you want, in degrees"));
  read("slide_margin_mm", accept.slide_margin_mm, distance);
  accept.piece_mm.value = accept.frame_mm.value = accept.depth_mm.value / 3;
  accept.tool_mm.value = accept.corner_mm.value = accept.depth_mm.value / 4;
  accept.scallop_mm.value = accept.depth_mm.value / 2;
  accept.deflection_mm.value = accept.depth_mm.value / 2;
  accept.lost_motion_mm.value = accept.depth_mm.value / 3;
  read("deflection_mm", accept.deflection_mm, tolerance);
  read("lost_motion_mm", accept.lost_motion_mm, tolerance);
  read("holding_factor", accept.holding_factor, Bound::Within(1, 100, "write what must hold over what pulls, such as 2"));
  read("piece_mm", accept.piece_mm, tolerance);
  read("arm_model_mm", accept.arm_model_mm, tolerance);
  read("arm_model_deg", accept.arm_model_deg, angle);
  read("read_back_deg", accept.read_back_deg, angle);
  read("read_back_mm", accept.read_back_mm, tolerance);
  read("frame_mm", accept.frame_mm, tolerance);
  read("tool_mm", accept.tool_mm, tolerance);
  read("scallop_mm", accept.scallop_mm, tolerance);
  read("wall_mm", accept.wall_mm, distance);
  read("clamp_mm", accept.clamp_mm, distance);
  read("corner_mm", accept.corner_mm, tolerance);
  read("wrist_twist_deg", accept.wrist_twist_deg, Bound::Positive("write the twist that the hose bears, in degrees", 3600));
  read("plunge_diameters", accept.plunge_diameters, Bound::Within(0, 100, "write the depth of one plunge in cutter diameters"));
  read("ramp_deg", accept.ramp_deg, Bound::Within(0, 45, "write the steepest ramp in degrees"));
  read("spindle_percent", accept.spindle_percent, Bound::Positive("write the part of the spindle's power that a cut may take, in percent", 100));
  if (const auto value_of = map.Find("singular_value")) {
    accept.singular_value = value_of->Number(Bound::Positive("write the smallest singular value you accept, such as 0.05", 10));
  }
  if (const auto minutes = map.Find("cycle_time_min")) {
    accept.cycle_time_min = minutes->Number(Bound::Positive("write the time you allow, in minutes", 1e5));
  }
  read("standing_wall_mm", accept.standing_wall_mm, Bound::Positive("write the thinnest wall that may stand, in mm", 20));
  if (const auto regions = map.Find("regions")) accept.regions = ReadAcceptRegions(*regions);
  read("confidence", accept.confidence, Bound::Within(0.5, 0.9999, "write a probability such as 0.95"));
  return accept;
}

}  // namespace aircut::sim
