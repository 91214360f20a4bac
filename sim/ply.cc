#include "sim/ply.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstring>
#include <limits>
#include <optional>

#include <fmt/format.h>

#include "sim/input_error.h"

namespace aircut::sim {
namespace {

enum class Format { kAscii, kLittleEndian, kBigEndian };
enum class Scalar { kInt8, kUint8, kInt16, kUint16, kInt32, kUint32, kFloat32, kFloat64 };

struct Property {
  std::string name;
  Scalar type = Scalar::kFloat32;
  std::optional<Scalar> count_type;   // a list where set
};

struct Element {
  std::string name;
  std::int64_t count = 0;
  std::vector<Property> properties;
};

struct Header {
  Format format = Format::kAscii;
  std::vector<Element> elements;
};

constexpr std::size_t kMaxHeaderLines = 10'000;
constexpr std::size_t kMaxProperties = 256;

int SizeOf(Scalar type) {
  switch (type) {
    case Scalar::kInt8:
    case Scalar::kUint8: return 1;
    case Scalar::kInt16:
    case Scalar::kUint16: return 2;
    case Scalar::kInt32:
    case Scalar::kUint32:
    case Scalar::kFloat32: return 4;
    case Scalar::kFloat64: break;
  }
  return 8;
}

bool IsWhole(Scalar type) { return type != Scalar::kFloat32 && type != Scalar::kFloat64; }

std::optional<Scalar> ScalarNamed(std::string_view name) {
  struct Named { std::string_view name; Scalar type; };
  constexpr Named kNames[] = {
      {"char", Scalar::kInt8},      {"int8", Scalar::kInt8},       {"uchar", Scalar::kUint8},
      {"uint8", Scalar::kUint8},    {"short", Scalar::kInt16},     {"int16", Scalar::kInt16},
      {"ushort", Scalar::kUint16},  {"uint16", Scalar::kUint16},   {"int", Scalar::kInt32},
      {"int32", Scalar::kInt32},    {"uint", Scalar::kUint32},     {"uint32", Scalar::kUint32},
      {"float", Scalar::kFloat32},  {"float32", Scalar::kFloat32}, {"double", Scalar::kFloat64},
      {"float64", Scalar::kFloat64}};
  for (const Named& entry : kNames) {
    if (entry.name == name) return entry.type;
  }
  return std::nullopt;
}

std::vector<std::string_view> Words(std::string_view line) {
  std::vector<std::string_view> words;
  std::size_t at = 0;
  while (true) {
    at = line.find_first_not_of(" \t\r", at);
    if (at == std::string_view::npos) return words;
    const std::size_t end = std::min(line.find_first_of(" \t\r", at), line.size());
    words.push_back(line.substr(at, end - at));
    at = end;
  }
}

template <typename Number>
std::optional<Number> NumberFrom(std::string_view word) {
  Number value{};
  if (!word.empty() && word.front() == '+') word.remove_prefix(1);
  const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (error != std::errc() || end != word.data() + word.size()) return std::nullopt;
  return value;
}

// Hands out the bytes of the file, front to back.
class Bytes {
 public:
  Bytes(const std::string& label, std::string_view bytes) : label_(label), bytes_(bytes) {}

  // The next line without its end; counts lines.
  std::string_view Line() {
    if (at_ >= bytes_.size()) Fail(fmt::format("line {}: the file ends too early", line_ + 1));
    const std::size_t end = bytes_.find('\n', at_);
    const std::string_view line = bytes_.substr(at_, end == std::string_view::npos ? end : end - at_);
    at_ = end == std::string_view::npos ? bytes_.size() : end + 1;
    ++line_;
    return line;
  }

  std::uint64_t Raw(int size, Format format) {
    if (Left() < size) Fail(fmt::format("byte {}: the file ends too early", at_));
    std::uint64_t raw = 0;
    for (int i = 0; i < size; ++i) {
      const auto byte = static_cast<unsigned char>(bytes_[at_ + static_cast<std::size_t>(i)]);
      const int place = format == Format::kBigEndian ? size - 1 - i : i;
      raw |= static_cast<std::uint64_t>(byte) << (8 * place);
    }
    at_ += static_cast<std::size_t>(size);
    return raw;
  }

  std::int64_t Left() const { return static_cast<std::int64_t>(bytes_.size() - at_); }
  std::size_t at() const { return at_; }
  std::int64_t line() const { return line_; }

  [[noreturn]] void Fail(const std::string& what) const {
    throw InputError(fmt::format("{}: {}: write the file again or repair it", label_, what));
  }
  // A fault at the last line (text) or byte (binary) read.
  [[noreturn]] void FailHere(Format format, const std::string& what) const {
    Fail(format == Format::kAscii ? fmt::format("line {}: {}", line_, what)
                                  : fmt::format("byte {}: {}", at_, what));
  }

