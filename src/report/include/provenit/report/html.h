#pragma once
// The page of a report: one HTML file with styles, scripts, charts and data inside. It opens from a folder without a
// network, and its content security policy forbids it to fetch anything.
#include <string>
#include <string_view>

#include "provenit/base/error.h"
#include "provenit/report/document.h"

namespace provenit::report {

/// The page embedded in this build with the document's JSON inside (about 200 kB and the data).
/// Errors: unsupported if the build has no page (PROVENIT_WEB=OFF).
[[nodiscard]] Result<std::string> html(const Document& document);

/// As html(), into any page that has one element <script type="application/json" id="provenit-document">.
/// The JSON is written so that no text in it can end the script element or be read as markup: <, >, & and U+2028,
/// U+2029 become \u escapes. The page's <title> becomes the document's title.
/// Errors: invalid_input if the page lacks the element, has it twice or has no <title>.
[[nodiscard]] Result<std::string> html(const Document& document, std::string_view page);

/// Whether this build has the page.
[[nodiscard]] bool has_page();

}  // namespace provenit::report
