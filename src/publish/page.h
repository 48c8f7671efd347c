#pragma once
// What all pages share: frame, navigation, tables and charts as markup.
#include <map>
#include <string>
#include <vector>

#include "chart.h"
#include "data_package.h"
#include "provenit/report/document.h"
#include "record.h"

namespace provenit::publish {

/// A topic: quantities whose procedures belong together.
struct Topic {
  std::string_view key, title, lead;
  std::vector<std::string_view> procedures;
};
[[nodiscard]] const std::vector<Topic>& topics();
[[nodiscard]] const Topic& topic_of(const std::string& quantity);

/// One display as its page needs it.
struct Exhibit {
  std::string slug;
  report::Contents contents;
  report::Document document;  ///< of the contents
  DataPackage package;
  std::string bench_file;  ///< of the bench itself, within data/
  std::string bench_path;  ///< where it lies on the shelf
};

struct SetPage {
  std::string id, title;
};

/// The whole site, before it is written.
struct Site {
  About about;
  std::string title, software;
  Timestamp published;  ///< of the newest publication
  bool invented = false;
  std::vector<shelf::Item> items;  ///< in the order of the shelf
  std::vector<Exhibit> exhibits;   ///< of each item
  SiteRecord record;
  std::vector<std::string_view> topics;  ///< keys of those that have a page
  std::vector<SetPage> sets;
  bool pairs = false;  ///< pages for every two displays
  bool png = true;
};

/// A page; `up` leads from its folder to the site's: "" or "../".
struct Page {
  std::string title;
  std::string description;  ///< one sentence for search engines
  std::string up;
  std::string here;  ///< address within the site
  std::string body;
};
[[nodiscard]] std::string page_text(const Site& site, const Page& page);

/// A figure with the chart at two widths, its files to save and its numbers. `name`: of its files within charts/;
/// `table`: stands in the place of numbers_markup, with the same rows.
[[nodiscard]] std::string chart_markup(const Site& site, const Chart& chart, const std::string& up,
                                       const std::string& name, const std::string& table = {});
/// A table that may be wider than the page. `heads` and `rows` are markup.
[[nodiscard]] std::string table_markup(const std::string& label, const std::vector<std::string>& heads,
                                       const std::string& rows);
[[nodiscard]] std::string numbers_markup(const Numbers& numbers, const std::string& label);
[[nodiscard]] std::string link(const std::string& address, const std::string& text);
/// "../topics/light.html#peak_luminance"-like anchor of a quantity.
[[nodiscard]] std::string anchor_of(const std::string& quantity, const nlohmann::json& conditions);

// The pages
// ------------------------------------------------------------------------------------------------------------

/// Charts of a page are handed to `take` with the name of their files.
using TakeChart = std::function<void(const Chart& chart, const std::string& name, const std::string& credit)>;

[[nodiscard]] Page index_page(const Site& site);
[[nodiscard]] Page display_page(const Site& site, std::size_t index, const TakeChart& take);
[[nodiscard]] Page topic_page(const Site& site, const Topic& topic, const TakeChart& take);
[[nodiscard]] Page pair_page(const Site& site, std::size_t a, std::size_t b);
[[nodiscard]] Result<Page> set_page(const Site& site, const SetPage& set);
[[nodiscard]] Page corrections_page(const Site& site);
[[nodiscard]] Page about_page(const Site& site);
[[nodiscard]] std::string pair_address(const Site& site, std::size_t a, std::size_t b);

/// The quantities of the first page: key, conditions, short name.
struct Leading {
  std::string quantity, name;
  nlohmann::json conditions;
};
[[nodiscard]] const std::vector<Leading>& leading();
/// nullptr if the display has no such finding.
[[nodiscard]] const store::FindingRecord* leading_finding(const shelf::Item& item, const Leading& what);

}  // namespace provenit::publish
