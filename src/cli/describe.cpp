// provenit new, describe display|instrument|room|loan: who and what is on the bench.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <map>
#include <memory>

#include "provenit/base/text.h"
#include "provenit/instrument/instrument_description.h"
#include "provenit/simulated/meter.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

const std::map<std::string, signal::Transfer> kTransfers{
    {"pq", signal::Transfer::pq}, {"hlg", signal::Transfer::hlg}, {"bt1886", signal::Transfer::bt1886}};
const std::map<std::string, signal::Container> kContainers{
    {"bt709", signal::Container::bt709}, {"p3_d65", signal::Container::p3_d65}, {"bt2020", signal::Container::bt2020}};
const std::map<std::string, signal::Range> kRanges{{"narrow", signal::Range::narrow}, {"full", signal::Range::full}};

/// An option that takes one of the names and shows the names (not the enum's numbers) in its help.
template <class T>
CLI::Option* add_choice(CLI::App* app, const std::string& flag, T& target, const std::map<std::string, T>& choices,
                        const std::string& what) {
  std::string names;
  for (const auto& [name, value] : choices) names += (names.empty() ? "" : ", ") + name;
  return app
      ->add_option_function<std::string>(
          flag,
          [&target, &choices, names](const std::string& text) {
            const auto found = choices.find(text);
            if (found == choices.end()) throw CLI::ValidationError("'" + text + "' is none of " + names);
            target = found->second;
          },
          what + " (" + names + ")")
      ->type_name("NAME");
}

/// Replaces the record of that name, or adds it.
template <class Record>
int put_named(const Output& output, const std::string& path, Record record, const char* kind,
              Result<std::vector<Record>> (store::Bench::*list)() const) {
  auto bench = store::Bench::open(path);
  if (!bench) return output.fail(bench.error());
  const auto existing = ((*bench).*list)();
  if (!existing) return output.fail(existing.error());
  bool replaced = false;
  for (const auto& e : *existing)
    if (e.name == record.name) record.id = e.id, replaced = true;
  const auto id = bench->put(record);
  if (!id) return output.fail(id.error());
  output.say(fmt::format("{} {} '{}' ({} {}).", replaced ? "Replaced" : "Added", kind, record.name, kind, *id),
             {{"kind", kind}, {"id", *id}, {"name", record.name}, {"replaced", replaced}});
  return kDone;
}

void add_describe_display(Command& command, CLI::App* describe) {
  struct Options {
    std::string bench;
    store::DisplayRecord record;
    std::string simulated, serial, size, firmware, mode;
    double claimed_peak_cdm2 = 0;
  };
  const auto o = std::make_shared<Options>();
  auto* verb = describe->add_subcommand("display", "the display on loan and how it is fed");
  verb->add_option("bench", o->bench, "bench file")->required();
  verb->add_option("--name", o->record.name, "its name")->required();
  verb->add_option("--technology", o->record.technology, "as its maker states it, e.g. \"LCD, mini-LED\"");
  add_choice(verb, "--transfer", o->record.encoding.transfer, kTransfers, "transfer function of the signal");
  add_choice(verb, "--container", o->record.encoding.container, kContainers, "primaries of the signal");
  add_choice(verb, "--range", o->record.encoding.range, kRanges, "code value range");
  verb->add_option("--bits", o->record.encoding.bits, "bits per component")->check(CLI::IsMember({8, 10, 12, 16}));
  verb->add_option("--nominal-peak", o->record.encoding.nominal_peak_cdm2, "L_W of HLG and BT.1886, cd/m2")
      ->check(CLI::PositiveNumber);
  verb->add_option("--claimed-peak", o->claimed_peak_cdm2,
                   "peak luminance its maker states, cd/m2: steers patches until it is measured")
      ->check(CLI::PositiveNumber);
  verb->add_option("--serial", o->serial, "serial number: tells specimens of one model apart");
  verb->add_option("--size", o->size, "diagonal and raster as text");
  verb->add_option("--firmware", o->firmware, "firmware version");
  verb->add_option("--mode", o->mode, "picture mode and settings, as set for this loan");
  verb->add_option("--simulated", o->simulated, "a simulated display: tern-32 or curlew-27 (both invented)");
  verb->callback([&command, o] {
    command.action = [&command, o] {
      auto record = o->record;
      for (const auto& [key, value] :
           {std::pair{"serial", o->serial}, std::pair{"size", o->size}, std::pair{"firmware", o->firmware},
            std::pair{"mode", o->mode}, std::pair{"simulated", o->simulated}})
        if (!value.empty()) record.details[key] = value;
      if (o->claimed_peak_cdm2 > 0) record.details["claimed_peak_cdm2"] = o->claimed_peak_cdm2;
      return put_named(command.output, o->bench, record, "display", &store::Bench::displays);
    };
  });
}

