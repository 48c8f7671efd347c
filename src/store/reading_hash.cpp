#include "reading_hash.h"

#include <bit>

#include "database.h"
#include "provenit/base/text.h"

namespace provenit::store::detail {
namespace {

std::uint64_t to_bits(double value) {
  return std::bit_cast<std::uint64_t>(value);
}

void append_little_endian(std::string& out, std::uint64_t value) {
  for (int shift = 0; shift < 64; shift += 8) out.push_back(static_cast<char>(value >> shift & 0xff));
}

/// Fields one after the other. Each carries its length, so that no two contents give the same bytes.
class Content {
 public:
  Content& text(std::string_view value) {
    append_little_endian(bytes_, value.size());
    bytes_ += value;
    return *this;
  }
  Content& integer(std::int64_t value) { return eight_bytes(static_cast<std::uint64_t>(value)); }
  Content& number(double value) { return eight_bytes(to_bits(value)); }
  [[nodiscard]] std::string hash() const { return sha256_hex(bytes_); }

 private:
  Content& eight_bytes(std::uint64_t value) {
    append_little_endian(bytes_, 8);
    append_little_endian(bytes_, value);
    return *this;
  }
  std::string bytes_;
};

}  // namespace

std::string run_hash(const std::string& procedure, int procedure_version, const std::string& parameters, double started,
                     const std::string& origin) {
  return Content()
      .text("provenit run 1")
      .text(procedure)
      .integer(procedure_version)
      .text(parameters)
      .number(started)
      .text(origin)
      .hash();
}

std::string reading_hash(std::string_view previous, const ReadingRecord& reading, std::string_view signal,
                         std::string_view spectrum, std::string_view context) {
  const auto& m = reading.measurement;
  Content content;
  content.text("provenit reading 1")
      .text(previous)
      .integer(reading.sequence)
      .text(reading.step)
      .integer(reading.repeat)
      .number(reading.taken.unix_s)
      .text(signal)
      .number(m.xyz.X)
      .number(m.xyz.Y)
      .number(m.xyz.Z)
      .number(m.integration.s)
      .integer(m.saturated)
      .integer(m.below_range);
  if (m.spectrum)
    content.number(m.spectrum->start_nm).number(m.spectrum->step_nm).text(spectrum);
  else
    content.text("").text("").text("");
  return content.text(m.raw_reply).text(context).hash();
}

std::string attachment_hash(std::string_view previous, const AttachmentRecord& attachment,
                            std::string_view conditions) {
  return Content()
      .text("provenit attachment 1")
      .text(previous)
      .integer(attachment.loan)
      .integer(attachment.run)
      .text(name_of(attachment.kind))
      .text(attachment.recording)
      .text(attachment.name)
      .text(conditions)
      .number(attachment.added.unix_s)
      .text(attachment.content_hash)
      .hash();
}

std::string little_endian_bytes(const std::vector<double>& values) {
  std::string out;
  out.reserve(8 * values.size());
  for (const double value : values) append_little_endian(out, to_bits(value));
  return out;
}

std::vector<double> doubles_from_little_endian(std::string_view bytes) {
  std::vector<double> out;
  out.reserve(bytes.size() / 8);
  for (std::size_t at = 0; at + 8 <= bytes.size(); at += 8) {
    std::uint64_t value = 0;
    for (std::size_t i = 8; i-- > 0;) value = value << 8 | static_cast<unsigned char>(bytes[at + i]);
    out.push_back(std::bit_cast<double>(value));
  }
  return out;
}

ChainTail chain_tail(SQLite::Database& db, Id run) {
  SQLite::Statement query(db,
                          "SELECT procedure, procedure_version, parameters, started, origin, state, sequence, hash "
                          "FROM runs LEFT JOIN readings ON readings.run = runs.id "
                          "WHERE runs.id = ? ORDER BY sequence DESC LIMIT 1");
  query.bind(1, run);
  if (!query.executeStep()) require_row(db, "runs", "run", run);
  const RowReader row(query);
  ChainTail tail{.state = row.named("state", &run_state_from_name)};
  if (query.getColumn("hash").isNull()) {
    tail.hash = run_hash(row.text("procedure"), row.small_integer("procedure_version"), row.text("parameters"),
                         row.number("started"), row.text("origin"));
  } else {
    tail.next_sequence = row.integer("sequence") + 1;
    tail.hash = row.text("hash");
  }
  return tail;
}

}  // namespace provenit::store::detail
