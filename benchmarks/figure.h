#pragma once
// One line per figure, tab separated: name, value, unit, bar, "holds" or "falls short". `make figures` gathers them.
// A benchmark program takes an optional name, or how names begin: then it computes and prints those figures only.
// `bench_x --list` prints the names it knows, one per line.
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <functional>
#include <string>
#include <vector>

namespace provenit::bench {

struct Figure {
  std::string name;
  double value = 0;
  std::string unit;
  std::string bar;  ///< in words: "<= 1e-9", "93 to 97"
  bool holds = false;
};

struct Entry {
  std::vector<std::string> names;  ///< the figures this computation gives
  std::function<std::vector<Figure>()> compute;
};

inline void print(const Figure& f) {
  fmt::print("{}\t{:.6g}\t{}\t{}\t{}\n", f.name, f.value, f.unit, f.bar, f.holds ? "holds" : "falls short");
  std::fflush(stdout);
}

/// Runs the entries asked for. Exit code 0 if every printed figure holds, 1 if one falls short, 2 for an unknown name.
inline int run(int argc, char** argv, const std::vector<Entry>& entries) {
  const std::string only = argc > 1 ? argv[1] : "";
  if (only == "--list") {
    for (const auto& e : entries)
      for (const auto& n : e.names) fmt::print("{}\n", n);
    return 0;
  }
  bool known = false, all_hold = true;
  for (const auto& e : entries) {
    if (std::ranges::none_of(e.names, [&](const auto& n) { return n.starts_with(only); })) continue;
    known = true;
    for (const auto& f : e.compute()) {
      if (!f.name.starts_with(only)) continue;
      print(f);
      all_hold = all_hold && f.holds;
    }
  }
  if (!known) {
    fmt::print(stderr, "No figure is named '{}', or begins so.\n", only);
    return 2;
  }
  return all_hold ? 0 : 1;
}

}  // namespace provenit::bench
