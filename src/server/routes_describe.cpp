// Displays, instruments, rooms, loans and questions: what people describe, and can take back.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <iterator>

#include "parts.h"
#include "provenit/base/text.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/instrument/instrument_description.h"
#include "provenit/loan/planned.h"
#include "provenit/simulated/meter.h"
#include "provenit/simulated/physics.h"
#include "records.h"

namespace provenit::server {
namespace {

constexpr std::int64_t kMostSeed = (std::int64_t{1} << 53) - 1;  // what JSON numbers carry everywhere

/// What only people read: short texts, numbers, yes or no.
nlohmann::json details_of(Fields& in) {
  auto details = in.object("details");
  if (details.size() > 50) in.refuse("details", "holds more than 50 keys");
  for (const auto& [key, value] : details.items()) {
    const bool plain = value.is_boolean() || value.is_number() ||
                       (value.is_string() && value.get_ref<const std::string&>().size() <= 2000);
    if (!plain || key.size() > 100)
      in.refuse("details", "holds more than texts, numbers and yes or no", "Keep it short.");
  }
  return details;
}

std::string detail_text(Fields& in, const nlohmann::json& details, const char* key) {
  const auto found = details.find(key);
  if (found == details.end()) return {};
  if (found->is_string()) return found->get<std::string>();
  in.refuse(std::string("details.") + key, "a text is needed here");
  return {};
}

Result<Record> display_from(const nlohmann::json& body) {
  Fields in(body, {"name", "technology", "encoding", "details"});
  store::DisplayRecord record;
  record.name = in.needed_text("name");
  record.technology = in.text("technology", 2000).value_or("");
  record.details = details_of(in);
  const auto simulated = detail_text(in, record.details, "simulated");
  const auto ids = simulated::built_in_ids();
  if (record.details.contains("simulated") && std::ranges::find(ids, simulated) == ids.end())
    in.refuse("details.simulated", "there is no simulated display '" + simulated + "'", "Give one of /choices.");
  if (const auto peak = record.details.find("claimed_peak_cdm2"); peak != record.details.end())
    if (!peak->is_number() || !(peak->get<double>() > 0 && peak->get<double>() <= 1e6))
      in.refuse("details.claimed_peak_cdm2", "a luminance above 0 is needed here");
  if (in.error()) return tl::unexpected(*in.error());
  if (in.has("encoding")) {
    const auto encoding = signal::encoding_from_json(body.at("encoding"));
    if (!encoding) return tl::unexpected(encoding.error());
    record.encoding = *encoding;
  }
  return Record(std::move(record));
}

/// What the body gives of it, over what is known already.
void take_certificate(Fields& in, instrument::Certificate& certificate) {
  Fields given(in.object("certificate"),
               {"luminance_expanded_relative", "x_expanded", "y_expanded", "coverage_factor",
                "zero_offset_standard_cdm2", "number", "issuer", "date"},
               "certificate.");
  const auto number = [&](const char* key, double& target, double most, bool above) {
    target = given.number(key, 0, most, above).value_or(target);
  };
  number("luminance_expanded_relative", certificate.luminance_expanded_relative, 1, true);
  number("x_expanded", certificate.x_expanded, 1, true);
  number("y_expanded", certificate.y_expanded, 1, true);
  number("coverage_factor", certificate.coverage_factor, 10, true);
  number("zero_offset_standard_cdm2", certificate.zero_offset_standard_cdm2, 1e6, false);
  certificate.number = given.text("number", 200).value_or(certificate.number);
  certificate.issuer = given.text("issuer", 200).value_or(certificate.issuer);
  certificate.date = given.text("date", 200).value_or(certificate.date);
  in.note(given.error());
}

/// The description file of a line instrument. A file that the record has already may lie anywhere: somebody at this
/// machine named it. A new one lies beside the bench.
Result<void> describe_line(store::InstrumentRecord& record, const std::string& known, const std::string& folder) {
  auto name = record.details.value("description", std::string());
  if (name.empty() || name != known) {
    if (name.empty() || name.starts_with('.') || name.find_first_of("/\\") != std::string::npos)
      return fail(ErrorCode::invalid_input, "a line instrument needs its description file",
                  "Put the file into the bench's folder, and give its name.", {.field = "details.description"});
    name = folder + '/' + name;
  }
  auto description = instrument::read_description(name);
  if (!description && description.error().code == ErrorCode::io)
    return fail(ErrorCode::invalid_input, "this description file cannot be read",
                "Put the file into the bench's folder, and give its name.", {.field = "details.description"});
  if (!description) return tl::unexpected(description.error());
  if (const auto address = record.details.value("address", std::string()); !address.empty())
    if (auto set = instrument::set_address(*description, address); !set) return tl::unexpected(set.error());
  record.details["description"] = name;
  record.capabilities = description->capabilities;
  record.certificate = description->certificate;
  return {};
}

Result<Record> instrument_from(const nlohmann::json& body, const std::string& known_description,
                               const std::string& folder) {
  Fields in(body, {"name", "kind", "certificate", "spectral", "details"});
  store::InstrumentRecord record;
  record.name = in.needed_text("name");
  record.kind = in.needed_choice("kind", {"line", "manual", "import", "simulated"});
  record.details = details_of(in);
  record.capabilities.spectral = in.flag("spectral").value_or(false);
  for (const char* key : {"serial", "description", "address"}) (void)detail_text(in, record.details, key);
  if (in.error()) return tl::unexpected(*in.error());
  if (record.kind == "line")
    if (auto described = describe_line(record, known_description, folder); !described)
      return tl::unexpected(described.error());
  if (record.kind == "simulated") record.capabilities.shot_noise = simulated::MeterModel{}.capabilities.shot_noise;
  take_certificate(in, record.certificate);
  if (in.error()) return tl::unexpected(*in.error());
  return Record(std::move(record));
}

Result<Record> room_from(const nlohmann::json& body) {
  Fields in(body, {"name", "surround_cdm2", "screen_illuminance_lx", "details"});
  store::RoomRecord record;
  record.name = in.needed_text("name");
  record.surround_cdm2 = in.number("surround_cdm2", 0, 1e6);
  record.screen_illuminance_lx = in.number("screen_illuminance_lx", 0, 1e6);
  record.details = details_of(in);
  if (in.error()) return tl::unexpected(*in.error());
  return Record(std::move(record));
}

/// A time of the body; 0 with the error noted if it is none.
Timestamp time_of(Fields& in, const char* key, const std::string& text) {
  const auto time = parse_iso8601(text);
  if (time) return *time;
  in.refuse(key, time.error().message, time.error().advice);
  return {};
}

Result<Record> loan_from(const nlohmann::json& body) {
  Fields in(body, {"display", "instrument", "room", "starts", "ends", "hours", "purpose", "seed"});
  store::LoanRecord record;
  record.display = in.needed_integer("display", 1, kMostId);
  record.instrument = in.needed_integer("instrument", 1, kMostId);
  record.room = in.needed_integer("room", 1, kMostId);
  record.purpose = in.text("purpose", 2000).value_or("");
  record.seed = static_cast<std::uint64_t>(in.integer("seed", 0, kMostSeed).value_or(1));
  const auto starts = in.text("starts", 40), ends = in.text("ends", 40);
  const auto hours = in.number("hours", 0, kMostHours, true);
  record.starts = starts ? time_of(in, "starts", *starts) : machine_time();
  if (ends.has_value() == hours.has_value())
    in.refuse("ends", "either the loan's end or its hours are needed", "Give one of ends and hours.");
  record.ends = ends ? time_of(in, "ends", *ends) : record.starts + Seconds{hours.value_or(0) * 3600};
  if (record.ends <= record.starts) in.refuse("ends", "the loan ends before it begins", "Give a later end.");
  if (in.error()) return tl::unexpected(*in.error());
  return Record(std::move(record));
}

std::string name_of(const Record& record) {
  return std::visit(
      [](const auto& r) {
        if constexpr (requires { r.name; })
          return r.name;
        else
          return std::string();
      },
      record);
}

/// Puts one record as an edit; `id` 0 adds it.
Result<Answer> put(const Call& call, store::RecordKind kind, Result<Record> record, store::Id id) {
  if (!record) return tl::unexpected(record.error());
  auto bench = call.parts.pool.take();
  if (!bench) return tl::unexpected(bench.error());
  const auto name = name_of(*record);
  const std::string what = store::name_of(kind);
  std::visit([id](auto& r) { r.id = id; }, *record);
  const auto text = fmt::format("{} {}{}", id == 0 ? "Added" : "Changed", what, name.empty() ? "" : " '" + name + "'");
  std::vector<Record> records;
  records.push_back(std::move(*record));
  const auto ids = call.parts.history.put(**bench, text, std::move(records), machine_time());
  if (!ids) return tl::unexpected(ids.error());
  call.parts.changed("bench", 0);
  return json_answer({{"kind", what}, {"id", ids->front()}, {"name", name}, {"replaced", id != 0}},
                     id == 0 ? 201 : 200);
}

template <Result<Record> (*from)(const nlohmann::json&), store::RecordKind kind>
Result<Answer> describe(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  return put(call, kind, from(*body), call.numbers.empty() ? 0 : call.numbers[0]);
}

Result<Answer> describe_instrument(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  const store::Id id = call.numbers.empty() ? 0 : call.numbers[0];
  std::string known;
  if (id != 0) {
    auto bench = call.parts.pool.take();
    if (!bench) return tl::unexpected(bench.error());
    const auto record = (*bench)->instrument(id);
    if (!record) return tl::unexpected(record.error());
    known = record->details.value("description", "");
  }
  return put(call, store::RecordKind::instrument, instrument_from(*body, known, call.parts.pool.folder()), id);
}

Result<Answer> ask(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"sets", "toml"});
  const auto names = in.texts("sets", 50, 100);
  const auto toml = in.text("toml", 500'000);
  if (names.empty() && !toml) in.refuse("sets", "no set is named", "Give ids of /requirement-sets, or a set as toml.");
  if (in.error()) return tl::unexpected(*in.error());
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  // All sets are read before the first question is stored: a wrong one changes nothing.
  std::vector<Record> fresh;
  std::string asked;
  const auto take = [&](const Result<evaluation::RequirementSet>& set) -> Result<void> {
    if (!set) return tl::unexpected(set.error());
    auto questions = loan::questions_of(*open->bench, open->loan, *set);
    if (!questions) return tl::unexpected(questions.error());
    std::ranges::move(*questions, std::back_inserter(fresh));
    asked += (asked.empty() ? "" : ", ") + set->id;
    return {};
  };
  for (const auto& name : names) {
    const auto text = evaluation::built_in_requirement_text(name);
    if (!text)
      return fail(ErrorCode::not_found, "no set '" + name + "' comes with this build", "Give ids of /requirement-sets.",
                  {.field = "sets"});
    if (auto taken = take(evaluation::parse_requirement_set(*text, name)); !taken) return tl::unexpected(taken.error());
  }
  if (toml)
    if (auto taken = take(evaluation::parse_requirement_set(*toml, "toml")); !taken)
      return tl::unexpected(taken.error());
  const auto replaced =
      std::ranges::count_if(fresh, [](const Record& r) { return std::get<store::QuestionRecord>(r).id != 0; });
  const auto added = static_cast<std::ptrdiff_t>(fresh.size()) - replaced;
  const auto text = fmt::format("Asked {} of loan {}", asked, open->loan.id);
  const auto ids = call.parts.history.put(*open->bench, text, std::move(fresh), machine_time());
  if (!ids) return tl::unexpected(ids.error());
  call.parts.changed("loan", open->loan.id);
  return json_answer({{"added", added}, {"replaced", replaced}}, 201);
}

Result<Answer> weigh(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"weight"});
  const auto weight = in.number("weight", 0, 1000);
  if (!weight) in.refuse("weight", "is missing", "Give it; 0 leaves the question out of the plan.");
  if (in.error()) return tl::unexpected(*in.error());
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto questions = open->bench->questions(open->loan.id);
  if (!questions) return tl::unexpected(questions.error());
  const auto id = call.numbers.at(1);
  const auto found = std::ranges::find(*questions, id, &store::QuestionRecord::id);
  if (found == questions->end())
    return fail(ErrorCode::not_found, fmt::format("loan {} has no question {}", open->loan.id, id));
  auto question = *found;
  question.weight = *weight;
  const auto text = fmt::format("Weighed question '{}' of {} with {:g}", question.key, question.set, *weight);
  const auto put = call.parts.history.put(*open->bench, text, {Record(std::move(question))}, machine_time());
  if (!put) return tl::unexpected(put.error());
  call.parts.changed("loan", open->loan.id);
  const auto contents = contents_without_readings(*open->bench, open->loan, false);
  if (!contents) return tl::unexpected(contents.error());
  const auto json = report::questions_json(*contents);
  if (!json) return tl::unexpected(json.error());
  return json_answer(*std::ranges::find_if(*json, [id](const Json& q) { return q.at("id") == id; }));
}

constexpr auto display = &describe<&display_from, store::RecordKind::display>;
constexpr auto room = &describe<&room_from, store::RecordKind::room>;
constexpr auto loan_record = &describe<&loan_from, store::RecordKind::loan>;

}  // namespace

std::span<const Route> describe_routes() {
  static constexpr std::array routes{Route{"POST", "/displays", display, BodyKind::json},
                                     Route{"PUT", "/displays/{display}", display, BodyKind::json},
                                     Route{"POST", "/instruments", &describe_instrument, BodyKind::json},
                                     Route{"PUT", "/instruments/{instrument}", &describe_instrument, BodyKind::json},
                                     Route{"POST", "/rooms", room, BodyKind::json},
                                     Route{"PUT", "/rooms/{room}", room, BodyKind::json},
                                     Route{"POST", "/loans", loan_record, BodyKind::json},
                                     Route{"PUT", "/loans/{loan}", loan_record, BodyKind::json},
                                     Route{"POST", "/loans/{loan}/questions", &ask, BodyKind::json},
                                     Route{"PUT", "/loans/{loan}/questions/{question}", &weigh, BodyKind::json}};
  return routes;
}

}  // namespace provenit::server
