// The chain of hashes as docs/bench-file.md describes it, computed here from the description alone.
#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>
#include <openssl/sha.h>

#include <bit>
#include <cstdint>
#include <string>

#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

/// This test runs on a machine whose own byte order is that of the description.
static_assert(std::endian::native == std::endian::little);

class Fields {
 public:
  Fields& bytes(const void* data, std::size_t size) {
    const std::uint64_t length = size;
    all_.append(reinterpret_cast<const char*>(&length), 8).append(static_cast<const char*>(data), size);
    return *this;
  }
  Fields& text(const std::string& s) { return bytes(s.data(), s.size()); }
  Fields& column(SQLite::Statement& row, const char* name) {
    const auto c = row.getColumn(name);
    if (c.isInteger()) {
      const std::int64_t v = c.getInt64();
      return bytes(&v, 8);
    }
    if (c.isFloat()) {
      const double v = c.getDouble();
      return bytes(&v, 8);
    }
    return bytes(c.getBlob(), static_cast<std::size_t>(c.getBytes()));
  }
  [[nodiscard]] std::string sha256() const {
    unsigned char digest[SHA256_DIGEST_LENGTH];
    SHA256(reinterpret_cast<const unsigned char*>(all_.data()), all_.size(), digest);
    std::string out;
    for (const unsigned char b : digest) {
      constexpr const char* digits = "0123456789abcdef";
      out += {digits[b >> 4], digits[b & 15]};
    }
    return out;
  }

 private:
  std::string all_;
};

TEST(ReadingHash, IsWhatTheDocumentSays) {
  const Scratch scratch;
  const auto path = scratch.file("a.bench");
  {
    auto s = make_bench(path);
    for (int i = 0; i < 8; ++i) ASSERT_TRUE(s.bench.add_reading(sample_reading(s.run, i)));
    ASSERT_TRUE(s.bench.end_run(s.run, RunState::finished, {1795600100.3}));
  }
  SQLite::Database db(path);
  SQLite::Statement run(db, "SELECT * FROM runs");
  ASSERT_TRUE(run.executeStep());
  auto hash = Fields()
                  .text("provenit run 1")
                  .column(run, "procedure")
                  .column(run, "procedure_version")
                  .column(run, "parameters")
                  .column(run, "started")
                  .column(run, "origin")
                  .sha256();
  SQLite::Statement row(
      db, "SELECT readings.*, content FROM readings JOIN signals ON signals.id = signal ORDER BY sequence");
  int count = 0;
  for (; row.executeStep(); ++count) {
    Fields fields;
    fields.text("provenit reading 1").text(hash);
    for (const char* name :
         {"sequence", "step", "repeat", "taken", "content", "x_cdm2", "y_cdm2", "z_cdm2", "integration_s", "saturated",
          "below_range", "spectrum_start_nm", "spectrum_step_nm", "spectrum", "raw_reply", "context"})
      fields.column(row, name);
    hash = fields.sha256();
    EXPECT_EQ(hash, row.getColumn("hash").getString()) << count;
  }
  EXPECT_EQ(count, 8);
  EXPECT_EQ(run.getColumn("closing_count").getInt(), 8);
  EXPECT_EQ(run.getColumn("closing_hash").getString(), hash);
}

}  // namespace
}  // namespace provenit::store
