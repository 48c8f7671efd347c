#pragma once
// A shelf as a static site: a folder that any web server can hand out, or that opens from a disk.
//
//   index.html          every display with its leading figures
//   displays/NAME.html  one display: charts, findings, questions, data
//   topics/KEY.html     one topic over all displays: charts and every quantity side by side
//   pairs/A-B.html      what two displays are shown to differ in
//   sets/ID.html        a requirement set over all displays
//   corrections.html    what was published otherwise, with the old value
//   reports/NAME.html   the whole report of a loan, interactive
//   charts/             every chart as SVG and PNG, for an article (light, 1200 px) and for video (dark, 1920 x 1080)
//   data/               packages by their hash, with DataCite metadata; those of earlier publications stay
//   published.json      what the site has said so far
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/publish/about.h"
#include "provenit/shelf/shelf.h"

namespace provenit::publish {

struct SiteOptions {
  About about;
  Timestamp now;
  std::string software;  ///< this program's version, as findings carry it
  bool png = true;       ///< charts as PNG beside SVG
};

struct SiteSummary {
  std::size_t displays = 0, pages = 0, charts = 0;
  struct Package {
    std::string display, file, hash;
  };
  std::vector<Package> packages;
  struct Corrected {
    std::string display, text;  ///< "Peak luminance, 10 % window: was 1431 cd/m2 (1401 to 1461), is ..."
  };
  std::vector<Corrected> corrected;  ///< by this publication
};

/// Writes the site, or writes it anew where one stands: its record and its data packages are taken over, and findings
/// that it gave otherwise are shown as corrected. The folder is changed in one step at the end: a killed call leaves
/// the site as it was. The same shelf published again gives the same bytes.
/// Errors: conflict if `folder` holds something that is no site; those of the shelf, of parse_record and of the report;
/// not_found for a shelf without loans; io.
[[nodiscard]] Result<SiteSummary> write_site(const shelf::Shelf& shelf, const std::string& folder,
                                             const SiteOptions& options);

}  // namespace provenit::publish