 private:
  const std::string& label_;
  std::string_view bytes_;
  std::size_t at_ = 0;
  std::int64_t line_ = 0;
};

double ValueOf(std::uint64_t raw, Scalar type) {
  switch (type) {
    case Scalar::kInt8: return static_cast<std::int8_t>(raw);
    case Scalar::kUint8: return static_cast<std::uint8_t>(raw);
    case Scalar::kInt16: return static_cast<std::int16_t>(raw);
    case Scalar::kUint16: return static_cast<std::uint16_t>(raw);
    case Scalar::kInt32: return static_cast<std::int32_t>(raw);
    case Scalar::kUint32: return static_cast<std::uint32_t>(raw);
    case Scalar::kFloat32: {
      const auto bits = static_cast<std::uint32_t>(raw);
      float value = 0;
      std::memcpy(&value, &bits, sizeof value);
      return static_cast<double>(value);
    }
    case Scalar::kFloat64: break;
  }
  double value = 0;
  std::memcpy(&value, &raw, sizeof value);
  return value;
}

class HeaderReader {
 public:
  explicit HeaderReader(Bytes& bytes) : bytes_(bytes) {}

  Header Read() {
    if (Words(bytes_.Line()) != std::vector<std::string_view>{"ply"}) {
      bytes_.Fail("line 1: must read ply");
    }
    bool has_format = false;
    for (std::size_t count = 0; count < kMaxHeaderLines; ++count) {
      const std::vector<std::string_view> words = Words(bytes_.Line());
      if (words.empty() || words[0] == "comment" || words[0] == "obj_info") continue;
      if (words[0] == "end_header") {
        if (!has_format) FailLine("the format line is missing");
        return header_;
      }
      if (words[0] == "format") {
        ReadFormat(words);
        has_format = true;
      } else if (words[0] == "element") {
        ReadElement(words);
      } else if (words[0] == "property") {
        ReadProperty(words);
      } else {
        FailLine(fmt::format("unknown word {:.40} in the header", words[0]));
      }
    }
    bytes_.Fail("the header has no end_header line");
  }

 private:
  [[noreturn]] void FailLine(const std::string& what) {
    bytes_.Fail(fmt::format("line {}: {}", bytes_.line(), what));
  }

  void ReadFormat(const std::vector<std::string_view>& words) {
    if (words.size() == 3 && words[2] == "1.0") {
      if (words[1] == "ascii") { header_.format = Format::kAscii; return; }
      if (words[1] == "binary_little_endian") { header_.format = Format::kLittleEndian; return; }
      if (words[1] == "binary_big_endian") { header_.format = Format::kBigEndian; return; }
    }
    FailLine("the format must be ascii, binary_little_endian or binary_big_endian, version 1.0");
  }

  void ReadElement(const std::vector<std::string_view>& words) {
    const auto count = words.size() == 3 ? NumberFrom<std::int64_t>(words[2]) : std::nullopt;
    if (!count || *count < 0) FailLine("an element needs a name and a count >= 0");
    header_.elements.push_back({std::string(words[1]), *count, {}});
  }

  void ReadProperty(const std::vector<std::string_view>& words) {
    if (header_.elements.empty()) FailLine("a property stands before any element");
    std::vector<Property>& properties = header_.elements.back().properties;
    if (properties.size() >= kMaxProperties) FailLine("an element has more than 256 properties");
    Property property;
    if (words.size() == 5 && words[1] == "list") {
      property.count_type = ScalarNamed(words[2]);
      if (!property.count_type || !IsWhole(*property.count_type)) {
        FailLine("a list needs a whole number as its count");
      }
    } else if (words.size() != 3) {
      FailLine("a property needs a type and a name");
    }
    const auto type = ScalarNamed(words[words.size() - 2]);
    if (!type) FailLine(fmt::format("unknown type {:.40}", words[words.size() - 2]));
    property.type = *type;
    property.name = std::string(words.back());
    properties.push_back(std::move(property));
  }

  Bytes& bytes_;
  Header header_;
};

// The values of one element, property after property; lists keep their length.
struct Row {
  std::vector<double> values;
  std::vector<std::size_t> start;   // per property: where its values begin; one more at the end
};

class BodyReader {
 public:
  BodyReader(Bytes& bytes, const Header& header, const PlyLimits& limits)
      : bytes_(bytes), format_(header.format), limits_(limits) {}

