// A loan's correction: what the display's model says, tables with their proof, and the readings that they need; the
// white balance as it stands.
#include <fmt/format.h>

#include <array>
#include <filesystem>

#include "model_shelf.h"
#include "parts.h"
#include "provenit/base/text.h"
#include "provenit/correct/display_kind.h"
#include "provenit/loan/balance.h"
#include "provenit/loan/correction.h"
#include "provenit/signal/encoding.h"
#include "sitting.h"

namespace provenit::server {
namespace {

constexpr std::array<const char*, 4> kCautions{
    "Bright windows follow in a dark room: look away, or announce them.",
    "Static bright signals can leave traces on a self-emissive panel.",
    "Let the display warm up first.",
    "A table must not be active in the display while this runs.",
};
constexpr std::array<const char*, 3> kBalanceCautions{
    "Static greys stay on while they are read; bright ones go to black before controls are set.",
    "Never open a powered display. Write down how the controls stand before the first is turned.",
    "Readings taken before describe the display as it was.",
};

template <std::size_t N>
std::vector<std::string> texts(const std::array<const char*, N>& all) {
  return {all.begin(), all.end()};
}

// What was read and solved -------------------------------------------------------------------------------------------

Json record_json(const store::CorrectionRecord& c) {
  return {{"correction", c.id}, {"run", c.run},   {"name", c.name},          {"added", iso8601(c.added)},
          {"bytes", c.bytes},   {"goal", c.goal}, {"sha256", c.content_hash}};
}

Json kinds_json() {
  Json out = Json::array();
  for (const auto& k : correct::display_kinds())
    out.push_back({{"id", k.id},
                   {"title", k.title},
                   {"tables", k.tables},
                   {"sizes_1d", k.sizes_1d},
                   {"sizes_3d", k.sizes_3d},
                   {"entry_bits", k.entry_bits},
                   {"files", k.files}});
  return out;
}

Result<Answer> correction(const Call& call) {
  const auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto& bench = *open->bench;
  const auto all = bench.corrections(open->loan.id);
  if (!all) return tl::unexpected(all.error());
  const auto proof = loan::proof_of(bench, open->loan);
  if (!proof) return tl::unexpected(proof.error());
  Json records = Json::array();
  for (const auto& c : *all)
    if (c.goal.contains("shape")) records.push_back(record_json(c));  // others set readings right, not the display
  const auto model = call.parts.models.model(bench, open->loan);
  const bool none = !model && model.error().code == ErrorCode::not_found;
  return json_answer({{"cautions", texts(kCautions)},
                      {"model", model ? **model : Json(nullptr)},
                      {"problem", model || none ? Json(nullptr) : problem_json(model.error(), call.parts.pool.path())},
                      {"corrections", std::move(records)},
                      {"proof", *proof ? loan::to_json(**proof) : Json(nullptr)},
                      {"kinds", kinds_json()}});
}

Result<Answer> correction_file(const Call& call) {
  const auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto all = open->bench->corrections(open->loan.id);
  if (!all) return tl::unexpected(all.error());
  const auto found = std::ranges::find(*all, call.numbers.at(1), &store::CorrectionRecord::id);
  if (found == all->end()) return fail(ErrorCode::not_found, "the loan has no such correction");
  auto content = open->bench->correction_content(found->id);
  if (!content) return tl::unexpected(content.error());
  return Answer{.type = "application/octet-stream", .body = std::move(*content), .save_as = found->name};
}

// Readings ------------------------------------------------------------------------------------------------------------

Result<Answer> read_model(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"cautions_read", "screen", "minutes", "window_percent", "primaries", "settle_s", "again"});
  const auto begun = begun_of(in);
  loan::ModelRun asked;
  asked.minutes = in.number("minutes", 1, 1440).value_or(asked.minutes);
  asked.window_percent = in.number("window_percent", 0.1, 100).value_or(asked.window_percent);
  asked.primaries = in.choice("primaries", {"bt709", "p3_d65", "bt2020"}).value_or(asked.primaries);
  asked.settle_s = in.number("settle_s", 0, 600).value_or(asked.settle_s);
  asked.again = in.flag("again").value_or(false);
  if (in.error()) return tl::unexpected(*in.error());
  return begin(call, begun,
               {.procedure = "display_model",
                .title = "Patches for a display model",
                .cautions = texts(kCautions),
                .run = [asked](auto& bench, const auto& loan, auto& devices, const auto& hooks) {
                  return loan::read_model(bench, loan, devices, asked, hooks);
                }});
}

