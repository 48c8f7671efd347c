// Surveys of programmes. What a chunk holds is the programme library's business; here it is bytes.
#include <fmt/format.h>

#include "bench_impl.h"

namespace provenit::store {
namespace {

using detail::json_text;
using detail::RowReader;

SurveyRecord survey_from(const RowReader& row) {
  return {.id = row.integer("id"),
          .title = row.text("title"),
          .hash = row.text("hash"),
          .frames = row.integer("frames"),
          .header = row.json("header"),
          .added = {row.number("added")}};
}

void insert_chunk(SQLite::Database& db, Id survey, std::int64_t position, const SurveyChunk& chunk) {
  SQLite::Statement insert(db, "INSERT INTO survey_chunks (survey, position, frames, content) VALUES (?, ?, ?, ?)");
  insert.bind(1, survey);
  insert.bind(2, position);
  insert.bind(3, chunk.frames);
  insert.bindNoCopy(4, chunk.content.data(), static_cast<int>(chunk.content.size()));
  insert.exec();
}

}  // namespace

Result<Id> Bench::add_survey(const SurveyRecord& record,
                             const std::function<Result<std::optional<SurveyChunk>>()>& next_chunk) {
  return impl_->write([&]() -> Id {
    SQLite::Statement same(impl_->db, "SELECT id FROM surveys WHERE hash = ?");
    same.bind(1, record.hash);
    if (same.executeStep())
      detail::refuse(ErrorCode::conflict,
                     "the bench has this survey already, as number " + std::to_string(same.getColumn(0).getInt64()),
                     "Nothing to do.");
    const Id id = detail::insert_row(impl_->db, "surveys",
                                     {{"title", record.title},
                                      {"hash", record.hash},
                                      {"frames", record.frames},
                                      {"header", json_text(record.header, "header")},
                                      {"added", record.added.unix_s}});
    std::int64_t frames = 0;
    for (std::int64_t position = 0;; ++position) {
      const auto chunk = next_chunk();
      if (!chunk) detail::refuse(chunk.error());
      if (!*chunk) break;
      insert_chunk(impl_->db, id, position, **chunk);
      frames += (*chunk)->frames;
    }
    if (frames != record.frames)
      detail::refuse(ErrorCode::invalid_input, "the survey claims " + std::to_string(record.frames) +
                                                   " frames but has " + std::to_string(frames));
    return id;
  });
}

Result<std::vector<SurveyRecord>> Bench::surveys() const {
  return impl_->guarded([&] {
    SQLite::Statement query(impl_->db, "SELECT * FROM surveys ORDER BY id");
    return detail::read_rows(query, survey_from);
  });
}

Result<SurveyRecord> Bench::survey(Id id) const {
  return impl_->guarded([&]() -> SurveyRecord {
    SQLite::Statement query(impl_->db, "SELECT * FROM surveys WHERE id = ?");
    query.bind(1, id);
    if (!query.executeStep())
      detail::refuse(ErrorCode::not_found, "there is no survey " + std::to_string(id),
                     "`provenit titles` lists the surveys of a bench.");
    return survey_from(RowReader(query));
  });
}

Result<void> Bench::for_each_survey_chunk(Id survey,
                                          const std::function<Result<void>(const SurveyChunk&)>& take) const {
  return impl_->guarded([&] {
    SQLite::Statement query(impl_->db, "SELECT frames, content FROM survey_chunks WHERE survey = ? ORDER BY position");
    query.bind(1, survey);
    while (query.executeStep()) {
      const auto taken = take({.frames = query.getColumn(0).getInt64(), .content = query.getColumn(1).getString()});
      if (!taken) detail::refuse(taken.error());
    }
  });
}

Result<Bench::PlacedChunk> Bench::survey_chunk_at(Id survey, std::int64_t position) const {
  return impl_->read([&]() -> PlacedChunk {
    SQLite::Statement query(impl_->db,
                            "SELECT position, frames FROM survey_chunks INDEXED BY survey_chunks_places "
                            "WHERE survey = ? ORDER BY position");
    query.bind(1, survey);
    std::int64_t first = 0;
    while (query.executeStep()) {
      const std::int64_t frames = query.getColumn(1).getInt64();
      if (position >= first && position < first + frames) {
        SQLite::Statement chunk(impl_->db, "SELECT content FROM survey_chunks WHERE survey = ? AND position = ?");
        chunk.bind(1, survey);
        chunk.bind(2, query.getColumn(0).getInt64());
        chunk.executeStep();
        return {.first = first, .chunk = {.frames = frames, .content = chunk.getColumn(0).getString()}};
      }
      first += frames;
    }
    detail::require_row(impl_->db, "surveys", "survey", survey);
    detail::refuse(ErrorCode::out_of_range,
                   fmt::format("survey {} has no frame at position {}: it has {}", survey, position, first),
                   "Give a position within the survey.");
  });
}

}  // namespace provenit::store
