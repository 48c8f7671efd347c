// What the server says of itself, what forms can offer, and what was described here.
#include <array>

#include "parts.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/procedure/procedure.h"
#include "provenit/procedure/recording.h"
#include "provenit/simulated/physics.h"
#include "qr.h"

namespace provenit::server {
namespace {

Result<Answer> description(const Call&) {
  return Answer{.body = std::string(openapi())};
}

Result<Answer> version(const Call& call) {
  return json_answer({{"software", call.parts.options.software}, {"api", 1}});
}

Result<Answer> link(const Call& call) {
  return json_answer({{"url", call.parts.options.link}, {"network", call.parts.options.network}});
}

Result<Answer> link_svg(const Call& call) {
  if (!call.parts.options.network)
    return fail(ErrorCode::not_found, "this server answers its own machine alone",
                "Start it with --address to open it to the network.");
  const auto code = qr_code(call.parts.options.link);
  if (!code) return tl::unexpected(code.error());
  return Answer{.type = "image/svg+xml", .body = qr_svg(*code)};
}

Json procedures_json() {
  Json out = Json::array();
  for (const auto& p : procedure::all_procedures())
    out.push_back({{"id", p->id()},
                   {"title", p->title()},
                   {"caution", p->caution()},
                   {"needs_spectrum", p->needs_spectrum()},
                   {"by_hand", false},
                   {"steps", Json::array()}});
  for (const auto& r : procedure::all_recordings()) {
    Json steps = Json::array();
    for (const auto& step : r.steps) steps.push_back(step.key);
    out.push_back({{"id", r.id},
                   {"title", r.title},
                   {"caution", ""},
                   {"needs_spectrum", false},
                   {"by_hand", true},
                   {"steps", std::move(steps)}});
  }
  return out;
}

Result<Answer> choices(const Call&) {
  return json_answer({{"transfers", {"pq", "hlg", "bt1886"}},
                      {"containers", {"bt709", "p3_d65", "bt2020"}},
                      {"ranges", {"narrow", "full"}},
                      {"bits", {8, 10, 12, 16}},
                      {"instrument_kinds", {"line", "manual", "import", "simulated"}},
                      {"simulated_displays", simulated::built_in_ids()},
                      {"procedures", procedures_json()}});
}

Json set_json(const evaluation::RequirementSet& set) {
  return {{"id", set.id}, {"title", set.title}, {"source", set.source}, {"note", set.note}, {"invented", set.invented}};
}

Result<evaluation::RequirementSet> built_in_set(const std::string& name) {
  const auto text = evaluation::built_in_requirement_text(name);
  if (!text) return fail(ErrorCode::not_found, "no set of this name comes with this build");
  return evaluation::parse_requirement_set(*text, name);
}

Result<Answer> requirement_sets(const Call&) {
  Json sets = Json::array();
  for (const auto& name : evaluation::built_in_requirement_sets()) {
    const auto set = built_in_set(name);
    if (!set) continue;  // a template, to be filled in first
    sets.push_back(set_json(*set));
    sets.back()["questions"] = set->questions.size();
  }
  return json_answer({{"sets", std::move(sets)}});
}

Result<Answer> requirement_set(const Call& call) {
  const auto set = built_in_set(call.word);
  if (!set) return tl::unexpected(set.error());
  auto out = set_json(*set);
  Json questions = Json::array();
  for (const auto& q : set->questions) questions.push_back(report::set_question_json(q));
  out["questions"] = std::move(questions);
  return json_answer(out);
}

Result<Answer> edits(const Call& call) {
  return json_answer(call.parts.history.json());
}

Result<Answer> step(const Call& call, Result<void> (History::*move)(store::Bench&)) {
  if (const auto body = call.body(); !body) return tl::unexpected(body.error());
  auto bench = call.parts.pool.take();
  if (!bench) return tl::unexpected(bench.error());
  if (auto moved = (call.parts.history.*move)(**bench); !moved) return tl::unexpected(moved.error());
  call.parts.changed("bench", 0);
  return edits(call);
}

Result<Answer> undo(const Call& call) {
  return step(call, &History::undo);
}

Result<Answer> redo(const Call& call) {
  return step(call, &History::redo);
}

/// The socket answers it itself: it does not end.
Result<Answer> no_stream(const Call&) {
  return fail(ErrorCode::unsupported, "events are streamed", "Open them as text/event-stream.");
}

}  // namespace

std::span<const Route> server_routes() {
  static constexpr std::array routes{Route{"GET", "/openapi.json", &description, {}},
                                     Route{"GET", "/version", &version, {}},
                                     Route{"GET", "/link", &link, {}},
                                     Route{"GET", "/link.svg", &link_svg, {}},
                                     Route{"GET", "/events", &no_stream, {}},
                                     Route{"GET", "/choices", &choices, {}},
                                     Route{"GET", "/requirement-sets", &requirement_sets, {}},
                                     Route{"GET", "/requirement-sets/{set}", &requirement_set, {}},
                                     Route{"GET", "/edits", &edits, {}},
                                     Route{"POST", "/undo", &undo, BodyKind::json},
                                     Route{"POST", "/redo", &redo, BodyKind::json}};
  return routes;
}

}  // namespace provenit::server
