#include "provenit/store/records.h"

#include <cstddef>

namespace provenit::store {
namespace {

template <class E>
struct Name {
  E value;
  const char* name;
};

constexpr Name<SourceMark> source_marks[] = {{SourceMark::seen, "seen"},
                                             {SourceMark::second_hand, "second_hand"},
                                             {SourceMark::calculated, "calculated"},
                                             {SourceMark::common_practice, "common_practice"},
                                             {SourceMark::claim, "claim"},
                                             {SourceMark::from_memory, "from_memory"},
                                             {SourceMark::unset, "unset"}};
constexpr Name<Comparison> comparisons[] = {{Comparison::at_least, "at_least"},
                                            {Comparison::at_most, "at_most"},
                                            {Comparison::within, "within"},
                                            {Comparison::equal_set, "equal_set"}};
constexpr Name<RunState> run_states[] = {
    {RunState::open, "open"}, {RunState::finished, "finished"}, {RunState::aborted, "aborted"}};
constexpr Name<Verdict> verdicts[] = {
    {Verdict::meets, "meets"}, {Verdict::fails, "fails"}, {Verdict::undecided, "undecided"}};

template <class E, std::size_t n>
const char* name_in(const Name<E> (&table)[n], E value) {
  for (const auto& row : table)
    if (row.value == value) return row.name;
  return "";  // unreachable: every enumerator has its row
}

template <class E, std::size_t n>
std::optional<E> from_name(const Name<E> (&table)[n], std::string_view name) {
  for (const auto& row : table)
    if (row.name == name) return row.value;
  return std::nullopt;
}

}  // namespace

const char* name_of(SourceMark mark) {
  return name_in(source_marks, mark);
}
const char* name_of(Comparison comparison) {
  return name_in(comparisons, comparison);
}
const char* name_of(RunState state) {
  return name_in(run_states, state);
}
const char* name_of(Verdict verdict) {
  return name_in(verdicts, verdict);
}

std::optional<SourceMark> source_mark_from_name(std::string_view name) {
  return from_name(source_marks, name);
}
std::optional<Comparison> comparison_from_name(std::string_view name) {
  return from_name(comparisons, name);
}
std::optional<RunState> run_state_from_name(std::string_view name) {
  return from_name(run_states, name);
}
std::optional<Verdict> verdict_from_name(std::string_view name) {
  return from_name(verdicts, name);
}

}  // namespace provenit::store
