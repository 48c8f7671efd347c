#include "provenit/shelf/shelf.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "checks.h"
#include "folder_lock.h"
#include "provenit/base/text.h"
#include "provenit/store/bench.h"

namespace provenit::shelf {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr const char* kSchema = "provenit-shelf/1";

std::string index_of(const std::string& folder) {
  return (fs::path(folder) / "shelf.json").string();
}
std::string bench_path(const std::string& folder, const std::string& file) {
  return (fs::path(folder) / "benches" / file).string();
}

Json to_json(const Entry& e) {
  return {{"file", e.file},
          {"name", e.name},
          {"title", e.title},
          {"evaluator", e.evaluator},
          {"created", e.created.unix_s},
          {"added", iso8601(e.added)},
          {"sha256", e.sha256},
          {"runs", e.runs},
          {"readings", e.readings},
          {"replaced", e.replaced},
          {"recomputed", e.recomputed},
          {"notes", e.notes}};
}

Entry entry_from(const Json& j) {
  return {.file = j.at("file"),
          .name = j.at("name"),
          .title = j.at("title"),
          .evaluator = j.at("evaluator"),
          .created = {j.at("created").get<double>()},
          .added = parse_iso8601(j.at("added").get<std::string>()).value(),
          .sha256 = j.at("sha256"),
          .runs = j.at("runs"),
          .readings = j.at("readings"),
          .replaced = j.at("replaced"),
          .recomputed = j.at("recomputed"),
          .notes = j.at("notes")};
}

/// A copy on its way in; what is left of it, or of one that was killed, is removed.
class Incoming {
 public:
  explicit Incoming(const std::string& folder) : folder_(fs::path(folder) / "benches") { clear(); }
  Incoming(const Incoming&) = delete;
  Incoming& operator=(const Incoming&) = delete;
  ~Incoming() { clear(); }
  [[nodiscard]] std::string path() const { return (folder_ / kName).string(); }

 private:
  static constexpr const char* kName = "incoming";
  void clear() const {
    std::error_code ec;
    std::vector<fs::path> left;
    for (const auto& entry : fs::directory_iterator(folder_, ec))
      if (entry.path().filename().string().starts_with(kName)) left.push_back(entry.path());
    for (const auto& path : left) fs::remove(path, ec);
  }
  fs::path folder_;
};

bool same_origin(const Entry& entry, const store::Bench::Title& title) {
  return entry.title == title.title && entry.evaluator == title.evaluator &&
         entry.created.unix_s == title.created.unix_s;
}

}  // namespace

Result<Shelf> Shelf::create(const std::string& folder, const std::string& title, Timestamp now) {
  std::error_code ec;
  if (fs::exists(folder, ec) && (!fs::is_directory(folder, ec) || !fs::is_empty(folder, ec)))
    return fail(ErrorCode::conflict, "there is something of this name already", "Name a new or an empty folder.",
                {.file = folder});
  fs::create_directories(fs::path(folder) / "benches", ec);
  if (ec)
    return fail(ErrorCode::io, "the folder cannot be made: " + ec.message(), "Check that you may write there.",
                {.file = folder});
  Shelf out(folder, title, now);
  if (auto written = out.write(); !written) return tl::unexpected(written.error());
  return out;
}

Result<Shelf> Shelf::open(const std::string& folder) {
  const auto index = index_of(folder);
  std::error_code ec;
  if (!fs::exists(index, ec))
    return fail(ErrorCode::not_found, "is no shelf: it has no shelf.json", "Make one: provenit shelf new " + folder,
                {.file = folder});
  const auto text = read_file(index);
  if (!text) return tl::unexpected(text.error());
  try {
    const auto j = Json::parse(*text);
    const auto schema = j.at("schema").get<std::string>();
    if (schema != kSchema)
      return fail(ErrorCode::conflict,
                  fmt::format("is a shelf of the form '{}'; this program knows '{}'", schema, kSchema),
                  "Use the program that wrote it. Nothing was changed.", {.file = index});
    Shelf out(folder, j.at("title").get<std::string>(), {j.at("created").get<double>()});
    for (const auto& e : j.at("entries")) out.entries_.push_back(entry_from(e));
    return out;
  } catch (const std::exception& e) {
    return fail(ErrorCode::invalid_input, fmt::format("cannot be read: {}", e.what()),
                "Restore it from a backup, or make a new shelf and add the benches under benches/ to it.",
                {.file = index});
  }
}

Result<void> Shelf::write() const {
  Json j{{"schema", kSchema}, {"title", title_}, {"created", created_.unix_s}, {"entries", Json::array()}};
  for (const auto& e : entries_) j["entries"].push_back(to_json(e));
  try {
    return write_file(index_of(folder_), j.dump(1) + '\n');
  } catch (const nlohmann::json::exception&) {
    return fail(ErrorCode::invalid_input, "a title or a name is not UTF-8", "Give it another name.", {.file = folder_});
  }
}

std::string Shelf::path_of(const Entry& entry) const {
  return bench_path(folder_, entry.file);
}