/// A description file may state the certificate; what is given on the command line goes before it.
void take_given(const CLI::App& verb, const instrument::Certificate& described, instrument::Certificate& certificate) {
  const auto given = [&verb](const char* option) { return verb.count(option) > 0; };
  if (!given("--luminance-percent")) certificate.luminance_expanded_relative = described.luminance_expanded_relative;
  if (!given("--x-uncertainty")) certificate.x_expanded = described.x_expanded;
  if (!given("--y-uncertainty")) certificate.y_expanded = described.y_expanded;
  if (!given("--coverage-factor")) certificate.coverage_factor = described.coverage_factor;
  if (!given("--zero-uncertainty")) certificate.zero_offset_standard_cdm2 = described.zero_offset_standard_cdm2;
  if (!given("--certificate")) certificate.number = described.number;
  if (!given("--calibrated")) certificate.date = described.date;
}

void add_describe_instrument(Command& command, CLI::App* describe) {
  struct Options {
    std::string bench;
    store::InstrumentRecord record;
    std::string description, address, serial;
    double luminance_percent = 2;
    double mismatch = 0;
    std::uint64_t seed = 0;
    CLI::App* verb = nullptr;
  };
  const auto o = std::make_shared<Options>();
  auto& certificate = o->record.certificate;
  auto* verb = describe->add_subcommand("instrument", "the meter, with what its calibration certificate says");
  o->verb = verb;
  verb->add_option("bench", o->bench, "bench file")->required();
  verb->add_option("--name", o->record.name, "what you call it")->required();
  verb->add_option("--kind", o->record.kind,
                   "line (ASCII lines over serial or TCP), manual (typed in), import, simulated")
      ->required()
      ->check(CLI::IsMember({"line", "manual", "import", "simulated"}));
  verb->add_option("--description", o->description, "line: its description file (TOML)");
  verb->add_option("--address", o->address, "line: HOST:PORT or serial device, instead of the description's");
  verb->add_option("--serial", o->serial, "serial number");
  verb->add_option("--luminance-percent", o->luminance_percent, "expanded uncertainty of luminance, %, as printed")
      ->check(CLI::PositiveNumber);
  verb->add_option("--x-uncertainty", certificate.x_expanded, "expanded uncertainty of x at white")
      ->check(CLI::PositiveNumber);
  verb->add_option("--y-uncertainty", certificate.y_expanded, "expanded uncertainty of y at white")
      ->check(CLI::PositiveNumber);
  verb->add_option("--coverage-factor", certificate.coverage_factor, "k of those, as printed")
      ->check(CLI::PositiveNumber);
  verb->add_option("--zero-uncertainty", certificate.zero_offset_standard_cdm2,
                   "standard uncertainty of the dark offset, cd/m2")
      ->check(CLI::NonNegativeNumber);
  verb->add_flag("--spectral", o->record.capabilities.spectral, "it reads spectra (line: its description says so)");
  verb->add_option("--mismatch", o->mismatch, "simulated: how far its filters are off (0.03), beside the certificate")
      ->check(CLI::Range(0.0, 0.2));
  verb->add_option("--seed", o->seed, "simulated: of its errors and noise, instead of the loan's");
  verb->add_option("--certificate", certificate.number, "certificate number");
  verb->add_option("--calibrated", certificate.date, "date of calibration");
  verb->callback([&command, o] {
    command.action = [&command, o] {
      auto record = o->record;
      record.certificate.luminance_expanded_relative = o->luminance_percent / 100;
      for (const auto& [key, value] :
           {std::pair{"description", o->description}, std::pair{"address", o->address}, std::pair{"serial", o->serial}})
        if (!value.empty()) record.details[key] = value;
      if (record.kind == "line") {
        if (o->description.empty())
          return command.output.fail({ErrorCode::invalid_input,
                                      "a line instrument needs its description file",
                                      "Give --description FILE.toml; data/instruments has examples.",
                                      {.field = "--description"}});
        auto description = instrument::read_description(o->description);
        if (!description) return command.output.fail(description.error());
        if (!o->address.empty())
          if (auto set = instrument::set_address(*description, o->address); !set)
            return command.output.fail(set.error());
        record.capabilities = description->capabilities;
        take_given(*o->verb, description->certificate, record.certificate);
      }
      if (record.kind == "simulated") {
        record.capabilities.shot_noise = simulated::MeterModel{}.capabilities.shot_noise;
        if (o->mismatch > 0) record.details["mismatch"] = o->mismatch;
        if (o->verb->count("--seed") > 0) record.details["seed"] = o->seed;
      }
      return put_named(command.output, o->bench, record, "instrument", &store::Bench::instruments);
    };
  });
}

