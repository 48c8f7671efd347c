// write_site FOLDER: six invented displays measured, put on a shelf and published into FOLDER/site; then two of them
// are measured anew and published again, so that the site has corrections.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "measured_bench.h"
#include "provenit/publish/site.h"

namespace {

using namespace provenit;

struct Bird {
  const char *display, *simulated;
  std::vector<std::string> procedures;
};

int failed(const Error& error) {
  fmt::print(stderr, "{}\n", error.text());
  return 1;
}

Result<publish::SiteSummary> publish_at(const shelf::Shelf& shelf, const std::string& out, double unix_s, bool png) {
  publish::SiteOptions options{.now = {unix_s}, .software = shelf::kSoftware, .png = png};
  options.about.introduction = "Invented displays, so that the pages have something to show.";
  options.about.publisher = "Saltmarsh Display Lab (invented)";
  options.about.rights = "Creative Commons Attribution 4.0 International";
  options.about.rights_address = "https://creativecommons.org/licenses/by/4.0/";
  return publish::write_site(shelf, out + "/site", options);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return fmt::print(stderr, "usage: write_site FOLDER\n"), 2;
  const std::string out = argv[1];
  const std::vector<std::string> most{"black_level", "window_peak", "greyscale", "white_point", "primaries"};
  const std::vector<std::string> few{"black_level", "window_peak", "white_point", "primaries"};
  const std::vector<Bird> birds{
      {"Tern 32", "tern-32", most},    {"Curlew 27", "curlew-27", most}, {"Sanderling 31", "sanderling-31", few},
      {"Godwit 65", "godwit-65", few}, {"Dunlin 55", "dunlin-55", few},  {"Knot 24", "knot-24", few}};
  auto shelf = shelf::Shelf::create(out + "/shelf", "Displays of an invented year", {1.8e9});
  if (!shelf) return failed(shelf.error());
  const auto bench_of = [&](const Bird& bird) { return fmt::format("{}/{}.bench", out, bird.simulated); };
  for (const auto& bird : birds) {
    shelf::measure(bench_of(bird), "Saltmarsh Display Lab (invented)",
                   {.display = bird.display,
                    .simulated = bird.simulated,
                    .procedures = bird.procedures,
                    .sets = {"ebu-tech-3320-v4.1-grade-1a", "itu-r-bt.2100-3-reference-display"}});
    if (testing::Test::HasFailure()) return fmt::print(stderr, "{} could not be measured\n", bird.display), 1;
    if (const auto added = shelf->add(bench_of(bird), {1.8e9 + 86400}, shelf::kSoftware); !added)
      return failed(added.error());
  }
  if (const auto site = publish_at(*shelf, out, 1.8e9 + 2 * 86400, false); !site) return failed(site.error());
  for (const std::size_t i : {0U, 5U}) {
    shelf::measure_more(bench_of(birds[i]), "window_peak");
    if (const auto added = shelf->add(bench_of(birds[i]), {1.8e9 + 9 * 86400}, shelf::kSoftware); !added)
      return failed(added.error());
  }
  const auto site = publish_at(*shelf, out, 1.8e9 + 10 * 86400, true);
  if (!site) return failed(site.error());
  fmt::print("{} displays, {} pages, {} charts, {} corrections\n", site->displays, site->pages, site->charts,
             site->corrected.size());
}
