#include "sim/urdf_tree.h"

#include <algorithm>
#include <cstdint>
#include <string_view>
#include <utility>

#include <tinyxml2.h>

#include "sim/input_error.h"
#include "sim/nearest_word.h"
#include "sim/read_file.h"

namespace aircut::sim {
namespace {

using tinyxml2::XMLElement;

constexpr std::int64_t kMostBytes = std::int64_t{8} << 20;
constexpr std::size_t kShownBytes = 40;

// What no URDF file needs and what an expander should have replaced.
class Inspector : public tinyxml2::XMLVisitor {
 public:
  explicit Inspector(const UrdfTree& tree) : tree_(tree) {}

  bool Visit(const tinyxml2::XMLUnknown& unknown) override {
    tree_.Fail(unknown.GetLineNum(), "`<!" + Shown(unknown.Value()) +
                                         ">` must not be there: take document types and "
                                         "entities out");
  }

  bool VisitEnter(const XMLElement& element, const tinyxml2::XMLAttribute*) override {
    if (std::string_view(element.Name()).substr(0, 6) == "xacro:") {
      tree_.Fail(element.GetLineNum(), "<" + Shown(element.Name()) +
                                           "> must not be there: expand the macros first");
    }
    return true;
  }

 private:
  const UrdfTree& tree_;
};

bool ByChild(const UrdfTreeJoint& a, const UrdfTreeJoint& b) { return a.child < b.child; }

}  // namespace

std::string Shown(const std::string& text) {
  std::string shown = text.substr(0, kShownBytes);
  for (char& c : shown) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = '.';
  }
  return text.size() > kShownBytes ? shown + "..." : shown;
}

UrdfTree::UrdfTree(const std::filesystem::path& file)
    : file_(file), document_(std::make_unique<tinyxml2::XMLDocument>()) {
  Parse(ReadFile(file, kMostBytes));
  CheckElements();
  ReadLinks();
  ReadJoints();
  CheckTree();
}

UrdfTree::~UrdfTree() = default;
UrdfTree::UrdfTree(UrdfTree&&) noexcept = default;

void UrdfTree::Fail(const int line, const std::string& text) const {
  throw InputError(file_.string() + ":" + std::to_string(line) + ": " + text);
}

void UrdfTree::Parse(const std::string& bytes) {
  const std::size_t zero = bytes.find('\0');
  if (zero != std::string::npos) {
    const auto line = 1 + std::count(bytes.begin(), bytes.begin() + static_cast<long>(zero), '\n');
    Fail(static_cast<int>(line), "a zero byte must not be there: save the file as UTF-8 text");
  }
  if (document_->Parse(bytes.data(), bytes.size()) != tinyxml2::XML_SUCCESS) {
    Fail(std::max(1, document_->ErrorLineNum()),
         std::string("the text must be XML (") + document_->ErrorName() +
             "): mend the markup here or just before");
  }
}

void UrdfTree::CheckElements() const {
  Inspector inspector(*this);
  document_->Accept(&inspector);
  const XMLElement* root = document_->RootElement();
  if (root == nullptr || std::string_view(root->Name()) != "robot") {
    const std::string name = root == nullptr ? "nothing" : "<" + Shown(root->Name()) + ">";
    Fail(root == nullptr ? 1 : root->GetLineNum(),
         "the outermost element = " + name + " must be <robot>: name a URDF file");
  }
  if (const XMLElement* more = root->NextSiblingElement()) {
    Fail(more->GetLineNum(), "<" + Shown(more->Name()) +
                                 "> must not follow the end of <robot>: keep one robot in a file");
  }
}

void UrdfTree::ReadLinks() {
  std::vector<std::pair<std::string, int>> links;
  for (const XMLElement* link = document_->RootElement()->FirstChildElement("link");
       link != nullptr; link = link->NextSiblingElement("link")) {
    const char* name = link->Attribute("name");
    if (name == nullptr || *name == '\0') {
      Fail(link->GetLineNum(), "link.name is missing: give every link a name");
    }
    links.emplace_back(name, link->GetLineNum());
  }
  std::sort(links.begin(), links.end());
  for (std::size_t i = 0; i < links.size(); ++i) {
    if (i > 0 && links[i].first == links[i - 1].first) {
      Fail(links[i].second, "link.name = '" + Shown(links[i].first) +
                                "' must be used once (line " + std::to_string(links[i - 1].second) +
                                " has it too): rename a link");
    }
    links_.push_back(links[i].first);
  }
}