void add_describe_room(Command& command, CLI::App* describe) {
  struct Options {
    std::string bench;
    store::RoomRecord record;
    double surround = -1, illuminance = -1;
  };
  const auto o = std::make_shared<Options>();
  auto* verb = describe->add_subcommand("room", "where the display stands, and its light");
  verb->add_option("bench", o->bench, "bench file")->required();
  verb->add_option("--name", o->record.name, "its name")->required();
  verb->add_option("--surround", o->surround, "luminance of the surround, cd/m2 (BT.2100: 5)")
      ->check(CLI::NonNegativeNumber);
  verb->add_option("--illuminance", o->illuminance, "illuminance on the screen, lx")->check(CLI::NonNegativeNumber);
  verb->callback([&command, o] {
    command.action = [&command, o] {
      auto record = o->record;
      if (o->surround >= 0) record.surround_cdm2 = o->surround;
      if (o->illuminance >= 0) record.screen_illuminance_lx = o->illuminance;
      return put_named(command.output, o->bench, record, "room", &store::Bench::rooms);
    };
  });
}

/// The id of the record with that name; with an empty name, of the only one.
template <class Record>
Result<store::Id> by_name(const std::vector<Record>& records, const std::string& name, const std::string& kind) {
  if (name.empty() && records.size() == 1) return records.front().id;
  for (const auto& r : records)
    if (r.name == name) return r.id;
  std::string names;
  for (const auto& r : records) names += (names.empty() ? "'" : ", '") + r.name + "'";
  if (records.empty())
    return provenit::fail(ErrorCode::not_found, "the bench has no " + kind,
                          "Add one with `provenit describe " + kind + "`.");
  return provenit::fail(ErrorCode::not_found,
                        name.empty() ? "the bench has several of this kind: " + names
                                     : "no " + kind + " is named '" + name + "'; there is " + names,
                        "Name it with --" + kind + ".");
}

struct LoanOptions {
  std::string bench, display, instrument, room, starts, purpose;
  double hours = 0;
  std::uint64_t seed = 1;
};

