#include "provenit/programme/bench.h"

#include <cctype>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <optional>

#include "chunk_io_internal.h"

namespace provenit::programme {

Result<store::Id> add_to_bench(const SurveyFile& survey, store::Bench& bench, Timestamp now) {
  auto file = detail::open_survey_file(survey.path());
  if (!file) return tl::unexpected(file.error());
  if (const auto header = detail::read_header(*file); !header) return tl::unexpected(header.error());
  const store::SurveyRecord record{.title = survey.header().title,
                                   .hash = survey.hash(),
                                   .frames = survey.header().measured,
                                   .header = to_json(survey.header()),
                                   .added = now};
  return bench.add_survey(record, [&]() -> Result<std::optional<store::SurveyChunk>> {
    const auto chunk = detail::read_chunk(*file);
    if (!chunk) return tl::unexpected(chunk.error());
    if (!*chunk) return std::optional<store::SurveyChunk>{};
    const auto& frames = (*chunk)->frames;
    return store::SurveyChunk{.frames = static_cast<std::int64_t>(frames.size()),
                              .content = detail::pack_chunk(frames)};
  });
}

std::string working_survey_path(const std::string& bench, const std::string& source) {
  std::string name = std::filesystem::path(source).filename().string();
  for (char& c : name)
    if (std::isalnum(static_cast<unsigned char>(c)) == 0 && c != '.' && c != '-') c = '_';
  return bench + "." + name + ".survey";
}

Result<store::Id> move_into_bench(const std::string& path, store::Bench& bench, Timestamp now) {
  const auto survey = SurveyFile::open(path);
  if (!survey) return tl::unexpected(survey.error());
  auto id = add_to_bench(*survey, bench, now);
  std::error_code ignored;
  if (id || id.error().code == ErrorCode::conflict) std::filesystem::remove(path, ignored);
  return id;
}

Result<BenchSurvey> survey_in_bench(const store::Bench& bench, store::Id id) {
  auto record = id != 0 ? bench.survey(id) : bench.surveys().and_then([&](auto all) -> Result<store::SurveyRecord> {
    if (!all.empty()) return all.back();
    return fail(ErrorCode::not_found, "the bench has no survey yet",
                "Make one: provenit survey FILM --bench " + bench.path(), {.file = bench.path()});
  });
  if (!record) return tl::unexpected(record.error());
  auto header = survey_header_from_json(record->header);
  if (!header) return tl::unexpected(header.error());
  return BenchSurvey{std::move(*record), std::move(*header)};
}

Result<void> for_each_chunk(const store::Bench& bench, store::Id survey,
                            const std::function<Result<void>(std::span<const FrameRecord>)>& take) {
  return bench.for_each_survey_chunk(survey, [&](const store::SurveyChunk& chunk) -> Result<void> {
    auto frames = detail::unpack_chunk(chunk.content);
    if (!frames) {
      frames.error().where.file = bench.path();
      return tl::unexpected(frames.error());
    }
    return take(*frames);
  });
}

Result<std::vector<FrameRecord>> frames_in_bench(const store::Bench& bench, store::Id survey) {
  std::vector<FrameRecord> all;
  const auto read = for_each_chunk(bench, survey, [&](std::span<const FrameRecord> frames) -> Result<void> {
    all.insert(all.end(), frames.begin(), frames.end());
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  return all;
}

Result<FrameRecord> frame_in_bench(const store::Bench& bench, store::Id survey, std::size_t position) {
  const auto placed = bench.survey_chunk_at(survey, static_cast<std::int64_t>(position));
  if (!placed) return tl::unexpected(placed.error());
  const auto frames = detail::unpack_chunk(placed->chunk.content);
  if (!frames) return tl::unexpected(frames.error());
  const auto at = position - static_cast<std::size_t>(placed->first);
  if (at < frames->size()) return (*frames)[at];
  return fail(ErrorCode::invalid_input, "a chunk has fewer frames than the bench says", "Survey the title again.",
              {.file = bench.path()});
}

}  // namespace provenit::programme
