#include "sim/cut_store.h"

#include <algorithm>
#include <fstream>
#include <set>
#include <type_traits>
#include <utility>

#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include "sim/file_hash.h"
#include "sim/sealed_file.h"

namespace aircut::sim {
namespace {

namespace fs = std::filesystem;

// To be raised whenever what a state holds, or how it comes about, changes.
constexpr int kFormat = 4;
constexpr char kMagic[] = "aircut cut state";
constexpr char kEnding[] = ".cut";
constexpr std::size_t kHexDigits = 64;
constexpr std::size_t kHashedAtATime = std::size_t{1} << 16;

static_assert(std::is_trivially_copyable_v<SweepContact>);
static_assert((sizeof kMagic - 1) % alignof(BrickState) == 0);

// What tells two tools apart, to the last bit.
std::string GeometryText(const TrackTool& tool) {
  std::string text;
  for (const OutlinePiece& p : tool.cutter.outline().pieces) {
    text += fmt::format("{}{:a},{:a},{:a},{:a},{:a},{:a};", p.arc ? (p.clockwise ? "c" : "a") : "l", p.from.x(), p.from.y(),
                        p.to.x(), p.to.y(), p.centre.x(), p.centre.y());
  }
  for (const BodyCylinder& b : tool.bodies) {
    text += fmt::format("b{:a},{:a},{:a};", b.z0_mm, b.z1_mm, b.radius_mm);
  }
  return text;
}

// Hashes of the sweeps before each of the stops asked for (rising).
std::vector<std::string> PrefixHashes(const ToolTrack& track, const std::set<std::int32_t>& stops) {
  std::vector<std::string> tools, hashes;
  for (const TrackTool& tool : track.tools) tools.push_back(Sha256OfText(GeometryText(tool)));
  RunningHash hash;
  ByteWriter bytes;   // of some sweeps: the hash takes them at a time
  const auto put_moment = [&](std::size_t m) {
    bytes.PutBytes(track.p_ST[m].data(), 3 * sizeof(double));
    bytes.PutBytes(track.axis_S[m].data(), 3 * sizeof(double));
  };
  const auto pass_on = [&] {
    hash.Add(bytes.bytes().data(), bytes.bytes().size());
    bytes.Clear();
  };
  std::int32_t done = 0;
  if (!track.p_ST.empty()) put_moment(0);
  const std::string* tool_before = nullptr;
  for (const std::int32_t stop : stops) {
    for (; done < stop; ++done) {
      const std::size_t i = static_cast<std::size_t>(done);
      const SweepInfo& sweep = track.sweeps[i];
      const std::string* tool = &tools[static_cast<std::size_t>(sweep.tool)];
      put_moment(i + 1);
      bytes.PutText(sweep.swap ? "x" : "-");
      bytes.PutText(tool == tool_before ? "=" : *tool);
      tool_before = tool;
      if (bytes.bytes().size() > kHashedAtATime) pass_on();
    }
    pass_on();
    hashes.push_back(hash.Hex());
  }
  return hashes;
}

// What stands at the head of a file.
struct Header {
  std::string key, parent, hash;   // parent: hash of the file before; zeros = none
  std::int32_t stop = 0;
};

const std::string kNoParent(kHexDigits, '0');

void Write(ByteWriter& to, const Header& header) {
  to.PutText(kMagic);   // its length keeps what follows in step with whole words
  to.PutText(header.key + header.parent + header.hash);
  to.Put(header.stop);
}

std::optional<Header> ReadHeader(ByteReader& from) {
  Header header;
  if (from.GetText(sizeof kMagic - 1) != kMagic) return std::nullopt;
  header.key = from.GetText(kHexDigits);
  header.parent = from.GetText(kHexDigits);
  header.hash = from.GetText(kHexDigits);
  header.stop = from.Get<std::int32_t>();
  return from.good() ? std::optional(header) : std::nullopt;
}

void Write(ByteWriter& to, const CutState& state) {
  to.Put(static_cast<std::uint64_t>(state.bricks.size()));
  for (const KeptBrick& brick : state.bricks) {
    to.Put(std::array<std::int32_t, 3>{brick.place.x(), brick.place.y(), brick.place.z()});
    to.Put(static_cast<std::int32_t>(brick.state ? 1 : 0));
    if (brick.state) to.PutBytes(brick.state.get(), brick.state->bytes());
  }
  to.PutList(state.contact);
}

// The next brick's state, where it lies in the file's bytes; null if it is not whole.
std::shared_ptr<const BrickState> StateIn(const HeldBytes& file, ByteReader& from) {
  const auto* state = reinterpret_cast<const BrickState*>(from.Pass(sizeof(BrickState)));
  if (state == nullptr || state->sweep_count < 0) return nullptr;
  if (from.Pass(state->bytes() - sizeof(BrickState)) == nullptr) return nullptr;
  return std::shared_ptr<const BrickState>(file.data, state);
}

std::optional<CutState> ReadState(const HeldBytes& file, ByteReader& from, std::int32_t stop) {
  CutState state;
  state.stop = stop;
  const std::uint64_t count = from.Get<std::uint64_t>();
  for (std::uint64_t n = 0; n < count && from.good(); ++n) {
    const auto place = from.Get<std::array<std::int32_t, 3>>();
    KeptBrick brick{{place[0], place[1], place[2]}, nullptr};
    if (from.Get<std::int32_t>() != 0) {
      brick.state = StateIn(file, from);
      if (!brick.state) return std::nullopt;
    }
    state.bricks.push_back(std::move(brick));
  }
  state.contact = from.GetList<SweepContact>();
  return from.good() ? std::optional(std::move(state)) : std::nullopt;
}

// The file's state, if it is whole.
std::optional<CutState> Load(const fs::path& file) {
  const std::optional<HeldBytes> bytes = ReadSealed(file);
  if (!bytes) return std::nullopt;
  ByteReader reader(*bytes);
  const std::optional<Header> header = ReadHeader(reader);
  return header ? ReadState(*bytes, reader, header->stop) : std::nullopt;
}

fs::path FileOf(const fs::path& folder, const std::string& hash) {
  return folder / (hash.substr(0, 32) + kEnding);
}

// Heads of all files of one stock and voxel in the folder, by name.
std::vector<Header> HeadersIn(const fs::path& folder, const std::string& key) {
  std::vector<Header> headers;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(folder, error)) {
    if (entry.path().extension() != kEnding) continue;
    std::ifstream in(entry.path(), std::ios::binary);
    std::string head(sizeof kMagic - 1 + 3 * kHexDigits + sizeof(std::int32_t), '\0');
    in.read(head.data(), static_cast<std::streamsize>(head.size()));
    ByteReader reader(head);
    const std::optional<Header> header = in ? ReadHeader(reader) : std::nullopt;
    if (header && header->key == key && header->stop > 0) headers.push_back(*header);
  }
  std::sort(headers.begin(), headers.end(),
            [](const Header& a, const Header& b) { return std::tie(a.stop, a.hash) < std::tie(b.stop, b.hash); });
  return headers;
}

// The file and all that it builds on, first one first; empty if a link is missing.
std::vector<std::string> ChainTo(const std::vector<Header>& headers, std::string hash) {
  std::vector<std::string> chain;
  while (hash != kNoParent) {
    const auto found = std::find_if(headers.begin(), headers.end(),
                                    [&](const Header& h) { return h.hash == hash; });
    if (found == headers.end() || chain.size() > headers.size()) return {};
    chain.insert(chain.begin(), hash);
    hash = found->parent;
  }
  return chain;
}

std::optional<CutState> LoadChain(const fs::path& folder, const std::vector<std::string>& chain) {
  std::vector<std::optional<CutState>> parts(chain.size());
  tbb::parallel_for(std::size_t{0}, chain.size(), [&](std::size_t n) { parts[n] = Load(FileOf(folder, chain[n])); });
  CutState state;
  for (const std::optional<CutState>& part : parts) {
    if (!part) return std::nullopt;
    state = Advance(std::move(state), *part);
  }
  return state;
}

void RemoveOthers(const fs::path& folder, const std::vector<std::string>& chain) {
  std::set<fs::path> wanted;
  for (const std::string& hash : chain) wanted.insert(FileOf(folder, hash).filename());
  for (const auto& entry : fs::directory_iterator(folder)) {
    const fs::path& file = entry.path();
    if (file.extension() == kEnding && wanted.count(file.filename()) == 0) fs::remove(file);
  }
}

}  // namespace

