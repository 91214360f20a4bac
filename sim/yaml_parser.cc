#include <istream>
#include <map>
#include <set>
#include <sstream>

#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include "sim/input_error.h"
#include "sim/yaml_reader.h"

namespace aircut::sim {
namespace {

// Builds our own tree from the parser's events, so that the number of nodes,
// the depth and every alias are counted while they arrive.
class TreeBuilder : public YAML::EventHandler {
 public:
  TreeBuilder(const std::string& label, const YamlLimits& limits) : label_(label), limits_(limits) {}

  void OnDocumentStart(const YAML::Mark& /*mark*/) override {}
  void OnDocumentEnd() override {}

  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    Leaf(Make(YamlNode::Kind::kNull, mark), anchor);
  }

  void OnAlias(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    const auto it = anchors_.find(anchor);
    // An anchor that is still open would hold itself.
    if (it == anchors_.end()) Fail(mark.line + 1, "an alias must name an anchor that is complete");
    Count(it->second.second, mark.line + 1);
    YamlNode copy = it->second.first;
    copy.line = mark.line + 1;
    Attach(std::move(copy));
  }

  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    YamlNode node = Make(YamlNode::Kind::kScalar, mark);
    node.scalar = value;
    node.quoted = tag == "!";
    Leaf(std::move(node), anchor);
  }

  void OnSequenceStart(const YAML::Mark& mark, const std::string& /*tag*/, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value /*style*/) override {
    Open(Make(YamlNode::Kind::kSequence, mark), anchor);
  }
  void OnSequenceEnd() override { Close(); }

  void OnMapStart(const YAML::Mark& mark, const std::string& /*tag*/, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value /*style*/) override {
    Open(Make(YamlNode::Kind::kMap, mark), anchor);
  }
  void OnMapEnd() override { Close(); }

  YamlNode TakeRoot() { return std::move(root_); }

 private:
  struct OpenNode {
    YamlNode node;
    YAML::anchor_t anchor = 0;
    std::int64_t nodes_before = 0;
    std::optional<std::string> key;   // of a map: the key that waits for its value
    std::set<std::string> keys;       // of a map: those it has
  };

  [[noreturn]] void Fail(int line, const std::string& what) const {
    throw InputError(fmt::format("{}:{}: {}", label_, line, what));
  }

  YamlNode Make(YamlNode::Kind kind, const YAML::Mark& mark) {
    Count(1, mark.line + 1);
    YamlNode node;
    node.kind = kind;
    node.line = mark.line + 1;
    return node;
  }

  void Count(std::int64_t nodes, int line) {
    nodes_ += nodes;
    if (nodes_ > limits_.max_nodes) {
      Fail(line, fmt::format("more than {} values, aliases counted in full: write less", limits_.max_nodes));
    }
  }

  void Leaf(YamlNode node, YAML::anchor_t anchor) {
    if (anchor != 0) anchors_[anchor] = {node, 1};
    Attach(std::move(node));
  }

  void Open(YamlNode node, YAML::anchor_t anchor) {
    if (static_cast<int>(open_.size()) >= limits_.max_depth) {
      Fail(node.line, fmt::format("nested deeper than {} levels: write it flatter", limits_.max_depth));
    }
    if (!open_.empty() && open_.back().node.kind == YamlNode::Kind::kMap && !open_.back().key) {
      Fail(node.line, "a key must be a plain word");
    }
    OpenNode fresh;
    fresh.node = std::move(node);
    fresh.anchor = anchor;
    fresh.nodes_before = nodes_ - 1;
    open_.push_back(std::move(fresh));
  }

  void Close() {
    OpenNode done = std::move(open_.back());
    open_.pop_back();
    if (done.anchor != 0) anchors_[done.anchor] = {done.node, nodes_ - done.nodes_before};
    Attach(std::move(done.node));
  }

  void Attach(YamlNode node) {
    if (open_.empty()) {
      root_ = std::move(node);
      return;
    }
    OpenNode& parent = open_.back();
    if (parent.node.kind == YamlNode::Kind::kSequence) {
      parent.node.items.push_back(std::move(node));
    } else if (parent.key) {
      parent.node.entries.emplace_back(std::move(*parent.key), std::move(node));
      parent.key.reset();
    } else {
      if (node.kind != YamlNode::Kind::kScalar) Fail(node.line, "a key must be a plain word");
      if (!parent.keys.insert(node.scalar).second) {
        Fail(node.line, fmt::format("key {:.60} is given twice: keep one", node.scalar));
      }
      parent.key = std::move(node.scalar);
    }
  }

  const std::string& label_;
  const YamlLimits& limits_;
  std::int64_t nodes_ = 0;
  std::vector<OpenNode> open_;
  std::map<YAML::anchor_t, std::pair<YamlNode, std::int64_t>> anchors_;   // with their node count
  YamlNode root_;
};

}  // namespace

YamlNode ParseYaml(const std::string& label, const std::string& text, const YamlLimits& limits) {
  if (static_cast<std::int64_t>(text.size()) > limits.max_bytes) {
    throw InputError(fmt::format("{}: {} bytes must be <= {}: move data into tables", label, text.size(),
                                 limits.max_bytes));
  }
  try {
    std::istringstream stream(text);
    YAML::Parser parser(stream);
    TreeBuilder builder(label, limits);
    if (!parser.HandleNextDocument(builder)) {
      throw InputError(label + ":1: the file is empty: write the keys of a cell or a job");
    }
    TreeBuilder second(label, limits);
    if (parser.HandleNextDocument(second)) {
      throw InputError(fmt::format("{}:{}: a second document begins: keep one in a file", label,
                                   second.TakeRoot().line));
    }
    return builder.TakeRoot();
  } catch (const YAML::Exception& error) {
    throw InputError(fmt::format("{}:{}: not valid YAML ({}): mend the line", label, error.mark.line + 1,
                                 error.msg));
  }
}

}  // namespace aircut::sim
