// provenit correct colorimeter: a fast colorimeter set right by a reference, on this display.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <memory>

#include "correct_parts.h"
#include "provenit/loan/colorimeter.h"

namespace provenit::cli {
namespace {

struct CorrectColorimeterOptions : LoanChoice {
  store::Id reference = 0;
  std::string method = "four_colour";
};

std::string signed_with(const colour::Uncertain& x, const colour::Sources& sources, double unit, int decimals) {
  const double u = 2 * standard_uncertainty(x, sources);
  return fmt::format("{:+.{}f} +- {:.{}f}", x.value() / unit, decimals, u / unit, decimals);
}

std::string to_text(const loan::LoanMatrix& m, const std::string& bench) {
  std::string out = fmt::format("Correction {}: {} set right by {}, from {} pairs{}.\n", m.correction, m.colorimeter,
                                m.reference_instrument, m.found.residuals.size(),
                                m.left_out == 0 ? "" : fmt::format(" ({} more were too dark)", m.left_out));
  for (const auto& row : m.found.matrix.row)
    out += fmt::format("  {:9.5f} {:9.5f} {:9.5f}\n", row[0].value(), row[1].value(), row[2].value());
  Table table({"pair", "du' left", "dv' left", "luminance left, %"});
  for (const auto& r : m.found.residuals)
    table.add({r.name, signed_with(r.du, m.sources, 1, 5), signed_with(r.dv, m.sources, 1, 5),
               signed_with(r.relative_luminance, m.sources, 0.01, 2)});
  out += "Corrected minus reference (k = 2):\n" + table.text();
  if (m.found.degrees_of_freedom > 0)
    out += fmt::format(
        "Beyond noise a colour is off by {:.2f}, {:.2f} and {:.2f} % of X + Y + Z; that goes on into "
        "every figure.\n",
        100 * m.found.misfit[0], 100 * m.found.misfit[1], 100 * m.found.misfit[2]);
  for (const auto& w : m.warnings) out += "Look at this: " + w + '\n';
  return out +
         "From now on every figure of this display read with this colorimeter goes through it; the readings stay "
         "as they were taken.\nNext: provenit evaluate " +
         bench + '\n';
}

nlohmann::ordered_json matrix_json(const loan::LoanMatrix& m) {
  nlohmann::ordered_json matrix, residuals;
  for (const auto& row : m.found.matrix.row) matrix.push_back({row[0].value(), row[1].value(), row[2].value()});
  for (const auto& r : m.found.residuals)
    residuals.push_back({{"pair", r.name},
                         {"du", r.du.value()},
                         {"dv", r.dv.value()},
                         {"relative_luminance", r.relative_luminance.value()}});
  return {{"correction", m.correction},
          {"colorimeter", m.colorimeter},
          {"reference_instrument", m.reference_instrument},
          {"matrix", std::move(matrix)},
          {"residuals", std::move(residuals)},
          {"misfit", m.found.misfit},
          {"left_out", m.left_out},
          {"warnings", m.warnings}};
}

int colorimeter(const Output& output, const CorrectColorimeterOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  const auto reference = open->bench.loan(o.reference);
  if (!reference) return output.fail(reference.error());
  const auto method =
      o.method == "four_colour" ? correct::MatrixMethod::four_colour : correct::MatrixMethod::least_squares;
  const auto found = loan::match_colorimeter(open->bench, open->loan, *reference, method, machine_time());
  if (!found) return output.fail(found.error());
  output.say(to_text(*found, o.bench), matrix_json(*found));
  return kDone;
}

}  // namespace

void add_correct_colorimeter(Command& command, CLI::App& correct) {
  auto* sub = correct.add_subcommand("colorimeter", "a matrix from what this loan's colorimeter and a reference read");
  const auto o = std::make_shared<CorrectColorimeterOptions>();
  add_loan_choice(*sub, *o);
  sub->fallthrough();
  sub->add_option("--reference", o->reference, "number of the loan of this display that the reference reads")
      ->required();
  sub->add_option(
         "--method", o->method,
         "four_colour (red, green, blue, white; usual), least_squares (every colour of one procedure that both have)")
      ->check(CLI::IsMember({"four_colour", "least_squares"}));
  sub->callback([&command, o] { command.action = [&command, o] { return colorimeter(command.output, *o); }; });
}

}  // namespace provenit::cli
