#include <fmt/format.h>

#include <map>

#include "bench_impl.h"

namespace provenit::store {
namespace {

using detail::json_text;
using detail::RowReader;

/// Id of a row that is there once, added if it is new. `columns` are the ones that make it unique.
Id find_or_add(SQLite::Database& db, const std::string& sql, const std::string& table, const detail::Fields& fields) {
  SQLite::Statement query(db, sql);
  int index = 0;
  for (const auto& field : fields) field.value.bind(query, ++index, field.column);
  return query.executeStep() ? Id{query.getColumn(0).getInt64()} : detail::insert_row(db, table, fields);
}

Id add_finding(SQLite::Database& db, Id set, const FindingRecord& f) {
  const Id method = find_or_add(db, "SELECT id FROM methods WHERE name = ? AND version = ?", "methods",
                                {{"name", f.method}, {"version", f.method_version}});
  const Id id = detail::insert_row(db, "findings",
                                   {{"finding_set", set},
                                    {"quantity", f.quantity},
                                    {"conditions", json_text(f.conditions, "conditions")},
                                    {"value", f.value},
                                    {"unit", f.unit},
                                    {"standard_uncertainty", f.standard_uncertainty},
                                    {"lower95", f.lower95},
                                    {"upper95", f.upper95},
                                    {"interval_method", f.interval_method},
                                    {"dominant", f.dominant},
                                    {"method", method},
                                    {"parts", json_text(f.parts, "parts")},
                                    {"series", json_text(f.series, "series")},
                                    {"computed", f.computed.unix_s},
                                    {"software", f.software}});
  int position = 0;
  for (const auto& document : f.sources) {
    const Id source = find_or_add(db, "SELECT id FROM sources WHERE document = ?", "sources", {{"document", document}});
    detail::insert_row(db, "finding_sources", {{"finding", id}, {"position", position++}, {"source", source}});
  }
  SQLite::Statement link(db, "INSERT INTO finding_readings (finding, position, reading) VALUES (?, ?, ?)");
  position = 0;
  for (const Id reading : f.readings) {
    detail::require_row(db, "readings", "reading", reading);
    link.reset();
    link.bind(1, id);
    link.bind(2, position++);
    link.bind(3, reading);
    link.exec();
  }
  position = 0;
  for (const Id attachment : f.attachments) {
    detail::require_row(db, "attachments", "attachment", attachment);
    detail::insert_row(db, "finding_attachments",
                       {{"finding", id}, {"position", position++}, {"attachment", attachment}});
  }
  return id;
}

/// A row of select_findings without its series; links are in tables of their own.
FindingRecord figure_from(const RowReader& row) {
  return {.id = row.integer("id"),
          .loan = row.integer("loan"),
          .quantity = row.text("quantity"),
          .conditions = row.json("conditions"),
          .value = row.number("value"),
          .unit = row.text("unit"),
          .standard_uncertainty = row.number("standard_uncertainty"),
          .lower95 = row.number("lower95"),
          .upper95 = row.number("upper95"),
          .interval_method = row.text("interval_method"),
          .dominant = row.text("dominant"),
          .method = row.text("method_name"),
          .method_version = row.small_integer("method_version"),
          .parts = row.json("parts"),
          .computed = {row.number("computed")},
          .software = row.text("software")};
}

FindingRecord finding_from(const RowReader& row) {
  auto finding = figure_from(row);
  finding.series = row.json("series");
  return finding;
}

VerdictRecord verdict_from(const RowReader& row) {
  return {.id = row.integer("id"),
          .question = row.integer("question"),
          .finding = row.integer("finding"),
          .verdict = row.named("verdict", &verdict_from_name),
          .margin = row.maybe_number("margin"),
          .decides = row.text("decides"),
          .text = row.text("text")};
}

constexpr const char* select_findings =
    "SELECT findings.*, loan, methods.name AS method_name, methods.version AS method_version "
    "FROM findings JOIN finding_sets ON finding_sets.id = finding_set "
    "JOIN methods ON methods.id = method WHERE finding_set = ? ORDER BY findings.id";

/// 0 if there is none.
Id latest_set(SQLite::Database& db, Id loan) {
  SQLite::Statement query(db, "SELECT coalesce(max(id), 0) FROM finding_sets WHERE loan = ?");
  query.bind(1, loan);
  query.executeStep();
  return query.getColumn(0).getInt64();
}

/// Runs `take(finding, row)` for each link of the set's findings, in order of position.
template <class F>
void for_each_link(SQLite::Database& db, const std::string& sql, Id set, F take) {
  SQLite::Statement query(db, sql);
  query.bind(1, set);
  while (query.executeStep()) take(query.getColumn(0).getInt64(), query.getColumn(1));
}

}  // namespace

Result<void> Bench::put_findings(Id loan, std::span<const FindingRecord> findings,
                                 std::span<const VerdictRecord> verdicts) {
  return impl_->write([&] {
    auto& db = impl_->db;
    detail::require_row(db, "loans", "loan", loan);
    const Id set = detail::insert_row(db, "finding_sets", {{"loan", loan}});
    std::vector<Id> ids;
    for (const auto& finding : findings) ids.push_back(add_finding(db, set, finding));
    for (const auto& v : verdicts) {
      if (v.finding < 0 || static_cast<std::size_t>(v.finding) >= ids.size())
        detail::refuse(ErrorCode::invalid_input,
                       fmt::format("a verdict names finding number {} of {}", v.finding, ids.size()),
                       "Count the findings of the same call from 0.");
      detail::require_row(db, "questions", "question", v.question);
      detail::insert_row(db, "verdicts",
                         {{"question", v.question},
                          {"finding", ids[static_cast<std::size_t>(v.finding)]},
                          {"verdict", name_of(v.verdict)},
                          {"margin", v.margin},
                          {"decides", v.decides},
                          {"text", v.text}});
    }
  });
}

Result<std::vector<FindingRecord>> Bench::latest_findings(Id loan) const {
  return impl_->read([&] {
    auto& db = impl_->db;
    const Id set = latest_set(db, loan);
    SQLite::Statement query(db, select_findings);
    query.bind(1, set);
    auto findings = detail::read_rows(query, finding_from);
    std::map<Id, FindingRecord*> by_id;
    for (auto& finding : findings) by_id[finding.id] = &finding;
    for_each_link(db,
                  "SELECT finding, reading FROM findings JOIN finding_readings ON finding = findings.id "
                  "WHERE finding_set = ? ORDER BY finding, position",
                  set, [&](Id finding, const SQLite::Column& reading) {
                    by_id.at(finding)->readings.push_back(reading.getInt64());
                  });
    for_each_link(db,
                  "SELECT finding, attachment FROM findings JOIN finding_attachments ON finding = findings.id "
                  "WHERE finding_set = ? ORDER BY finding, position",
                  set, [&](Id finding, const SQLite::Column& attachment) {
                    by_id.at(finding)->attachments.push_back(attachment.getInt64());
                  });
    for_each_link(db,
                  "SELECT finding, document FROM findings JOIN finding_sources ON finding = findings.id "
                  "JOIN sources ON sources.id = source WHERE finding_set = ? ORDER BY finding, position",
                  set, [&](Id finding, const SQLite::Column& document) {
                    by_id.at(finding)->sources.push_back(document.getString());
                  });
    return findings;
  });
}

Result<std::vector<FindingRecord>> Bench::latest_figures(Id loan) const {
  return impl_->read([&] {
    SQLite::Statement query(impl_->db, select_findings);
    query.bind(1, latest_set(impl_->db, loan));
    return detail::read_rows(query, figure_from);
  });
}

Result<std::vector<VerdictRecord>> Bench::latest_verdicts(Id loan) const {
  return impl_->read([&] {
    SQLite::Statement query(impl_->db,
                            "SELECT verdicts.* FROM findings JOIN verdicts ON finding = findings.id "
                            "WHERE finding_set = ? ORDER BY verdicts.id");
    query.bind(1, latest_set(impl_->db, loan));
    return detail::read_rows(query, verdict_from);
  });
}

}  // namespace provenit::store
