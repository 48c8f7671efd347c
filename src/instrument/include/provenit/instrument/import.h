#pragma once
// Readings that were taken elsewhere: CSV with named columns, and CGATS.17 / ISO 28178 text. Forms: docs/import.md.
// Pure: bytes in, readings and a report of every row refused out. Nothing about units or scales is guessed: what the
// file does not state, ImportOptions must, and an import that lacks it is refused with what to state.
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/colour/spectrum_xyz.h"
#include "provenit/instrument/instrument.h"
#include "provenit/signal/signal.h"

namespace provenit::instrument {

enum class ImportFormat { csv, cgats };
[[nodiscard]] const char* name_of(ImportFormat format);  ///< "csv", "cgats"

/// What tristimulus values of a file are, where the file cannot say so itself (CGATS), or must agree with it (CSV).
enum class ValueScale {
  unstated,
  absolute,  ///< cd/m2
  relative   ///< a scale without unit, e.g. Y = 100 for white; RelativeWhite says what it stands for
};

/// Unit of spectral values. `relative` needs RelativeWhite.
enum class SpectralUnit { unstated, w_per_sr_m2_nm, mw_per_sr_m2_nm, relative };
/// "W/(sr m2 nm)", "mW/(sr m2 nm)", "relative", as in column headings; nullopt for anything else.
[[nodiscard]] std::optional<SpectralUnit> spectral_unit_of(std::string_view text);

/// Turns relative values into cd/m2: the mean Y of the rows of step `step` stands for `cdm2`. With `step` empty,
/// `value` of Y does (tristimulus values only). The scale is the user's statement and is kept with every reading.
struct RelativeWhite {
  double cdm2 = 0;  ///< > 0
  std::string step = "white";
  double value = 100;  ///< > 0; used when step is empty
};

/// "This sample of the file is that step of the procedure, shown with these code values."
struct SampleMapping {
  std::string sample;  ///< as in the file, compared without regard to case
  std::string step;    ///< step key of the procedure, e.g. "red"
  std::optional<signal::CodeRgb> code;
};
/// "name=step" or "name=step:R,G,B", e.g. "Sample 4=white:940,940,940". Errors: invalid_input with the form.
[[nodiscard]] Result<SampleMapping> parse_mapping(std::string_view text);

struct ImportOptions {
  std::string file;                    ///< for error places and the origin of the readings; not opened
  std::optional<ImportFormat> format;  ///< unset: by content (a CGATS file has a line BEGIN_DATA_FORMAT)
  std::optional<char> separator;       ///< CSV: ',', ';' or tab; unset: the first of tab ; , found in the heading
  ValueScale scale = ValueScale::unstated;
  SpectralUnit spectral_unit = SpectralUnit::unstated;
  std::optional<RelativeWhite> relative_white;
  std::optional<colour::Observer> observer;  ///< needed as soon as XYZ must come from a spectrum
  /// How spectra with steps wider than 1 nm are summed. `native` is right where the bandwidth equals the step, as in
  /// most instruments; see colour/spectrum_xyz.h.
  colour::Summation summation = colour::Summation::native;
  std::vector<SampleMapping> mapping;
  /// How the display was fed. With it, code values are checked against its range, and the steps red, green, blue,
  /// white and black get their code values (all primaries at the encoding's nominal peak code) if nothing else says.
  std::optional<signal::Encoding> encoding;
  /// CGATS RGB_R, RGB_G, RGB_B hold code values of `encoding` (and not percent or 8-bit device values).
  bool rgb_fields_are_codes = false;
};

struct ImportedReading {
  int line = 0;        ///< of the file, 1 for the first; of the heading, when samples are columns
  std::string sample;  ///< as in the file (valid UTF-8)
  std::string step;    ///< from a `step` column, the mapping, or the well-known names; otherwise the sample's name
  int repeat = 0;      ///< 0 for the first of this step in the file
  std::optional<signal::CodeRgb> code;
  std::optional<Timestamp> taken;
  Measurement measurement;  ///< absolute; raw_reply holds the row as it stands in the file
  std::string scale;        ///< "cd/m2" or "relative: mean Y of white = 80 cd/m2"
  std::string
      derived;  ///< "XYZ by CIE 1931 2deg from 380-780 nm, step 5 nm, native sum"; empty if the file gave the values
};

struct ImportReport {
  ImportFormat format = ImportFormat::csv;
  std::vector<ImportedReading> readings;  ///< in the order of the file
  std::vector<Error> refused;             ///< one per refused row: line, field, why, what to write
  std::vector<Error> remarks;             ///< what was left unused or assumed: columns not used, a missing count ...
  std::size_t rows = 0;                   ///< data rows seen = readings + refused
};

/// Reads a whole file's bytes.
/// out     every row that can be used as a reading, every other in `refused`; readings may be empty
/// errors  invalid_input for what spoils the whole file (no heading, a unit or scale not stated, a count that
///         contradicts the data, not UTF-8 text); with line, field and what to write
/// source  CGATS.17 / ISO 28178 for the keywords and field names; the CSV form is ours, quoting by RFC 4180
[[nodiscard]] Result<ImportReport> import_readings(std::string_view bytes, const ImportOptions& options);
/// The same from a file; options.file is set to `path`. Errors: also io.
[[nodiscard]] Result<ImportReport> import_file(const std::string& path, ImportOptions options);

/// The R'G'B' code values that procedure steps red, green, blue, white and black stand for in an encoding (nominal peak
/// and black codes of BT.2100-3 / BT.709); nullopt for every other step.
[[nodiscard]] std::optional<signal::CodeRgb> codes_of_step(std::string_view step, const signal::Encoding& encoding);

}  // namespace provenit::instrument
