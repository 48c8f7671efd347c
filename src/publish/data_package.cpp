#include "data_package.h"

#include <fmt/format.h>

#include <set>

#include "provenit/base/text.h"
#include "provenit/report/archive.h"
#include "provenit/report/package.h"
#include "words.h"

namespace provenit::publish {
namespace {

using Json = nlohmann::ordered_json;

Json creator_json(const Creator& creator) {
  Json out{{"name", creator.name}, {"nameType", creator.person ? "Personal" : "Organizational"}};
  if (!creator.orcid.empty())
    out["nameIdentifiers"] = Json::array({{{"nameIdentifier", "https://orcid.org/" + creator.orcid},
                                           {"nameIdentifierScheme", "ORCID"},
                                           {"schemeUri", "https://orcid.org"}}});
  if (!creator.affiliation.empty()) out["affiliation"] = Json::array({{{"name", creator.affiliation}}});
  return out;
}

std::string day_range(const report::Contents& c) {
  // RKMS-ISO8601, as DataCite has it for spans of time.
  return shelf::day_of(c.loan.starts) + "/" + shelf::day_of(c.loan.ends);
}

std::string abstract_text(const report::Contents& c) {
  std::size_t readings = 0;
  for (const auto& run : c.runs) readings += run.readings.size();
  return fmt::format(
      "{}Readings of the display {} ({}), {} findings with their uncertainty and the answers to {} questions, from {} "
      "readings in "
      "{} runs. Evaluated by {}.",
      c.invented ? "Invented or simulated data. " : "", c.display.name, c.display.technology, c.findings.size(),
      c.questions.size(), readings, c.runs.size(), c.evaluator);
}

std::string methods_text(const report::Contents& c) {
  std::set<std::string> methods;
  for (const auto& f : c.findings) methods.insert(fmt::format("{} v{}", f.method, f.method_version));
  return fmt::format("Methods: {}. Uncertainty by JCGM 100:2008 and JCGM 101:2008. Computed by {}.",
                     fmt::join(methods, ", "), c.software);
}

}  // namespace

Result<DataPackage> data_package(const report::Contents& contents, const std::string& slug) {
  const auto files = report::package(contents);
  if (!files) return tl::unexpected(files.error());
  DataPackage out{.hash = sha256_hex(files->back().bytes)};
  std::vector<report::ZipEntry> entries;
  for (const auto& file : *files) entries.push_back({slug + "/" + file.name, file.bytes});
  auto bytes = report::zip(entries);
  if (!bytes) return tl::unexpected(bytes.error());
  out.file = fmt::format("{}-{}.zip", slug, out.short_hash());
  out.bytes = std::move(*bytes);
  return out;
}

std::string datacite_text(const report::Contents& c, const std::string& slug, const DataPackage& package,
                          const About& about, const std::string& previous, Timestamp published) {
  Json identifiers = Json::array();
  if (const auto doi = about.doi.find(slug); doi != about.doi.end())
    identifiers.push_back({{"identifier", "https://doi.org/" + doi->second}, {"identifierType", "DOI"}});
  identifiers.push_back({{"identifier", package.hash}, {"identifierType", "SHA-256 of SHA256SUMS"}});
  Json creators = Json::array();
  for (const auto& creator : about.creators) creators.push_back(creator_json(creator));
  if (creators.empty()) creators.push_back(creator_json({.name = c.evaluator}));
  constexpr std::size_t kYear = 4;
  Json out{
      {"schemaVersion", "http://datacite.org/schema/kernel-4"},
      {"types", {{"resourceType", "Display evaluation"}, {"resourceTypeGeneral", "Dataset"}}},
      {"identifiers", std::move(identifiers)},
      {"creators", std::move(creators)},
      {"titles",
       Json::array({{{"title", fmt::format("{}: readings and findings", c.display.name)}, {"lang", about.language}}})},
      {"publisher", about.publisher.empty() ? c.evaluator : about.publisher},
      {"publicationYear", shelf::day_of(published).substr(0, kYear)},
      {"subjects", Json::array({{{"subject", "colorimetry"}},
                                {{"subject", "photometry"}},
                                {{"subject", "display measurement"}},
                                {{"subject", "measurement uncertainty"}}})},
      {"dates", Json::array({{{"date", day_range(c)}, {"dateType", "Collected"}},
                             {{"date", shelf::day_of(c.written)}, {"dateType", "Created"}},
                             {{"date", shelf::day_of(published)}, {"dateType", "Issued"}}})},
      {"language", about.language},
      {"sizes", Json::array({fmt::format("{} bytes", package.bytes.size())})},
      {"formats", Json::array({"application/zip", "text/csv", "application/json"})},
      {"version", package.short_hash()},
      {"descriptions", Json::array({{{"description", abstract_text(c)}, {"descriptionType", "Abstract"}},
                                    {{"description", methods_text(c)}, {"descriptionType", "Methods"}}})}};
  if (!about.rights.empty()) {
    Json rights{{"rights", about.rights}};
    if (!about.rights_address.empty()) rights["rightsUri"] = about.rights_address;
    if (!about.rights_id.empty()) {
      rights["rightsIdentifier"] = about.rights_id;
      rights["rightsIdentifierScheme"] = "SPDX";
    }
    out["rightsList"] = Json::array({std::move(rights)});
  }
  if (!about.address.empty()) {
    const auto related = [&](const std::string& path, const char* how) {
      return Json{{"relatedIdentifier", about.address + path}, {"relatedIdentifierType", "URL"}, {"relationType", how}};
    };
    out["relatedIdentifiers"] = Json::array({related("displays/" + slug + ".html", "IsDescribedBy")});
    if (!previous.empty()) out["relatedIdentifiers"].push_back(related("data/" + previous, "IsNewVersionOf"));
  }
  return out.dump(1) + "\n";
}

}  // namespace provenit::publish
