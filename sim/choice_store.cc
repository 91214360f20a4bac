#include "sim/choice_store.h"

#include <algorithm>

#include <fmt/format.h>

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"
#include "sim/input_error.h"
#include "sim/sealed_file.h"

namespace aircut::sim {
namespace {

namespace fs = std::filesystem;
using kinematics::JointVector;
using kinematics::KeptChoice;
using kinematics::PathLine;
using kinematics::PlanRequest;

constexpr char kMagic[] = "aircut choice 1";
constexpr char kFile[] = "choice.plan";

// Everything about a line that planning looks at.
std::string BytesOf(const PathLine& line, const kinematics::Pose& X_FT) {
  ByteWriter bytes;
  for (int d = 0; d < 3; ++d) bytes.Put(line.p_ST[d]);
  for (int d = 0; d < 3; ++d) bytes.Put(line.axis_S[d]);
  for (int n = 0; line.R_ST && n < 9; ++n) bytes.Put(line.R_ST->data()[n]);
  bytes.Put(line.feed_mm_s);
  bytes.Put(static_cast<std::int32_t>(line.move));
  bytes.Put(static_cast<std::int32_t>(line.tool));
  bytes.Put(line.duration_s.value_or(-1.0));
  bytes.Put(line.dwell_s);
  for (int n = 0; n < 12; ++n) bytes.Put(X_FT.data()[n + n / 3]);
  return bytes.bytes();
}

std::vector<double> Values(const JointVector& q) { return {q.data(), q.data() + q.size()}; }

InputError Unusable(const fs::path& folder, const std::string& why) {
  return InputError(fmt::format("--keep-before: {}: {}", (folder / kFile).string(), why));
}

struct SavedLine {
  std::string bytes;
  JointVector q;
  std::int32_t posture = 0;
};

struct SavedChoice {
  std::int32_t spin_rule = 0;
  std::vector<SavedLine> lines;
  std::vector<double> spin_rad;
};

SavedChoice Read(const fs::path& folder) {
  const std::optional<HeldBytes> bytes = ReadSealed(folder / kFile);
  if (!bytes) {
    throw Unusable(folder, "holds no whole choice of an earlier run: run once with --resume and without "
                           "--keep-before");
  }
  ByteReader reader(*bytes);
  SavedChoice saved;
  const bool ours = reader.GetText(sizeof kMagic - 1) == kMagic;
  saved.spin_rule = reader.Get<std::int32_t>();
  const std::uint64_t count = reader.Get<std::uint64_t>();
  for (std::uint64_t i = 0; ours && i < count && reader.good(); ++i) {
    SavedLine line;
    const std::vector<char> text = reader.GetList<char>();
    line.bytes.assign(text.begin(), text.end());
    const std::vector<double> q = reader.GetList<double>();
    if (q.size() > 8) break;
    line.q = Eigen::Map<const Eigen::VectorXd>(q.data(), static_cast<Eigen::Index>(q.size()));
    line.posture = reader.Get<std::int32_t>();
    saved.lines.push_back(std::move(line));
  }
  saved.spin_rad = reader.GetList<double>();
  if (!ours || !reader.good() || saved.lines.size() != count) {
    throw Unusable(folder, "was written by another version: run once with --resume and without --keep-before");
  }
  return saved;
}

std::size_t LinesBefore(const PlanRequest& request, int line) {
  const auto first = std::find_if(request.path.begin(), request.path.end(),
                                  [line](const PathLine& l) { return l.line >= line; });
  return static_cast<std::size_t>(first - request.path.begin());
}

// Whether saved joints still bring the tip to the line.
bool Reaches(const PlanRequest& request, std::size_t i, const JointVector& q) {
  constexpr double kSame_mm = 1e-3;
  if (q.size() != request.arm->joint_count()) return false;
  const JointVector external = kinematics::ExternalPart(*request.arm, q);
  const kinematics::Pose X_BS = kinematics::TableMotion(*request.arm, external) * request.X_BS;
  const kinematics::Pose X_BT = kinematics::FlangePose(*request.arm, q) * request.X_FT[i];
  return (X_BT.translation() - X_BS * request.path[i].p_ST).norm() <= kSame_mm;
}

}  // namespace

void SaveChoice(const fs::path& folder, const PlanRequest& request, const kinematics::Motion& motion) {
  fs::create_directories(folder);
  ByteWriter bytes;
  bytes.PutText(kMagic);
  bytes.Put(static_cast<std::int32_t>(request.spin));
  bytes.Put(static_cast<std::uint64_t>(request.path.size()));
  for (std::size_t i = 0; i < request.path.size(); ++i) {
    const std::string line = BytesOf(request.path[i], request.X_FT[i]);
    bytes.PutList(std::vector<char>(line.begin(), line.end()));
    bytes.PutList(Values(motion.q_per_line[i]));
    bytes.Put(static_cast<std::int32_t>(motion.posture_per_line[i]));
  }
  bytes.PutList(motion.spin_per_line);
  WriteSealed(folder / kFile, bytes.bytes());
}

KeptChoice LoadChoice(const fs::path& folder, const PlanRequest& request, int line) {
  const SavedChoice saved = Read(folder);
  if (saved.spin_rule != static_cast<std::int32_t>(request.spin)) {
    throw Unusable(folder, "was made under another spin rule: leave --keep-before out");
  }
  const std::size_t count = LinesBefore(request, line);
  if (count == 0) {
    throw InputError(fmt::format("--keep-before = {} must be a line of the path behind its first, {}: nothing "
                                 "lies before it", line, request.path.front().line));
  }
  KeptChoice kept;
  for (std::size_t i = 0; i < count; ++i) {
    const PathLine& now = request.path[i];
    const bool same = i < saved.lines.size() && saved.lines[i].bytes == BytesOf(now, request.X_FT[i]);
    if (!same) {
      throw InputError(fmt::format("--keep-before = {}: line {} of the path is not as it was in the earlier run: "
                                   "name line {} or one before it, or leave --keep-before out",
                                   line, now.line, now.line));
    }
    if (!Reaches(request, i, saved.lines[i].q)) {
      throw Unusable(folder, fmt::format("its joints do not reach line {}: arm, frames or the place of the work "
                                         "were changed since: leave --keep-before out", now.line));
    }
    kept.q.push_back(saved.lines[i].q);
    kept.posture.push_back(saved.lines[i].posture);
    if (!saved.spin_rad.empty()) kept.spin_rad.push_back(saved.spin_rad.at(i));
  }
  return kept;
}

}  // namespace aircut::sim
