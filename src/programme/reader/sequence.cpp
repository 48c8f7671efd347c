// Sequences of stills: which files, in which order, as one title.
#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <map>
#include <utility>

#include "provenit/base/text.h"
#include "reader/stills.h"

namespace provenit::programme {
namespace {

namespace fs = std::filesystem;

constexpr double kUsualRate = 24;

struct NumberedName {
  std::string before, after;  // of the last run of digits
  std::int64_t number = 0;
};

std::optional<NumberedName> numbered(const std::string& name) {
  const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
  const std::size_t dot = name.rfind('.');
  std::size_t end = dot == std::string::npos ? name.size() : dot;
  while (end > 0 && !is_digit(name[end - 1])) --end;
  std::size_t begin = end;
  while (begin > 0 && is_digit(name[begin - 1])) --begin;
  const auto number = parse_integer(std::string_view(name).substr(begin, end - begin));
  if (begin == end || !number) return std::nullopt;
  return NumberedName{.before = name.substr(0, begin), .after = name.substr(end), .number = *number};
}

tl::unexpected<Error> refuse(const std::string& path, const std::string& what, const std::string& advice) {
  return fail(ErrorCode::invalid_input, what, advice, {.file = path});
}

// Files by number; no number may be missing.
Result<std::vector<std::string>> in_order(const std::string& path, const std::map<std::int64_t, std::string>& files) {
  std::vector<std::string> ordered;
  std::string gaps;
  std::int64_t expected = files.begin()->first;
  for (const auto& [number, file] : files) {
    if (number != expected) {
      const std::string gap =
          number - 1 == expected ? fmt::format("{}", expected) : fmt::format("{} to {}", expected, number - 1);
      if (gaps.size() < 200) gaps += (gaps.empty() ? "" : ", ") + gap;
    }
    expected = number + 1;
    ordered.push_back(file);
  }
  if (!gaps.empty())
    return refuse(path, "the sequence has gaps: missing " + gaps,
                  "Bring the missing files, or survey the pieces alone.");
  return ordered;
}

Result<std::vector<std::string>> files_of_folder(const std::string& path) {
  std::map<std::pair<std::string, std::string>, std::map<std::int64_t, std::string>> sequences;
  std::error_code error;
  for (const fs::directory_entry& entry : fs::directory_iterator(path, error)) {
    const std::string name = entry.path().filename().string();
    if (name.starts_with(".") || !entry.is_regular_file() || still_kind_of(entry.path().string()) == StillKind::none)
      continue;
    const auto n = numbered(name);
    if (!n) return refuse(path, fmt::format("'{}' has no frame number", name), "Give each still a number in its name.");
    auto& files = sequences[{n->before, n->after}];
    if (!files.emplace(n->number, entry.path().string()).second)
      return refuse(path, fmt::format("frame {} is there twice", n->number), "Remove one of them.");
  }
  if (error)
    return fail(ErrorCode::io, "cannot be listed: " + error.message(), "Check its permissions.", {.file = path});
  if (sequences.empty())
    return refuse(path, "no still pictures in this folder",
                  "Give a folder of TIFF, PNG, DPX, OpenEXR, Radiance or AVIF.");
  if (sequences.size() > 1) {
    std::string names;
    for (const auto& [key, files] : sequences)
      if (names.size() < 200) names += (names.empty() ? "" : ", ") + key.first + "####" + key.second;
    return refuse(path, "several sequences in this folder: " + names, "Name one of them.");
  }
  return in_order(path, sequences.begin()->second);
}

Result<std::vector<std::string>> files_of_pattern(const std::string& path) {
  const fs::path pattern(path);
  const std::string name = pattern.filename().string();
  const std::size_t begin = name.find('#');
  const std::size_t end = name.find_first_not_of('#', begin);
  const std::string before = name.substr(0, begin), after = end == std::string::npos ? "" : name.substr(end);
  if (after.find('#') != std::string::npos) return refuse(path, "more than one run of #", "Mark one number only.");
  std::map<std::int64_t, std::string> files;
  std::error_code error;
  const fs::path folder = pattern.has_parent_path() ? pattern.parent_path() : fs::path(".");
  for (const fs::directory_entry& entry : fs::directory_iterator(folder, error)) {
    const std::string candidate = entry.path().filename().string();
    if (candidate.size() <= before.size() + after.size() || !candidate.starts_with(before) ||
        !candidate.ends_with(after))
      continue;
    const std::string digits = candidate.substr(before.size(), candidate.size() - before.size() - after.size());
    if (digits.find_first_not_of("0123456789") != std::string::npos) continue;
    if (const auto number = parse_integer(digits)) files.emplace(*number, entry.path().string());
  }
  if (files.empty())
    return fail(ErrorCode::not_found, "no file of this name", "Check folder and name.", {.file = path});
  return in_order(path, files);
}

class StillsReader : public Reader {
 public:
  StillsReader(std::vector<std::string> files, std::int64_t first, std::int64_t last, const ReaderOptions& options)
      : files_(std::move(files)), next_(first), last_(last), options_(options) {}

