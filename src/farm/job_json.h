#pragma once
// Writing of a job; reading is open and index_of.
#include "provenit/farm/job.h"

namespace provenit::farm {

/// Every name in it is UTF-8. Errors: io.
[[nodiscard]] Result<void> write_job(const Job& job);
/// Gives the index file's hash. Errors: io.
[[nodiscard]] Result<std::string> write_index(const Job& job, std::size_t title, const programme::FrameIndex& index);

}  // namespace provenit::farm
