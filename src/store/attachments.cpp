// Files that a loan keeps as they are. What is in them is the business of whoever reads them; here they are bytes.
#include <fmt/format.h>

#include "bench_impl.h"
#include "provenit/base/text.h"
#include "reading_hash.h"

namespace provenit::store {
namespace {

using detail::RowReader;

constexpr const char* kDamaged = "The bench was changed outside this program. Restore it from a backup.";

constexpr const char* kSelect =
    "SELECT id, loan, coalesce(run, 0) AS run, kind, recording, name, conditions, added, content_hash, hash, "
    "length(content) AS bytes FROM attachments ";

AttachmentRecord attachment_from(const RowReader& row) {
  return {.id = row.integer("id"),
          .loan = row.integer("loan"),
          .run = row.integer("run"),
          .kind = row.named("kind", &attachment_kind_from_name),
          .recording = row.text("recording"),
          .name = row.text("name"),
          .conditions = row.json("conditions"),
          .added = {row.number("added")},
          .content_hash = row.text("content_hash"),
          .bytes = row.integer("bytes")};
}

/// Hash of the loan's last attachment; empty if it has none.
std::string last_hash(SQLite::Database& db, Id loan) {
  SQLite::Statement query(db, "SELECT hash FROM attachments WHERE loan = ? ORDER BY id DESC LIMIT 1");
  query.bind(1, loan);
  return query.executeStep() ? query.getColumn(0).getString() : std::string{};
}

void refuse_bad_content(const AttachmentRecord& record, std::string_view content) {
  if (content.empty()) detail::refuse(ErrorCode::invalid_input, "'" + record.name + "' is empty", "Record it again.");
  if (static_cast<std::int64_t>(content.size()) > Bench::kMostBytes)
    detail::refuse(ErrorCode::out_of_range,
                   fmt::format("'{}' has {} bytes; a bench keeps files of at most {}", record.name, content.size(),
                               Bench::kMostBytes),
                   "Record less: a lower rate, a smaller part of the picture, or only the frames that are needed.");
}

Id insert(SQLite::Database& db, const AttachmentRecord& r, const std::string& conditions, std::string_view content) {
  SQLite::Statement add(db,
                        "INSERT INTO attachments (loan, run, kind, recording, name, conditions, added, content_hash, "
                        "hash, content) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
  add.bind(1, r.loan);
  if (r.run != 0) add.bind(2, r.run);
  add.bind(3, name_of(r.kind));
  add.bind(4, r.recording);
  add.bind(5, r.name);
  add.bind(6, conditions);
  add.bind(7, r.added.unix_s);
  add.bind(8, r.content_hash);
  add.bind(9, detail::attachment_hash(last_hash(db, r.loan), r, conditions));
  add.bindNoCopy(10, content.data(), static_cast<int>(content.size()));
  add.exec();
  return db.getLastInsertRowid();
}

}  // namespace

Result<Id> Bench::add_attachment(const AttachmentRecord& record, std::string_view content) {
  return impl_->write([&] {
    auto& db = impl_->db;
    refuse_bad_content(record, content);
    detail::require_row(db, "loans", "loan", record.loan);
    if (record.run != 0) detail::require_row(db, "runs", "run", record.run);
    const auto conditions = detail::json_text(record.conditions, "conditions");
    auto stored = record;
    stored.content_hash = sha256_hex(content);
    SQLite::Statement same(
        db, "SELECT id FROM attachments WHERE loan = ? AND recording = ? AND content_hash = ? AND conditions = ?");
    same.bind(1, record.loan);
    same.bind(2, record.recording);
    same.bind(3, stored.content_hash);
    same.bind(4, conditions);
    if (same.executeStep())
      detail::refuse(ErrorCode::conflict,
                     fmt::format("the loan has this file already, as attachment {}", same.getColumn(0).getInt64()),
                     "Nothing to do.");
    return insert(db, stored, conditions, content);
  });
}

Result<std::vector<AttachmentRecord>> Bench::attachments(Id loan) const {
  return impl_->guarded([&] {
    SQLite::Statement query(impl_->db, std::string(kSelect) + "WHERE loan = ? ORDER BY id");
    query.bind(1, loan);
    return detail::read_rows(query, attachment_from);
  });
}

Result<std::string> Bench::attachment_content(Id attachment) const {
  return impl_->read([&] {
    detail::require_row(impl_->db, "attachments", "attachment", attachment);
    SQLite::Statement query(impl_->db, "SELECT content, content_hash FROM attachments WHERE id = ?");
    query.bind(1, attachment);
    query.executeStep();
    auto content = query.getColumn(0).getString();
    if (sha256_hex(content) != query.getColumn(1).getString())
      detail::refuse(ErrorCode::invalid_input,
                     fmt::format("the file of attachment {} is not what was stored", attachment), kDamaged);
    return content;
  });
}

Result<void> Bench::verify_attachments() const {
  return impl_->read([&] {
    SQLite::Statement query(impl_->db,
                            std::string("SELECT *, length(content) AS bytes FROM attachments ") + "ORDER BY loan, id");
    const RowReader row(query);
    Id loan = 0;
    std::string previous;
    while (query.executeStep()) {
      auto attachment = attachment_from(row);
      if (attachment.loan != loan) previous.clear();
      loan = attachment.loan;
      const bool same = sha256_hex(query.getColumn("content").getString()) == attachment.content_hash;
      if (!same || detail::attachment_hash(previous, attachment, row.text("conditions")) != row.text("hash"))
        detail::refuse(ErrorCode::invalid_input,
                       fmt::format("attachment {} is not what was stored, or one before it is missing", attachment.id),
                       kDamaged);
      previous = row.text("hash");
    }
  });
}

}  // namespace provenit::store
