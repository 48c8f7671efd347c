#pragma once
// Scopes and views of one picture as drawings, and a contact sheet of several. What each shows: docs/looking.md.
#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/programme/picture.h"
#include "provenit/programme/reader.h"
#include "provenit/programme/scopes.h"

namespace provenit::programme {

enum class View { waveform, parade, vectorscope, chromaticity, histogram, false_colour, gamut, sdr };
inline constexpr std::array kViews{View::waveform,  View::parade,       View::vectorscope, View::chromaticity,
                                   View::histogram, View::false_colour, View::gamut,       View::sdr};
/// "waveform", "parade", "vectorscope", "chromaticity", "histogram", "false_colour", "gamut", "sdr"
[[nodiscard]] const char* name_of(View value);
[[nodiscard]] std::optional<View> view_from_name(std::string_view name);

/// R, G, B of each pixel, row by row, 16 bits, sRGB.
struct Drawing {
  int width = 0, height = 0;
  std::vector<std::uint16_t> samples;
};
/// PNG of 16 bits with a cICP chunk that says sRGB. Errors: io if memory runs out.
[[nodiscard]] Result<std::string> png_of(const Drawing& drawing);

/// What the drawings say of the picture beside what they measure.
struct PictureLabel {
  std::string source;              ///< file name
  double source_peak_cdm2 = 1000;  ///< what the ways to SDR roll off from
};
/// Pictures are reduced by a whole factor (mean light of its pixels; the gamut view: the worst of them) or magnified by
/// one to fit; the drawing says which. Numbers are always those of all pixels.
[[nodiscard]] Drawing draw(View view, const LightImage& image, const PictureLabel& label);

/// One picture of a contact sheet.
struct SheetEntry {
  Drawing preview;                   ///< from sheet_preview
  std::array<std::string, 2> lines;  ///< time and frame; maximum and mean
};
inline constexpr int kPreviewWidth = 420, kPreviewHeight = 236;
/// The picture in SDR by BT.2446-1 method A, reduced to fit kPreviewWidth x kPreviewHeight.
[[nodiscard]] Drawing sheet_preview(const LightImage& image, double source_peak_cdm2);
/// Up to four columns, in the order given. Empty for no entry.
[[nodiscard]] Drawing contact_sheet(std::span<const SheetEntry> entries, const std::string& title,
                                    const std::string& note);

/// One frame of a source: by number, or the one shown at a time from the first frame.
struct FrameChoice {
  std::optional<std::int64_t> frame;
  double time_s = 0;  ///< used without `frame`
};
struct ChosenFrames {
  std::vector<Picture> pictures;  ///< in the order of the choices
  SourceInfo info;
  std::vector<std::string> troubles;  ///< of decoding them
};
/// Decodes the frames, each from the key frame before it. A still has the one frame 0, at 0 s.
/// Errors: those of open_reader and index_frames; out_of_range for a frame or time beyond the source, with its end;
/// invalid_input with the frame if it cannot be decoded.
[[nodiscard]] Result<ChosenFrames> choose_frames(const std::string& path, std::span<const FrameChoice> choices,
                                                 const ReaderOptions& options = {});

/// The index that choose_frames goes by, for whoever looks into the same file again and again: that of index_frames, or
/// of one frame at 0 s for a source without times. Errors: those of index_frames but unsupported.
[[nodiscard]] Result<FrameIndex> index_to_choose_from(const std::string& path, const ReaderOptions& options = {});
/// The same with an index made before. Errors: as above, those of index_frames left out.
[[nodiscard]] Result<ChosenFrames> choose_frames(const std::string& path, const FrameIndex& index,
                                                 std::span<const FrameChoice> choices,
                                                 const ReaderOptions& options = {});

/// What a picture is rolled off from for SDR: the mastering display's maximum where it is declared and possible (100 to
/// 10 000 cd/m2), the picture's nominal peak if it is not PQ, else 1000 cd/m2.
[[nodiscard]] double sdr_source_peak(const SourceInfo& info);

/// 3723.5 -> "1:02:03.500"
[[nodiscard]] std::string time_text(double seconds);

}  // namespace provenit::programme
