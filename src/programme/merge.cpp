// Parts of one title joined to one survey.
#include <fmt/format.h>

#include <algorithm>

#include "chunk_io_internal.h"
#include "provenit/programme/survey.h"

namespace provenit::programme {
namespace {

struct Part {
  std::string path;
  SurveyFile file;
};

Result<void> check_same_title(const Part& a, const Part& b) {
  const SurveyHeader &x = a.file.header(), &y = b.file.header();
  const char* what = x.fingerprint != y.fingerprint              ? "of another title"
                     : x.source.format != y.source.format        ? "read with another interpretation"
                     : x.version != y.version                    ? "of another version of the method"
                     : x.software != y.software                  ? "written by another version of the program"
                     : x.simd_level != y.simd_level              ? "measured at another SIMD level"
                     : x.live || y.live || x.fingerprint.empty() ? "of a live source, which has no parts"
                                                                 : nullptr;
  if (what == nullptr) return {};
  return fail(ErrorCode::conflict, fmt::format("is {} than {}", what, a.path),
              "Survey all parts of one file with the same options and program (--simd sets the level).",
              {.file = b.path});
}

Result<void> check_in_line(const Part& a, const Part& b) {
  const SurveyHeader &x = a.file.header(), &y = b.file.header();
  if (x.last == y.first) return {};
  if (x.last > y.first)
    return fail(ErrorCode::conflict, fmt::format("overlaps {} at frame {}", a.path, y.first), "Give each part once.",
                {.file = b.path, .frame = y.first});
  return fail(ErrorCode::conflict, fmt::format("frames {} to {} are missing before it", x.last, y.first - 1),
              "Survey the missing part, and merge again.", {.file = b.path, .frame = x.last});
}

SurveyHeader joined(const std::vector<Part>& parts) {
  SurveyHeader h = parts.front().file.header();
  h.last = parts.back().file.header().last;
  for (std::size_t i = 1; i < parts.size(); ++i) {
    const SurveyHeader& p = parts[i].file.header();
    h.measured += p.measured;
    h.complete = h.complete && p.complete;
    h.troubles.insert(h.troubles.end(), p.troubles.begin(), p.troubles.end());
  }
  return h;
}

}  // namespace

Result<SurveyHeader> merge_surveys(std::span<const std::string> paths, const std::string& out) {
  std::vector<Part> parts;
  for (const std::string& path : paths) {
    auto file = SurveyFile::open(path);
    if (!file) return tl::unexpected(file.error());
    parts.push_back({path, std::move(*file)});
  }
  if (parts.empty()) return fail(ErrorCode::invalid_input, "no part to merge", "Give the survey files of the parts.");
  std::sort(parts.begin(), parts.end(),
            [](const Part& a, const Part& b) { return a.file.header().first < b.file.header().first; });
  for (std::size_t i = 1; i < parts.size(); ++i) {
    const auto fits =
        check_same_title(parts[i - 1], parts[i]).and_then([&] { return check_in_line(parts[i - 1], parts[i]); });
    if (!fits) return tl::unexpected(fits.error());
  }
  const SurveyHeader header = joined(parts);
  std::optional<FrameRecord> before;
  const auto written = detail::write_survey(out, header, [&](const auto& take) -> Result<void> {
    for (const Part& part : parts) {
      auto read = part.file.for_each_chunk([&](std::span<const FrameRecord> frames) -> Result<void> {
        std::vector<FrameRecord> chunk(frames.begin(), frames.end());
        for (FrameRecord& f : chunk) {
          if (before) f.figures.temporal_difference = temporal_difference(*before, f);
          before = f;
        }
        return take(chunk);
      });
      if (!read) return read;
    }
    return {};
  });
  if (!written) return tl::unexpected(written.error());
  return header;
}

}  // namespace provenit::programme
