#include "sample.h"

#include <gtest/gtest.h>

#include <bit>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace provenit::store {
namespace {

constexpr const char* awkward_text =
    "Überstrahlung “naïve” 光 🔆 'quote' \"double\" ; DROP TABLE readings; -- \\ \t end";

std::uint64_t bits(double v) {
  return std::bit_cast<std::uint64_t>(v);
}
std::optional<std::uint64_t> bits(const std::optional<double>& v) {
  return v ? std::optional(bits(*v)) : std::nullopt;
}

#define EXPECT_SAME_BITS(a, b) EXPECT_EQ(bits(a), bits(b)) << #a
#define EXPECT_SAME(field) EXPECT_EQ(a.field, b.field) << #field
#define EXPECT_SAME_NUMBER(field) EXPECT_SAME_BITS(a.field, b.field)

}  // namespace

DisplayRecord sample_display() {
  return {.name = std::string("Tern 32 ") + awkward_text,
          .technology = "LCD, mini-LED",
          .encoding = {.transfer = signal::Transfer::hlg,
                       .container = signal::Container::p3_d65,
                       .bits = 12,
                       .range = signal::Range::full,
                       .nominal_peak_cdm2 = 1000.0 / 3},
          .details = {{"firmware", awkward_text}, {"raster", {3840, 2160}}, {"third", 1.0 / 3}, {"simulated", "tern"}}};
}

InstrumentRecord sample_instrument() {
  InstrumentRecord r{.name = awkward_text, .kind = "line"};
  r.certificate = {.luminance_expanded_relative = 0.1 + 0.2,
                   .x_expanded = 0.0015,
                   .y_expanded = 0.0017,
                   .coverage_factor = 2.05,
                   .zero_offset_standard_cdm2 = 5e-324,
                   .number = "C-1",
                   .issuer = "Invented Institute",
                   .date = "2026-05-01"};
  r.capabilities = {.spectral = true,
                    .minimum_cdm2 = 1e-3 / 7,
                    .maximum_cdm2 = 1.7976931348623157e308,
                    .integration = {.overhead = {0.31},
                                    .minimum = {0.11},
                                    .maximum = {21.5},
                                    .reference = {1.25},
                                    .reference_cdm2 = 1.5,
                                    .exponent = 0.45},
                    .repeatability_relative = 0.0012,
                    .noise_floor_cdm2 = 0.00051,
                    .shot_noise = 0.0013};
  r.details = {{"address", "tcp://localhost:5025"}};
  return r;
}

RoomRecord sample_room() {
  return {.name = "Grading room", .surround_cdm2 = 5.0 / 3, .details = {{"wall", "grey"}}};
}

LoanRecord sample_loan(Bench& bench) {
  return {.display = bench.put(sample_display()).value(),
          .instrument = bench.put(sample_instrument()).value(),
          .room = bench.put(sample_room()).value(),
          .starts = {1795597200.125},
          .ends = {1795683600.1},
          .purpose = awkward_text,
          .seed = std::numeric_limits<std::uint64_t>::max() - 4};
}

QuestionRecord sample_question(Id loan) {
  return {.loan = loan,
          .key = "peak-10",
          .set = "claims",
          .text = awkward_text,
          .quantity = "peak_luminance",
          .conditions = {{"window_percent", 10}},
          .comparison = Comparison::within,
          .lower = 1399.9999999999998,
          .upper = std::numeric_limits<double>::infinity(),
          .unit = "cd/m2",
          .clause = "4.2",
          .source = "maker's sheet",
          .mark = SourceMark::claim,
          .weight = 0.1};
}

RunRecord sample_run(Id loan) {
  return {.loan = loan,
          .procedure = "greyscale",
          .procedure_version = 3,
          .parameters = {{"levels", {1, 2, 3}}, {"text", awkward_text}},
          .started = {1795600000.7},
          .origin = "measured"};
}

