// provenit match: where a display's white must stand to look like another's.
#include "provenit/loan/match.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <array>
#include <memory>

#include "verbs.h"

namespace provenit::cli {
namespace {

struct MatchOptions : LoanChoice {
  store::Id to = 0;
  std::string observer = "cie2015_2deg";
};

struct NamedObserver {
  const char* key;
  colour::Observer observer;
};
constexpr std::array<NamedObserver, 4> kNamedObservers{{{"cie1931_2deg", colour::Observer::cie1931_2deg},
                                                        {"cie1964_10deg", colour::Observer::cie1964_10deg},
                                                        {"cie2015_2deg", colour::Observer::cie2015_2deg},
                                                        {"cie2015_10deg", colour::Observer::cie2015_10deg}}};

nlohmann::ordered_json to_json(const evaluation::Figure& f) {
  nlohmann::ordered_json out{{"value", f.value},
                             {"standard_uncertainty", f.standard_uncertainty},
                             {"lower95", f.interval.lower},
                             {"upper95", f.interval.upper},
                             {"interval_method", f.interval_method}};
  for (const auto& s : f.variance) out["variance"].push_back({{"source", s.source}, {"fraction", s.fraction}});
  return out;
}

nlohmann::ordered_json to_json(const loan::WhiteMatch::Side& side) {
  return {{"loan", side.loan},
          {"display", side.display},
          {"instrument", side.instrument},
          {"run", side.run},
          {"readings", side.readings}};
}

std::string line_of(const char* name, const evaluation::Figure& f) {
  return fmt::format("  {}  {}  95 % interval {} to {}{}\n", name, rounded(f.value, f.standard_uncertainty),
                     rounded(f.interval.lower, f.standard_uncertainty),
                     rounded(f.interval.upper, f.standard_uncertainty),
                     f.variance.empty() ? "" : ", most from: " + f.variance.front().source);
}

std::string to_text(const loan::WhiteMatch& m, const std::string& observer) {
  const auto& f = m.figures;
  return fmt::format("For the observer {}, the white of {} looks like that of {} when it reads, in CIE 1931,\n",
                     observer, m.adjusted.display, m.reference.display) +
         line_of("x ", f.x) + line_of("y ", f.y) +
         fmt::format("It stands at x {:.4f}, y {:.4f} now. Off the white of {} (x {:.4f}, y {:.4f}) that is\n", f.now.x,
                     f.now.y, m.reference.display, f.offset.reference.x, f.offset.reference.y) +
         line_of("dx", f.dx) + line_of("dy", f.dy) +
         fmt::format(
             "{}\nA start for a match by eye: observers differ, and that is not in the intervals. Keep who matched, "
             "when and "
             "in which room.\n",
             m.same_instrument ? "Both were read with the same instrument: its errors are the same in both."
                               : "They were read with two instruments: the errors of each are counted.");
}

std::string flags_of(const evaluation::MatchFigures& f) {
  std::string out;
  for (const auto& flag : f.flags) out += flag + '\n';
  return out;
}

int match(const Output& output, const MatchOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  auto& [bench, adjusted] = *open;
  const auto reference = bench.loan(o.to);
  if (!reference) return output.fail(reference.error());
  const auto observer = std::ranges::find(kNamedObservers, o.observer, &NamedObserver::key);
  const auto matched = loan::match_whites(bench, *reference, adjusted, observer->observer);
  if (!matched) return output.fail(matched.error());
  const auto& f = matched->figures;
  output.say(to_text(*matched, o.observer) + flags_of(f),
             {{"observer", o.observer},
              {"reference", to_json(matched->reference)},
              {"adjusted", to_json(matched->adjusted)},
              {"same_instrument", matched->same_instrument},
              {"reference_white", {{"x", f.offset.reference.x}, {"y", f.offset.reference.y}}},
              {"adjusted_white", {{"x", f.now.x}, {"y", f.now.y}}},
              {"x", to_json(f.x)},
              {"y", to_json(f.y)},
              {"dx", to_json(f.dx)},
              {"dy", to_json(f.dy)},
              {"flags", f.flags}});
  return kDone;
}

}  // namespace

void add_match(Command& command) {
  const auto o = std::make_shared<MatchOptions>();
  auto* verb =
      add_verb(command, "match", "where a display's white must stand to look like that of another loan's display",
               "provenit match suite.bench --to 1\n"
               "provenit match suite.bench --loan 2 --to 1 --observer cie2015_10deg");
  add_loan_choice(*verb, *o);
  verb->add_option("--to", o->to, "number of the loan whose white is to be matched")->required();
  std::vector<std::string> names;
  for (const auto& n : kNamedObservers) names.emplace_back(n.key);
  verb->add_option("--observer", o->observer, "whose eyes (cie2015_2deg)")->check(CLI::IsMember(names));
  verb->callback([&command, o] { command.action = [&command, o] { return match(command.output, *o); }; });
}

}  // namespace provenit::cli
