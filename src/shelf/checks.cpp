#include "checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "provenit/loan/loan.h"
#include "provenit/procedure/catalogue.h"

namespace provenit::shelf {
namespace {

constexpr double kAgree = 1e-6;

bool agree(double a, double b) {
  if (!std::isfinite(a) || !std::isfinite(b)) return a == b;
  return std::abs(a - b) <= kAgree * std::max(std::abs(a), std::abs(b));
}

std::string name_in_words(const store::FindingRecord& f) {
  const auto conditions = conditions_text(f.conditions);
  return conditions.empty() ? f.quantity : fmt::format("{} ({})", f.quantity, conditions);
}

Result<void> check_files(const store::Bench& bench) {
  if (auto ok = bench.verify_attachments(); !ok) return ok;
  const auto loans = bench.loans();
  if (!loans) return tl::unexpected(loans.error());
  for (const auto& loan : *loans) {
    const auto corrections = bench.corrections(loan.id);
    if (!corrections) return tl::unexpected(corrections.error());
    for (const auto& c : *corrections)
      if (const auto content = bench.correction_content(c.id); !content) return tl::unexpected(content.error());
  }
  return {};
}

/// Findings against what their readings give.
Result<void> check_findings(const store::Bench& bench, const store::LoanRecord& loan,
                            const std::vector<store::FindingRecord>& stored, const std::string& software) {
  const auto again = loan::computed(bench, loan, stored.front().computed, software);
  if (!again) return tl::unexpected(again.error());
  for (const auto& f : stored) {
    const auto* found = finding_like(again->findings, f);
    if (found != nullptr && same_numbers(*found, f)) continue;
    const auto gives = found == nullptr
                           ? std::string("nothing of the kind")
                           : fmt::format("{:.6g} [{:.6g}, {:.6g}]", found->value, found->lower95, found->upper95);
    return fail(ErrorCode::invalid_input,
                fmt::format("loan {}, finding {}, {}: {:.6g} [{:.6g}, {:.6g}] is stored, its readings give {}", loan.id,
                            f.id, name_in_words(f), f.value, f.lower95, f.upper95, gives),
                "Either readings were taken after it was computed, then evaluate the loan again; or the bench was "
                "changed outside this program.");
  }
  return {};
}

}  // namespace

Error in_file(Error error, const std::string& file) {
  error.where.file = file;
  return error;
}

const store::FindingRecord* finding_like(const std::vector<store::FindingRecord>& findings,
                                         const store::FindingRecord& like) {
  const auto found = std::ranges::find_if(findings, [&](const store::FindingRecord& f) {
    return f.quantity == like.quantity && f.conditions == like.conditions;
  });
  return found == findings.end() ? nullptr : &*found;
}

bool same_numbers(const store::FindingRecord& a, const store::FindingRecord& b) {
  return a.unit == b.unit && agree(a.value, b.value) && agree(a.lower95, b.lower95) && agree(a.upper95, b.upper95);
}

Result<void> check_bench(const store::Bench& bench, const std::string& software, Entry& entry) {
  if (auto ok = bench.verify_readings(); !ok) return ok;
  if (auto ok = check_files(bench); !ok) return ok;
  const auto loans = bench.loans();
  if (!loans) return tl::unexpected(loans.error());
  const auto readings = bench.reading_count();
  if (!readings) return tl::unexpected(readings.error());
  entry.readings = *readings;
  std::size_t findings = 0;
  for (const auto& loan : *loans) {
    const auto runs = bench.runs(loan.id);
    if (!runs) return tl::unexpected(runs.error());
    entry.runs += static_cast<std::int64_t>(runs->size());
    const auto stored = bench.latest_findings(loan.id);
    if (!stored) return tl::unexpected(stored.error());
    if (stored->empty()) {
      entry.notes.push_back(fmt::format("Loan {} has no findings: it is not shown.", loan.id));
      continue;
    }
    findings += stored->size();
    for (const auto& f : *stored)
      if (procedure::find_quantity(f.quantity) == nullptr)
        return fail(
            ErrorCode::conflict,
            fmt::format("loan {}, finding {}: '{}' is no quantity that this program knows", loan.id, f.id, f.quantity),
            "A newer program computed it: use that one.");
    const auto other = std::ranges::find_if(*stored, [&](const auto& f) { return f.software != software; });
    if (other != stored->end()) {
      entry.notes.push_back(fmt::format("Loan {}: {} computed its findings, this is {}; they were not computed again.",
                                        loan.id, other->software, software));
      continue;
    }
    if (auto ok = check_findings(bench, loan, *stored, software); !ok) return ok;
    entry.recomputed.push_back(loan.id);
  }
  if (findings == 0)
    return fail(ErrorCode::invalid_input, "the bench has no findings", "Evaluate its loans first: provenit evaluate.");
  return {};
}

Result<void> check_continues(const store::Bench& before, const store::Bench& now) {
  const auto loans = before.loans();
  if (!loans) return tl::unexpected(loans.error());
  bool more = false;
  for (const auto& loan : *loans) {
    const auto runs = before.runs(loan.id);
    if (!runs) return tl::unexpected(runs.error());
    const auto counts = before.reading_counts(loan.id), counts_now = now.reading_counts(loan.id);
    if (!counts) return tl::unexpected(counts.error());
    if (!counts_now) return tl::unexpected(counts_now.error());
    for (const auto& run : *runs) {
      const auto count = counts->contains(run.id) ? counts->at(run.id) : 0;
      const auto here = before.chain_hash(run.id, count), there = now.chain_hash(run.id, count);
      if (!here) return tl::unexpected(here.error());
      if (!there || *there != *here)
        return fail(
            ErrorCode::conflict,
            fmt::format("a bench of the same title, evaluator and beginning is on the shelf, and the {} readings "
                        "of its run {} are not those of this one",
                        count, run.id),
            "Two benches have gone apart: give one of them another title, or take the right one.");
      more = more || (counts_now->contains(run.id) && counts_now->at(run.id) > count);
    }
    const auto runs_now = now.runs(loan.id);
    if (!runs_now) return tl::unexpected(runs_now.error());
    more = more || runs_now->size() > runs->size();
    const auto old = before.latest_findings(loan.id), fresh = now.latest_findings(loan.id);
    if (!old) return tl::unexpected(old.error());
    if (!fresh) return tl::unexpected(fresh.error());
    more = more || old->size() != fresh->size() || std::ranges::any_of(*old, [&](const auto& f) {
             const auto* found = finding_like(*fresh, f);
             return found == nullptr || found->computed != f.computed || !same_numbers(*found, f);
           });
  }
  const auto loans_now = now.loans();
  if (!loans_now) return tl::unexpected(loans_now.error());
  if (more || loans_now->size() > loans->size()) return {};
  return fail(ErrorCode::conflict, "this state of the bench is on the shelf already", "Nothing is to be done.");
}

}  // namespace provenit::shelf
