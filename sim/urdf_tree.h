#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

namespace tinyxml2 {
class XMLDocument;
class XMLElement;
}  // namespace tinyxml2

namespace aircut::sim {

/// A joint element of a URDF file and the links it joins.
struct UrdfTreeJoint {
  std::string name, parent, child;
  const tinyxml2::XMLElement* element = nullptr;
};

/// A URDF file whose links make one tree. Owns the parsed text.
class UrdfTree {
 public:
  /// @throws InputError (see ReadUrdf).
  explicit UrdfTree(const std::filesystem::path& file);
  ~UrdfTree();
  UrdfTree(UrdfTree&&) noexcept;

  /// The joints from link `base` to link `flange`, base first.
  /// @throws InputError if a link is missing or `base` is not above `flange`.
  std::vector<UrdfTreeJoint> Chain(const std::string& base, const std::string& flange) const;

  /// @throws InputError "file:line: `text`".
  [[noreturn]] void Fail(int line, const std::string& text) const;

 private:
  void Parse(const std::string& bytes);
  void CheckElements() const;
  void ReadLinks();
  void ReadJoints();
  void CheckTree() const;
  const tinyxml2::XMLElement& Only(const UrdfTreeJoint& joint, const char* name) const;

  std::filesystem::path file_;
  std::unique_ptr<tinyxml2::XMLDocument> document_;
  std::vector<std::string> links_;           // sorted
  std::vector<UrdfTreeJoint> joints_;        // sorted by child
};

/// @returns what an attribute or a name is called in messages: at most 40 bytes of
/// `text`, control characters as dots.
std::string Shown(const std::string& text);

}  // namespace aircut::sim