CutStore::CutStore(fs::path folder, const MeshIndex& solid_S, double voxel_mm)
    : folder_(std::move(folder)) {
  RunningHash hash;
  const std::string head = fmt::format("{} {} {} {:a}", kMagic, kFormat, sizeof(SweepContact), voxel_mm);
  hash.Add(head.data(), head.size());
  const Mesh& mesh = solid_S.mesh();
  for (const Eigen::Vector3d& p : mesh.vertices) hash.Add(p.data(), 3 * sizeof(double));
  hash.Add(mesh.triangles.data(), mesh.triangles.size() * sizeof mesh.triangles[0]);
  key_ = hash.Hex();
}

std::optional<CutState> CutStore::Find(const ToolTrack& track) const {
  const std::vector<Header> headers = HeadersIn(folder_, key_);
  std::set<std::int32_t> stops;
  for (const Header& header : headers) {
    if (header.stop <= static_cast<std::int32_t>(track.sweeps.size())) stops.insert(header.stop);
  }
  const std::vector<std::string> hashes = PrefixHashes(track, stops);
  for (std::size_t k = hashes.size(); k-- > 0;) {
    const std::vector<std::string> chain = ChainTo(headers, hashes[k]);
    if (chain.empty()) continue;
    std::optional<CutState> state = LoadChain(folder_, chain);
    if (state) return state;
  }
  return std::nullopt;
}

void CutStore::Save(const ToolTrack& track, std::int32_t from, const std::vector<CutState>& kept) const {
  if (kept.empty()) return;
  fs::create_directories(folder_);
  std::set<std::int32_t> stops;
  if (from > 0) stops.insert(from);
  for (const CutState& state : kept) stops.insert(state.stop);
  const std::vector<std::string> hashes = PrefixHashes(track, stops);
  auto hash = hashes.begin();
  Header header{key_, from > 0 ? *hash++ : kNoParent, "", 0};
  for (const CutState& state : kept) {
    header.hash = *hash++;
    header.stop = state.stop;
    ByteWriter writer;
    Write(writer, header);
    Write(writer, state);
    WriteSealed(FileOf(folder_, header.hash), writer.bytes());
    header.parent = header.hash;
  }
  RemoveOthers(folder_, ChainTo(HeadersIn(folder_, key_), header.hash));
}

}  // namespace aircut::sim