const XMLElement& UrdfTree::Only(const UrdfTreeJoint& joint, const char* name) const {
  const std::string place = "joint '" + Shown(joint.name) + "'." + name;
  const XMLElement* element = joint.element->FirstChildElement(name);
  if (element == nullptr) {
    Fail(joint.element->GetLineNum(), place + " is missing: write <" + name + " link=\"...\"/>");
  }
  if (const XMLElement* second = element->NextSiblingElement(name)) {
    Fail(second->GetLineNum(), place + " must be there once: take one of them out");
  }
  const char* link = element->Attribute("link");
  if (link == nullptr) {
    Fail(element->GetLineNum(), place + ".link is missing: name the link");
  }
  if (!std::binary_search(links_.begin(), links_.end(), link)) {
    Fail(element->GetLineNum(), place + ".link = '" + Shown(link) +
                                    "' must be a link of this file" + DidYouMean(link, links_) +
                                    ": name a link or add it");
  }
  return *element;
}

void UrdfTree::ReadJoints() {
  std::vector<std::pair<std::string, int>> names;
  for (const XMLElement* element = document_->RootElement()->FirstChildElement("joint");
       element != nullptr; element = element->NextSiblingElement("joint")) {
    const char* name = element->Attribute("name");
    if (name == nullptr || *name == '\0') {
      Fail(element->GetLineNum(), "joint.name is missing: give every joint a name");
    }
    UrdfTreeJoint joint{name, "", "", element};
    joint.parent = Only(joint, "parent").Attribute("link");
    joint.child = Only(joint, "child").Attribute("link");
    names.emplace_back(joint.name, element->GetLineNum());
    joints_.push_back(std::move(joint));
  }
  std::sort(names.begin(), names.end());
  for (std::size_t i = 1; i < names.size(); ++i) {
    if (names[i].first != names[i - 1].first) continue;
    Fail(names[i].second, "joint.name = '" + Shown(names[i].first) + "' must be used once (line " +
                              std::to_string(names[i - 1].second) + " has it too): rename a joint");
  }
  std::stable_sort(joints_.begin(), joints_.end(), ByChild);
  for (std::size_t i = 1; i < joints_.size(); ++i) {
    if (joints_[i].child != joints_[i - 1].child) continue;
    Fail(joints_[i].element->GetLineNum(),
         "joint '" + Shown(joints_[i].name) + "'.child = '" + Shown(joints_[i].child) +
             "' must hang on one joint only (line " +
             std::to_string(joints_[i - 1].element->GetLineNum()) +
             " has it too): URDF links make a tree, open the loop");
  }
}

// Every link hangs on one joint at most, so climbing from a link ends at a root
// or goes round. A link that was climbed past is not climbed again.
void UrdfTree::CheckTree() const {
  std::vector<std::size_t> seen(joints_.size(), 0);
  std::string root;
  for (std::size_t start = 0; start < links_.size(); ++start) {
    const std::size_t mark = start + 1;
    std::string link = links_[start];
    while (true) {
      const auto above = std::lower_bound(joints_.begin(), joints_.end(),
                                          UrdfTreeJoint{"", "", link, nullptr}, ByChild);
      if (above == joints_.end() || above->child != link) break;
      std::size_t& visited = seen[static_cast<std::size_t>(above - joints_.begin())];
      if (visited == mark) {
        Fail(above->element->GetLineNum(), "joint '" + Shown(above->name) +
                                               "' closes a loop of links: URDF links make a tree, "
                                               "open the loop");
      }
      if (visited != 0) {
        link.clear();
        break;
      }
      visited = mark;
      link = above->parent;
    }
    if (link.empty() || link == root) continue;
    if (!root.empty()) {
      Fail(document_->RootElement()->GetLineNum(),
           "links '" + Shown(root) + "' and '" + Shown(link) +
               "' both hang on no joint, must be one: join every link to the others");
    }
    root = link;
  }
}

std::vector<UrdfTreeJoint> UrdfTree::Chain(const std::string& base,
                                           const std::string& flange) const {
  const int line = document_->RootElement()->GetLineNum();
  for (const std::string& link : {base, flange}) {
    if (std::binary_search(links_.begin(), links_.end(), link)) continue;
    Fail(line, "link '" + Shown(link) + "' must be a link of this file" +
                   DidYouMean(link, links_) + ": mend its name in the cell");
  }
  std::vector<UrdfTreeJoint> chain;
  for (std::string link = flange; link != base; link = chain.back().parent) {
    const auto above = std::lower_bound(joints_.begin(), joints_.end(),
                                        UrdfTreeJoint{"", "", link, nullptr}, ByChild);
    if (above == joints_.end() || above->child != link) {
      Fail(line, "link '" + Shown(base) + "' must carry link '" + Shown(flange) +
                     "': name the link of the base and the link of the flange, in this order");
    }
    chain.push_back(*above);
  }
  std::reverse(chain.begin(), chain.end());
  return chain;
}

}  // namespace aircut::sim
