// How soon a shelf of 100 benches tells what is on it. One simulated loan is carried through and taken in by the shelf
// itself, the other 99 are copies of its file: what they say is the same, what has to be read is 100 times as much.
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "figure.h"
#include "provenit/base/text.h"
#include "provenit/shelf/compare.h"
#include "provenit/shelf/shelf.h"
#include "scale_bench.h"

namespace {

using namespace provenit;
namespace fs = std::filesystem;

constexpr int kBenches = 100;

[[noreturn]] void give_up(const Error& error) {
  fmt::print(stderr, "{}\n", error.text());
  std::exit(2);
}

template <class F>
double seconds_of(F work) {
  const auto begun = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
}

/// The first entry and its file over again.
void fill(const std::string& folder) {
  const auto index = folder + "/shelf.json";
  auto list = nlohmann::ordered_json::parse(read_file(index).value());
  const auto first = list["entries"][0];
  const auto file = first["file"].get<std::string>();
  for (int i = 1; i < kBenches; ++i) {
    auto entry = first;
    entry["file"] = fmt::format("{:016x}.bench", i);
    fs::copy_file(fs::path(folder) / "benches" / file, fs::path(folder) / "benches" / entry["file"].get<std::string>());
    list["entries"].push_back(entry);
  }
  if (const auto written = write_file(index, list.dump()); !written) give_up(written.error());
}

std::vector<bench::Figure> measure() {
  const auto scratch = fs::temp_directory_path() / fmt::format("provenit_scale_shelf_{}", getpid());
  fs::create_directories(scratch);
  const auto bench = (scratch / "tern.bench").string(), folder = (scratch / "shelf").string();
  bench::carry_through(bench);
  auto made = shelf::Shelf::create(folder, "Displays", {1.8e9});
  if (!made) give_up(made.error());
  const double adding = seconds_of([&] {
    if (const auto added = made->add(bench, {1.8e9}, "benchmark"); !added) give_up(added.error());
  });
  fill(folder);
  std::vector<shelf::Item> items;
  const auto listed = [&](shelf::Shelf::Findings findings) {
    double least = 1e9;
    for (int i = 0; i < 3; ++i)
      least = std::min(least, seconds_of([&] {
                         auto read =
                             shelf::Shelf::open(folder).and_then([&](const auto& s) { return s.items(findings); });
                         if (!read) give_up(read.error());
                         items = std::move(*read);
                       }));
    return least;
  };
  const double whole = listed(shelf::Shelf::Findings::whole), figures = listed(shelf::Shelf::Findings::figures);
  std::size_t rows = 0;
  const double beside = seconds_of([&] { rows = shelf::side_by_side(items).size(); });
  const double megabytes = 1e-6 * static_cast<double>(fs::file_size(bench));
  const auto findings = static_cast<double>(items.front().findings.size());
  fs::remove_all(scratch);
  return {{"scale_shelf_bench", megabytes, "MB", "for information", true},
          {"scale_shelf_findings_each", findings, "1", "for information", true},
          {"scale_shelf_add", adding, "s", "for information", true},
          {"scale_shelf_items_whole", whole, "s for 100 benches", "for information", true},
          {"scale_shelf_items", figures, "s for 100 benches", "<= 1", figures <= 1},
          {"scale_shelf_beside", beside, "s for 100 benches", "<= 1", beside <= 1 && rows > 0}};
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(argc, argv,
                    {{.names = {"scale_shelf_bench", "scale_shelf_findings_each", "scale_shelf_add",
                                "scale_shelf_items_whole", "scale_shelf_items", "scale_shelf_beside"},
                      .compute = measure}});
}
