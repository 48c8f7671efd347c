#include "provenit/publish/site.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <set>

#include "page.h"
#include "provenit/base/text.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/loan/loan.h"
#include "provenit/report/html.h"
#include "stage.h"
#include "words.h"

namespace provenit::publish {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kMostPairs = 16;  ///< displays up to which every two get a page

Timestamp newest_finding(const shelf::Item& item) {
  Timestamp newest{};
  for (const auto& f : item.findings) newest = std::max(newest, f.computed);
  return newest;
}

/// A name that no other page has; one that was published stays.
std::string slug_for(const shelf::Item& item, const SiteRecord& record, const std::vector<Exhibit>& taken) {
  const auto before = std::ranges::find(record.displays, key_of(item), &PublishedDisplay::key);
  if (before != record.displays.end()) return before->slug;
  const auto free = [&](const std::string& slug) {
    return std::ranges::find(taken, slug, &Exhibit::slug) == taken.end() &&
           std::ranges::find(record.displays, slug, &PublishedDisplay::slug) == record.displays.end();
  };
  auto slug = slug_of(item.name);
  if (free(slug)) return slug;
  for (int k = 2;; ++k)
    if (auto next = fmt::format("{}-{}", slug, k); free(next)) return next;
}

Result<Exhibit> exhibit_of(const shelf::Shelf& shelf, shelf::Item& item, const std::string& slug,
                           const std::string& software) {
  const auto entry = std::ranges::find(shelf.entries(), item.bench, &shelf::Entry::file);
  if (entry == shelf.entries().end())
    return fail(ErrorCode::not_found, "the shelf has no such bench", "See provenit shelf check.", {.file = item.bench});
  const auto bench = store::Bench::open(shelf.path_of(*entry));
  if (!bench) return tl::unexpected(bench.error());
  auto contents = loan::contents_of(*bench, item.loan, newest_finding(item), software);
  if (!contents) return tl::unexpected(contents.error());
  item.findings = contents->findings;  // with the points of their charts
  auto document = report::Document::build(*contents);
  if (!document) return tl::unexpected(document.error());
  auto package = data_package(*contents, slug);
  if (!package) return tl::unexpected(package.error());
  return Exhibit{.slug = slug,
                 .contents = std::move(*contents),
                 .document = std::move(*document),
                 .package = std::move(*package),
                 .bench_file = item.bench,
                 .bench_path = shelf.path_of(*entry)};
}

/// Sets that loans were asked, but for the makers' own claims: those are of one display.
std::vector<SetPage> sets_of(const std::vector<Exhibit>& exhibits) {
  std::vector<SetPage> out;
  for (const auto& exhibit : exhibits)
    for (const auto& q : exhibit.contents.questions) {
      const bool limit = q.lower || q.upper;
      if (!limit || q.mark == store::SourceMark::claim || std::ranges::find(out, q.set, &SetPage::id) != out.end())
        continue;
      const auto text = evaluation::built_in_requirement_text(q.set);
      const auto set = text ? evaluation::parse_requirement_set(*text, q.set) : tl::unexpected(Error{});
      out.push_back({q.set, set ? set->title : q.set});
    }
  return out;
}

Result<Site> site_of(const shelf::Shelf& shelf, SiteRecord record, const SiteOptions& options) {
  auto items = shelf.items(shelf::Shelf::Findings::figures);  // each bench gives them whole, later
  if (!items) return tl::unexpected(items.error());
  if (items->empty())
    return fail(ErrorCode::not_found, "there is nothing on the shelf",
                "Add a bench that was evaluated: provenit shelf add " + shelf.folder() + " tern.bench",
                {.file = shelf.folder()});
  Site site{.about = options.about,
            .title = options.about.title.empty() ? shelf.title() : options.about.title,
            .software = options.software,
            .items = std::move(*items),
            .png = options.png};
  std::vector<PublishedDisplay> displays;
  for (auto& item : site.items) {
    auto exhibit = exhibit_of(shelf, item, slug_for(item, record, site.exhibits), options.software);
    if (!exhibit) return tl::unexpected(exhibit.error());
    site.invented = site.invented || exhibit->contents.invented;
    displays.push_back({.key = key_of(item),
                        .slug = exhibit->slug,
                        .name = item.name,
                        .package = exhibit->package.file,
                        .hash = exhibit->package.hash,
                        .findings = published_findings(item, options.now)});
    site.exhibits.push_back(std::move(*exhibit));
  }
  site.record = next_record(std::move(record), std::move(displays), options.now, options.software);
  site.published = site.record.publications.back().at;
  std::set<std::string_view> found;
  for (const auto& item : site.items)
    for (const auto& f : item.findings) found.insert(topic_of(f.quantity).key);
  for (const auto& topic : topics())
    if (found.contains(topic.key)) site.topics.push_back(topic.key);
  site.sets = sets_of(site.exhibits);
  site.pairs = site.items.size() <= kMostPairs;
  return site;
}

/// Writes pages and charts, and counts them.
class Writer {
 public:
  Writer(Stage& stage, const Site& site, SiteSummary& summary) : stage_(stage), site_(site), summary_(summary) {}

