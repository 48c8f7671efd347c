#include "screen_choice.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>

#include "provenit/base/text.h"
#include "provenit/show/output.h"
#include "provenit/show/page.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

/// "3840x2160@23.976" -> size and refresh (0 if none).
Result<void> take_mode(const std::string& text, show::OutputOptions& options) {
  if (text.empty()) return {};
  const auto parts = split(text, '@');
  const auto sides = split(parts[0], 'x');
  const auto width = parse_integer(sides[0]), height = sides.size() == 2 ? parse_integer(sides[1]) : std::nullopt;
  const auto refresh = parts.size() == 2 ? parse_double(parts[1]) : std::optional(0.0);
  const auto side = [](const auto& n) { return n && *n > 0 && *n <= 32768; };
  if (parts.size() > 2 || !side(width) || !side(height) || !refresh || !(*refresh >= 0))
    return fail(ErrorCode::invalid_input, "'" + text + "' is no mode", "Give e.g. 3840x2160@23.976.",
                {.field = "--mode"});
  options.size = {static_cast<int>(*width), static_cast<int>(*height)};
  options.refresh_hz = *refresh;
  return {};
}

Result<std::unique_ptr<show::Screen>> open_page(const ScreenChoice& choice, const signal::Encoding& encoding,
                                                const std::vector<std::string>& cautions, bool flashing_confirmed) {
  auto page = show::Page::open({.port = choice.port, .cautions = cautions, .flashing_confirmed = flashing_confirmed});
  if (!page) return tl::unexpected(page.error());
  if (auto accepted = (*page)->accepts(encoding); !accepted) return tl::unexpected(accepted.error());
  (*page)->set_stop(stop_requested);
  fmt::print(stderr, "Open this in a browser on the display, read the cautions and press Start:\n  {}\n",
             (*page)->address());
  return std::unique_ptr<show::Screen>(std::move(*page));
}

Result<std::unique_ptr<show::Screen>> open_output(const ScreenChoice& choice, const signal::Encoding& encoding,
                                                  bool flashing_confirmed) {
  show::OutputOptions options{
      .connector = choice.output, .encoding = encoding, .flashing_confirmed = flashing_confirmed};
  if (auto mode = take_mode(choice.mode, options); !mode) return tl::unexpected(mode.error());
  options.metadata = show::usual_metadata(encoding);
  if (options.metadata) {
    options.metadata->minimum_cdm2 = choice.mastering_minimum_cdm2;
    options.metadata->max_cll_cdm2 = choice.max_cll_cdm2;
    options.metadata->max_fall_cdm2 = choice.max_fall_cdm2;
  }
  auto output = show::Output::open(options);
  if (!output) return tl::unexpected(output.error());
  fmt::print(stderr, "On {} at {} x {}.\n", (*output)->connector(), (*output)->size().width, (*output)->size().height);
  for (const auto& doubt : (*output)->doubts()) fmt::print(stderr, "Note: {}\n", doubt);
  return std::unique_ptr<show::Screen>(std::move(*output));
}

}  // namespace

Result<void> ScreenChoice::chosen() const {
  const bool directly = direct || !output.empty();
  if (page != directly) return {};
  return fail(ErrorCode::invalid_input, page ? "two screens are named" : "no screen is named",
              "Give --page (SDR, in a browser), or --output NAME or --direct (Linux, no desktop).");
}

void add_screen_choice(CLI::App& verb, ScreenChoice& choice) {
  verb.add_flag("--page", choice.page, "SDR of 8 bits, on a full-screen page that this machine's browser opens");
  verb.add_option("--port", choice.port, "of the page; else a free one")->check(CLI::Range(1, 65535));
  verb.add_flag("--direct", choice.direct, "HDR or SDR, on the one display connected; no desktop may hold it (Linux)");
  verb.add_option("--output", choice.output, "as --direct, on this connector, e.g. HDMI-A-1");
  verb.add_option("--mode", choice.mode, "of the output, e.g. 3840x2160@23.976; else the display's own");
  verb.add_option("--mastering-minimum", choice.mastering_minimum_cdm2, "HDR metadata of the output, cd/m2")
      ->capture_default_str();
  verb.add_option("--max-cll", choice.max_cll_cdm2, "HDR metadata of the output, cd/m2; 0: not known")
      ->capture_default_str();
  verb.add_option("--max-fall", choice.max_fall_cdm2, "HDR metadata of the output, cd/m2; 0: not known")
      ->capture_default_str();
}

Result<std::unique_ptr<show::Screen>> open_screen(const ScreenChoice& choice, const signal::Encoding& encoding,
                                                  const std::vector<std::string>& cautions, bool flashing_confirmed) {
  if (auto one = choice.chosen(); !one) return tl::unexpected(one.error());
  if (choice.page) return open_page(choice, encoding, cautions, flashing_confirmed);
  return open_output(choice, encoding, flashing_confirmed);
}

}  // namespace provenit::cli