  Result<void> start(const std::string& path, double rate_hz) {
    auto still = read(next_);
    if (!still) return tl::unexpected(still.error());
    info_ = still->info;
    info_.path = path;
    for (const std::string& remark : still->remarks) info_.notes.push_back(remark);
    if (files_.size() > 1) {
      rate_hz_ = rate_hz > 0 ? rate_hz : kUsualRate;
      info_.frames = static_cast<std::int64_t>(files_.size());
      info_.duration_s = static_cast<double>(files_.size()) / rate_hz_;
      info_.frame_rate_denominator = 1001;
      info_.frame_rate_numerator = std::llround(rate_hz_ * 1001);
      if (info_.frame_rate_numerator % 1001 == 0) {
        info_.frame_rate_numerator /= 1001;
        info_.frame_rate_denominator = 1;
      }
      if (rate_hz <= 0) info_.notes.push_back("24 frames a second are assumed for the sequence");
    }
    ready_ = std::move(still->picture);
    return {};
  }

  [[nodiscard]] const SourceInfo& info() const override { return info_; }
  [[nodiscard]] const std::vector<std::string>& troubles() const override { return troubles_; }

  [[nodiscard]] Result<std::optional<Picture>> next() override {
    if (next_ >= last_) return std::optional<Picture>{};
    Picture picture;
    if (ready_) {
      picture = *std::exchange(ready_, std::nullopt);
    } else {
      auto still = read(next_);
      if (!still) {
        next_ = last_;
        return tl::unexpected(still.error());
      }
      for (const std::string& remark : still->remarks) troubles_.push_back(fmt::format("frame {}: {}", next_, remark));
      picture = std::move(still->picture);
    }
    picture.index = next_;
    picture.time_s = static_cast<double>(next_) / rate_hz_;
    ++next_;
    return std::optional<Picture>(std::move(picture));
  }

 private:
  Result<Still> read(std::int64_t index) {
    const std::string& file = files_[static_cast<std::size_t>(index)];
    auto still = read_still(file, still_kind_of(file), options_);
    if (!still) {
      if (still.error().where.frame < 0 && files_.size() > 1) still.error().where.frame = index;
      return still;
    }
    if (!info_.path.empty() && !(still->picture.format == info_.format))
      return fail(ErrorCode::invalid_input,
                  fmt::format("is {}, unlike the first of the sequence, which is {}", describe(still->picture.format),
                              describe(info_.format)),
                  "All stills of a sequence have one size and format.", {.file = file, .frame = index});
    return still;
  }

  std::vector<std::string> files_;
  std::int64_t next_ = 0, last_ = 0;
  ReaderOptions options_;
  SourceInfo info_;
  std::optional<Picture> ready_;
  std::vector<std::string> troubles_;
  double rate_hz_ = kUsualRate;
};

}  // namespace

bool is_sequence(const std::string& path) {
  std::error_code ignored;
  return fs::is_directory(path, ignored) ||
         (fs::path(path).filename().string().find('#') != std::string::npos && !fs::exists(path, ignored));
}

Result<std::vector<std::string>> sequence_files(const std::string& pattern) {
  std::error_code ignored;
  return fs::is_directory(pattern, ignored) ? files_of_folder(pattern) : files_of_pattern(pattern);
}

Result<std::unique_ptr<Reader>> open_stills(const std::string& path, std::vector<std::string> files, std::int64_t first,
                                            std::int64_t last, const ReaderOptions& options) {
  auto reader = std::make_unique<StillsReader>(std::move(files), first, last, options);
  if (const auto started = reader->start(path, options.frame_rate_hz); !started) return tl::unexpected(started.error());
  return reader;
}

FrameIndex index_stills(const std::vector<std::string>& files, double rate_hz) {
  FrameIndex index;
  std::string facts;
  for (std::size_t i = 0; i < files.size(); ++i) {
    std::error_code error;
    facts += fmt::format("{}:{};", fs::path(files[i]).filename().string(), fs::file_size(files[i], error));
    index.time_s.push_back(static_cast<double>(i) / (rate_hz > 0 ? rate_hz : kUsualRate));
    index.key_frames.push_back(static_cast<std::int64_t>(i));
  }
  index.fingerprint = sha256_hex(facts);
  return index;
}

}  // namespace provenit::programme
