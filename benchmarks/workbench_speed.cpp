// How soon the workbench's page answers on a large bench, and what it weighs: web/tests/speed.mjs in Chromium, over the
// server that is shipped.
#include <fmt/format.h>
#include <unistd.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <sstream>
#include <string>
#include <vector>

#include "figure.h"
#include "provenit/base/text.h"

namespace {

using provenit::bench::Figure;

/// A line that speed.mjs prints: name, value, unit, bar, "holds" or "falls short"; others are passed over.
bool read_line(const std::string& line, Figure& out) {
  std::istringstream in(line);
  std::string value, holds;
  if (!std::getline(in, out.name, '\t') || !std::getline(in, value, '\t') || !std::getline(in, out.unit, '\t') ||
      !std::getline(in, out.bar, '\t') || !std::getline(in, holds))
    return false;
  const auto number = provenit::parse_double(value);
  out.value = number.value_or(0);
  out.holds = number && holds == "holds";
  return true;
}

std::vector<Figure> measure() {
  std::vector<Figure> figures;
  const auto folder = std::filesystem::temp_directory_path() / ("provenit_workbench_speed_" + std::to_string(getpid()));
  const std::string command = "cd '" PROVENIT_WEB_BUILD "' && node tests/speed.mjs '" PROVENIT_PROGRAM
                              "' '" PROVENIT_BIG_BENCH "' '" PROVENIT_SOURCE_DIR
                              "/tests/programme/media/hdr10-av1.mp4' '" +
                              folder.string() + "'";
  FILE* pipe = popen(command.c_str(), "r");
  if (pipe == nullptr) return figures;
  std::array<char, 512> line{};
  while (std::fgets(line.data(), line.size(), pipe) != nullptr) {
    std::string text(line.data());
    if (!text.empty() && text.back() == '\n') text.pop_back();
    if (Figure f; read_line(text, f)) figures.push_back(f);
  }
  pclose(pipe);
  std::filesystem::remove_all(folder);
  return figures;
}

}  // namespace

int main(int argc, char** argv) {
  return provenit::bench::run(argc, argv,
                              {{{"workbench_page_weight", "workbench_presses_measured",
                                 "workbench_press_to_paint_median", "workbench_press_to_paint_p95"},
                                measure}});
}
