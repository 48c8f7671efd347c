#include "database.h"

#include <fmt/format.h>
#include <sqlite3.h>

#include <cmath>

namespace provenit::store::detail {
namespace {

Error constraint_error(const SQLite::Exception& e) {
  const std::string text = e.what();
  switch (e.getExtendedErrorCode()) {
    case SQLITE_CONSTRAINT_TRIGGER:
      return {ErrorCode::conflict, text, "What has been read or found stays; add a new run or a new set of findings."};
    case SQLITE_CONSTRAINT_UNIQUE:
    case SQLITE_CONSTRAINT_PRIMARYKEY:
      return {ErrorCode::conflict, "such a record is there already: " + text, "Change that one, or give another key."};
    case SQLITE_CONSTRAINT_FOREIGNKEY:
      return {ErrorCode::not_found, "a record this one refers to is not in the bench", "Store that one first."};
    default:
      return {ErrorCode::invalid_input, "a value cannot be stored: " + text, {}};
  }
}

Error database_error(const SQLite::Exception& e) {
  const std::string text = e.what();
  switch (e.getErrorCode()) {
    case SQLITE_CONSTRAINT:
      return constraint_error(e);
    case SQLITE_FULL:
      return {ErrorCode::io, "the disk is full",
              "Free some space and go on: everything stored before this is safe, this record is not in the bench."};
    case SQLITE_READONLY:
    case SQLITE_PERM:
      return {ErrorCode::io, "the bench or its folder is write-protected (" + text + ")",
              "Change the permissions, or work on a copy in a folder of your own."};
    case SQLITE_CANTOPEN:
      return {ErrorCode::io, "cannot be opened (" + text + ")",
              "Check the name and that you may read and write the file and its folder."};
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return {ErrorCode::timeout, "another program has been writing to this bench for too long",
              "Let it finish or close it, then try again."};
    case SQLITE_CORRUPT:
      return {ErrorCode::invalid_input, "the bench is damaged (" + text + ")",
              "It has not been changed. Use a copy of it, or restore it from a backup."};
    case SQLITE_NOTADB:
      return {ErrorCode::invalid_input, "is no bench (" + text + ")", "Name a bench file."};
    case SQLITE_TOOBIG:
      return {ErrorCode::out_of_range, "a record is larger than the bench can hold", "Split it."};
    default:
      return {ErrorCode::io, text,
              "Check the disk; everything stored before this is safe, this record is not in the bench."};
  }
}

bool is_finite_throughout(const nlohmann::json& json) {
  if (json.is_number_float()) return std::isfinite(json.get<double>());
  if (json.is_structured())
    for (const auto& element : json)
      if (!is_finite_throughout(element)) return false;
  return true;
}

}  // namespace

void refuse(Error error) {
  throw Refusal{std::move(error)};
}

void refuse(ErrorCode code, std::string message, std::string advice, Where where) {
  refuse({code, std::move(message), std::move(advice), std::move(where)});
}

Error current_error(const std::string& path) {
  const auto in_bench = [&path](Error error) {
    error.where.file = path;
    return error;
  };
  try {
    throw;
  } catch (const Refusal& refusal) {
    return in_bench(refusal.error);
  } catch (const SQLite::Exception& e) {
    return in_bench(database_error(e));
  } catch (const nlohmann::json::exception& e) {
    return in_bench({ErrorCode::invalid_input, std::string("a JSON column cannot be read: ") + e.what(),
                     "The bench is damaged; use a copy of it."});
  } catch (const std::exception& e) {
    return in_bench({ErrorCode::io, e.what(), {}});
  }
}

std::string json_text(const nlohmann::json& json, const char* field) {
  if (!is_finite_throughout(json))
    refuse(ErrorCode::invalid_input, "holds a number that is not finite, which JSON cannot keep", {}, {.field = field});
  try {
    return json.dump();
  } catch (const nlohmann::json::type_error&) {
    refuse(ErrorCode::invalid_input, "holds text that is not UTF-8", "Give its text as UTF-8.", {.field = field});
  }
}

void Value::bind(SQLite::Statement& statement, int index, std::string_view column) const {
  if (const auto* integer = std::get_if<std::int64_t>(&value_)) {
    statement.bind(index, *integer);
  } else if (const auto* number = std::get_if<double>(&value_)) {
    if (std::isnan(*number))
      refuse(ErrorCode::invalid_input, "is not a number (NaN)", "Leave it out, or give its value.",
             {.field = std::string(column)});
    statement.bind(index, *number);
  } else if (const auto* text = std::get_if<std::string>(&value_)) {
    statement.bind(index, *text);
  } else {
    statement.bind(index);
  }
}

Id insert_row(SQLite::Database& db, std::string_view table, const Fields& fields) {
  std::string columns, marks;
  for (const auto& field : fields) {
    columns += fmt::format("{}\"{}\"", columns.empty() ? "" : ", ", field.column);
    marks += marks.empty() ? "?" : ", ?";
  }
  SQLite::Statement insert(db, fmt::format("INSERT INTO {} ({}) VALUES ({})", table, columns, marks));
  int index = 0;
  for (const auto& field : fields) field.value.bind(insert, ++index, field.column);
  insert.exec();
  return db.getLastInsertRowid();
}

Id put_row(SQLite::Database& db, std::string_view table, std::string_view what, Id id, const Fields& fields) {
  if (id == 0) return insert_row(db, table, fields);
  require_row(db, table, what, id);
  std::string assignments;
  for (const auto& field : fields)
    assignments += fmt::format("{}\"{}\" = ?", assignments.empty() ? "" : ", ", field.column);
  SQLite::Statement update(db, fmt::format("UPDATE {} SET {} WHERE id = ?", table, assignments));
  int index = 0;
  for (const auto& field : fields) field.value.bind(update, ++index, field.column);
  update.bind(++index, id);
  update.exec();
  return id;
}

void require_row(SQLite::Database& db, std::string_view table, std::string_view what, Id id) {
  SQLite::Statement query(db, fmt::format("SELECT 1 FROM {} WHERE id = ?", table));
  query.bind(1, id);
  if (!query.executeStep())
    refuse(ErrorCode::not_found, fmt::format("there is no {} {} in this bench", what, id), "Name one that is there.");
}

std::optional<double> RowReader::maybe_number(const char* column) const {
  const auto value = statement_.getColumn(column);
  if (value.isNull()) return std::nullopt;
  return value.getDouble();
}

nlohmann::json RowReader::json(const char* column) const {
  return nlohmann::json::parse(text(column));
}

}  // namespace provenit::store::detail