int describe_loan(const Output& output, const LoanOptions& o) {
  auto bench = store::Bench::open(o.bench);
  if (!bench) return output.fail(bench.error());
  const auto displays = bench->displays();
  const auto instruments = bench->instruments();
  const auto rooms = bench->rooms();
  if (!displays) return output.fail(displays.error());
  if (!instruments) return output.fail(instruments.error());
  if (!rooms) return output.fail(rooms.error());
  store::LoanRecord loan;
  const auto display = by_name(*displays, o.display, "display");
  const auto instrument = by_name(*instruments, o.instrument, "instrument");
  const auto room = by_name(*rooms, o.room, "room");
  if (!display) return output.fail(display.error());
  if (!instrument) return output.fail(instrument.error());
  if (!room) return output.fail(room.error());
  loan.display = *display;
  loan.instrument = *instrument;
  loan.room = *room;
  loan.purpose = o.purpose;
  loan.seed = o.seed;
  loan.starts = machine_time();
  if (!o.starts.empty()) {
    const auto starts = parse_iso8601(o.starts);
    if (!starts) return output.fail(starts.error());
    loan.starts = *starts;
  }
  loan.ends = loan.starts + Seconds{o.hours * 3600};
  const auto id = bench->put(loan);
  if (!id) return output.fail(id.error());
  output.say(fmt::format("Added loan {}: {} to {} ({}).", *id, iso8601(loan.starts), iso8601(loan.ends),
                         duration_text((loan.ends - loan.starts).s)),
             {{"kind", "loan"}, {"id", *id}, {"starts", iso8601(loan.starts)}, {"ends", iso8601(loan.ends)}});
  return kDone;
}

void add_describe_loan(Command& command, CLI::App* describe) {
  const auto o = std::make_shared<LoanOptions>();
  auto* verb = describe->add_subcommand("loan", "the time window, and what is on loan");
  verb->add_option("bench", o->bench, "bench file")->required();
  verb->add_option("--hours", o->hours, "how long the display is here")->required()->check(CLI::PositiveNumber);
  verb->add_option("--display", o->display, "name of the display, if the bench has several");
  verb->add_option("--instrument", o->instrument, "name of the instrument, if the bench has several");
  verb->add_option("--room", o->room, "name of the room, if the bench has several");
  verb->add_option("--starts", o->starts, "when it begins, e.g. 2026-11-25T09:00:00+01:00; now, if not given");
  verb->add_option("--purpose", o->purpose, "what the display is meant for");
  verb->add_option("--seed", o->seed, "seed of every random draw of this loan");
  verb->callback([&command, o] { command.action = [&command, o] { return describe_loan(command.output, *o); }; });
}

}  // namespace

void add_new(Command& command) {
  struct Options {
    std::string bench, title, evaluator;
  };
  const auto o = std::make_shared<Options>();
  auto* verb = add_verb(command, "new", "make a bench: one file for everything an evaluator records",
                        "provenit new tern.bench --title \"Tern 32, autumn\" --evaluator \"Saltmarsh Display Lab\"");
  verb->add_option("bench", o->bench, "bench file to make")->required();
  verb->add_option("--title", o->title, "title of the report")->required();
  verb->add_option("--evaluator", o->evaluator, "who evaluates")->required();
  verb->callback([&command, o] {
    command.action = [&command, o] {
      const auto bench = store::Bench::create(o->bench, o->title, o->evaluator, machine_time());
      if (!bench) return command.output.fail(bench.error());
      command.output.say(fmt::format("Made {}. Next: provenit describe display {} --name ...", o->bench, o->bench),
                         {{"bench", o->bench}, {"title", o->title}, {"evaluator", o->evaluator}});
      return static_cast<int>(kDone);
    };
  });
}

void add_describe(Command& command) {
  auto* describe = add_verb(
      command, "describe", "say what is on the bench: display, instrument, room, loan",
      "provenit describe display tern.bench --name \"Tern 32\" --technology \"LCD, mini-LED\" --transfer pq --bits 10\n"
      "provenit describe instrument tern.bench --name \"Meter A\" --kind line --description meter.toml "
      "--address 192.0.2.7:5025 --luminance-percent 2 --x-uncertainty 0.0015 --y-uncertainty 0.0015\n"
      "provenit describe room tern.bench --name \"Suite 2\" --surround 5\n"
      "provenit describe loan tern.bench --hours 48 --purpose \"documentary grading\"");
  describe->require_subcommand(1);
  add_describe_display(command, describe);
  add_describe_instrument(command, describe);
  add_describe_room(command, describe);
  add_describe_loan(command, describe);
}

}  // namespace provenit::cli
