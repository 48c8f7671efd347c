#pragma once
// Records with every field set to something of its own, and comparison to the bit.
#include <cstdint>

#include "provenit/store/bench.h"

namespace provenit::store {

[[nodiscard]] DisplayRecord sample_display();
[[nodiscard]] InstrumentRecord sample_instrument();
[[nodiscard]] RoomRecord sample_room();
/// Puts display, instrument and room first.
[[nodiscard]] LoanRecord sample_loan(Bench& bench);
[[nodiscard]] QuestionRecord sample_question(Id loan);
[[nodiscard]] RunRecord sample_run(Id loan);
/// Different for each sequence number: XYZ with odd bits, some negative, some with a spectrum. data/version_2.sqlite
/// holds the first six: do not change them.
[[nodiscard]] ReadingRecord sample_reading(Id run, std::int64_t sequence);
[[nodiscard]] FindingRecord sample_finding();

/// A bench with one loan and one open run, from which tests start.
struct SampleBench {
  Bench bench;
  Id loan = 0, run = 0;
};
[[nodiscard]] SampleBench make_bench(const std::string& path);

// Every field but the id; doubles by their bits, so that -0.0 is not 0.0.
void expect_same(const DisplayRecord& a, const DisplayRecord& b);
void expect_same(const InstrumentRecord& a, const InstrumentRecord& b);
void expect_same(const RoomRecord& a, const RoomRecord& b);
void expect_same(const LoanRecord& a, const LoanRecord& b);
void expect_same(const QuestionRecord& a, const QuestionRecord& b);
void expect_same(const RunRecord& a, const RunRecord& b);
void expect_same(const ReadingRecord& a, const ReadingRecord& b);
void expect_same(const FindingRecord& a, const FindingRecord& b);

}  // namespace provenit::store
