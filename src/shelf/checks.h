#pragma once
// What a bench must stand up to before it is taken in.
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/shelf/shelf.h"
#include "provenit/store/bench.h"

namespace provenit::shelf {

/// The error, of this file instead of its copy.
[[nodiscard]] Error in_file(Error error, const std::string& file);

/// The finding of the same quantity under the same conditions; nullptr if there is none.
[[nodiscard]] const store::FindingRecord* finding_like(const std::vector<store::FindingRecord>& findings,
                                                       const store::FindingRecord& like);
/// Value and interval agree to a millionth: what another machine's library functions may make of the same readings.
[[nodiscard]] bool same_numbers(const store::FindingRecord& a, const store::FindingRecord& b);

/// Readings, files and, where `software` computed them, findings; counts and what was not checked go into `entry`.
/// Errors: invalid_input naming what does not hold.
[[nodiscard]] Result<void> check_bench(const store::Bench& bench, const std::string& software, Entry& entry);

/// `now` is a later state of `before`: it has every reading of it. Errors: conflict if it has not, or nothing is new.
[[nodiscard]] Result<void> check_continues(const store::Bench& before, const store::Bench& now);

}  // namespace provenit::shelf
