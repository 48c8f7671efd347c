#pragma once
// The chain of hashes that shows whether readings were changed outside this program; docs/bench-file.md has the layout.
#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <string>
#include <string_view>

#include "provenit/store/records.h"

namespace provenit::store::detail {

/// Hash that stands before the first reading of a run: of what the run is and was begun with. `parameters` is the JSON
/// text as stored.
[[nodiscard]] std::string run_hash(const std::string& procedure, int procedure_version, const std::string& parameters,
                                   double started, const std::string& origin);

/// Hash of a reading: of the hash before it and of its content, to the bit. `signal` and `context` are the JSON texts
/// as stored, `spectrum` the bytes as stored.
[[nodiscard]] std::string reading_hash(std::string_view previous, const ReadingRecord& reading, std::string_view signal,
                                       std::string_view spectrum, std::string_view context);

/// Hash of an attachment: of the hash of the one before it in its loan (empty for the first), of what it is and of its
/// content's hash. `conditions` is the JSON text as stored.
[[nodiscard]] std::string attachment_hash(std::string_view previous, const AttachmentRecord& attachment,
                                          std::string_view conditions);

/// 8-byte IEEE 754 doubles, least significant byte first, on every machine.
[[nodiscard]] std::string little_endian_bytes(const std::vector<double>& values);
/// The inverse; the size must be a multiple of 8.
[[nodiscard]] std::vector<double> doubles_from_little_endian(std::string_view bytes);

/// Where the next reading of a run goes. Refuses with not_found if there is no such run.
struct ChainTail {
  RunState state = RunState::open;
  std::int64_t next_sequence = 0;
  std::string hash;  ///< of the last reading; run_hash if there is none
};
[[nodiscard]] ChainTail chain_tail(SQLite::Database& db, Id run);

}  // namespace provenit::store::detail
