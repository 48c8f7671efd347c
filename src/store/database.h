#pragma once
// What the parts of the store share: the connection, errors, rows by column name.
#include <SQLiteCpp/SQLiteCpp.h>
#include <SQLiteCpp/Savepoint.h>

#include <concepts>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/store/records.h"

namespace provenit::store::detail {

/// Ends an operation inside this library; guarded() makes it the Result. It never leaves a public function.
struct Refusal {
  Error error;
};
[[noreturn]] void refuse(Error error);
[[noreturn]] void refuse(ErrorCode code, std::string message, std::string advice = {}, Where where = {});

/// The exception being handled as an Error that names the bench. Call it in a catch block only.
[[nodiscard]] Error current_error(const std::string& path);

template <class F>
auto guarded(const std::string& path, F work) -> Result<std::invoke_result_t<F>> {
  try {
    if constexpr (std::is_void_v<std::invoke_result_t<F>>) {
      work();
      return {};
    } else {
      return work();
    }
  } catch (...) {
    return tl::unexpected(current_error(path));
  }
}

/// Does `work` and then `keep`, which an exception skips.
template <class F, class Keep>
auto kept(F work, Keep keep) {
  if constexpr (std::is_void_v<std::invoke_result_t<F>>) {
    work();
    keep();
  } else {
    auto result = work();
    keep();
    return result;
  }
}

/// Takes the write lock at once, so that what `work` reads is still true when it writes; all of it is stored or
/// nothing.
template <class F>
auto in_transaction(SQLite::Database& db, F work) {
  SQLite::Transaction transaction(db, SQLite::TransactionBehavior::IMMEDIATE);
  return kept(work, [&] { transaction.commit(); });
}

/// The same inside a transaction: all of `work` becomes part of it or nothing.
template <class F>
auto in_savepoint(SQLite::Database& db, F work) {
  SQLite::Savepoint savepoint(db, "part");
  return kept(work, [&] { savepoint.release(); });
}

/// Canonical text: keys sorted, no blanks. Refuses what JSON cannot hold: NaN, infinity, text that is not UTF-8.
[[nodiscard]] std::string json_text(const nlohmann::json& json, const char* field);

/// One value on its way into a column.
class Value {
 public:
  Value(std::string v) : value_(std::move(v)) {}
  Value(const char* v) : value_(std::string(v)) {}
  Value(double v) : value_(v) {}
  template <std::integral T>
  Value(T v) : value_(static_cast<std::int64_t>(v)) {}
  Value(const std::optional<double>& v) {
    if (v) value_ = *v;
  }
  /// `column` is named if the value cannot be stored (NaN, which SQLite would turn into NULL).
  void bind(SQLite::Statement& statement, int index, std::string_view column) const;

 private:
  std::variant<std::monostate, std::int64_t, double, std::string> value_;
};

struct Field {
  const char* column;
  Value value;
};
using Fields = std::vector<Field>;

/// INSERT; returns the new id.
Id insert_row(SQLite::Database& db, std::string_view table, const Fields& fields);
/// id 0: INSERT. Another id: UPDATE of that row; not_found if there is none.
Id put_row(SQLite::Database& db, std::string_view table, std::string_view what, Id id, const Fields& fields);
/// Refuses with not_found, "there is no display 7", unless the row is there.
void require_row(SQLite::Database& db, std::string_view table, std::string_view what, Id id);

/// Reads columns of the current row by name.
class RowReader {
 public:
  explicit RowReader(SQLite::Statement& statement) : statement_(statement) {}
  [[nodiscard]] std::string text(const char* column) const { return statement_.getColumn(column).getString(); }
  [[nodiscard]] std::int64_t integer(const char* column) const { return statement_.getColumn(column).getInt64(); }
  [[nodiscard]] int small_integer(const char* column) const { return statement_.getColumn(column).getInt(); }
  [[nodiscard]] bool flag(const char* column) const { return integer(column) != 0; }
  [[nodiscard]] double number(const char* column) const { return statement_.getColumn(column).getDouble(); }
  [[nodiscard]] std::optional<double> maybe_number(const char* column) const;
  [[nodiscard]] nlohmann::json json(const char* column) const;
  /// An enumerator by its name; refuses what the table of names does not know.
  template <class E>
  [[nodiscard]] E named(const char* column, std::optional<E> (*from_name)(std::string_view)) const {
    const auto name = text(column);
    if (const auto found = from_name(name)) return *found;
    refuse(ErrorCode::invalid_input, "'" + name + "' is no known " + column, "The bench is damaged; use a copy.");
  }

 private:
  SQLite::Statement& statement_;
};

/// Every row of a query as records.
template <class F>
auto read_rows(SQLite::Statement& query, F from_row) {
  std::vector<std::invoke_result_t<F, const RowReader&>> rows;
  const RowReader row(query);
  while (query.executeStep()) rows.push_back(from_row(row));
  return rows;
}

}  // namespace provenit::store::detail
