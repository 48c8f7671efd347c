#pragma once
// A fast colorimeter set right on one display by a reference (a spectroradiometer): a matrix from what both read of the
// same signals, kept in the bench, and from then on in every figure of loans of that display and that colorimeter.
// The readings themselves stay as they were taken.
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/correct/instrument_matrix.h"
#include "provenit/evaluation/reading_matrix.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

inline constexpr const char* kColorimeterShape = "colorimeter";  ///< goal["shape"] of such a correction

struct LoanMatrix {
  store::Id correction = 0;
  correct::InstrumentMatrix found;
  correct::Sources sources;  ///< of `found`
  std::string reference_instrument, colorimeter;
  std::size_t left_out = 0;  ///< pairs too dark to tell a chromaticity
  /// One sentence each: time between the two, white's luminance, pairs that an earlier matrix does not fit.
  std::vector<std::string> warnings;
};

/// From runs that both loans have: steps of the same procedure, key and signal, at the same place. With four_colour
/// "red", "green", "blue" and "white" of `primaries`; with least_squares those of the one procedure
/// that has most of them, if more than greys, where they are bright enough. Each
/// light in the state of its run's first reference reading. Kept in the bench as a correction of `loan`.
/// Errors: invalid_input for loans of two displays or one instrument; not_found where a pair is missing, with what to
/// run; those of four_colour and least_squares, of model_light.
[[nodiscard]] Result<LoanMatrix> match_colorimeter(store::Bench& bench, const store::LoanRecord& loan,
                                                   const store::LoanRecord& reference, correct::MatrixMethod method,
                                                   Timestamp now);

/// What a loan's readings are worth.
struct ReadingBasis {
  /// The instrument's own; with a matrix the reference's, with this instrument's zero.
  instrument::Certificate certificate;
  std::optional<evaluation::ReadingMatrix> matrix;
  store::CorrectionRecord record;  ///< that holds the matrix, without its content
};

/// With the newest matrix that was made for this loan's display and instrument, in any loan of the bench.
/// Errors: invalid_input for a matrix that cannot be read; those of the bench.
[[nodiscard]] Result<ReadingBasis> reading_basis(const store::Bench& bench, const store::LoanRecord& loan);

/// One sentence for each reason to make the matrix anew: another mode, age, a spectrum that has changed since; none
/// without a matrix. Reads spectra and the newest reading, which reading_basis does without. Errors: those of the
/// bench.
[[nodiscard]] Result<std::vector<std::string>> matrix_warnings(const store::Bench& bench, const store::LoanRecord& loan,
                                                               const ReadingBasis& basis);

/// The readings of a run, through the matrix if there is one. Errors: those of the bench.
[[nodiscard]] Result<std::vector<store::ReadingRecord>> readings_set_right(const store::Bench& bench,
                                                                           const ReadingBasis& basis, store::Id run);

/// The certificate as it holds for greys: the matrix's doubt of white's x and y beside it.
[[nodiscard]] instrument::Certificate certificate_for_white(const ReadingBasis& basis);

}  // namespace provenit::loan
