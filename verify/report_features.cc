#include "verify/report_json_parts.h"

// Part of report.json: limits by region, and the small things of design and cut.
namespace aircut::verify {
namespace {

Json RegionsJson(const ReportContext& context) {
  Json regions = Json::array();
  const std::vector<sim::AcceptRegion>& stated = context.job.accept.regions;
  for (const RegionDepth& part : context.deviation.by_limit) {
    if (stated.empty()) break;
    const bool known = part.farthest_sample >= 0;
    const auto told = [&](double value) { return known ? Finite(value) : Json(nullptr); };
    const int region = part.limit.region;
    regions.push_back({{"region", region >= 0 ? Json(stated[static_cast<std::size_t>(region)].name) : Json(nullptr)},
                       {"limit_mm", Finite(part.limit.value_mm)},
                       {"places", part.places},
                       {"area_mm2", Finite(part.area_mm2)},
                       {"p95_mm", told(part.p95.value)},
                       {"within", told(part.within.value)},
                       {"max_gouge_mm", told(part.max_gouge_mm)},
                       {"max_leftover_mm", told(part.max_leftover_mm)}});
  }
  return regions;
}

Json UnreachableJson(const ReportContext& context) {
  const Unreachable& u = context.deviation.unreachable;
  if (u.deepest_sample < 0) return nullptr;
  return {{"area_mm2", Finite(u.area_mm2)},
          {"volume_mm3", Finite(u.volume_mm3)},
          {"deepest_mm", Finite(u.deepest_mm)},
          {"at_mm", PlaceJson(context.run.samples[static_cast<std::size_t>(u.deepest_sample)].ray.p_SQ)}};
}

Json HollowJson(const std::optional<SmallestHollow>& hollow) {
  if (!hollow) return nullptr;
  return {{"radius_mm", Finite(hollow->radius_mm)},
          {"at_mm", PlaceJson(hollow->p_S)},
          {"cutter_radius_mm", Finite(hollow->cutter_radius_mm)}};
}

Json WallsJson(const std::vector<StandingWall>& walls) {
  Json list = Json::array();
  for (const StandingWall& wall : walls) {
    if (list.size() == kMostFindings) break;
    list.push_back({{"thickness_mm", Finite(wall.thickness_mm)},
                    {"at_mm", PlaceJson(wall.p_S)},
                    {"line", wall.line > 0 ? Json(wall.line) : Json(nullptr)}});
  }
  return list;
}

Json WallsJson(const ReportContext& context) {
  const std::optional<StandingWalls>& walls = context.deviation.fine.walls;
  if (!walls) return nullptr;
  const bool has_mesh = context.job.design.mesh_S != nullptr;
  return {{"limit_mm", Finite(walls->limit_mm)},
          {"places", walls->places},
          {"in_cut", walls->in_cut.size()},
          {"in_design", has_mesh ? Json(walls->in_design.size()) : Json(nullptr)},
          {"thinnest_in_cut", WallsJson(walls->in_cut)},
          {"thinnest_in_design", WallsJson(walls->in_design)}};
}

Json StepJson(const PassStep& step) {
  return {{"height_mm", Finite(step.height_mm)},
          {"bound_mm", Finite(step.bound_mm)},
          {"at_mm", PlaceJson(step.p_S)},
          {"high_line", step.lines[0]},
          {"low_line", step.lines[1]},
          {"high_cutter", step.tools[0]},
          {"low_cutter", step.tools[1]}};
}

Json StepsJson(const PassSteps& steps) {
  Json highest = Json::array();
  for (const PassStep& step : steps.steps) {
    if (highest.size() < kMostFindings) highest.push_back(StepJson(step));
  }
  return {{"places", steps.places},
          {"limit_mm", Finite(steps.limit_mm)},
          {"over_limit", steps.steps.size()},
          {"largest", steps.largest ? StepJson(*steps.largest) : Json(nullptr)},
          {"highest", highest}};
}

}  // namespace

Json FeaturesJson(const ReportContext& context) {
  const FineFeatures& fine = context.deviation.fine;
  return {{"regions", RegionsJson(context)},
          {"unreachable", UnreachableJson(context)},
          {"hollow", HollowJson(fine.hollow)},
          {"walls", WallsJson(context)},
          {"steps", StepsJson(fine.steps)}};
}

}  // namespace aircut::verify
