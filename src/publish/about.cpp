#include "provenit/publish/about.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <array>
#include <span>

namespace provenit::publish {
namespace {

tl::unexpected<Error> refuse_key(const toml::node& node, const std::string& file, const std::string& key,
                                 std::string message, std::string advice) {
  return fail(ErrorCode::invalid_input, std::move(message), std::move(advice),
              {.file = file, .line = static_cast<int>(node.source().begin.line), .field = key});
}

/// Every key of `table` is one of `fields`, and a text; each goes where `fields` says.
struct Field {
  std::string_view key;
  std::string* to;
};
Result<void> read_fields(const toml::table& table, const std::string& file, std::span<const Field> fields,
                         std::span<const std::string_view> others) {
  for (const auto& [key, node] : table) {
    if (std::ranges::find(others, key.str()) != others.end()) continue;
    const auto field = std::ranges::find(fields, key.str(), &Field::key);
    if (field == fields.end()) {
      std::vector<std::string_view> known(others.begin(), others.end());
      for (const auto& f : fields) known.push_back(f.key);
      return refuse_key(node, file, std::string(key.str()), fmt::format("'{}' is no key here", key.str()),
                        fmt::format("Known keys are {}.", fmt::join(known, ", ")));
    }
    const auto text = node.value_exact<std::string>();
    if (!text)
      return refuse_key(node, file, std::string(key.str()), fmt::format("'{}' is no text", key.str()),
                        "Put it between quotes.");
    *field->to = *text;
  }
  return {};
}

bool web_address(std::string_view text) {
  return text.starts_with("https://") || text.starts_with("http://");
}

Result<Creator> read_creator(const toml::node& node, const std::string& file) {
  const auto* table = node.as_table();
  if (table == nullptr) return refuse_key(node, file, "creator", "'creator' is no table", "Write [[creator]].");
  Creator creator;
  std::string kind = "organisation";
  const std::array fields{Field{"name", &creator.name}, Field{"kind", &kind}, Field{"orcid", &creator.orcid},
                          Field{"affiliation", &creator.affiliation}};
  if (auto read = read_fields(*table, file, fields, {}); !read) return tl::unexpected(read.error());
  if (creator.name.empty())
    return refuse_key(node, file, "creator: name", "a creator has no name", "Add name = \"...\".");
  if (kind != "person" && kind != "organisation")
    return refuse_key(node, file, "creator: kind", fmt::format("'{}' is no kind of creator", kind),
                      "Give \"person\" or \"organisation\".");
  creator.person = kind == "person";
  return creator;
}

Result<void> read_lists(const toml::table& table, const std::string& file, About& about) {
  if (const auto* node = table.get("creator")) {
    const auto* list = node->as_array();
    if (list == nullptr) return refuse_key(*node, file, "creator", "'creator' is no list", "Write [[creator]].");
    for (const auto& entry : *list) {
      auto creator = read_creator(entry, file);
      if (!creator) return tl::unexpected(creator.error());
      about.creators.push_back(std::move(*creator));
    }
  }
  if (const auto* node = table.get("doi")) {
    const auto* list = node->as_table();
    if (list == nullptr)
      return refuse_key(*node, file, "doi", "'doi' is no table", "Write [doi] and name = \"10....\".");
    for (const auto& [key, value] : *list) {
      const auto text = value.value_exact<std::string>();
      if (!text || !text->starts_with("10.") || text->find('/') == std::string::npos)
        return refuse_key(value, file, "doi: " + std::string(key.str()), "this is no DOI",
                          "A DOI is \"10.\", a number, \"/\" and a name, between quotes.");
      about.doi[std::string(key.str())] = *text;
    }
  }
  return {};
}

}  // namespace

Result<About> parse_about(std::string_view text, const std::string& file) {
  toml::table table;
  try {
    table = toml::parse(text, file);
  } catch (const toml::parse_error& e) {
    return fail(ErrorCode::invalid_input, std::string(e.description()), "Mend the file: it is TOML.",
                {.file = file, .line = static_cast<int>(e.source().begin.line)});
  }
  About about;
  const std::array fields{Field{"title", &about.title},         Field{"introduction", &about.introduction},
                          Field{"publisher", &about.publisher}, Field{"language", &about.language},
                          Field{"address", &about.address},     Field{"rights", &about.rights},
                          Field{"rights_id", &about.rights_id}, Field{"rights_address", &about.rights_address}};
  constexpr std::array<std::string_view, 2> others{"creator", "doi"};
  if (auto read = read_fields(table, file, fields, others); !read) return tl::unexpected(read.error());
  for (const auto& [key, address] : {std::pair{"address", about.address}, {"rights_address", about.rights_address}})
    if (!address.empty() && !web_address(address))
      return refuse_key(*table.get(key), file, key, fmt::format("'{}' is no address on the web", address),
                        "Begin it with https://.");
  if (!about.address.empty() && !about.address.ends_with('/')) about.address += '/';
  if (auto read = read_lists(table, file, about); !read) return tl::unexpected(read.error());
  return about;
}

}  // namespace provenit::publish