Result<Answer> read_proof(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"cautions_read", "screen", "correction", "colours", "settle_s", "again"});
  const auto begun = begun_of(in);
  loan::ProofRun asked;
  asked.correction = in.integer("correction", 0, 1'000'000'000'000).value_or(0);
  asked.colours = static_cast<int>(in.integer("colours", 12, 10'000).value_or(asked.colours));
  asked.settle_s = in.number("settle_s", 0, 600).value_or(asked.settle_s);
  asked.again = in.flag("again").value_or(false);
  if (in.error()) return tl::unexpected(*in.error());
  return begin(call, begun,
               {.procedure = "correction_proof",
                .title = "Proof of a correction",
                .cautions = texts(kCautions),
                .run = [asked](auto& bench, const auto& loan, auto& devices, const auto& hooks) {
                  return loan::read_proof(bench, loan, devices, asked, hooks);
                }});
}

// Tables --------------------------------------------------------------------------------------------------------------

/// A file of that name in the folder of corrections beside the bench. Errors: invalid_input; io.
Result<std::string> table_path(const Call& call, const std::string& name) {
  const std::filesystem::path given(name);
  const auto ending = given.extension();
  const bool plain = given.filename() == given && !name.starts_with('.') && name.find('\\') == std::string::npos;
  if (!plain || (ending != ".cube" && ending != ".clf" && ending != ".icc"))
    return fail(ErrorCode::invalid_input, "'" + name + "' is no name for a table",
                "Give a name without folders that ends in .cube, .clf or .icc.", {.field = "file"});
  const auto stem = std::filesystem::path(call.parts.pool.name()).stem().string();
  const auto folder = std::filesystem::path(call.parts.pool.folder()) / (stem + "-corrections");
  std::error_code ec;
  std::filesystem::create_directories(folder, ec);
  if (ec)
    return fail(ErrorCode::io, "the folder of corrections cannot be made: " + ec.message(), "See its permissions.");
  return (folder / given).string();
}

Result<Answer> solve(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"file", "shape", "size", "entry_bits", "kind", "primaries", "peak_cdm2", "mapping", "limit"});
  const auto file = in.needed_text("file", 120);
  const auto shape = in.choice("shape", {"3d", "1d", "3x3"}).value_or("3d");
  loan::SolveRequest request;
  request.shape = shape == "1d"    ? loan::TableShape::curves
                  : shape == "3x3" ? loan::TableShape::matrix
                                   : loan::TableShape::three_d;
  const bool cube = request.shape == loan::TableShape::three_d;
  request.size = static_cast<int>(in.integer("size", 2, cube ? 129 : 65'536).value_or(cube ? 33 : 4096));
  request.entry_bits = static_cast<int>(in.integer("entry_bits", 0, 16).value_or(0));
  request.kind = in.text("kind", 100).value_or("");
  const auto primaries = in.choice("primaries", {"bt709", "p3_d65", "bt2020"});
  const auto peak = in.number("peak_cdm2", 0, 100'000, true);
  const bool soft = in.choice("mapping", {"hard", "soft"}).value_or("hard") == "soft";
  request.goal.limit_to_primaries = in.flag("limit").value_or(false);
  if (in.error()) return tl::unexpected(*in.error());
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto model = loan::model_of(*open->bench, open->loan, {.diagnose = false});
  if (!model) return tl::unexpected(model.error());
  const auto path = table_path(call, file);
  if (!path) return tl::unexpected(path.error());
  request.path = *path;
  request.primaries = primaries.value_or(model->parameters.value("primaries", "p3_d65"));
  const auto container = signal::container_from_name(request.primaries);
  if (!container) return fail(ErrorCode::invalid_input, "'" + request.primaries + "' names no primaries");
  request.goal.primaries = signal::primaries_of(*container);
  request.goal.input = model->model.encoding();
  if (peak) request.goal.peak = colour::Luminance<>{.cdm2 = *peak};
  request.goal.mapping.mapping = soft ? correct::Mapping::soft_shoulder : correct::Mapping::hard_clip;
  const auto table = loan::solve_table(*open->bench, open->loan, *model, request, machine_time());
  if (!table) return tl::unexpected(table.error());
  const auto& errors = table->solved.errors;
  double mean = 0;
  for (const double e : errors) mean += e / static_cast<double>(errors.size());
  call.parts.changed("loan", open->loan.id);
  return json_answer({{"correction", table->correction},
                      {"folder", std::filesystem::path(*path).parent_path().filename()},
                      {"name", file},
                      {"peak_cdm2", table->solved.peak.cdm2},
                      {"colours", errors.size()},
                      {"model_mean_delta_e_itp", mean},
                      {"model_p95_delta_e_itp", errors.empty() ? 0 : errors[errors.size() * 95 / 100]},
                      {"model_max_delta_e_itp", errors.empty() ? 0 : errors.back()},
                      {"mapped", table->solved.mapped}},
                     201);
}

// White balance -------------------------------------------------------------------------------------------------------

Result<Answer> read_balance(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"cautions_read", "screen", "controls", "levels_percent", "white", "tolerance_uv",
                    "luminance_percent", "window_percent", "settle_s", "again"});
  const auto begun = begun_of(in);
  loan::BalanceRequest asked;
  if (in.has("controls")) {
    const auto& list = (*body)["controls"];
    if (!list.is_array() || list.size() > correct::kMostControls) in.refuse("controls", "a list of controls is needed");
    for (std::size_t i = 0; !in.error() && i < list.size(); ++i) {
      Fields one(list[i], {"name", "lowest", "highest", "step", "now"}, fmt::format("controls.{}.", i));
      correct::Control control{.name = one.needed_text("name", 100)};
      control.lowest = one.number("lowest", -1e6, 1e6).value_or(0);
      control.highest = one.number("highest", -1e6, 1e6).value_or(100);
      control.step = one.number("step", 0, 1e6, true).value_or(1);
      asked.start.push_back(one.number("now", -1e6, 1e6).value_or(0));
      asked.controls.push_back(std::move(control));
      in.note(one.error());
    }
  }
  const auto numbers = [&](const char* key, std::size_t most) {
    std::vector<double> out;
    if (!in.has(key)) return out;
    const auto& list = (*body)[key];
    bool right = list.is_array() && list.size() <= most;
    for (const auto& n : right ? list : nlohmann::json::array()) {
      right = right && n.is_number();
      if (right) out.push_back(n.get<double>());
    }
    if (!right) in.refuse(key, "a list of numbers is needed here");
    return out;
  };
  asked.levels_percent = numbers("levels_percent", correct::kMostLevels);
  if (const auto white = numbers("white", 2); white.size() == 2) asked.white = {.x = white[0], .y = white[1]};
  asked.tolerance.uv = in.number("tolerance_uv", 0, 1, true).value_or(asked.tolerance.uv);
  if (const auto percent = in.number("luminance_percent", 0, 100, true)) {
    asked.luminance = true;
    asked.tolerance.luminance_relative = *percent / 100;
  }
  asked.window_percent = in.number("window_percent", 0.1, 100).value_or(asked.window_percent);
  asked.settle_s = in.number("settle_s", 0, 600).value_or(asked.settle_s);
  asked.again = in.flag("again").value_or(false);
  if (in.error()) return tl::unexpected(*in.error());
  return begin(call, begun,
               {.procedure = "balance",
                .title = "White balance with the display's own controls",
                .cautions = texts(kBalanceCautions),
                .run = [asked](auto& bench, const auto& loan, auto& devices,
                               const auto& hooks) -> Result<procedure::RunOutcome> {
                  auto done = loan::balance(bench, loan, asked, devices,
                                            {.progress = hooks.progress, .stop_requested = hooks.stop_requested});
                  if (!done) return tl::unexpected(done.error());
                  return std::move(done->run);
                }});
}

