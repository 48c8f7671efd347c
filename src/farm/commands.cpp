// The plain form: commands that depend on nothing but files, one line each, for any queue.
#include <fmt/format.h>

#include <filesystem>

#include "folder.h"
#include "provenit/farm/job.h"

namespace provenit::farm {

std::string part_path(const Job& job, std::size_t title, std::size_t part) {
  return detail::file_in(job, detail::kSurveys, detail::task_name(title, part) + ".survey");
}
std::string survey_path(const Job& job, std::size_t title) {
  return detail::file_in(job, detail::kSurveys, detail::task_name(title) + ".survey");
}
std::string forecast_path(const Job& job, std::size_t title) {
  return detail::file_in(job, detail::kForecasts, detail::task_name(title) + ".json");
}
std::string file_name(const Title& title) {
  return std::filesystem::path(title.path).filename().string();
}

std::string shell_word(const std::string& text) {
  std::string word = "'";
  for (const char c : text) {
    if (c == '\'')
      word += "'\\''";
    else
      word += c;
  }
  return word + "'";
}

std::string part_command(const Job& job, std::size_t title, std::size_t part) {
  return fmt::format("{} farm part {} {} {}", shell_word(job.program), shell_word(job.folder), title + 1, part + 1);
}
std::string merge_command(const Job& job, std::size_t title) {
  return fmt::format("{} farm merge {} {}", shell_word(job.program), shell_word(job.folder), title + 1);
}

}  // namespace provenit::farm
