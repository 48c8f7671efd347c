// Tables that were solved for a loan, as files. What is in them is the business of `correct`; here they are bytes.
#include <fmt/format.h>

#include "bench_impl.h"
#include "provenit/base/text.h"

namespace provenit::store {
namespace {

CorrectionRecord correction_from(const detail::RowReader& row) {
  return {.id = row.integer("id"),
          .loan = row.integer("loan"),
          .run = row.integer("run"),
          .name = row.text("name"),
          .goal = row.json("goal"),
          .added = {row.number("added")},
          .content_hash = row.text("content_hash"),
          .bytes = row.integer("bytes")};
}

}  // namespace

Result<Id> Bench::add_correction(const CorrectionRecord& record, std::string_view content) {
  return impl_->write([&] {
    auto& db = impl_->db;
    if (content.empty() || static_cast<std::int64_t>(content.size()) > kMostBytes)
      detail::refuse(ErrorCode::out_of_range, fmt::format("'{}' has {} bytes; a bench keeps corrections of 1 to {}",
                                                          record.name, content.size(), kMostBytes));
    detail::require_row(db, "loans", "loan", record.loan);
    detail::require_row(db, "runs", "run", record.run);
    SQLite::Statement add(
        db,
        "INSERT INTO corrections (loan, run, name, goal, added, content_hash, content) VALUES (?, ?, ?, ?, ?, ?, ?)");
    add.bind(1, record.loan);
    add.bind(2, record.run);
    add.bind(3, record.name);
    add.bind(4, detail::json_text(record.goal, "goal"));
    add.bind(5, record.added.unix_s);
    add.bind(6, sha256_hex(content));
    add.bindNoCopy(7, content.data(), static_cast<int>(content.size()));
    add.exec();
    return db.getLastInsertRowid();
  });
}

Result<std::vector<CorrectionRecord>> Bench::corrections(Id loan) const {
  return impl_->guarded([&] {
    SQLite::Statement query(impl_->db,
                            "SELECT id, loan, run, name, goal, added, content_hash, length(content) AS bytes FROM "
                            "corrections WHERE loan = ? ORDER BY id");
    query.bind(1, loan);
    return detail::read_rows(query, correction_from);
  });
}

Result<std::string> Bench::correction_content(Id correction) const {
  return impl_->read([&] {
    detail::require_row(impl_->db, "corrections", "correction", correction);
    SQLite::Statement query(impl_->db, "SELECT content, content_hash FROM corrections WHERE id = ?");
    query.bind(1, correction);
    query.executeStep();
    auto content = query.getColumn(0).getString();
    if (sha256_hex(content) != query.getColumn(1).getString())
      detail::refuse(ErrorCode::invalid_input,
                     fmt::format("the file of correction {} is not what was stored", correction),
                     "The bench was changed outside this program. Restore it from a backup.");
    return content;
  });
}

}  // namespace provenit::store