Result<Entry> Shelf::add(const std::string& bench, Timestamp now, const std::string& software) {
  const auto lock = FolderLock::take((fs::path(folder_) / "benches").string());
  if (!lock) return tl::unexpected(lock.error());
  // Another program may have added something since.
  auto fresh = Shelf::open(folder_);
  if (!fresh) return tl::unexpected(fresh.error());

  const Incoming incoming(folder_);
  if (auto copied = store::Bench::copy(bench, incoming.path()); !copied) return tl::unexpected(copied.error());
  Entry entry{.name = fs::path(bench).filename().string(), .added = now};
  const Entry* earlier = nullptr;
  {
    const auto copy = store::Bench::open(incoming.path());
    if (!copy) return tl::unexpected(in_file(copy.error(), bench));
    const auto title = copy->title();
    if (!title) return tl::unexpected(in_file(title.error(), bench));
    entry.title = title->title;
    entry.evaluator = title->evaluator;
    entry.created = title->created;
    const auto found = std::ranges::find_if(fresh->entries_, [&](const Entry& e) { return same_origin(e, *title); });
    if (found != fresh->entries_.end()) earlier = &*found;
    if (auto ok = check_bench(*copy, software, entry); !ok) return tl::unexpected(in_file(ok.error(), bench));
    if (earlier != nullptr) {
      const auto before = store::Bench::open(fresh->path_of(*earlier));
      if (!before) return tl::unexpected(before.error());
      if (auto ok = check_continues(*before, *copy); !ok) return tl::unexpected(in_file(ok.error(), bench));
    }
  }
  const auto bytes = read_file(incoming.path());
  if (!bytes) return tl::unexpected(bytes.error());
  entry.sha256 = sha256_hex(*bytes);
  constexpr std::size_t enough = 16;
  entry.file = entry.sha256.substr(0, enough) + ".bench";
  if (earlier != nullptr) {
    entry.replaced = earlier->replaced;
    entry.replaced.push_back(earlier->file);
  }
  std::error_code ec;
  fs::rename(incoming.path(), bench_path(folder_, entry.file), ec);
  if (ec)
    return fail(ErrorCode::io, "the copy cannot be put in place: " + ec.message(), "Check the disk.",
                {.file = folder_});
  if (earlier != nullptr)
    fresh->entries_[static_cast<std::size_t>(earlier - fresh->entries_.data())] = entry;
  else
    fresh->entries_.push_back(entry);
  if (auto written = fresh->write(); !written) return tl::unexpected(written.error());
  entries_ = std::move(fresh->entries_);
  return entry;
}

Result<std::vector<std::string>> Shelf::damaged() const {
  std::vector<std::string> out;
  for (const auto& entry : entries_) {
    std::error_code ec;
    if (!fs::exists(path_of(entry), ec)) {
      out.push_back(entry.file);
      continue;
    }
    const auto bytes = read_file(path_of(entry));
    if (!bytes) return tl::unexpected(bytes.error());
    if (sha256_hex(*bytes) != entry.sha256) out.push_back(entry.file);
  }
  return out;
}

Result<std::vector<Item>> Shelf::items_of(const std::string& file, Findings findings) const {
  const auto path = bench_path(folder_, file);
  const auto bench = store::Bench::open(path);
  if (!bench) return tl::unexpected(bench.error());
  const auto title = bench->title();
  if (!title) return tl::unexpected(title.error());
  const auto loans = bench->loans();
  if (!loans) return tl::unexpected(loans.error());
  std::vector<Item> out;
  for (const auto& loan : *loans) {
    auto found = findings == Findings::whole ? bench->latest_findings(loan.id) : bench->latest_figures(loan.id);
    if (!found) return tl::unexpected(found.error());
    if (found->empty()) continue;
    auto display = bench->display(loan.display);
    if (!display) return tl::unexpected(display.error());
    auto instrument = bench->instrument(loan.instrument);
    if (!instrument) return tl::unexpected(instrument.error());
    Item item{.bench = file,
              .title = title->title,
              .evaluator = title->evaluator,
              .display = std::move(*display),
              .instrument = std::move(*instrument),
              .loan = loan,
              .findings = std::move(*found)};
    if (loan.room != 0) {
      auto room = bench->room(loan.room);
      if (!room) return tl::unexpected(room.error());
      item.room = std::move(*room);
    }
    out.push_back(std::move(item));
  }
  return out;
}

Result<std::vector<Item>> Shelf::items(Findings findings) const {
  std::vector<Item> out;
  for (const auto& entry : entries_) {
    auto some = items_of(entry.file, findings);
    if (!some) return some;
    for (auto& item : *some) {
      item.recomputed = std::ranges::find(entry.recomputed, item.loan.id) != entry.recomputed.end();
      out.push_back(std::move(item));
    }
  }
  name_items(out);
  return out;
}

Result<std::vector<Shelf::Changed>> Shelf::changed() const {
  std::vector<Changed> out;
  for (const auto& entry : entries_) {
    if (entry.replaced.empty()) continue;
    const auto now = items_of(entry.file, Findings::figures),
               before = items_of(entry.replaced.back(), Findings::figures);
    if (!now) return tl::unexpected(now.error());
    if (!before) return tl::unexpected(before.error());
    for (const auto& old : *before) {
      const auto item = std::ranges::find(*now, old.loan.id, [](const Item& i) { return i.loan.id; });
      for (const auto& f : old.findings) {
        const store::FindingRecord* found = nullptr;
        if (item != now->end()) found = finding_like(item->findings, f);
        if (found != nullptr && same_numbers(*found, f)) continue;
        out.push_back({.bench = entry.title,
                       .display = old.display.name,
                       .before = f,
                       .now = found == nullptr ? std::nullopt : std::optional(*found)});
      }
    }
  }
  return out;
}

}  // namespace provenit::shelf
