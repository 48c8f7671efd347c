#pragma once
// A colorimeter's matrix as the bench keeps it: JSON, keys in docs/correction.md.
#include <string>
#include <vector>

#include "provenit/loan/colorimeter.h"

namespace provenit::loan {

/// One pair, by where its readings are.
struct PairPlace {
  std::string name, procedure, step;
  store::Id colorimeter_run = 0, reference_run = 0;
};

struct ColorimeterFile {
  correct::MatrixMethod method = correct::MatrixMethod::four_colour;
  evaluation::ReadingMatrix matrix;
  correct::MatrixConditions conditions;  ///< `instrument`: the colorimeter
  store::Id reference_loan = 0;
  std::string reference_instrument;
  instrument::Certificate reference_certificate;
  std::vector<PairPlace> pairs;
};

[[nodiscard]] const char* name_of(correct::MatrixMethod method);  ///< "four_colour", "least_squares"
[[nodiscard]] evaluation::ReadingMatrix reading_matrix_of(const correct::InstrumentMatrix& found,
                                                          const correct::Sources& sources);
/// The same as correct has it, its entries as sources. Errors: invalid_input for a covariance that is none.
[[nodiscard]] Result<correct::InstrumentMatrix> instrument_matrix_of(const evaluation::ReadingMatrix& kept,
                                                                     colour::Sources& sources);
[[nodiscard]] std::string text_of(const ColorimeterFile& file);
/// Errors: invalid_input for any other text; `name` says what was read.
[[nodiscard]] Result<ColorimeterFile> colorimeter_file_from(const std::string& text, const std::string& name);

/// What a matrix of this display belongs to. Errors: those of the bench.
[[nodiscard]] Result<correct::MatrixConditions> conditions_of(const store::Bench& bench, const store::LoanRecord& loan,
                                                              Timestamp at);

}  // namespace provenit::loan
