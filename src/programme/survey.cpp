#include "provenit/programme/survey.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "meter_pipeline_internal.h"
#include "provenit/programme/frame_meter.h"

namespace provenit::programme {
namespace {

using Span = FrameSpan;

// Part k of n begins at the first key frame that is not before (k - 1) / n of the title.
std::int64_t start_of_part(const FrameIndex& index, std::int64_t part, std::int64_t parts) {
  const auto frames = static_cast<std::int64_t>(index.time_s.size());
  const auto key = std::lower_bound(index.key_frames.begin(), index.key_frames.end(), (part - 1) * frames / parts);
  return key == index.key_frames.end() ? frames : *key;
}

Result<Span> span_of_part(const FrameIndex& index, int part, int parts) {
  if (parts < 1 || part < 1 || part > parts)
    return fail(ErrorCode::out_of_range, fmt::format("part {} of {}", part, parts), "Give k/n with 1 <= k <= n.",
                {.field = "--part"});
  const Span span{start_of_part(index, part, parts), part == parts ? static_cast<std::int64_t>(index.time_s.size())
                                                                   : start_of_part(index, part + 1, parts)};
  if (span.first == span.last)
    return fail(
        ErrorCode::unsupported,
        fmt::format("part {} of {} holds no key frame: the title has {} of them", part, parts, index.key_frames.size()),
        "Cut it into fewer parts.", {.field = "--part"});
  return span;
}

Result<Span> span_of(const SurveyOptions& options, const FrameIndex& index) {
  if (options.index == nullptr) return span_of_part(index, options.part, options.parts);
  const bool at_key = std::ranges::binary_search(index.key_frames, options.first);
  if (at_key && options.first < options.last && options.last <= static_cast<std::int64_t>(index.time_s.size()))
    return Span{options.first, options.last};
  return fail(ErrorCode::out_of_range,
              fmt::format("frames {} to {} are no part of this title", options.first, options.last - 1),
              "Begin at a key frame of its index and end after it.", {.frame = options.first});
}

// What one run adds to a survey, and what it goes on from.
class Run {
 public:
  Run(SurveyWriter& writer, const SurveyOptions& options, std::int64_t total)
      : writer_(writer), options_(options), total_(total) {}

  /// Takes what a run before has left, up to the last key frame: frames after it are measured again.
  Result<std::int64_t> resume(const FrameIndex& index, std::int64_t first);
  Result<bool> keep(FrameRecord& record);

  std::vector<FrameLight> light;
  bool damaged = false, stopped = false;

