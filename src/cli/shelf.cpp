// provenit shelf: many benches together.
#include "provenit/shelf/shelf.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <memory>

#include "shelf_parts.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

using Json = nlohmann::ordered_json;

int make(const Output& output, const ShelfOptions& o) {
  const auto made = shelf::Shelf::create(o.folder, o.title, machine_time());
  if (!made) return output.fail(made.error());
  output.say(fmt::format("An empty shelf. Next: provenit shelf add {} tern.bench\n", o.folder),
             {{"folder", o.folder}, {"title", o.title}});
  return kDone;
}

int add(const Output& output, const ShelfOptions& o) {
  auto opened = shelf::Shelf::open(o.folder);
  if (!opened) return output.fail(opened.error());
  std::string text;
  auto document = Json::array();
  for (const auto& bench : o.benches) {
    const auto entry = opened->add(bench, machine_time(), kSoftware);
    if (!entry) {
      if (!output.json) output.say(text, {});
      return output.fail(entry.error());
    }
    text += fmt::format("{}: {} readings in {} runs as they were taken", entry->name, entry->readings, entry->runs);
    text += entry->recomputed.empty()
                ? ".\n"
                : fmt::format("; findings of {} loans computed again, alike.\n", entry->recomputed.size());
    for (const auto& note : entry->notes) text += "  " + note + '\n';
    if (!entry->replaced.empty()) text += "  A later state of a bench that was here: it takes its place.\n";
    document.push_back({{"bench", entry->name},
                        {"file", entry->file},
                        {"sha256", entry->sha256},
                        {"runs", entry->runs},
                        {"readings", entry->readings},
                        {"recomputed", entry->recomputed},
                        {"replaces", entry->replaced},
                        {"notes", entry->notes}});
  }
  output.say(text, document);
  return kDone;
}

int list(const Output& output, const ShelfOptions& o) {
  const auto open = open_shelf(o);
  if (!open) return output.fail(open.error());
  Table table({"no", "display", "technology", "evaluator", "day", "findings", "recomputed"});
  Json document{{"title", open->shelf.title()}, {"items", Json::array()}, {"changed", Json::array()}};
  for (std::size_t i = 0; i < open->items.size(); ++i) {
    const auto& item = open->items[i];
    table.add({std::to_string(open->numbers[i]), item.name, item.display.technology, item.evaluator,
               shelf::day_of(item.loan.starts), std::to_string(item.findings.size()), item.recomputed ? "yes" : "no"});
    document["items"].push_back(item_json(open->numbers[i], item));
  }
  const auto changed = open->shelf.changed();
  if (!changed) return output.fail(changed.error());
  std::string text = open->shelf.title() + "\n" + table.text();
  if (!changed->empty()) text += "\nCorrected since the state before:\n";
  for (const auto& c : *changed) {
    text += fmt::format("  {}: {} was {}, {}\n", c.display, in_words(c.before.quantity, c.before.conditions),
                        figure_in_words(c.before), c.now ? "is " + figure_in_words(*c.now) : "withdrawn");
    document["changed"].push_back({{"display", c.display},
                                   {"quantity", c.before.quantity},
                                   {"conditions", c.before.conditions},
                                   {"before", figure_json(c.before)},
                                   {"now", c.now ? figure_json(*c.now) : Json(nullptr)}});
  }
  output.say(text, document);
  return kDone;
}

int check(const Output& output, const ShelfOptions& o) {
  const auto opened = shelf::Shelf::open(o.folder);
  if (!opened) return output.fail(opened.error());
  const auto damaged = opened->damaged();
  if (!damaged) return output.fail(damaged.error());
  std::string text;
  for (const auto& file : *damaged) text += fmt::format("benches/{} is not what was taken in.\n", file);
  if (damaged->empty()) text = fmt::format("{} benches, each as it was taken in.\n", opened->entries().size());
  output.say(text, {{"benches", opened->entries().size()}, {"damaged", *damaged}});
  return damaged->empty() ? kDone : kCheckFailed;
}

}  // namespace

void add_shelf(Command& command) {
  const auto o = std::make_shared<ShelfOptions>();
  auto* verb = add_verb(command, "shelf", "many benches together: displays side by side, sets over all of them, ageing",
                        "provenit shelf new shelf --title \"Displays of the year\"\n"
                        "provenit shelf add shelf tern.bench curlew.bench     # each is checked to the reading first\n"
                        "provenit shelf list shelf\n"
                        "provenit shelf beside shelf --quantity peak --sort peak_luminance\n"
                        "provenit shelf meets shelf --set ebu-tech-3320-v4.1\n"
                        "provenit shelf between shelf --first 1 --second 2\n"
                        "provenit shelf ageing shelf");
  verb->require_subcommand(1);
  const auto part = [&](const char* name, const char* what, int (*work)(const Output&, const ShelfOptions&)) {
    auto* sub = verb->add_subcommand(name, what);
    sub->fallthrough();
    sub->add_option("shelf", o->folder, "folder of the shelf")->required();
    sub->callback([&command, o, work] { command.action = [&command, o, work] { return work(command.output, *o); }; });
    return sub;
  };
  const auto with_technology = [&](CLI::App* sub) {
    sub->add_option("--technology", o->technology, "only displays whose technology has this in it");
    return sub;
  };
  part("new", "make an empty shelf", &make)->add_option("--title", o->title, "its title")->required();
  part("add", "check benches and take copies of them in", &add)
      ->add_option("benches", o->benches, "bench files")
      ->required();
  part("check", "whether every bench is still what was taken in", &check);
  with_technology(part("list", "what is on it, and what was corrected", &list));
  auto* sub = with_technology(part("beside", "every finding of every display, side by side", &shelf_beside));
  sub->add_option("--quantity", o->quantity, "only quantities whose key begins so");
  sub->add_option("--sort", o->sort, "order of the displays: by the first quantity whose key begins so, largest first");
  sub->add_flag("--smallest-first", o->smallest_first, "the other way round");
  with_technology(part("meets", "which displays meet a requirement set, and which are undecided", &shelf_meets))
      ->add_option("--set", o->set, "requirement set: the name of one that comes with the command, or a TOML file")
      ->required();
  sub = part("between", "what two of them are shown to differ in", &shelf_between);
  sub->add_option("--first", o->first, "number in the list")->required();
  sub->add_option("--second", o->second, "number in the list")->required();
  with_technology(part("ageing", "displays that were here more than once, and what has changed", &shelf_ageing));
}

}  // namespace provenit::cli
