// What a loan is about: display, instrument, room, loan, question. Each record: to columns, from columns.
#include <sqlite3.h>

#include "bench_impl.h"

namespace provenit::store {
namespace {

using detail::Fields;
using detail::json_text;
using detail::RowReader;

Fields fields_of(const DisplayRecord& r) {
  if (const auto ok = signal::validate(r.encoding); !ok) detail::refuse(ok.error());
  return {{"name", r.name},
          {"technology", r.technology},
          {"encoding", signal::to_json(r.encoding).dump()},
          {"details", json_text(r.details, "details")}};
}
DisplayRecord display_from(const RowReader& row) {
  const auto encoding = signal::encoding_from_json(row.json("encoding"));
  if (!encoding) detail::refuse(encoding.error());
  return {.id = row.integer("id"),
          .name = row.text("name"),
          .technology = row.text("technology"),
          .encoding = *encoding,
          .details = row.json("details")};
}

Fields fields_of(const InstrumentRecord& r) {
  const auto& c = r.certificate;
  const auto& can = r.capabilities;
  const auto& model = can.integration;
  return {{"name", r.name},
          {"kind", r.kind},
          {"luminance_expanded_relative", c.luminance_expanded_relative},
          {"x_expanded", c.x_expanded},
          {"y_expanded", c.y_expanded},
          {"coverage_factor", c.coverage_factor},
          {"zero_offset_standard_cdm2", c.zero_offset_standard_cdm2},
          {"certificate_number", c.number},
          {"certificate_issuer", c.issuer},
          {"certificate_date", c.date},
          {"spectral", can.spectral},
          {"minimum_cdm2", can.minimum_cdm2},
          {"maximum_cdm2", can.maximum_cdm2},
          {"integration_overhead_s", model.overhead.s},
          {"integration_minimum_s", model.minimum.s},
          {"integration_maximum_s", model.maximum.s},
          {"integration_reference_s", model.reference.s},
          {"integration_reference_cdm2", model.reference_cdm2},
          {"integration_exponent", model.exponent},
          {"repeatability_relative", can.repeatability_relative},
          {"noise_floor_cdm2", can.noise_floor_cdm2},
          {"shot_noise", can.shot_noise},
          {"details", json_text(r.details, "details")}};
}
InstrumentRecord instrument_from(const RowReader& row) {
  InstrumentRecord r{.id = row.integer("id"), .name = row.text("name"), .kind = row.text("kind")};
  r.certificate = {.luminance_expanded_relative = row.number("luminance_expanded_relative"),
                   .x_expanded = row.number("x_expanded"),
                   .y_expanded = row.number("y_expanded"),
                   .coverage_factor = row.number("coverage_factor"),
                   .zero_offset_standard_cdm2 = row.number("zero_offset_standard_cdm2"),
                   .number = row.text("certificate_number"),
                   .issuer = row.text("certificate_issuer"),
                   .date = row.text("certificate_date")};
  r.capabilities = {.spectral = row.flag("spectral"),
                    .minimum_cdm2 = row.number("minimum_cdm2"),
                    .maximum_cdm2 = row.number("maximum_cdm2"),
                    .integration = {.overhead = {row.number("integration_overhead_s")},
                                    .minimum = {row.number("integration_minimum_s")},
                                    .maximum = {row.number("integration_maximum_s")},
                                    .reference = {row.number("integration_reference_s")},
                                    .reference_cdm2 = row.number("integration_reference_cdm2"),
                                    .exponent = row.number("integration_exponent")},
                    .repeatability_relative = row.number("repeatability_relative"),
                    .noise_floor_cdm2 = row.number("noise_floor_cdm2"),
                    .shot_noise = row.number("shot_noise")};
  r.details = row.json("details");
  return r;
}

Fields fields_of(const RoomRecord& r) {
  return {{"name", r.name},
          {"surround_cdm2", r.surround_cdm2},
          {"screen_illuminance_lx", r.screen_illuminance_lx},
          {"details", json_text(r.details, "details")}};
}
RoomRecord room_from(const RowReader& row) {
  return {.id = row.integer("id"),
          .name = row.text("name"),
          .surround_cdm2 = row.maybe_number("surround_cdm2"),
          .screen_illuminance_lx = row.maybe_number("screen_illuminance_lx"),
          .details = row.json("details")};
}

Fields fields_of(const LoanRecord& r) {
  return {{"display", r.display},  {"instrument", r.instrument}, {"room", r.room}, {"starts", r.starts.unix_s},
          {"ends", r.ends.unix_s}, {"purpose", r.purpose},       {"seed", r.seed}};
}
LoanRecord loan_from(const RowReader& row) {
  return {.id = row.integer("id"),
          .display = row.integer("display"),
          .instrument = row.integer("instrument"),
          .room = row.integer("room"),
          .starts = {row.number("starts")},
          .ends = {row.number("ends")},
          .purpose = row.text("purpose"),
          .seed = static_cast<std::uint64_t>(row.integer("seed"))};
}

Fields fields_of(const QuestionRecord& r) {
  return {{"loan", r.loan},
          {"key", r.key},
          {"set", r.set},
          {"text", r.text},
          {"quantity", r.quantity},
          {"conditions", json_text(r.conditions, "conditions")},
          {"comparison", name_of(r.comparison)},
          {"lower", r.lower},
          {"upper", r.upper},
          {"unit", r.unit},
          {"clause", r.clause},
          {"source", r.source},
          {"mark", name_of(r.mark)},
          {"weight", r.weight}};
}
QuestionRecord question_from(const RowReader& row) {
  return {.id = row.integer("id"),
          .loan = row.integer("loan"),
          .key = row.text("key"),
          .set = row.text("set"),
          .text = row.text("text"),
          .quantity = row.text("quantity"),
          .conditions = row.json("conditions"),
          .comparison = row.named("comparison", &comparison_from_name),
          .lower = row.maybe_number("lower"),
          .upper = row.maybe_number("upper"),
          .unit = row.text("unit"),
          .clause = row.text("clause"),
          .source = row.text("source"),
          .mark = row.named("mark", &source_mark_from_name),
          .weight = row.number("weight")};
}

template <class F>
auto all_rows(SQLite::Database& db, const std::string& table, F from_row) {
  SQLite::Statement query(db, "SELECT * FROM " + table + " ORDER BY id");
  return detail::read_rows(query, from_row);
}

template <class F>
auto one_row(SQLite::Database& db, const std::string& table, const char* what, Id id, F from_row) {
  detail::require_row(db, table, what, id);
  SQLite::Statement query(db, "SELECT * FROM " + table + " WHERE id = ?");
  query.bind(1, id);
  query.executeStep();
  return from_row(RowReader(query));
}

}  // namespace

Result<Id> Bench::put(const DisplayRecord& record) {
  return impl_->write([&] { return detail::put_row(impl_->db, "displays", "display", record.id, fields_of(record)); });
}
Result<Id> Bench::put(const InstrumentRecord& record) {
  return impl_->write(
      [&] { return detail::put_row(impl_->db, "instruments", "instrument", record.id, fields_of(record)); });
}
Result<Id> Bench::put(const RoomRecord& record) {
  return impl_->write([&] { return detail::put_row(impl_->db, "rooms", "room", record.id, fields_of(record)); });
}
Result<Id> Bench::put(const LoanRecord& record) {
  return impl_->write([&] {
    detail::require_row(impl_->db, "displays", "display", record.display);
    detail::require_row(impl_->db, "instruments", "instrument", record.instrument);
    detail::require_row(impl_->db, "rooms", "room", record.room);
    return detail::put_row(impl_->db, "loans", "loan", record.id, fields_of(record));
  });
}
Result<Id> Bench::put(const QuestionRecord& record) {
  return impl_->write([&] {
    detail::require_row(impl_->db, "loans", "loan", record.loan);
    return detail::put_row(impl_->db, "questions", "question", record.id, fields_of(record));
  });
}

Result<void> Bench::remove(RecordKind kind, Id id) {
  return impl_->write([&] {
    const std::string what = name_of(kind);
    detail::require_row(impl_->db, what + 's', what, id);
    SQLite::Statement remove(impl_->db, "DELETE FROM " + what + "s WHERE id = ?");
    remove.bind(1, id);
    try {
      remove.exec();
    } catch (const SQLite::Exception& e) {
      if (e.getErrorCode() != SQLITE_CONSTRAINT) throw;
      detail::refuse(ErrorCode::conflict, what + ' ' + std::to_string(id) + " is in use",
                     "Change it instead, or take back first what refers to it.");
    }
  });
}

Result<std::vector<DisplayRecord>> Bench::displays() const {
  return impl_->guarded([&] { return all_rows(impl_->db, "displays", display_from); });
}
Result<std::vector<InstrumentRecord>> Bench::instruments() const {
  return impl_->guarded([&] { return all_rows(impl_->db, "instruments", instrument_from); });
}
Result<std::vector<RoomRecord>> Bench::rooms() const {
  return impl_->guarded([&] { return all_rows(impl_->db, "rooms", room_from); });
}
Result<std::vector<LoanRecord>> Bench::loans() const {
  return impl_->guarded([&] { return all_rows(impl_->db, "loans", loan_from); });
}

Result<DisplayRecord> Bench::display(Id id) const {
  return impl_->read([&] { return one_row(impl_->db, "displays", "display", id, display_from); });
}
Result<InstrumentRecord> Bench::instrument(Id id) const {
  return impl_->read([&] { return one_row(impl_->db, "instruments", "instrument", id, instrument_from); });
}
Result<RoomRecord> Bench::room(Id id) const {
  return impl_->read([&] { return one_row(impl_->db, "rooms", "room", id, room_from); });
}
Result<LoanRecord> Bench::loan(Id id) const {
  return impl_->read([&] { return one_row(impl_->db, "loans", "loan", id, loan_from); });
}

Result<std::vector<QuestionRecord>> Bench::questions(Id loan) const {
  return impl_->guarded([&] {
    SQLite::Statement query(impl_->db, "SELECT * FROM questions WHERE loan = ? ORDER BY id");
    query.bind(1, loan);
    return detail::read_rows(query, question_from);
  });
}

}  // namespace provenit::store
