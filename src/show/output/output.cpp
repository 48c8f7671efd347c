#include "provenit/show/output.h"

#include <chrono>
#include <filesystem>
#include <thread>

#include "output/card.h"
#include "provenit/signal/flash.h"

namespace provenit::show {
namespace {

using Clock = std::chrono::steady_clock;

Result<void> sends_exactly(const signal::Encoding& e) {
  const bool bits = e.bits == 10 || (e.bits == 8 && e.transfer == signal::Transfer::bt1886);
  if (bits && e.range == signal::Range::full) return signal::validate(e);
  return fail(ErrorCode::unsupported,
              "an output sends full-range codes of 10 bits (BT.1886 also 8), and no others exactly",
              "Give the signal such an encoding and set the display to full range, or use a player.");
}

/// The cards of this machine, in their order.
std::vector<std::string> card_paths() {
  std::vector<std::string> paths;
  for (int i = 0; i < 16; ++i) {
    std::error_code ec;
    if (const auto path = "/dev/dri/card" + std::to_string(i); std::filesystem::exists(path, ec)) paths.push_back(path);
  }
  return paths;
}

}  // namespace

struct Output::Chosen {
  OutputState state;
  Mode mode;
  Connector connector;
  std::optional<Clock::time_point> up_since;
};

Output::Output(std::unique_ptr<Card> card, std::unique_ptr<Chosen> chosen, const OutputOptions& options)
    : card_(std::move(card)),
      chosen_(std::move(chosen)),
      options_(options),
      name_(chosen_->connector.name),
      size_(chosen_->mode.size),
      doubts_(doubts_of(chosen_->connector, options.encoding)) {}

Output::~Output() {
  if (card_) (void)card_->restore();
}

Result<std::unique_ptr<Output>> Output::open(const OutputOptions& options) {
  if (auto exact = sends_exactly(options.encoding); !exact) return tl::unexpected(exact.error());
  Error last = no_card();
  for (const auto& path : card_paths()) {
    auto card = open_drm_card(path);
    if (!card) {
      last = card.error();
      continue;
    }
    auto output = open(options, std::move(*card));
    // A machine may have one card for the desktop and another with nothing on it: go on looking.
    if (output || output.error().code != ErrorCode::not_found) return output;
    last = output.error();
  }
  return tl::unexpected(last);
}

Result<std::unique_ptr<Output>> Output::open(const OutputOptions& options, std::unique_ptr<Card> card) {
  if (auto exact = sends_exactly(options.encoding); !exact) return tl::unexpected(exact.error());
  const auto all = card->connectors();
  if (!all) return tl::unexpected(all.error());
  auto connector = choose_connector(*all, options.connector);
  if (!connector) return tl::unexpected(connector.error());
  const auto mode = choose_mode(*connector, options.size, options.refresh_hz);
  if (!mode) return tl::unexpected(mode.error());
  auto state = state_for(*connector, *mode, options.encoding,
                         options.metadata ? options.metadata : usual_metadata(options.encoding));
  if (!state) return tl::unexpected(state.error());
  auto chosen = std::make_unique<Chosen>(Chosen{*state, connector->modes[*mode], std::move(*connector), std::nullopt});
  return std::unique_ptr<Output>(new Output(std::move(card), std::move(chosen), options));
}

Result<void> Output::accepts(const signal::Encoding& encoding) const {
  if (encoding == options_.encoding) return {};
  if (auto exact = sends_exactly(encoding); !exact) return exact;
  return fail(ErrorCode::unsupported, "the output was opened for another encoding", "Open it for this one.");
}

Result<void> Output::show(const Frame& frame) {
  if (auto accepted = accepts(frame.encoding); !accepted) return accepted;
  const auto rows = frame.draw(size_);
  if (!rows) return tl::unexpected(rows.error());
  if (chosen_->up_since && !options_.flashing_confirmed)
    std::this_thread::sleep_until(*chosen_->up_since + std::chrono::duration<double>(signal::kCalmHold_s));
  const bool ten_bits = chosen_->state.ten_bits;
  auto put = card_->put(chosen_->state, chosen_->mode, [&](int y, std::span<std::uint32_t> line) {
    const auto row = (*rows)(y);
    for (std::size_t x = 0; x < line.size(); ++x) {
      const unsigned r = row[3 * x], g = row[3 * x + 1], b = row[3 * x + 2];
      line[x] = ten_bits ? xrgb2101010(r, g, b) : xrgb8888(r, g, b);
    }
  });
  if (put) chosen_->up_since = Clock::now();
  return put;
}

std::optional<Wish> Output::wish(Seconds wait) {
  std::this_thread::sleep_for(std::chrono::duration<double>(wait.s));
  return std::nullopt;
}

Result<void> Output::restore() {
  return card_->restore();
}

}  // namespace provenit::show
