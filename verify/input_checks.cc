#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "verify/checks.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

using Box = Eigen::AlignedBox3d;

// A lead-in in the air is normal; farther than this plus a cutter is not.
constexpr double kFar_mm = 50.0;   // common practice, no source

// Unit mistakes that shops make. Source: domain notes A7; 10 is cm for mm.
struct UnitFactor {
  double factor;
  const char* text;
};
constexpr UnitFactor kUnitFactors[] = {
    {25.4, "inches and millimetres"}, {1000.0, "metres and millimetres"},
    {10.0, "centimetres and millimetres"}};

double LargestCutter(const sim::Job& job) {
  double diameter_mm = 0.0;
  for (const kinematics::PathLine& line : job.path) {
    const auto found = job.cell.cutters.find(line.tool);
    if (found == job.cell.cutters.end()) continue;
    diameter_mm = std::max(diameter_mm, 2.0 * found->second.cutter.radius_mm());
  }
  return diameter_mm;
}

bool IsCut(const kinematics::PathLine& line) {
  return line.move == kinematics::MoveKind::kCut;
}

Box CutBox(const sim::Job& job) {
  Box box;
  for (const kinematics::PathLine& line : job.path) {
    if (IsCut(line)) box.extend(line.p_ST);
  }
  return box;
}

double Diagonal(const Box& box) { return box.isEmpty() ? 0.0 : box.diagonal().norm(); }

// Faults and notes as they are found.
struct Notebook {
  std::vector<Finding> faults;
  std::vector<std::string> notes;
  void Fault(const std::string& text, const std::string& cause) {
    Finding f;
    f.text = text;
    f.cause = cause;
    f.value = 1.0;
    f.unit = "faults";
    faults.push_back(f);
  }
};

// " Inches and millimetres differ by 25.4." where a ratio looks like a unit
// mistake: a part that should have filled `full` times less of the whole.
std::string UnitHint(double ratio, double least_share) {
  for (const UnitFactor& f : kUnitFactors) {
    const double share = ratio / f.factor;
    if (share >= least_share && share <= 1.2) {
      return fmt::format("{} taken for each other (a factor of {:g})", f.text, f.factor);
    }
  }
  return "units or scale of one of the two files";
}

void LookForBadNumbers(const sim::Job& job, Notebook* book) {
  for (const kinematics::PathLine& line : job.path) {
    const bool finite = line.p_ST.allFinite() && line.axis_S.allFinite();
    if (finite && std::abs(line.axis_S.norm() - 1.0) <= 1e-3) continue;
    book->Fault(fmt::format("{} of the path holds a value that is not a number or an axis that is "
                            "not of unit length.", Lines(line.line, line.line)),
                "the program that wrote the path");
    book->faults.back().line = line.line;
    return;
  }
}

// Nearest cut line's tip to the stock's box.
struct Nearest {
  double distance_mm = std::numeric_limits<double>::infinity();
  int line = 0;
};

void LookForDistance(const sim::Job& job, Notebook* book) {
  Nearest nearest;
  for (const kinematics::PathLine& line : job.path) {
    if (!IsCut(line)) continue;
    const double distance_mm = job.stock_S->box().exteriorDistance(line.p_ST);
    if (distance_mm < nearest.distance_mm) nearest = {distance_mm, line.line};
  }
  const double far_mm = LargestCutter(job) + kFar_mm;
  if (!(nearest.distance_mm > far_mm)) return;
  book->Fault(fmt::format("No cut comes nearer to the stock than {} ({}); it should start within "
                          "{}.", Millimetres(nearest.distance_mm), Lines(nearest.line, nearest.line),
                          Millimetres(far_mm)),
              "path and stock do not share their zero, or one of them is in other units");
  book->faults.back().line = nearest.line;
}

// A path far larger than the piece cannot be meant; a small one can (a motif a
// fortieth of its board), so it is held against the design, not the stock.
void LookForScale(const CheckInputs& in, Notebook* book) {
  const double path_mm = Diagonal(CutBox(in.job)), stock_mm = Diagonal(in.job.stock_S->box());
  const double room_mm = LargestCutter(in.job) + kFar_mm;
  if (path_mm > 2.0 * (stock_mm + room_mm)) {
    book->Fault(fmt::format("The cuts span {}, the stock {}.", Millimetres(path_mm),
                            Millimetres(stock_mm)), UnitHint(path_mm / stock_mm, 0.05));
  }
  if (in.job.design.mesh_S == nullptr) return;
  const double design_mm = Diagonal(in.job.design.mesh_S->box());
  if (design_mm > 3.0 * stock_mm) {
    book->Fault(fmt::format("The design spans {}, the stock {}.", Millimetres(design_mm),
                            Millimetres(stock_mm)), UnitHint(design_mm / stock_mm, 0.05));
  }
  Box carve;
  for (const sim::DesignSample& s : in.run.samples) {
    if (s.role == sim::DesignSample::Role::kCarve) carve.extend(s.ray.p_SQ);
  }
  const double ratio = path_mm > 0.0 ? Diagonal(carve) / path_mm : 0.0;
  for (const UnitFactor& f : kUnitFactors) {
    if (f.factor < 20.0 || ratio < 0.7 * f.factor || ratio > 1.4 * f.factor) continue;
    book->Fault(fmt::format("The cuts span {}, the part of the design to be carved {}.",
                            Millimetres(path_mm), Millimetres(Diagonal(carve))),
                fmt::format("{} taken for each other (a factor of {:g})", f.text, f.factor));
  }
}

