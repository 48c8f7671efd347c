#pragma once
// A graphics card as the output needs it: what is on it, put a picture up, put everything back. The real one is
// drm_card.cpp; tests have one of their own.
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/show/hdr_metadata.h"
#include "provenit/signal/raster.h"
#include "provenit/signal/signal.h"

namespace provenit::show {

struct Mode {
  signal::RasterSize size;
  double refresh_hz = 60;
  bool preferred = false, interlaced = false;
};

/// A socket of the card, and what can be set on it.
struct Connector {
  std::uint32_t id = 0;
  std::string name;  ///< as the system calls it: "HDMI-A-1"
  bool connected = false;
  std::vector<Mode> modes;
  bool hdr_metadata = false;             ///< has the property HDR_OUTPUT_METADATA
  std::vector<std::string> colorspaces;  ///< values of its property Colorspace; empty: it has none
  int max_bpc = 0;                       ///< highest value of its property "max bpc"; 0: it has none
  bool ten_bits = false;                 ///< its plane scans out XRGB2101010
  std::optional<AnnouncedHdr> announced;
};

/// What is to be set on one connector.
struct OutputState {
  std::uint32_t connector = 0;
  std::size_t mode = 0;
  bool ten_bits = false;   ///< XRGB2101010, else XRGB8888
  std::string colorspace;  ///< empty: left alone
  int max_bpc = 0;         ///< 0: left alone
  std::optional<HdrBlob> metadata;
  friend bool operator==(const OutputState&, const OutputState&) = default;
};

/// Fills line y, one word per pixel.
using LineWriter = std::function<void(int y, std::span<std::uint32_t> line)>;

class Card {
 public:
  virtual ~Card() = default;  ///< restores
  [[nodiscard]] virtual Result<std::vector<Connector>> connectors() = 0;
  /// Returns when the picture is up. The first call keeps how all was before.
  [[nodiscard]] virtual Result<void> put(const OutputState& state, const Mode& mode, const LineWriter& writer) = 0;
  /// How all was before the first put. Errors: io, with what could not be put back.
  virtual Result<void> restore() = 0;
};

/// Opens the card, which must be free. Errors: those of card_problem.
[[nodiscard]] Result<std::unique_ptr<Card>> open_drm_card(const std::string& path);

// Choices and messages, pure ------------------------------------------------------------------------------------------

/// The connected connector of that name, or the only one. Errors: not_found; invalid_input if several are connected and
/// none is named.
[[nodiscard]] Result<Connector> choose_connector(const std::vector<Connector>& all, const std::string& name);
/// The mode of that size and nearest refresh, or the preferred one (else the first). size 0 x 0 and refresh 0: any.
/// Errors: not_found, naming the modes there are.
[[nodiscard]] Result<std::size_t> choose_mode(const Connector& connector, signal::RasterSize size, double refresh_hz);
/// What to set for an encoding. Errors: unsupported, saying what is missing (10-bit pixels, HDR_OUTPUT_METADATA, the
/// colour space); those of hdr_blob.
[[nodiscard]] Result<OutputState> state_for(const Connector& connector, std::size_t mode,
                                            const signal::Encoding& encoding,
                                            const std::optional<HdrMetadata>& metadata);
/// What could not be made certain, for people.
[[nodiscard]] std::vector<std::string> doubts_of(const Connector& connector, const signal::Encoding& encoding);

enum class CardStep { open, become_master, atomic, commit };
/// An errno of a step as an error that says what to do: no such device, no permission, another program (the desktop)
/// holds it, a driver that cannot.
[[nodiscard]] Error card_problem(CardStep step, int error_number, const std::string& path);
[[nodiscard]] Error no_card();

/// Pixels as the card's memory has them: bits 29-20, 19-10, 9-0 and 23-16, 15-8, 7-0. source  Linux drm_fourcc.h
[[nodiscard]] constexpr std::uint32_t xrgb2101010(unsigned r, unsigned g, unsigned b) {
  return (r & 0x3FFU) << 20 | (g & 0x3FFU) << 10 | (b & 0x3FFU);
}
[[nodiscard]] constexpr std::uint32_t xrgb8888(unsigned r, unsigned g, unsigned b) {
  return (r & 0xFFU) << 16 | (g & 0xFFU) << 8 | (b & 0xFFU);
}

}  // namespace provenit::show
