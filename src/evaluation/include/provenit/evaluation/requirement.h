#pragma once
// Requirement sets: questions with their limits, each with the place it comes from and how well that is known. A set is
// a TOML file; ten lines are enough for one's own:
//
//   id = "my-claims"
//   title = "Data sheet, March"
//   source = "maker's data sheet, 2026-03"
//   mark = "claim"
//
//   [[question]]
//   quantity = "peak_luminance"
//   conditions = { window_percent = 10 }
//   at_least = 1000
//   unit = "cd/m2"
//
// Keys of a question: quantity, conditions, one of at_least | at_most | within = [lower, upper] | none (open question),
// unit, and optionally key, text, clause, source, mark, weight. `source` and `mark` default to the set's.
// `extends = "name"` takes the questions of a built-in set first; a question of the same key replaces one of them.
// Marks of a limit: seen, second_hand, calculated, common_practice, claim. A limit without a mark, or marked
// from_memory or unset, is refused; a question without a limit carries the mark unset.
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/store/records.h"

namespace provenit::evaluation {

struct RequirementSet {
  std::string id;
  std::string title;
  std::string source;                            ///< document and edition
  std::string note;                              ///< for people: what is invented, what has to be opened first
  bool invented = false;                         ///< of the demo: no real document stands behind it
  std::vector<store::QuestionRecord> questions;  ///< `id` and `loan` are 0
};

/// Reads a set from the text of a file; `file` is only used in errors.
/// Errors: invalid_input naming file, line and key: TOML syntax, unknown key, unknown quantity, unit that is not the
/// catalogue's, condition missing or unknown, limits that contradict, limit without mark, limit from memory, key twice.
[[nodiscard]] Result<RequirementSet> parse_requirement_set(std::string_view text, const std::string& file);

/// Names of the sets that come with this build, e.g. "ebu-tech-3320-v4.1", in alphabetical order; templates too.
[[nodiscard]] std::vector<std::string> built_in_requirement_sets();
/// The text of one of them; nullopt if there is none of that name.
[[nodiscard]] std::optional<std::string_view> built_in_requirement_text(std::string_view name);

/// A built-in set by name, or else a file by path, read by `read` (pass provenit::read_file).
/// Errors: not_found naming the sets there are; those of `read` and parse_requirement_set.
[[nodiscard]] Result<RequirementSet> find_requirement_set(
    const std::string& name_or_path, const std::function<Result<std::string>(const std::string&)>& read);

}  // namespace provenit::evaluation