Json figure_json(const correct::BalanceFigure& f) {
  return {{"value", f.value}, {"lower95", f.interval.lower}, {"upper95", f.interval.upper}};
}

Json figures_json(const correct::LevelFigures& f) {
  if (!f.has_light) return nullptr;
  return {{"delta_uv", figure_json(f.uv)},
          {"luminance_relative", f.luminance ? figure_json(*f.luminance) : Json(nullptr)},
          {"delta_e_itp", f.itp ? figure_json(*f.itp) : Json(nullptr)},
          {"ratio", f.ratio},
          {"verdict", f.upper_ratio <= 1  ? "within"
                      : f.lower_ratio > 1 ? "out"
                                          : "undecided"}};
}

Json level_json(const correct::BalanceLevel& level, const std::optional<loan::BalanceStanding::Level>& read) {
  Json out = {{"name", level.name},
              {"target",
               {{"x", level.white.x},
                {"y", level.white.y},
                {"cdm2", level.luminance_cdm2 ? Json(*level.luminance_cdm2) : Json(nullptr)}}},
              {"readings", read ? read->readings : 0},
              {"light", nullptr},
              {"figures", nullptr}};
  if (read && read->light.Y > 0) {
    const auto& l = read->light;
    const double sum = l.X + l.Y + l.Z;
    out["light"] = {{"x", l.X / sum}, {"y", l.Y / sum}, {"cdm2", l.Y}};
    out["figures"] = figures_json(read->figures);
  }
  return out;
}