 private:
  void note(const FrameRecord& record) {
    light.push_back(light_of(record.figures));
    damaged = damaged || record.figures.damaged;
    before_ = record;
  }
  SurveyWriter& writer_;
  const SurveyOptions& options_;
  std::int64_t total_;
  std::optional<FrameRecord> before_;
};

Result<std::int64_t> Run::resume(const FrameIndex& index, std::int64_t first) {
  std::int64_t next = first;
  const auto newest = writer_.for_each_done([&](std::span<const FrameRecord> frames) -> Result<void> {
    next = frames.back().figures.index + 1;
    return {};
  });
  if (!newest) return tl::unexpected(newest.error());
  const auto key = std::prev(std::upper_bound(index.key_frames.begin(), index.key_frames.end(), next));
  const std::int64_t from = std::max(first, *key);
  std::int64_t kept = 0;
  const auto taken = writer_.for_each_done([&](std::span<const FrameRecord> frames) -> Result<void> {
    for (const FrameRecord& f : frames)
      if (f.figures.index < from) note(f), ++kept;
    return {};
  });
  if (!taken) return tl::unexpected(taken.error());
  if (const auto cut = writer_.keep_first(kept); !cut) return tl::unexpected(cut.error());
  return from;
}

Result<bool> Run::keep(FrameRecord& record) {
  if (before_) record.figures.temporal_difference = temporal_difference(*before_, record);
  if (const auto written = writer_.append(record); !written) return tl::unexpected(written.error());
  note(record);
  if (options_.progress)
    stopped =
        !options_.progress({.done = writer_.frames_done(), .total = total_, .latest = &record.figures, .live = {}});
  return !stopped;
}

SurveyHeader header_for(const std::string& path, const SourceInfo& info, const FrameMeter& meter,
                        const FrameIndex& index, Span span, const SurveyOptions& options) {
  SurveyHeader h;
  h.title = std::filesystem::path(path).filename().string();
  h.source = info;
  h.fingerprint = index.fingerprint;
  h.simd_level = meter.simd_level();
  h.software = options.software;
  h.title_frames = static_cast<std::int64_t>(index.time_s.size());
  h.first = span.first;
  h.last = span.last;
  return h;
}

void close_header(SurveyHeader& header, const Run& run, const std::vector<std::string>& troubles) {
  header.troubles = troubles;
  header.measured = static_cast<std::int64_t>(run.light.size());
  const std::int64_t missing = header.last - header.first - header.measured;
  if (missing > 0)
    header.troubles.push_back(fmt::format("{} of {} frames could not be had", missing, header.last - header.first));
  header.complete = missing == 0 && !run.damaged && header.troubles.empty();
}

// A title that cannot be read on is a partial survey; a disk that fails is not the title's doing.
bool breaks_off(const Error& error) {
  return error.code == ErrorCode::invalid_input;
}

}  // namespace

std::vector<FrameSpan> cut_on_key_frames(const FrameIndex& index, int parts) {
  std::vector<FrameSpan> spans;
  const auto frames = static_cast<std::int64_t>(index.time_s.size());
  for (std::int64_t first = 0, part = 1; first < frames; ++part) {
    const auto last = part >= parts ? frames : start_of_part(index, part + 1, parts);
    if (last > first) spans.push_back({first, last});
    first = last;
  }
  return spans;
}

Result<SurveyOutcome> survey_title(const std::string& path, const std::string& out, const SurveyOptions& options) {
  auto reader = open_reader(path, options.reading);
  if (!reader) return tl::unexpected(reader.error());
  auto first_picture = (*reader)->next();  // static metadata may come with it
  if (!first_picture) return tl::unexpected(first_picture.error());
  if (!*first_picture)
    return fail(ErrorCode::invalid_input, "no frame of it can be decoded", "Check that the file is whole.",
                {.file = path});
  const SourceInfo info = (*reader)->info();
  Result<FrameIndex> made;
  if (options.index == nullptr) made = index_frames(path);
  if (!made) return tl::unexpected(made.error());
  const FrameIndex* index = options.index != nullptr ? options.index : &*made;
  const auto span = span_of(options, *index);
  if (!span) return tl::unexpected(span.error());
  const auto meter = FrameMeter::make(info.format, options.simd_level);
  if (!meter) return tl::unexpected(meter.error());

  SurveyOutcome outcome;
  outcome.header = header_for(path, info, *meter, *index, *span, options);
  auto writer = SurveyWriter::begin(out, outcome.header);
  if (!writer) return tl::unexpected(writer.error());
  Run run(*writer, options, span->last - span->first);
  const auto from = run.resume(*index, span->first);
  if (!from) return tl::unexpected(from.error());
  const bool whole = *from == 0 && span->last == outcome.header.title_frames;
  if (!whole) {
    *first_picture = std::nullopt;
    reader = open_part(path, *index, *from, span->last, options.reading);
    if (!reader) return tl::unexpected(reader.error());
  }
  const detail::Flow flow{.next = [&]() -> Result<std::optional<Picture>> {
                            if (*first_picture) return std::exchange(*first_picture, std::nullopt);
                            return (*reader)->next();
                          },
                          .keep = [&](FrameRecord& record) { return run.keep(record); }};
  const auto ran = detail::run_pipeline(*meter, options.reading.threads, flow);
  auto troubles = (*reader)->troubles();
  if (!ran || run.stopped) {
    if (const auto flushed = writer->flush(); !flushed) return tl::unexpected(flushed.error());
  }
  if (!ran) {
    if (!breaks_off(ran.error())) return tl::unexpected(ran.error());
    troubles.push_back(ran.error().text());
  }
  outcome.stopped = run.stopped;
  close_header(outcome.header, run, troubles);
  outcome.light = std::move(run.light);
  if (outcome.stopped) return outcome;
  if (const auto finished = writer->finish(outcome.header); !finished) return tl::unexpected(finished.error());
  return outcome;
}

}  // namespace provenit::programme
