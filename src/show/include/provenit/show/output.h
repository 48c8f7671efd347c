#pragma once
// An output of this machine driven directly (Linux KMS), for SDR of 8 or 10 bits and HDR of 10 bits with its metadata.
// No desktop may hold the display. Written from the documented interface and tested against a described card; it has
// not been run on a real display yet.
#include <memory>
#include <string>
#include <vector>

#include "provenit/show/hdr_metadata.h"
#include "provenit/show/screen.h"

namespace provenit::show {

class Card;

struct OutputOptions {
  std::string connector;                ///< "HDMI-A-1"; empty: the only one that is connected
  signal::RasterSize size{0, 0};        ///< 0 x 0: the display's preferred mode
  double refresh_hz = 0;                ///< 0: whichever comes first
  signal::Encoding encoding;            ///< of all that will be shown
  std::optional<HdrMetadata> metadata;  ///< not set: usual_metadata(encoding). The same for all frames
  bool flashing_confirmed = false;
};

class Output final : public Screen {
 public:
  /// Finds the connector and checks all that can be checked; nothing is changed before the first show().
  /// Errors: unsupported (no card, no HDR), io (no permission), conflict (the desktop holds it), not_found,
  /// invalid_input
  [[nodiscard]] static Result<std::unique_ptr<Output>> open(const OutputOptions& options);
  /// The same on a card made by the caller.
  [[nodiscard]] static Result<std::unique_ptr<Output>> open(const OutputOptions& options, std::unique_ptr<Card> card);
  ~Output() override;  ///< all is put back as it was

  [[nodiscard]] const std::string& connector() const { return name_; }
  [[nodiscard]] signal::RasterSize size() const { return size_; }
  /// What could not be made certain, for people.
  [[nodiscard]] const std::vector<std::string>& doubts() const { return doubts_; }

  /// Narrow range is refused: the link's range is the driver's to convert, and the codes would not be those sent.
  [[nodiscard]] Result<void> accepts(const signal::Encoding& encoding) const override;
  [[nodiscard]] Result<void> show(const Frame& frame) override;
  /// Has no keys: waits, and gives none.
  [[nodiscard]] std::optional<Wish> wish(Seconds wait) override;
  /// Puts all back as it was; the destructor does the same and cannot tell. Errors: io.
  Result<void> restore();

 private:
  struct Chosen;
  Output(std::unique_ptr<Card> card, std::unique_ptr<Chosen> chosen, const OutputOptions& options);
  std::unique_ptr<Card> card_;
  std::unique_ptr<Chosen> chosen_;
  OutputOptions options_;
  std::string name_;
  signal::RasterSize size_;
  std::vector<std::string> doubts_;
};

}  // namespace provenit::show