  PlySurface Read(const std::vector<Element>& elements) {
    bool has_vertices = false;
    for (const Element& element : elements) {
      CheckSize(element);
      if (element.name == "vertex") {
        if (has_vertices) bytes_.Fail("the header has two vertex elements");
        has_vertices = true;
        ReadVertices(element);
      } else if (element.name == "face") {
        ReadFaces(element);
      } else {
        Skip(element);
      }
    }
    if (!has_vertices) bytes_.Fail("the header has no vertex element");
    CheckIndices();
    return {std::move(mesh_), std::move(texture_)};
  }

 private:
  // Even the shortest element takes some bytes: a count that the rest of the
  // file cannot hold is refused before memory is taken for it.
  void CheckSize(const Element& element) const {
    std::int64_t least = 0;
    for (const Property& p : element.properties) {
      least += format_ == Format::kAscii ? 2 : SizeOf(p.count_type.value_or(p.type));
    }
    if (element.count > 0 && least == 0) {
      bytes_.Fail(fmt::format("element {:.40} has no property", element.name));
    }
    // The last line of a text file may lack its end.
    const std::int64_t room = bytes_.Left() + (format_ == Format::kAscii ? 1 : 0);
    if (element.count > 0 && element.count > room / least) {
      bytes_.Fail(fmt::format("the header promises {} x {:.40}, at least {} bytes each, but only {} "
                              "bytes follow",
                              element.count, element.name, least, bytes_.Left()));
    }
    if (element.count > std::numeric_limits<std::int32_t>::max()) {
      bytes_.Fail(fmt::format("{} x {:.40} must be < 2^31", element.count, element.name));
    }
  }

  const Row& ReadRow(const Element& element) {
    row_.values.clear();
    row_.start.assign(1, 0);
    if (format_ == Format::kAscii) {
      ReadTextRow(element);
    } else {
      ReadBinaryRow(element);
    }
    return row_;
  }

  // @param room bytes that the values of the list may take at most.
  std::int64_t CheckedLength(double length, std::int64_t room) const {
    if (!(length >= 0) || length > static_cast<double>(room)) {
      bytes_.FailHere(format_, fmt::format("a list of {} values cannot be", length));
    }
    return static_cast<std::int64_t>(length);
  }

  void ReadBinaryRow(const Element& element) {
    for (const Property& p : element.properties) {
      std::int64_t count = 1;
      if (p.count_type) {
        const double length = ValueOf(bytes_.Raw(SizeOf(*p.count_type), format_), *p.count_type);
        count = CheckedLength(length, bytes_.Left());
        if (count > bytes_.Left() / SizeOf(p.type)) {
          bytes_.FailHere(format_, fmt::format("a list of {} values passes the end of the file", count));
        }
      }
      for (std::int64_t i = 0; i < count; ++i) {
        row_.values.push_back(ValueOf(bytes_.Raw(SizeOf(p.type), format_), p.type));
      }
      row_.start.push_back(row_.values.size());
    }
  }

  void ReadTextRow(const Element& element) {
    std::string_view line;
    do {
      line = bytes_.Line();
    } while (line.find_first_not_of(" \t\r") == std::string_view::npos);
    std::size_t at = 0;
    for (const Property& p : element.properties) {
      std::int64_t count = 1;
      if (p.count_type) {
        count = CheckedLength(TextValue(line, at), static_cast<std::int64_t>(line.size()));
      }
      for (std::int64_t i = 0; i < count; ++i) row_.values.push_back(TextValue(line, at));
      row_.start.push_back(row_.values.size());
    }
    if (line.find_first_not_of(" \t\r", at) != std::string_view::npos) {
      bytes_.FailHere(format_, "the line has too many values");
    }
  }

  double TextValue(std::string_view line, std::size_t& at) const {
    at = line.find_first_not_of(" \t\r", at);
    if (at == std::string_view::npos) {
      at = line.size();
      bytes_.FailHere(format_, "the line has too few values");
    }
    const std::size_t end = std::min(line.find_first_of(" \t\r", at), line.size());
    const std::string_view word = line.substr(at, end - at);
    at = end;
    const auto value = NumberFrom<double>(word);
    if (!value) bytes_.FailHere(format_, fmt::format("{:.40} is not a number", word));
    return *value;
  }

  void Skip(const Element& element) {
    for (std::int64_t i = 0; i < element.count; ++i) ReadRow(element);
  }

