#pragma once

#include <algorithm>
#include <cmath>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

namespace aircut::support {

/// Checks a JSON value against the part of JSON Schema draft-07 that our
/// schemas use: type, enum, required, properties, items (one schema for all),
/// additionalProperties, minimum, maximum, minItems, maxItems, pattern. Any
/// other keyword is reported, so that no rule is silently skipped.
class JsonSchema {
 public:
  using Json = nlohmann::json;
  explicit JsonSchema(Json schema) : schema_(std::move(schema)) {}

  /// @returns one sentence for each fault, empty for a valid value.
  std::vector<std::string> Faults(const Json& value) const {
    std::vector<std::string> faults;
    Check(schema_, value, "", &faults);
    return faults;
  }

 private:
  using Faults_ = std::vector<std::string>;

  static bool HasType(const Json& value, const std::string& type) {
    if (type == "null") return value.is_null();
    if (type == "boolean") return value.is_boolean();
    if (type == "string") return value.is_string();
    if (type == "array") return value.is_array();
    if (type == "object") return value.is_object();
    if (type == "number") return value.is_number();
    if (type == "integer") {
      return value.is_number_integer() ||
             (value.is_number() && value.get<double>() == std::floor(value.get<double>()));
    }
    return false;
  }

  static void CheckType(const Json& type, const Json& value, const std::string& at, Faults_* faults) {
    bool fits = false;
    for (const Json& one : type.is_array() ? type : Json::array({type})) {
      fits = fits || HasType(value, one.get<std::string>());
    }
    if (!fits) faults->push_back(at + ": is not of type " + type.dump());
  }

  static void CheckObject(const Json& schema, const Json& value, const std::string& at, Faults_* faults) {
    for (const Json& name : schema.value("required", Json::array())) {
      if (!value.contains(name.get<std::string>())) faults->push_back(at + ": lacks " + name.dump());
    }
    const Json properties = schema.value("properties", Json::object());
    const Json others = schema.value("additionalProperties", Json(true));
    for (const auto& [name, member] : value.items()) {
      const std::string below = at + "/" + name;
      if (properties.contains(name)) {
        Check(properties[name], member, below, faults);
      } else {
        Check(others, member, below, faults);
      }
    }
  }

  static void CheckArray(const Json& schema, const Json& value, const std::string& at, Faults_* faults) {
    if (schema.contains("minItems") && value.size() < schema["minItems"].get<std::size_t>()) {
      faults->push_back(at + ": has too few items");
    }
    if (schema.contains("maxItems") && value.size() > schema["maxItems"].get<std::size_t>()) {
      faults->push_back(at + ": has too many items");
    }
    for (std::size_t i = 0; i < value.size() && schema.contains("items"); ++i) {
      Check(schema["items"], value[i], at + "/" + std::to_string(i), faults);
    }
  }

  static void CheckScalar(const Json& schema, const Json& value, const std::string& at, Faults_* faults) {
    if (value.is_number()) {
      const double number = value.get<double>();
      if (schema.contains("minimum") && !(number >= schema["minimum"].get<double>())) {
        faults->push_back(at + ": is below the minimum");
      }
      if (schema.contains("maximum") && !(number <= schema["maximum"].get<double>())) {
        faults->push_back(at + ": is above the maximum");
      }
    }
    if (value.is_string() && schema.contains("pattern") &&
        !std::regex_search(value.get<std::string>(), std::regex(schema["pattern"].get<std::string>()))) {
      faults->push_back(at + ": does not match the pattern");
    }
  }

  static void Check(const Json& schema, const Json& value, const std::string& at, Faults_* faults) {
    if (schema.is_boolean()) {
      if (!schema.get<bool>()) faults->push_back(at + ": is not allowed");
      return;
    }
    static const std::set<std::string> kKnown{
        "$schema", "$id", "title", "description", "type", "enum", "required", "properties", "items",
        "additionalProperties", "minimum", "maximum", "minItems", "maxItems", "pattern"};
    for (const auto& [keyword, rule] : schema.items()) {
      if (kKnown.count(keyword) == 0) faults->push_back(at + ": schema keyword not understood: " + keyword);
    }
    if (schema.contains("type")) CheckType(schema["type"], value, at, faults);
    if (schema.contains("enum")) {
      const Json& allowed = schema["enum"];
      if (std::find(allowed.begin(), allowed.end(), value) == allowed.end()) {
        faults->push_back(at + ": is none of " + allowed.dump());
      }
    }
    if (value.is_object()) CheckObject(schema, value, at, faults);
    if (value.is_array()) CheckArray(schema, value, at, faults);
    CheckScalar(schema, value, at, faults);
  }

  Json schema_;
};

}  // namespace aircut::support
