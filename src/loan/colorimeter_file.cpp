#include "colorimeter_file.h"

#include "provenit/base/text.h"

namespace provenit::loan {
namespace {

constexpr std::size_t kEntries = 9;

nlohmann::json to_json(const instrument::Certificate& c) {
  return {{"luminance_expanded_relative", c.luminance_expanded_relative},
          {"x_expanded", c.x_expanded},
          {"y_expanded", c.y_expanded},
          {"coverage_factor", c.coverage_factor},
          {"number", c.number},
          {"issuer", c.issuer},
          {"date", c.date}};
}

instrument::Certificate certificate_from(const nlohmann::json& j) {
  instrument::Certificate c;
  c.luminance_expanded_relative = j.at("luminance_expanded_relative").get<double>();
  c.x_expanded = j.at("x_expanded").get<double>();
  c.y_expanded = j.at("y_expanded").get<double>();
  c.coverage_factor = j.at("coverage_factor").get<double>();
  c.number = j.at("number").get<std::string>();
  c.issuer = j.at("issuer").get<std::string>();
  c.date = j.at("date").get<std::string>();
  return c;
}

}  // namespace

const char* name_of(correct::MatrixMethod method) {
  return method == correct::MatrixMethod::four_colour ? "four_colour" : "least_squares";
}

evaluation::ReadingMatrix reading_matrix_of(const correct::InstrumentMatrix& found, const correct::Sources& sources) {
  evaluation::ReadingMatrix out{.misfit = found.misfit, .degrees_of_freedom = found.degrees_of_freedom};
  const auto entry = [&](std::size_t i) -> const colour::Uncertain& { return found.matrix(i / 3, i % 3); };
  for (std::size_t i = 0; i < kEntries; ++i) {
    out.value(i / 3, i % 3) = entry(i).value();
    for (std::size_t j = 0; j < kEntries; ++j)
      out.covariance[kEntries * i + j] = covariance(entry(i), entry(j), sources);
  }
  return out;
}

std::string text_of(const ColorimeterFile& file) {
  auto pairs = nlohmann::json::array();
  for (const auto& p : file.pairs)
    pairs.push_back({{"name", p.name},
                     {"procedure", p.procedure},
                     {"step", p.step},
                     {"colorimeter_run", p.colorimeter_run},
                     {"reference_run", p.reference_run}});
  const auto& m = file.matrix;
  const nlohmann::ordered_json out{{"schema", "provenit-colorimeter/1"},
                                   {"method", name_of(file.method)},
                                   {"matrix", m.value.row},
                                   {"covariance", m.covariance},
                                   {"misfit", m.misfit},
                                   {"degrees_of_freedom", m.degrees_of_freedom},
                                   {"display", file.conditions.display},
                                   {"mode", file.conditions.mode},
                                   {"colorimeter", file.conditions.instrument},
                                   {"made", iso8601(file.conditions.made)},
                                   {"reference_loan", file.reference_loan},
                                   {"reference_instrument", file.reference_instrument},
                                   {"reference_certificate", to_json(file.reference_certificate)},
                                   {"pairs", std::move(pairs)}};
  return out.dump(2) + '\n';
}

Result<ColorimeterFile> colorimeter_file_from(const std::string& text, const std::string& name) {
  try {
    const auto j = nlohmann::json::parse(text);
    const auto made = parse_iso8601(j.at("made").get<std::string>());
    if (!made) return tl::unexpected(made.error());
    ColorimeterFile out;
    out.method = j.at("method") == name_of(correct::MatrixMethod::four_colour) ? correct::MatrixMethod::four_colour
                                                                               : correct::MatrixMethod::least_squares;
    j.at("matrix").get_to(out.matrix.value.row);
    j.at("covariance").get_to(out.matrix.covariance);
    j.at("misfit").get_to(out.matrix.misfit);
    out.matrix.degrees_of_freedom = j.at("degrees_of_freedom").get<double>();
    out.conditions = {j.at("display").get<std::string>(), j.at("mode").get<std::string>(),
                      j.at("colorimeter").get<std::string>(), *made};
    out.reference_loan = j.at("reference_loan").get<store::Id>();
    out.reference_instrument = j.at("reference_instrument").get<std::string>();
    out.reference_certificate = certificate_from(j.at("reference_certificate"));
    for (const auto& p : j.at("pairs"))
      out.pairs.push_back({p.at("name").get<std::string>(), p.at("procedure").get<std::string>(),
                           p.at("step").get<std::string>(), p.at("colorimeter_run").get<store::Id>(),
                           p.at("reference_run").get<store::Id>()});
    return out;
  } catch (const nlohmann::json::exception& e) {
    return fail(ErrorCode::invalid_input, name + " is not a colorimeter's matrix: " + e.what(),
                "Make it anew: provenit correct colorimeter");
  }
}

Result<correct::MatrixConditions> conditions_of(const store::Bench& bench, const store::LoanRecord& loan,
                                                Timestamp at) {
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  const auto instrument = bench.instrument(loan.instrument);
  if (!instrument) return tl::unexpected(instrument.error());
  return correct::MatrixConditions{display->name, display->details.value("mode", std::string()), instrument->name, at};
}

}  // namespace provenit::loan
