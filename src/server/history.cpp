#include "history.h"

#include <fmt/format.h>

#include <algorithm>
#include <ranges>

#include "provenit/base/text.h"

namespace provenit::server {
namespace {

using report::Json;
using store::Bench;
using store::Id;

constexpr std::size_t kMostEdits = 200;

Id& id_of(Record& record) {
  return std::visit([](auto& r) -> Id& { return r.id; }, record);
}
Id id_of(const Record& record) {
  return std::visit([](const auto& r) { return r.id; }, record);
}

store::RecordKind kind_of(const Record& record) {
  return static_cast<store::RecordKind>(record.index());  // the variant is in that order
}

Result<Id> put_one(Bench& bench, const Record& record) {
  return std::visit([&](const auto& r) { return bench.put(r); }, record);
}

Result<Record> read(const Bench& bench, const Record& like) {
  const auto wrap = [](auto found) -> Result<Record> {
    if (!found) return tl::unexpected(found.error());
    return Record(std::move(*found));
  };
  const Id id = id_of(like);
  if (std::holds_alternative<store::DisplayRecord>(like)) return wrap(bench.display(id));
  if (std::holds_alternative<store::InstrumentRecord>(like)) return wrap(bench.instrument(id));
  if (std::holds_alternative<store::RoomRecord>(like)) return wrap(bench.room(id));
  if (std::holds_alternative<store::LoanRecord>(like)) return wrap(bench.loan(id));
  const auto questions = bench.questions(std::get<store::QuestionRecord>(like).loan);
  if (!questions) return tl::unexpected(questions.error());
  const auto found = std::ranges::find(*questions, id, &store::QuestionRecord::id);
  if (found == questions->end())
    return fail(ErrorCode::not_found, fmt::format("there is no question {} in this loan", id));
  return Record(*found);
}

struct Text {
  std::string operator()(const store::DisplayRecord& r) const { return report::display_json(r).dump(); }
  std::string operator()(const store::InstrumentRecord& r) const {
    const auto& t = r.capabilities.integration;
    return report::instrument_json(r).dump() + fmt::format("{} {} {} {} {} {}", t.overhead.s, t.minimum.s, t.maximum.s,
                                                           t.reference.s, t.reference_cdm2, t.exponent);
  }
  std::string operator()(const store::RoomRecord& r) const { return report::room_json(r).dump(); }
  std::string operator()(const store::LoanRecord& r) const {
    return report::loan_json(r).dump() + fmt::format("{} {} {}", r.display, r.instrument, r.room);
  }
  std::string operator()(const store::QuestionRecord& r) const {
    return report::set_question_json(r).dump() + std::to_string(r.loan);
  }
};

/// As it stands in the bench, field by field.
std::string fingerprint(const Record& record) {
  return std::visit(Text(), record);
}

/// The records are as expected, or `conflict`.
template <class Changes, class F>
Result<void> require(const Bench& bench, const Changes& changes, F expected) {
  for (const auto& change : changes) {
    const std::optional<Record>& wanted = expected(change);
    if (!wanted) continue;
    const auto now = read(bench, *wanted);
    if (now && fingerprint(*now) == fingerprint(*wanted)) continue;
    return fail(ErrorCode::conflict,
                fmt::format("{} {} was changed elsewhere since", name_of(kind_of(*wanted)), id_of(*wanted)),
                "Look at it as it is now, and change that.");
  }
  return {};
}

}  // namespace

Result<std::vector<Id>> History::put(Bench& bench, const std::string& text, std::vector<Record> records,
                                     Timestamp now) {
  const std::lock_guard lock(mutex_);
  std::vector<Change> changes;
  std::vector<Id> ids;
  const auto all = bench.together([&]() -> Result<void> {
    for (auto& record : records) {
      std::optional<Record> before;
      if (id_of(record) != 0) {
        auto found = read(bench, record);
        if (!found) return tl::unexpected(found.error());
        before = std::move(*found);
      }
      const auto id = put_one(bench, record);
      if (!id) return tl::unexpected(id.error());
      id_of(record) = *id;
      ids.push_back(*id);
      changes.push_back({std::move(record), std::move(before)});
    }
    return {};
  });
  if (!all) return tl::unexpected(all.error());
  edits_.resize(done_);
  edits_.push_back({++numbered_, now, text, std::move(changes)});
  if (edits_.size() > kMostEdits) edits_.erase(edits_.begin());
  done_ = edits_.size();
  return ids;
}

Result<void> History::undo(Bench& bench) {
  const std::lock_guard lock(mutex_);
  if (done_ == 0)
    return fail(ErrorCode::not_found, "nothing was described here that could be taken back",
                "What was described before the server began is changed by describing it again.");
  const auto& changes = edits_[done_ - 1].changes;
  const auto as_left = [](const Change& c) { return std::optional<Record>(c.record); };
  // One that is in use stays, and so does the edit.
  auto back = bench.together([&]() -> Result<void> {
    if (auto same = require(bench, changes, as_left); !same) return same;
    for (const auto& change : changes | std::views::reverse) {
      if (!change.before) {
        if (auto gone = bench.remove(kind_of(change.record), id_of(change.record)); !gone) return gone;
      } else if (const auto put = put_one(bench, *change.before); !put) {
        return tl::unexpected(put.error());
      }
    }
    return {};
  });
  if (back) --done_;
  return back;
}

Result<void> History::redo(Bench& bench) {
  const std::lock_guard lock(mutex_);
  if (done_ == edits_.size()) return fail(ErrorCode::not_found, "nothing was taken back that could be done again");
  auto& changes = edits_[done_].changes;
  const auto as_before = [](const Change& c) { return c.before; };
  std::vector<Id> ids;
  auto again = bench.together([&]() -> Result<void> {
    if (auto same = require(bench, changes, as_before); !same) return same;
    for (const auto& change : changes) {
      auto record = change.record;
      if (!change.before) id_of(record) = 0;
      const auto id = put_one(bench, record);
      if (!id) return tl::unexpected(id.error());
      ids.push_back(*id);
    }
    return {};
  });
  if (!again) return again;
  for (std::size_t i = 0; i < changes.size(); ++i) {
    if (ids[i] != id_of(changes[i].record)) edits_.resize(done_ + 1);  // later edits name the old id
    id_of(changes[i].record) = ids[i];
  }
  ++done_;
  return {};
}

Json History::json() const {
  const std::lock_guard lock(mutex_);
  Json edits = Json::array();
  for (std::size_t i = 0; i < edits_.size(); ++i)
    edits.push_back({{"number", edits_[i].number},
                     {"at", iso8601(edits_[i].at)},
                     {"text", edits_[i].text},
                     {"undone", i >= done_}});
  return {{"edits", std::move(edits)},
          {"undo", done_ > 0 ? Json(edits_[done_ - 1].text) : Json(nullptr)},
          {"redo", done_ < edits_.size() ? Json(edits_[done_].text) : Json(nullptr)}};
}

}  // namespace provenit::server
