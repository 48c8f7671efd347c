#include "record.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "provenit/base/text.h"
#include "words.h"

namespace provenit::publish {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kSchema = "provenit-site/1";

Json number_or_null(double value) {
  return std::isfinite(value) ? Json(value) : Json(nullptr);
}

Json finding_json(const PublishedFinding& f) {
  return {{"quantity", f.quantity},   {"conditions", f.conditions},           {"unit", f.unit},
          {"value", f.value},         {"lower95", number_or_null(f.lower95)}, {"upper95", number_or_null(f.upper95)},
          {"since", iso8601(f.since)}};
}

Timestamp time_of(const Json& json, const char* key) {
  const auto time = parse_iso8601(json.at(key).get<std::string>());
  if (!time) throw std::runtime_error(time.error().text());
  return *time;
}

PublishedFinding finding_from(const Json& json) {
  const auto end = [&](const char* key, double open) {
    return json.at(key).is_null() ? open : json.at(key).get<double>();
  };
  return {.quantity = json.at("quantity").get<std::string>(),
          .conditions = json.at("conditions"),
          .unit = json.at("unit").get<std::string>(),
          .value = json.at("value").get<double>(),
          .lower95 = end("lower95", -INFINITY),
          .upper95 = end("upper95", INFINITY),
          .since = time_of(json, "since")};
}

SiteRecord record_from(const Json& json) {
  SiteRecord out;
  for (const auto& p : json.at("publications")) {
    Publication publication{.at = time_of(p, "at"), .software = p.at("software").get<std::string>(), .packages = {}};
    for (const auto& package : p.at("packages"))
      publication.packages.push_back({package.at("display").get<std::string>(), package.at("file").get<std::string>(),
                                      package.at("sha256").get<std::string>()});
    out.publications.push_back(std::move(publication));
  }
  for (const auto& d : json.at("displays")) {
    PublishedDisplay display{.key = d.at("key").get<std::string>(),
                             .slug = d.at("page").get<std::string>(),
                             .name = d.at("name").get<std::string>(),
                             .package = d.at("file").get<std::string>(),
                             .hash = d.at("sha256").get<std::string>(),
                             .findings = {}};
    for (const auto& f : d.at("findings")) display.findings.push_back(finding_from(f));
    out.displays.push_back(std::move(display));
  }
  for (const auto& c : json.at("corrections")) {
    SiteCorrection correction{.key = c.at("key").get<std::string>(),
                              .slug = c.at("page").get<std::string>(),
                              .display = c.at("display").get<std::string>(),
                              .was = finding_from(c.at("was")),
                              .now = std::nullopt,
                              .corrected = time_of(c, "corrected")};
    if (!c.at("now").is_null()) correction.now = finding_from(c.at("now"));
    out.corrections.push_back(std::move(correction));
  }
  return out;
}

bool about_the_same(const PublishedFinding& a, const PublishedFinding& b) {
  return a.quantity == b.quantity && a.conditions == b.conditions;
}

std::vector<Publication::Package> packages_of(const std::vector<PublishedDisplay>& displays) {
  std::vector<Publication::Package> out;
  for (const auto& d : displays) out.push_back({d.slug, d.package, d.hash});
  return out;
}

void correct_display(const PublishedDisplay& before, PublishedDisplay& now, Timestamp at, SiteRecord& record) {
  for (const auto& was : before.findings) {
    const auto is = std::ranges::find_if(now.findings, [&](const auto& f) { return about_the_same(was, f); });
    if (is != now.findings.end() && words_of(was) == words_of(*is)) {  // as they are read
      is->since = was.since;
      continue;
    }
    record.corrections.push_back({.key = now.key,
                                  .slug = now.slug,
                                  .display = now.name,
                                  .was = was,
                                  .now = is == now.findings.end() ? std::nullopt : std::optional(*is),
                                  .corrected = at});
  }
}

}  // namespace

std::string words_of(const PublishedFinding& f) {
  return figure_words(f.value, f.lower95, f.upper95, f.unit, f.quantity).whole();
}

Result<SiteRecord> parse_record(const std::string& text, const std::string& file) {
  try {
    const auto json = Json::parse(text);
    const auto schema = json.at("schema").get<std::string>();
    if (schema != kSchema)
      return fail(schema.starts_with("provenit-site/") ? ErrorCode::conflict : ErrorCode::invalid_input,
                  fmt::format("'{}' is not {}", schema, kSchema),
                  "Publish with the program that wrote it, or into a new folder.", {.file = file, .field = "schema"});
    return record_from(json);
  } catch (const std::exception& e) {
    return fail(ErrorCode::invalid_input, fmt::format("what the site has said cannot be read ({})", e.what()),
                "Bring the file back from a copy, or publish into a new folder.", {.file = file});
  }
}

std::string record_text(const SiteRecord& record) {
  Json json{{"schema", kSchema},
            {"publications", Json::array()},
            {"displays", Json::array()},
            {"corrections", Json::array()}};
  for (const auto& p : record.publications) {
    Json packages = Json::array();
    for (const auto& package : p.packages)
      packages.push_back({{"display", package.slug}, {"file", package.file}, {"sha256", package.hash}});
    json["publications"].push_back(
        {{"at", iso8601(p.at)}, {"software", p.software}, {"packages", std::move(packages)}});
  }
  for (const auto& d : record.displays) {
    Json findings = Json::array();
    for (const auto& f : d.findings) findings.push_back(finding_json(f));
    json["displays"].push_back({{"key", d.key},
                                {"page", d.slug},
                                {"name", d.name},
                                {"file", d.package},
                                {"sha256", d.hash},
                                {"findings", std::move(findings)}});
  }
  for (const auto& c : record.corrections)
    json["corrections"].push_back({{"key", c.key},
                                   {"page", c.slug},
                                   {"display", c.display},
                                   {"was", finding_json(c.was)},
                                   {"now", c.now ? finding_json(*c.now) : Json(nullptr)},
                                   {"corrected", iso8601(c.corrected)}});
  return json.dump(1) + "\n";
}

std::string key_of(const shelf::Item& item) {
  constexpr std::size_t kDigits = 16;
  return sha256_hex(fmt::format("{}\n{}\n{}\n{}\n{}", item.title, item.evaluator, item.loan.id, item.display.name,
                                iso8601(item.loan.starts)))
      .substr(0, kDigits);
}

std::vector<PublishedFinding> published_findings(const shelf::Item& item, Timestamp now) {
  std::vector<PublishedFinding> out;
  for (const auto& f : item.findings)
    out.push_back({f.quantity, f.conditions, f.unit, f.value, f.lower95, f.upper95, now});
  return out;
}

SiteRecord next_record(SiteRecord before, std::vector<PublishedDisplay> displays, Timestamp now,
                       const std::string& software) {
  auto record = std::move(before);
  for (auto& display : displays)
    if (const auto was = std::ranges::find(record.displays, display.key, &PublishedDisplay::key);
        was != record.displays.end()) {
      const auto earlier = *was;
      correct_display(earlier, display, now, record);
    }
  auto packages = packages_of(displays);
  if (record.publications.empty() || record.publications.back().packages != packages)
    record.publications.push_back({now, software, std::move(packages)});
  record.displays = std::move(displays);
  return record;
}

}  // namespace provenit::publish
