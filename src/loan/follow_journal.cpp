#include "follow_journal.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

#include "provenit/base/text.h"

namespace provenit::loan {
namespace {

nlohmann::json json_of(const JournalEntry& e) {
  const auto& m = e.measurement;
  nlohmann::json json{{"from", e.from.unix_s},
                      {"to", e.to.unix_s},
                      {"xyz", {m.xyz.X, m.xyz.Y, m.xyz.Z}},
                      {"integration_s", m.integration.s},
                      {"saturated", m.saturated},
                      {"below_range", m.below_range},
                      {"raw", m.raw_reply}};
  if (m.spectrum)
    json["spectrum"] = {
        {"start_nm", m.spectrum->start_nm}, {"step_nm", m.spectrum->step_nm}, {"radiance", m.spectrum->radiance}};
  return json;
}

JournalEntry entry_of(const nlohmann::json& json) {
  JournalEntry e{.from = {json.at("from").get<double>()}, .to = {json.at("to").get<double>()}, .measurement = {}};
  auto& m = e.measurement;
  const auto& xyz = json.at("xyz");
  m.xyz = {.X = xyz.at(0).get<double>(), .Y = xyz.at(1).get<double>(), .Z = xyz.at(2).get<double>()};
  m.integration = Seconds{json.at("integration_s").get<double>()};
  m.saturated = json.at("saturated").get<bool>();
  m.below_range = json.at("below_range").get<bool>();
  m.raw_reply = json.at("raw").get<std::string>();
  if (json.contains("spectrum")) {
    const auto& s = json["spectrum"];
    m.spectrum = {.start_nm = s.at("start_nm").get<double>(),
                  .step_nm = s.at("step_nm").get<double>(),
                  .radiance = s.at("radiance").get<std::vector<double>>()};
  }
  return e;
}

struct Content {
  std::vector<JournalEntry> entries;
  std::size_t whole = 0;  ///< bytes up to the end of the last whole line
};

Result<Content> content_of(const std::string& path, const std::string& clip, std::int64_t loan) {
  Content out;
  if (!std::filesystem::exists(path)) return out;
  const auto bytes = read_file(path);
  if (!bytes) return tl::unexpected(bytes.error());
  int line = 0;
  for (std::size_t end = 0; (end = bytes->find('\n', out.whole)) != std::string::npos; out.whole = end + 1) {
    ++line;
    try {
      const auto json = nlohmann::json::parse(std::string_view(*bytes).substr(out.whole, end - out.whole));
      if (line > 1)
        out.entries.push_back(entry_of(json));
      else if (json.at("clip") != clip || json.at("loan") != loan)
        return fail(ErrorCode::conflict, "these are the readings of another clip or loan",
                    "Name another journal, or take the schedule they were begun with.", {.file = path});
    } catch (const nlohmann::json::exception& e) {
      return fail(ErrorCode::invalid_input, fmt::format("it cannot be read: {}", e.what()),
                  "Name another journal; what was stored in the bench is kept.", {.file = path, .line = line});
    }
  }
  return out;
}

}  // namespace

Result<std::vector<JournalEntry>> FollowJournal::read(const std::string& path, const std::string& clip,
                                                      std::int64_t loan) {
  auto content = content_of(path, clip, loan);
  if (!content) return tl::unexpected(content.error());
  return std::move(content->entries);
}

Result<FollowJournal> FollowJournal::open(const std::string& path, const std::string& clip, std::int64_t loan) {
  auto content = content_of(path, clip, loan);
  if (!content) return tl::unexpected(content.error());
  FollowJournal journal;
  journal.path_ = path;
  journal.entries_ = std::move(content->entries);
  journal.descriptor_ = ::open(path.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
  if (journal.descriptor_ < 0 || ::ftruncate(journal.descriptor_, static_cast<off_t>(content->whole)) != 0)
    return fail(ErrorCode::io, fmt::format("cannot be written: {}", std::strerror(errno)), {}, {.file = path});
  if (content->whole == 0)
    if (auto begun = journal.write(nlohmann::json{{"clip", clip}, {"loan", loan}}.dump()); !begun)
      return tl::unexpected(begun.error());
  return journal;
}

FollowJournal::FollowJournal(FollowJournal&& other) noexcept
    : path_(std::move(other.path_)), descriptor_(other.descriptor_), entries_(std::move(other.entries_)) {
  other.descriptor_ = -1;
}

FollowJournal::~FollowJournal() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

Result<void> FollowJournal::add(const JournalEntry& entry) {
  if (auto written = write(json_of(entry).dump()); !written) return written;
  entries_.push_back(entry);
  return {};
}

Result<void> FollowJournal::write(const std::string& line) {
  const auto bytes = line + "\n";
  std::size_t done = 0;
  while (done < bytes.size()) {
    const auto n = ::write(descriptor_, bytes.data() + done, bytes.size() - done);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0)
      return fail(ErrorCode::io, fmt::format("cannot be written: {}", std::strerror(errno)), {}, {.file = path_});
    done += static_cast<std::size_t>(n);
  }
  if (::fdatasync(descriptor_) != 0)
    return fail(ErrorCode::io, fmt::format("cannot be made durable: {}", std::strerror(errno)), {}, {.file = path_});
  return {};
}

}  // namespace provenit::loan