Json standing_json(const loan::BalanceStanding& s) {
  const auto& settings = s.step.finished ? s.step.outcome->settings : s.step.settings;
  Json controls = Json::array(), levels = Json::array(), reasons = Json::array();
  for (std::size_t j = 0; j < s.task.controls.size(); ++j) {
    const auto& c = s.task.controls[j];
    controls.push_back({{"name", c.name},
                        {"lowest", c.lowest},
                        {"highest", c.highest},
                        {"step", c.step},
                        {"was", s.task.start[j]},
                        {"now", s.now[j]},
                        {"next", settings[j]},
                        {"acts", s.step.finished ? Json(s.step.outcome->effects[j].acts) : Json(nullptr)}});
  }
  for (std::size_t i = 0; i < s.task.levels.size(); ++i) levels.push_back(level_json(s.task.levels[i], s.levels[i]));
  if (s.step.finished)
    for (const auto& r : s.step.outcome->reasons)
      reasons.push_back({{"limit", name_of(r.limit)}, {"name", r.name}, {"text", r.text}});
  const auto& t = s.task.tolerance;
  return {{"run", s.run.id},
          {"state", store::name_of(s.run.state)},
          {"controls", std::move(controls)},
          {"levels", std::move(levels)},
          {"tolerance",
           {{"delta_uv", t.uv},
            {"luminance_relative", t.luminance_relative},
            {"delta_e_itp", t.itp ? Json(*t.itp) : Json(nullptr)}}},
          {"visits", s.visits},
          {"readings", s.readings},
          {"finished", s.step.finished},
          {"move", name_of(s.step.move)},
          {"new_visit", s.step.new_visit},
          {"level", s.step.level},
          {"why", s.step.why},
          {"verdict", s.step.finished ? Json(name_of(s.step.outcome->verdict)) : Json(nullptr)},
          {"reasons", std::move(reasons)}};
}

Result<Answer> balance(const Call& call) {
  const auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto standing = loan::balance_standing(*open->bench, open->loan);
  if (!standing) return tl::unexpected(standing.error());
  return json_answer(
      {{"cautions", texts(kBalanceCautions)}, {"standing", *standing ? standing_json(**standing) : Json(nullptr)}});
}

}  // namespace

std::span<const Route> correction_routes() {
  static constexpr std::array routes{Route{"GET", "/loans/{loan}/correction", &correction, {}},
                                     Route{"GET", "/loans/{loan}/corrections/{correction}/file", &correction_file, {}},
                                     Route{"POST", "/loans/{loan}/correction/read", &read_model, BodyKind::json},
                                     Route{"POST", "/loans/{loan}/correction/solve", &solve, BodyKind::json},
                                     Route{"POST", "/loans/{loan}/correction/prove", &read_proof, BodyKind::json},
                                     Route{"GET", "/loans/{loan}/balance", &balance, {}},
                                     Route{"POST", "/loans/{loan}/balance", &read_balance, BodyKind::json}};
  return routes;
}

}  // namespace provenit::server