ReadingRecord sample_reading(Id run, std::int64_t sequence) {
  const double k = static_cast<double>(sequence);
  ReadingRecord r{.run = run,
                  .sequence = sequence,
                  .step = "grey_" + std::to_string(sequence % 7),
                  .repeat = static_cast<int>(sequence / 7),
                  .taken = {1795600000.1 + k / 3}};
  const int code = 64 + static_cast<int>(sequence % 7) * 100;
  r.signal = {.patch = {{code, code, code}},
              .surround = {{64, 64, 64}},
              .geometry = {.shape = signal::Shape::window, .area_fraction = 0.1}};
  r.measurement.xyz = {.X = std::sin(k) / 3, .Y = std::exp(std::fmod(k, 500) / 50), .Z = -std::cos(k) * 1e-5};
  if (sequence % 5 == 1) r.measurement.xyz = {.X = -0.0, .Y = 5e-324, .Z = 1.7976931348623157e308};
  r.measurement.integration = {0.1 * (k + 1)};
  r.measurement.saturated = sequence % 2 == 1;
  r.measurement.below_range = sequence % 3 == 1;
  r.measurement.raw_reply = std::string("Y=1\0\xff\x80\r\n\0", 9) + std::to_string(sequence);
  if (sequence % 4 == 2) {
    r.measurement.raw_reply.clear();
    r.measurement.spectrum = {.start_nm = 380.25, .step_nm = 1.0 / 3, .radiance = {}};
    for (int i = 0; i < 401; ++i) r.measurement.spectrum->radiance.push_back((i - 3) * 1e-4 / (k + 1));
    r.measurement.spectrum->radiance[7] = -0.0;
  }
  r.context = {{"settle_s", k / 7}, {"remark", awkward_text}};
  return r;
}

FindingRecord sample_finding() {
  return {.quantity = "contrast_ratio",
          .conditions = {{"window_percent", 10}},
          .value = 1.0 / 3,
          .unit = "1",
          .standard_uncertainty = 0.01 / 3,
          .lower95 = -1e-300,
          .upper95 = std::numeric_limits<double>::infinity(),
          .interval_method = "Monte Carlo, shortest (JCGM 101 5.3.4)",
          .dominant = awkward_text,
          .method = "contrast/IDMS",
          .method_version = 4,
          .sources = {"Document B", "Document A"},
          .parts = {{"luminance scale", 0.86}},
          .series = {{1.0 / 3, 2}, {3, 4}},
          .computed = {1795700000.3},
          .software = "0.1.0"};
}

SampleBench make_bench(const std::string& path) {
  auto bench = Bench::create(path, "Bench 光", "Evaluator", {1795597000.5});
  if (!bench) throw std::runtime_error(bench.error().text());
  const Id loan = bench->put(sample_loan(*bench)).value();
  const Id run = bench->begin_run(sample_run(loan)).value();
  return {.bench = std::move(*bench), .loan = loan, .run = run};
}

void expect_same(const DisplayRecord& a, const DisplayRecord& b) {
  EXPECT_SAME(name);
  EXPECT_SAME(technology);
  EXPECT_SAME(encoding);
  EXPECT_SAME_NUMBER(encoding.nominal_peak_cdm2);
  EXPECT_SAME(details);
}

void expect_same(const InstrumentRecord& a, const InstrumentRecord& b) {
  EXPECT_SAME(name);
  EXPECT_SAME(kind);
  EXPECT_SAME_NUMBER(certificate.luminance_expanded_relative);
  EXPECT_SAME_NUMBER(certificate.x_expanded);
  EXPECT_SAME_NUMBER(certificate.y_expanded);
  EXPECT_SAME_NUMBER(certificate.coverage_factor);
  EXPECT_SAME_NUMBER(certificate.zero_offset_standard_cdm2);
  EXPECT_SAME(certificate.number);
  EXPECT_SAME(certificate.issuer);
  EXPECT_SAME(certificate.date);
  EXPECT_SAME(capabilities.spectral);
  EXPECT_SAME_NUMBER(capabilities.minimum_cdm2);
  EXPECT_SAME_NUMBER(capabilities.maximum_cdm2);
  EXPECT_SAME_NUMBER(capabilities.integration.overhead.s);
  EXPECT_SAME_NUMBER(capabilities.integration.minimum.s);
  EXPECT_SAME_NUMBER(capabilities.integration.maximum.s);
  EXPECT_SAME_NUMBER(capabilities.integration.reference.s);
  EXPECT_SAME_NUMBER(capabilities.integration.reference_cdm2);
  EXPECT_SAME_NUMBER(capabilities.integration.exponent);
  EXPECT_SAME_NUMBER(capabilities.repeatability_relative);
  EXPECT_SAME_NUMBER(capabilities.noise_floor_cdm2);
  EXPECT_SAME_NUMBER(capabilities.shot_noise);
  EXPECT_SAME(details);
}

