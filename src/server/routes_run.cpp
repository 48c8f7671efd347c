// A loan's run: how it stands, and what it is told.
#include <array>

#include "parts.h"

namespace provenit::server {
namespace {

Result<Answer> run_state(const Call& call, int status) {
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto state = call.parts.runs.state(*open->bench, open->loan.id);
  if (!state) return tl::unexpected(state.error());
  return json_answer(*state, status);
}

Result<Answer> get_run(const Call& call) {
  return run_state(call, 200);
}

Result<Answer> change_run(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"action", "cautions_read", "hours", "procedures", "again", "screen", "evaluate"});
  const auto action = in.needed_choice("action", {"start", "pause", "resume", "skip", "stop"});
  const bool cautions_read = in.flag("cautions_read").value_or(false);
  RunWish wish;
  wish.hours = in.number("hours", 0, 100'000, true);
  wish.procedures = in.texts("procedures", 100, 100);
  wish.again = in.flag("again").value_or(false);
  wish.page = in.choice("screen", {"none", "page"}).value_or("none") == "page";
  wish.evaluate = in.flag("evaluate").value_or(true);
  const bool begins = action == "start" || action == "resume";
  if (begins && !cautions_read)
    in.refuse("cautions_read", "nobody has said that the cautions were read",
              "Show the loan's /cautions to whoever is in the room, then send true.");
  if (in.error()) return tl::unexpected(*in.error());
  {
    const auto open = open_loan(call);
    if (!open) return tl::unexpected(open.error());
  }
  auto& runs = call.parts.runs;
  const auto id = call.loan();
  const auto done = action == "start"    ? runs.start(id, wish)
                    : action == "resume" ? runs.resume(id, wish)
                    : action == "pause"  ? runs.pause(id)
                    : action == "skip"   ? runs.skip(id)
                                         : runs.stop(id);
  if (!done) return tl::unexpected(done.error());
  return run_state(call, 202);
}

Result<Answer> answer_prompt(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"number", "text"});
  const auto number = in.needed_integer("number", 1, 1'000'000'000);
  const auto text = in.text("text", 1000);
  if (!in.has("text")) in.refuse("text", "is missing", "Send the answer; an empty one is Enter.");
  if (in.error()) return tl::unexpected(*in.error());
  if (auto done = call.parts.runs.answer(call.loan(), static_cast<int>(number), text.value_or("")); !done)
    return tl::unexpected(done.error());
  return run_state(call, 202);
}

}  // namespace

std::span<const Route> run_routes() {
  static constexpr std::array routes{Route{"GET", "/loans/{loan}/run", &get_run, {}},
                                     Route{"POST", "/loans/{loan}/run", &change_run, BodyKind::json},
                                     Route{"POST", "/loans/{loan}/answer", &answer_prompt, BodyKind::json}};
  return routes;
}

}  // namespace provenit::server
