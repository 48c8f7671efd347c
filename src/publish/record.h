#pragma once
// What a site has said so far, kept in it as published.json ("provenit-site/1"): from it the next publication knows
// what it corrects.
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/shelf/item.h"

namespace provenit::publish {

struct PublishedFinding {
  std::string quantity;
  nlohmann::json conditions = nlohmann::json::object();
  std::string unit;
  double value = 0, lower95 = 0, upper95 = 0;
  Timestamp since;  ///< first published with these numbers
};

/// "1431 cd/m\u00b2 (1401 to 1461)": as the pages say it.
[[nodiscard]] std::string words_of(const PublishedFinding& finding);

struct PublishedDisplay {
  std::string key;   ///< of the loan, whatever else stands on the shelf
  std::string slug;  ///< name of its page: stays once it is published
  std::string name;
  std::string package;  ///< file of its data within data/
  std::string hash;     ///< the package's permanent hash
  std::vector<PublishedFinding> findings;
};

/// A published finding that a later publication gives otherwise.
struct SiteCorrection {
  std::string key, slug, display;
  PublishedFinding was;
  std::optional<PublishedFinding> now;  ///< none: withdrawn
  Timestamp corrected;
};

struct Publication {
  Timestamp at;
  std::string software;
  struct Package {
    std::string slug, file, hash;
    friend bool operator==(const Package&, const Package&) = default;
  };
  std::vector<Package> packages;
};

struct SiteRecord {
  std::vector<Publication> publications;
  std::vector<PublishedDisplay> displays;   ///< as the newest publication has them
  std::vector<SiteCorrection> corrections;  ///< oldest first
};

/// Errors: invalid_input naming the field; conflict if a newer program wrote it.
[[nodiscard]] Result<SiteRecord> parse_record(const std::string& text, const std::string& file);
[[nodiscard]] std::string record_text(const SiteRecord& record);

/// The loan, by what does not change when more is measured or more stands on the shelf.
[[nodiscard]] std::string key_of(const shelf::Item& item);
/// What is published of an item; since: `now`.
[[nodiscard]] std::vector<PublishedFinding> published_findings(const shelf::Item& item, Timestamp now);

/// Goes on from `before`: displays of the new publication, with what they correct added. `displays` come with all
/// but `since`, which findings that stay as they were keep. A publication that changes nothing is none: what comes back
/// equals `before`.
[[nodiscard]] SiteRecord next_record(SiteRecord before, std::vector<PublishedDisplay> displays, Timestamp now,
                                     const std::string& software);

}  // namespace provenit::publish
