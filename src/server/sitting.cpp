#include "sitting.h"

namespace provenit::server {

Begun begun_of(Fields& in) {
  if (!in.flag("cautions_read").value_or(false))
    in.refuse("cautions_read", "nobody has said that the cautions were read",
              "Show them to whoever is in the room, then send true.");
  return {.page = in.choice("screen", {"none", "page"}).value_or("none") == "page"};
}

Result<Answer> begin(const Call& call, const Begun& begun, SittingTask task) {
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  RunWish wish{.page = begun.page, .task = std::move(task)};
  if (auto started = call.parts.runs.start(open->loan.id, wish); !started) return tl::unexpected(started.error());
  const auto state = call.parts.runs.state(*open->bench, open->loan.id);
  if (!state) return tl::unexpected(state.error());
  return json_answer(*state, 202);
}

}  // namespace provenit::server