void LookForRepeats(const sim::Job& job, Notebook* book) {
  std::int64_t repeats = 0;
  int first_line = 0;
  for (std::size_t i = 1; i < job.path.size(); ++i) {
    const kinematics::PathLine &a = job.path[i - 1], &b = job.path[i];
    if ((a.p_ST - b.p_ST).norm() > 1e-9 || (a.axis_S - b.axis_S).norm() > 1e-9) continue;
    if (repeats++ == 0) first_line = b.line;
  }
  if (repeats > 0 && repeats + 1 == static_cast<std::int64_t>(job.path.size())) {
    book->Fault("All " + Count(repeats + 1) + " lines of the path are the same pose.",
                "the program that wrote the path");
    book->faults.back().line = first_line;
  } else if (repeats > 0) {
    book->notes.push_back(fmt::format("{} the line before, first at {}",
                                      Plural(repeats, "line") + (repeats == 1 ? " repeats" : " repeat"),
                                      Lines(first_line, first_line)));
  }
}

void LookAtStock(const sim::Job& job, Notebook* book) {
  const sim::MeshReport report = sim::Inspect(job.stock_S->mesh());
  if (!(report.volume_mm3 > 0.0)) {
    book->Fault("The stock mesh encloses no material: its volume is not above zero.",
                "a mesh that is open or turned inside out");
  }
  const sim::MeshDefects& found = job.stock_faces.defects;
  const auto note = [&](int count, const char* noun, const std::string& what) {
    if (count > 0) book->notes.push_back("the stock mesh has " + Plural(count, noun) + " " + what);
  };
  note(std::max(report.degenerate, found.degenerate), "triangle", "without area");
  note(found.duplicate, "triangle", "more than once, left out");
  note(found.flipped, "triangle", "turned the wrong way, turned round here");
  note(found.crowded_edges, "edge", "where more than two faces meet");
  note(found.enclosed, "triangle", "inside other parts of it: winding numbers say what is material there");
  note(found.holes, "hole", fmt::format("closed here by flat faces ({})", SquareMillimetres(found.hole_mm2)));
  note(found.loose_parts, "loose piece", "beside the scan, left out");
}

// How a picture lies on the piece.
void LookAtPicture(const sim::Job& job, Notebook* book) {
  if (job.design.image == nullptr) return;
  const sim::ImageFit fit = sim::FitOf(*job.design.image, *job.stock_S);
  const Eigen::Vector3d out = job.design.image->X_SD.linear().col(2);
  double facing = 0.0;
  for (const kinematics::PathLine& line : job.path) facing += IsCut(line) ? line.axis_S.dot(out) : 0.0;
  if (facing < 0.0) {
    book->Fault("The picture looks away from the tool: it would be carved mirrored.",
                "`design.at`: z must point from the piece to who looks at the picture");
  }
  if (fit.folded > 0.0) {
    book->Fault(fmt::format("Behind {:.2g} % of the picture the piece comes twice: the map is folded there.", 100.0 * fit.folded),
                "`design.at`: the picture must look at the face from where all of it is seen");
  }
  if (fit.steep > 0.0) {
    book->Fault(fmt::format("{:.2g} % of the picture is stretched more than {:g} times, at most {:.3g} times.",
                            100.0 * fit.steep, sim::kMostStretch, fit.most_stretch),
                "`design.at`: the picture looks at the face too flatly");
  }
  if (fit.missed > 0.0) book->notes.push_back(fmt::format("{:.2g} % of the picture lies beside the stock", 100.0 * fit.missed));
}

// A design that lies beside the stock leaves most of its samples in the air.
void LookForMaterial(const CheckInputs& in, Notebook* book) {
  const int all = in.deviation.carve_samples;
  if (all == 0) return;
  const double bare = static_cast<double>(in.deviation.unknown_samples) / all;
  if (bare > 0.5) {
    book->Fault(fmt::format("{:.0f} % of the part of the design to be carved lies outside the stock.",
                            100.0 * bare),
                "design and stock do not share their zero or their units");
  } else if (bare > 0.0) {
    book->notes.push_back(fmt::format("{:.2g} % of the design to be carved lies outside the stock",
                                      100.0 * bare));
  }
}

}  // namespace

CheckResult CheckInputFiles(const CheckInputs& in) {
  if (in.job.path.empty() || in.job.stock_S == nullptr) {
    return Unproven("Path or stock is missing.", {"`path` and `stock`"});
  }
  if (std::none_of(in.job.path.begin(), in.job.path.end(), IsCut)) {
    return Unproven("The path has no cut.", {"a path that cuts"});
  }
  Notebook book;
  LookForBadNumbers(in.job, &book);
  if (book.faults.empty()) {
    LookForScale(in, &book);   // first: a wrong unit is often why a path lies far off
    LookForDistance(in.job, &book);
    LookForRepeats(in.job, &book);
    LookAtStock(in.job, &book);
    LookAtPicture(in.job, &book);
    LookForMaterial(in, &book);
  }
  CheckResult r = Measured({static_cast<double>(book.faults.size()), 0.0, 0.0, Sense::kAtMost,
                            "faults"});
  r.findings = book.faults;
  r.why = book.faults.empty() ? "Path, stock and design fit each other in place and scale"
                              : book.faults.front().text;
  if (book.faults.empty()) r.why += book.notes.empty() ? "." : "; " + List(book.notes) + ".";
  return r;
}

}  // namespace aircut::verify