void expect_same(const RoomRecord& a, const RoomRecord& b) {
  EXPECT_SAME(name);
  EXPECT_SAME_NUMBER(surround_cdm2);
  EXPECT_SAME_NUMBER(screen_illuminance_lx);
  EXPECT_SAME(details);
}

void expect_same(const LoanRecord& a, const LoanRecord& b) {
  EXPECT_SAME(display);
  EXPECT_SAME(instrument);
  EXPECT_SAME(room);
  EXPECT_SAME_NUMBER(starts.unix_s);
  EXPECT_SAME_NUMBER(ends.unix_s);
  EXPECT_SAME(purpose);
  EXPECT_SAME(seed);
}

void expect_same(const QuestionRecord& a, const QuestionRecord& b) {
  EXPECT_SAME(loan);
  EXPECT_SAME(key);
  EXPECT_SAME(set);
  EXPECT_SAME(text);
  EXPECT_SAME(quantity);
  EXPECT_SAME(conditions);
  EXPECT_SAME(comparison);
  EXPECT_SAME_NUMBER(lower);
  EXPECT_SAME_NUMBER(upper);
  EXPECT_SAME(unit);
  EXPECT_SAME(clause);
  EXPECT_SAME(source);
  EXPECT_SAME(mark);
  EXPECT_SAME_NUMBER(weight);
}

void expect_same(const RunRecord& a, const RunRecord& b) {
  EXPECT_SAME(loan);
  EXPECT_SAME(procedure);
  EXPECT_SAME(procedure_version);
  EXPECT_SAME(parameters);
  EXPECT_SAME(state);
  EXPECT_SAME_NUMBER(started.unix_s);
  EXPECT_SAME(ended);
  EXPECT_SAME(origin);
}

void expect_same(const ReadingRecord& a, const ReadingRecord& b) {
  EXPECT_SAME(run);
  EXPECT_SAME(sequence);
  EXPECT_SAME(step);
  EXPECT_SAME(repeat);
  EXPECT_SAME_NUMBER(taken.unix_s);
  EXPECT_TRUE(a.signal == b.signal);
  EXPECT_SAME_NUMBER(measurement.xyz.X);
  EXPECT_SAME_NUMBER(measurement.xyz.Y);
  EXPECT_SAME_NUMBER(measurement.xyz.Z);
  EXPECT_SAME_NUMBER(measurement.integration.s);
  EXPECT_SAME(measurement.saturated);
  EXPECT_SAME(measurement.below_range);
  EXPECT_SAME(measurement.raw_reply);
  EXPECT_SAME(context);
  ASSERT_EQ(a.measurement.spectrum.has_value(), b.measurement.spectrum.has_value());
  if (!a.measurement.spectrum) return;
  EXPECT_SAME_NUMBER(measurement.spectrum->start_nm);
  EXPECT_SAME_NUMBER(measurement.spectrum->step_nm);
  const auto &left = a.measurement.spectrum->radiance, &right = b.measurement.spectrum->radiance;
  ASSERT_EQ(left.size(), right.size());
  for (std::size_t i = 0; i < left.size(); ++i) EXPECT_SAME_BITS(left[i], right[i]) << i;
}

void expect_same(const FindingRecord& a, const FindingRecord& b) {
  EXPECT_SAME(quantity);
  EXPECT_SAME(conditions);
  EXPECT_SAME_NUMBER(value);
  EXPECT_SAME(unit);
  EXPECT_SAME_NUMBER(standard_uncertainty);
  EXPECT_SAME_NUMBER(lower95);
  EXPECT_SAME_NUMBER(upper95);
  EXPECT_SAME(interval_method);
  EXPECT_SAME(dominant);
  EXPECT_SAME(method);
  EXPECT_SAME(method_version);
  EXPECT_SAME(sources);
  EXPECT_SAME(parts);
  EXPECT_SAME(series);
  EXPECT_SAME(readings);
  EXPECT_SAME_NUMBER(computed.unix_s);
  EXPECT_SAME(software);
}

}  // namespace provenit::store