  [[nodiscard]] const std::optional<Error>& failed() const { return failed_; }
  void page(const Page& page) {
    put(page.here, page_text(site_, page));
    ++summary_.pages;
  }
  [[nodiscard]] TakeChart take_charts() {
    return [this](const Chart& chart, const std::string& name, const std::string& credit) {
      ++summary_.charts;
      for (const auto& [plate, form] : {std::pair{Plate::article, "article"}, {Plate::video, "video"}}) {
        const auto svg = plate_svg(chart, plate, credit);
        put(fmt::format("charts/{}-{}.svg", name, form), svg);
        if (!site_.png || failed_) continue;
        const auto png = png_of(svg);
        if (png)
          put(fmt::format("charts/{}-{}.png", name, form), *png);
        else
          failed_ = png.error();
      }
    };
  }
  void put(const std::string& name, std::string_view bytes) {
    if (failed_) return;
    if (auto written = stage_.write(name, bytes); !written) failed_ = written.error();
  }
  void check(const Result<void>& done) {
    if (!done && !failed_) failed_ = done.error();
  }

 private:
  Stage& stage_;
  const Site& site_;
  SiteSummary& summary_;
  std::optional<Error> failed_;
};

void write_data(Stage& stage, const Site& site, const SiteRecord& before, Writer& writer) {
  for (std::size_t i = 0; i < site.items.size(); ++i) {
    const auto& exhibit = site.exhibits[i];
    const auto earlier = std::ranges::find(before.displays, key_of(site.items[i]), &PublishedDisplay::key);
    const bool replaces = earlier != before.displays.end() && earlier->package != exhibit.package.file;
    writer.put("data/" + exhibit.package.file, exhibit.package.bytes);
    writer.put("data/" + exhibit.package.metadata_file(),
               datacite_text(exhibit.contents, exhibit.slug, exhibit.package, site.about,
                             replaces ? earlier->package : std::string{}, site.published));
    writer.check(stage.take_in(exhibit.bench_path, "data/" + exhibit.bench_file));
    const auto page = report::html(exhibit.document);
    if (page)
      writer.put("reports/" + exhibit.slug + ".html", *page);
    else
      writer.check(tl::unexpected(page.error()));
  }
}

Result<SiteSummary> write_all(Stage& stage, const Site& site, const SiteRecord& before) {
  SiteSummary summary{.displays = site.items.size()};
  Writer writer(stage, site, summary);
  writer.check(stage.keep_data());
  write_data(stage, site, before, writer);
  writer.page(index_page(site));
  for (std::size_t i = 0; i < site.items.size(); ++i) writer.page(display_page(site, i, writer.take_charts()));
  for (const auto& topic : topics())
    if (std::ranges::find(site.topics, topic.key) != site.topics.end())
      writer.page(topic_page(site, topic, writer.take_charts()));
  if (site.pairs)
    for (std::size_t a = 0; a < site.items.size(); ++a)
      for (std::size_t b = a + 1; b < site.items.size(); ++b) writer.page(pair_page(site, a, b));
  for (const auto& set : site.sets) {
    const auto page = set_page(site, set);
    if (page)
      writer.page(*page);
    else
      writer.check(tl::unexpected(page.error()));
  }
  writer.page(corrections_page(site));
  writer.page(about_page(site));
  writer.put(kRecordFile, record_text(site.record));
  if (writer.failed()) return tl::unexpected(*writer.failed());
  for (const auto& exhibit : site.exhibits)
    summary.packages.push_back({exhibit.slug, exhibit.package.file, exhibit.package.hash});
  for (std::size_t k = before.corrections.size(); k < site.record.corrections.size(); ++k) {
    const auto& c = site.record.corrections[k];
    summary.corrected.push_back(
        {c.display, fmt::format("{}: was {}, {}", subject_words(c.was.quantity, c.was.conditions), words_of(c.was),
                                c.now ? "is " + words_of(*c.now) : "withdrawn")});
  }
  return summary;
}

}  // namespace

Result<SiteSummary> write_site(const shelf::Shelf& shelf, const std::string& folder, const SiteOptions& options) {
  if (!report::has_page())
    return fail(ErrorCode::unsupported, "this build has no page of the report", "Build with PROVENIT_WEB=ON.");
  auto path = fs::absolute(folder).lexically_normal();
  if (!path.has_filename()) path = path.parent_path();  // "site/"
  Stage stage(path);
  const auto before = stage.begin();
  if (!before) return tl::unexpected(before.error());
  auto site = site_of(shelf, *before, options);
  auto summary = site ? write_all(stage, *site, *before) : tl::unexpected(site.error());
  if (!summary) {
    stage.give_up();
    return summary;
  }
  if (auto done = stage.finish(); !done) return tl::unexpected(done.error());
  return summary;
}

}  // namespace provenit::publish
