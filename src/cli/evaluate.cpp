// provenit evaluate: readings -> findings and verdicts. provenit report: the page and the data package.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>
#include <memory>

#include "provenit/base/text.h"
#include "provenit/loan/loan.h"
#include "provenit/report/html.h"
#include "provenit/report/package.h"
#include "report_frames.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct EvaluateOptions : LoanChoice {
  std::string out;
  std::vector<std::string> films;
};

std::string conditions_text(const nlohmann::json& conditions) {
  std::string out;
  for (const auto& [key, value] : conditions.items()) out += (out.empty() ? "" : ", ") + key + " " + value.dump();
  return out;
}

nlohmann::ordered_json to_json(const loan::Evaluation& evaluation) {
  nlohmann::ordered_json out;
  auto& findings = out["findings"] = nlohmann::ordered_json::array();
  for (const auto& f : evaluation.findings)
    findings.push_back({{"quantity", f.quantity},
                        {"conditions", f.conditions},
                        {"value", f.value},
                        {"unit", f.unit},
                        {"standard_uncertainty", f.standard_uncertainty},
                        {"lower95", f.lower95},
                        {"upper95", f.upper95},
                        {"interval_method", f.interval_method},
                        {"dominant", f.dominant},
                        {"method", f.method},
                        {"method_version", f.method_version},
                        {"parts", f.parts},
                        {"readings", f.readings.size()}});
  auto& verdicts = out["verdicts"] = nlohmann::ordered_json::array();
  for (const auto& v : evaluation.verdicts) {
    const auto q = std::ranges::find(evaluation.questions, v.question, &store::QuestionRecord::id);
    verdicts.push_back({{"set", q->set},
                        {"key", q->key},
                        {"verdict", name_of(v.verdict)},
                        {"margin", v.margin ? nlohmann::ordered_json(*v.margin) : nullptr},
                        {"decides", v.decides},
                        {"text", v.text}});
  }
  out["notes"] = evaluation.notes;
  return out;
}

int evaluate(const Output& output, const EvaluateOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  auto& [bench, loan] = *open;
  const auto evaluation = loan::evaluate(bench, loan, machine_time(), kSoftware);
  if (!evaluation) return output.fail(evaluation.error());
  Table findings({"quantity", "conditions", "value", "95 % interval", "unit", "dominated by"});
  for (const auto& f : evaluation->findings) {
    const auto text = figure_text(f.value, f.lower95, f.upper95, f.standard_uncertainty);
    findings.add({f.quantity, conditions_text(f.conditions), text.value, text.interval, f.unit, f.dominant});
  }
  Table verdicts({"set", "question", "verdict", "why"});
  for (const auto& v : evaluation->verdicts) {
    const auto q = std::ranges::find(evaluation->questions, v.question, &store::QuestionRecord::id);
    verdicts.add({q->set, q->key, name_of(v.verdict), v.text});
  }
  std::string notes;
  for (const auto& note : evaluation->notes) notes += "no finding from " + note + '\n';
  output.say(findings.text() + notes + '\n' + verdicts.text() +
                 fmt::format("\nNext: provenit report {} --out report\n", o.bench),
             to_json(*evaluation));
  return kDone;
}

int report(const Output& output, const EvaluateOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  auto& [bench, loan] = *open;
  const auto contents = loan::contents_of(bench, loan, machine_time(), kSoftware);
  if (!contents) return output.fail(contents.error());
  if (contents->findings.empty())
    return output.fail({ErrorCode::not_found,
                        "nothing has been evaluated yet",
                        "Run `provenit evaluate " + o.bench + "` first.",
                        {.file = o.bench}});
  auto shown = *contents;  // pictures stand in the page alone, not among the data
  if (auto added = add_frames(shown, bench, loan, o.films); !added) return output.fail(added.error());
  const auto document = report::Document::build(shown);
  if (!document) return output.fail(document.error());
  const auto page = report::html(*document);
  if (!page) return output.fail(page.error());
  const auto package = report::write_package(o.out + "/data", *contents);
  if (!package) return output.fail(package.error());
  const auto path = o.out + "/report.html";
  if (auto written = write_file(path, *page); !written) return output.fail(written.error());
  output.say(fmt::format("Report: {}\nData package: {}/data ({} files)\n", path, o.out, package->size()),
             {{"report", path}, {"package", o.out + "/data"}, {"files", *package}});
  return kDone;
}

}  // namespace

void add_evaluate(Command& command) {
  const auto o = std::make_shared<EvaluateOptions>();
  auto* verb = add_verb(command, "evaluate", "turn the readings into findings with uncertainty, and verdicts",
                        "provenit evaluate tern.bench\nprovenit evaluate tern.bench --json");
  add_loan_choice(*verb, *o);
  verb->callback([&command, o] { command.action = [&command, o] { return evaluate(command.output, *o); }; });
}

void add_report(Command& command) {
  const auto o = std::make_shared<EvaluateOptions>();
  auto* verb = add_verb(command, "report", "write the report (one HTML file) and the data package",
                        "provenit report tern.bench --out tern-report\n"
                        "provenit report tern.bench --out tern-report --film shore.mp4");
  add_loan_choice(*verb, *o);
  verb->add_option("--out", o->out, "folder to write into; made if missing")->required();
  verb->add_option("--film", o->films,
                   "film of a surveyed title: frames of it as the display would show them go into the page");
  verb->callback([&command, o] { command.action = [&command, o] { return report(command.output, *o); }; });
}

}  // namespace provenit::cli
