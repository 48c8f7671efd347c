// Findings of several loans held against those of the first: what differs, and how surely.
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "parts.h"
#include "provenit/base/text.h"
#include "provenit/evaluation/comparison.h"

namespace provenit::server {
namespace {

constexpr std::size_t kMostLoans = 20;

struct Side {
  store::LoanRecord loan;
  std::string display;
  std::vector<store::FindingRecord> findings;
};

Result<std::vector<store::Id>> loans_asked(const Request& request) {
  const auto text = query_text(request, "loans", 200);
  if (!text) return tl::unexpected(text.error());
  std::vector<store::Id> ids;
  for (std::size_t from = 0; from <= text->size() && !text->empty();) {
    const auto comma = std::min(text->find(',', from), text->size());
    const auto id = parse_integer(std::string_view(*text).substr(from, comma - from));
    if (!id || *id < 1)
      return fail(ErrorCode::invalid_input, "loans are their numbers, parted by commas", "", {.field = "loans"});
    if (std::ranges::find(ids, *id) == ids.end()) ids.push_back(*id);
    from = comma + 1;
  }
  if (ids.size() < 2 || ids.size() > kMostLoans)
    return fail(ErrorCode::invalid_input, fmt::format("{} loans are named", ids.size()),
                fmt::format("Name two to {}; the first is what the others are held against.", kMostLoans),
                {.field = "loans"});
  return ids;
}

Result<Side> side_of(const store::Bench& bench, store::Id id) {
  auto loan = bench.loan(id);
  if (!loan) return tl::unexpected(loan.error());
  auto display = bench.display(loan->display);
  if (!display) return tl::unexpected(display.error());
  auto findings = bench.latest_findings(id);
  if (!findings) return tl::unexpected(findings.error());
  return Side{std::move(*loan), std::move(display->name), std::move(*findings)};
}

const char* outcome_name(evaluation::Outcome outcome) {
  if (outcome == evaluation::Outcome::a_higher) return "higher";
  return outcome == evaluation::Outcome::b_higher ? "lower" : "no_difference_shown";
}

/// Every finding of `side` that the reference has too. What cannot be compared (an uncertainty that is not finite) is
/// left out.
void add_pairs(Json& pairs, const Side& side, const Side& reference) {
  for (const auto& f : side.findings) {
    const auto same = std::ranges::find_if(reference.findings, [&](const store::FindingRecord& r) {
      return r.quantity == f.quantity && r.conditions == f.conditions;
    });
    if (same == reference.findings.end()) continue;
    const auto found = evaluation::compare(f, *same, side.loan.instrument == reference.loan.instrument,
                                           {.a = side.display, .b = reference.display});
    if (!found) continue;
    pairs.push_back({{"loan", side.loan.id},
                     {"quantity", f.quantity},
                     {"conditions", f.conditions},
                     {"reference_finding", same->id},
                     {"finding", f.id},
                     {"difference", found->difference},
                     {"lower95", found->interval.lower},
                     {"upper95", found->interval.upper},
                     {"outcome", outcome_name(found->outcome)},
                     {"cancelled", found->cancelled},
                     {"text", found->text}});
  }
}

Result<Answer> get_comparison(const Call& call) {
  const auto ids = loans_asked(call.request);
  if (!ids) return tl::unexpected(ids.error());
  const auto bench = call.parts.pool.take();
  if (!bench) return tl::unexpected(bench.error());
  const auto reference = side_of(**bench, ids->front());
  if (!reference) return tl::unexpected(reference.error());
  Json pairs = Json::array();
  for (std::size_t i = 1; i < ids->size(); ++i) {
    const auto side = side_of(**bench, (*ids)[i]);
    if (!side) return tl::unexpected(side.error());
    add_pairs(pairs, *side, *reference);
  }
  return json_answer({{"reference", reference->loan.id}, {"pairs", std::move(pairs)}});
}

}  // namespace

std::span<const Route> compare_routes() {
  static constexpr std::array routes{Route{"GET", "/compare", &get_comparison, {}}};
  return routes;
}

}  // namespace provenit::server
