#pragma once
// What a site says of itself and of its data, as a TOML file; every key may be left out:
//
//   title = "Displays of the year"
//   introduction = "What we found, and how sure it is."
//   publisher = "Saltmarsh Display Lab"
//   language = "en"                              # BCP 47
//   address = "https://displays.example/"        # where the site will stand
//   rights = "Creative Commons Attribution 4.0 International"
//   rights_id = "CC-BY-4.0"                      # SPDX
//   rights_address = "https://creativecommons.org/licenses/by/4.0/"
//   [[creator]]
//   name = "Saltmarsh Display Lab"
//   kind = "organisation"                        # or "person"
//   orcid = "0000-0000-0000-0000"
//   affiliation = "..."
//   [doi]
//   tern-32 = "10.5555/tern-32"                  # by the name of the display's page
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::publish {

struct Creator {
  std::string name;
  bool person = false;
  std::string orcid, affiliation;
};

struct About {
  std::string title;         ///< empty: the shelf's
  std::string introduction;  ///< plain text
  std::string publisher;     ///< empty: the evaluators
  std::string language = "en";
  std::string address;  ///< ends in '/', or empty
  std::string rights, rights_id, rights_address;
  std::vector<Creator> creators;           ///< empty: each display's evaluator
  std::map<std::string, std::string> doi;  ///< by the name of the display's page
};

/// `file` is only used in errors. Errors: invalid_input naming file, line and key: TOML syntax, unknown key, no text,
/// an address that is not http(s), a DOI that does not begin with "10.".
[[nodiscard]] Result<About> parse_about(std::string_view text, const std::string& file);

}  // namespace provenit::publish