  void ReadVertices(const Element& element) {
    const std::array<int, 3> column{ColumnOf(element, "x"), ColumnOf(element, "y"), ColumnOf(element, "z")};
    std::array<int, 2> texture{ColumnOf(element, "s"), ColumnOf(element, "t")};
    if (texture[0] < 0 || texture[1] < 0) texture = {ColumnOf(element, "u"), ColumnOf(element, "v")};
    for (const int c : column) {
      if (c < 0) bytes_.Fail("vertex must have the properties x, y and z");
    }
    if (element.count > 3 * limits_.max_triangles) {
      bytes_.Fail(fmt::format("{} vertices must be <= {}", element.count, 3 * limits_.max_triangles));
    }
    mesh_.vertices.reserve(static_cast<std::size_t>(element.count));
    for (std::int64_t n = 0; n < element.count; ++n) {
      const Row& row = ReadRow(element);
      Eigen::Vector3d p;
      for (int axis = 0; axis < 3; ++axis) {
        const int c = column[static_cast<std::size_t>(axis)];
        p[axis] = row.values[row.start[static_cast<std::size_t>(c)]];
      }
      if (!p.allFinite()) bytes_.FailHere(format_, fmt::format("vertex {} is not finite", n));
      mesh_.vertices.push_back(p);
      if (texture[0] < 0 || texture[1] < 0) continue;
      texture_.emplace_back(row.values[row.start[static_cast<std::size_t>(texture[0])]],
                            row.values[row.start[static_cast<std::size_t>(texture[1])]]);
      if (!texture_.back().allFinite()) bytes_.FailHere(format_, fmt::format("texture of vertex {} is not finite", n));
    }
  }

  // The last property of that name that is no list; -1: none.
  static int ColumnOf(const Element& element, std::string_view name) {
    int column = -1;
    for (std::size_t i = 0; i < element.properties.size(); ++i) {
      const Property& p = element.properties[i];
      if (!p.count_type && p.name == name) column = static_cast<int>(i);
    }
    return column;
  }

  void ReadFaces(const Element& element) {
    std::optional<std::size_t> column;
    for (std::size_t i = 0; i < element.properties.size(); ++i) {
      const Property& p = element.properties[i];
      if (p.count_type && IsWhole(p.type) && (p.name == "vertex_indices" || p.name == "vertex_index")) {
        column = i;
      }
    }
    if (!column && element.count > 0) {
      bytes_.Fail("face must have the list vertex_indices of whole numbers");
    }
    if (element.count > limits_.max_triangles) {
      bytes_.Fail(fmt::format("{} faces must be <= {}, thin the mesh", element.count, limits_.max_triangles));
    }
    for (std::int64_t n = 0; n < element.count; ++n) {
      const Row& row = ReadRow(element);
      AddFan(row, row.start[*column], row.start[*column + 1]);
    }
  }

  void AddFan(const Row& row, std::size_t begin, std::size_t end) {
    const std::size_t corners = end - begin;
    if (corners < 3 || corners > static_cast<std::size_t>(limits_.max_corners)) {
      bytes_.FailHere(format_, fmt::format("a face of {} corners must have 3 to {}", corners,
                                           limits_.max_corners));
    }
    std::vector<std::int32_t>& corner = corners_;
    corner.clear();
    for (std::size_t i = begin; i < end; ++i) {
      const double index = row.values[i];
      // Vertices may follow the faces: the upper bound is checked at the end.
      if (!(index >= 0 && index <= 2147483647.0) || index != std::floor(index)) {
        bytes_.FailHere(format_, fmt::format("vertex index {} must be a whole number >= 0", index));
      }
      corner.push_back(static_cast<std::int32_t>(index));
    }
    for (std::size_t i = 1; i + 1 < corners; ++i) {
      mesh_.triangles.push_back({corner[0], corner[i], corner[i + 1]});
    }
    if (static_cast<std::int64_t>(mesh_.triangles.size()) > limits_.max_triangles) {
      bytes_.FailHere(format_, fmt::format("more than {} triangles, thin the mesh", limits_.max_triangles));
    }
  }

  void CheckIndices() const {
    const auto count = static_cast<std::int32_t>(mesh_.vertices.size());
    for (std::size_t t = 0; t < mesh_.triangles.size(); ++t) {
      for (const std::int32_t index : mesh_.triangles[t]) {
        if (index >= count) {
          bytes_.Fail(fmt::format("triangle {} names vertex {}, but there are only {} vertices", t,
                                  index, count));
        }
      }
    }
  }

  Bytes& bytes_;
  Format format_;
  const PlyLimits& limits_;
  Mesh mesh_;
  std::vector<Eigen::Vector2d> texture_;
  Row row_;
  std::vector<std::int32_t> corners_;
};

}  // namespace

Mesh ParsePly(const std::string& label, std::string_view bytes, const PlyLimits& limits) {
  return ParsePlySurface(label, bytes, limits).mesh;
}

PlySurface ParsePlySurface(const std::string& label, std::string_view bytes, const PlyLimits& limits) {
  Bytes reader(label, bytes);
  const Header header = HeaderReader(reader).Read();
  return BodyReader(reader, header, limits).Read(header.elements);
}

}  // namespace aircut::sim
