#include "provenit/store/records.h"

#include "provenit/base/names.h"

namespace provenit::store {
namespace {

constexpr Named<SourceMark> source_marks[] = {{SourceMark::seen, "seen"},
                                              {SourceMark::second_hand, "second_hand"},
                                              {SourceMark::calculated, "calculated"},
                                              {SourceMark::common_practice, "common_practice"},
                                              {SourceMark::claim, "claim"},
                                              {SourceMark::from_memory, "from_memory"},
                                              {SourceMark::unset, "unset"}};
constexpr Named<Comparison> comparisons[] = {{Comparison::at_least, "at_least"},
                                             {Comparison::at_most, "at_most"},
                                             {Comparison::within, "within"},
                                             {Comparison::equal_set, "equal_set"}};
constexpr Named<RunState> run_states[] = {
    {RunState::open, "open"}, {RunState::finished, "finished"}, {RunState::aborted, "aborted"}};
constexpr Named<Verdict> verdicts[] = {
    {Verdict::meets, "meets"}, {Verdict::fails, "fails"}, {Verdict::undecided, "undecided"}};
constexpr Named<AttachmentKind> attachment_kinds[] = {
    {AttachmentKind::trace, "trace"}, {AttachmentKind::still, "still"}, {AttachmentKind::clip, "clip"}};
constexpr Named<RecordKind> record_kinds[] = {{RecordKind::display, "display"},
                                              {RecordKind::instrument, "instrument"},
                                              {RecordKind::room, "room"},
                                              {RecordKind::loan, "loan"},
                                              {RecordKind::question, "question"}};

}  // namespace

const char* name_of(SourceMark mark) {
  return row_of(source_marks, mark).name;
}
const char* name_of(Comparison comparison) {
  return row_of(comparisons, comparison).name;
}
const char* name_of(RunState state) {
  return row_of(run_states, state).name;
}
const char* name_of(Verdict verdict) {
  return row_of(verdicts, verdict).name;
}
const char* name_of(AttachmentKind kind) {
  return row_of(attachment_kinds, kind).name;
}
const char* name_of(RecordKind kind) {
  return row_of(record_kinds, kind).name;
}

std::optional<SourceMark> source_mark_from_name(std::string_view name) {
  return value_of(source_marks, name);
}
std::optional<Comparison> comparison_from_name(std::string_view name) {
  return value_of(comparisons, name);
}
std::optional<RunState> run_state_from_name(std::string_view name) {
  return value_of(run_states, name);
}
std::optional<Verdict> verdict_from_name(std::string_view name) {
  return value_of(verdicts, name);
}
std::optional<AttachmentKind> attachment_kind_from_name(std::string_view name) {
  return value_of(attachment_kinds, name);
}

}  // namespace provenit::store
