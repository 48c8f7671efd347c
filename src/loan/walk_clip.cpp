// A camera's clip: bytes of the bench -> light of each place, frame by frame. It is decoded twice: pixels that are
// bright in any frame (the box itself, its flare, lamps) are found first and then left out, so that memory does not
// grow with the picture.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstring>

#include "provenit/colour/transfer_hlg.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/colour/transfer_sdr.h"
#include "provenit/programme/reader.h"
#include "recordings_internal.h"
#include "temporary_folder.h"

namespace provenit::loan {
namespace {

using programme::Transfer;

constexpr int kColumns = 32, kRows = 18;  // places
constexpr double kBright = 0.85;          // of the highest light: left out with what lies around
constexpr int kAround = 60;               // of the width: so far around bright pixels

/// Only how light moves matters: what a camera's file does not say is taken as Rec. ITU-R BT.709 has it.
Result<std::unique_ptr<programme::Reader>> open_clip(const std::string& path) {
  programme::ReaderOptions options{.threads = 2};
  auto& said = options.interpretation;
  for (int tries = 0; tries < 6; ++tries) {
    auto reader = programme::open_reader(path, options);
    if (reader) return reader;
    const auto& field = reader.error().where.field;
    if (field == "transfer" && !said.transfer) {
      said.transfer = Transfer::bt1886;
    } else if (field == "primaries" && !said.gamut) {
      said.gamut = programme::Gamut::bt709;
    } else if (field == "matrix" && !said.matrix) {
      said.matrix = programme::Matrix::bt709;
    } else if (field == "range" && !said.range) {
      said.range = colour::Range::narrow;
    } else if (field == "siting" && !said.siting) {
      said.siting = programme::Siting::left;
    } else {
      return reader;
    }
  }
  return fail(ErrorCode::unsupported, "what its codes stand for cannot be settled", {}, {.file = path});
}

/// Light of each code, 1 = nominal white.
std::vector<float> light_of_codes(const programme::PictureFormat& format) {
  std::vector<float> out;
  for (int code = 0; code < 1 << format.bits; ++code) {
    const auto signal = colour::dequantise({.value = code, .bits = format.bits, .range = format.range});
    double light = 0;
    switch (format.transfer) {
      case Transfer::pq:
        light = colour::pq_eotf(colour::Signal<>{.value = std::clamp(signal.value, 0.0, 1.0)}).cdm2 / 1000;
        break;
      case Transfer::hlg:
        light = colour::hlg_inverse_oetf(signal).value;
        break;
      case Transfer::linear:
        light = signal.value;
        break;
      case Transfer::srgb:
        light = colour::srgb_eotf(signal).value;
        break;
      case Transfer::bt1886:
        light = colour::bt709_inverse_oetf(signal).value;
        break;
    }
    out.push_back(static_cast<float>(light));
  }
  return out;
}

class Frames {
 public:
  explicit Frames(std::unique_ptr<programme::Reader> reader) : reader_(std::move(reader)) {}
  /// Calls `use(picture)` for each frame that is whole.
  template <class Use>
  Result<void> each(Use&& use) {
    for (;;) {
      auto picture = reader_->next();
      if (!picture) return tl::unexpected(picture.error());
      if (!*picture) return {};
      if (!(*picture)->damaged) use(**picture);
    }
  }
  [[nodiscard]] const programme::PictureFormat& format() const { return reader_->info().format; }

 private:
  std::unique_ptr<programme::Reader> reader_;
};

/// Luma, or green where there is none.
const programme::Plane& light_plane(const programme::Picture& picture) {
  return picture.planes[picture.format.chroma == programme::Chroma::rgb ? 1 : 0];
}

int code_at(const std::byte* row, int bits, int x) {
  if (bits == 8) return std::to_integer<int>(row[x]);
  std::uint16_t value = 0;
  std::memcpy(&value, row + 2 * static_cast<std::ptrdiff_t>(x), sizeof value);
  return value;
}

template <class Use>
void each_pixel(const programme::Picture& picture, Use&& use) {
  const auto& plane = light_plane(picture);
  const auto* row = plane.data;
  for (int y = 0; y < plane.height; ++y, row += plane.stride)
    for (int x = 0; x < plane.width; ++x) use(x, y, code_at(row, picture.format.bits, x));
}

std::size_t at(int x, int y, int width) {
  return static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x);
}

/// For each pixel its place, or -1 if it is bright in some frame or near one that is.
class Mask {
 public:
  Mask(const std::vector<std::uint16_t>& highest, const std::vector<float>& light, int width, int height)
      : place_(highest.size(), -1) {
    const int around = std::max(1, width / kAround);
    std::vector<char> dim(highest.size(), 1);
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) {
        if (light[highest[at(x, y, width)]] < kBright) continue;
        for (int v = std::max(0, y - around); v <= std::min(height - 1, y + around); ++v)
          std::fill_n(dim.begin() + static_cast<std::ptrdiff_t>(at(std::max(0, x - around), v, width)),
                      std::min(width - 1, x + around) - std::max(0, x - around) + 1, char{0});
      }
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) {
        if (dim[at(x, y, width)] == 0) continue;
        const int place = y * kRows / height * kColumns + x * kColumns / width;
        place_[at(x, y, width)] = static_cast<std::int16_t>(place);
      }
  }
  [[nodiscard]] int place(std::size_t pixel) const { return place_[pixel]; }

 private:
  std::vector<std::int16_t> place_;
};

Result<evaluation::WalkClip> read_clip(const std::string& path) {
  auto first = open_clip(path);
  if (!first) return tl::unexpected(first.error());
  Frames once(std::move(*first));
  const auto format = once.format();
  if (format.is_float)
    return fail(ErrorCode::unsupported, "is no clip of whole code values (" + describe(format) + ")",
                "Film in 8, 10 or 12 bits.", {.file = path});
  const auto light = light_of_codes(format);
  const int width = format.width, height = format.height;
  std::vector<std::uint16_t> highest(at(0, height, width), 0);
  auto seen = once.each([&](const programme::Picture& picture) {
    each_pixel(picture, [&](int x, int y, int code) {
      auto& most = highest[at(x, y, width)];
      most = std::max(most, static_cast<std::uint16_t>(code));
    });
  });
  if (!seen) return tl::unexpected(seen.error());

  const Mask mask(highest, light, width, height);
  evaluation::WalkClip out{.places = kColumns * kRows, .time_s = {}, .light = {}};
  auto second = open_clip(path);
  if (!second) return tl::unexpected(second.error());
  Frames again(std::move(*second));
  // Over the whole place, not over what is left of it: a zone's light then adds up to the same wherever it lies.
  const double whole = static_cast<double>(width) * height / out.places;
  std::vector<double> sum;
  seen = again.each([&](const programme::Picture& picture) {
    sum.assign(static_cast<std::size_t>(out.places), 0.0);
    each_pixel(picture, [&](int x, int y, int code) {
      const int place = mask.place(at(x, y, width));
      if (place >= 0)
        sum[static_cast<std::size_t>(place)] += static_cast<double>(light[static_cast<std::size_t>(code)]);
    });
    out.time_s.push_back(picture.time_s);
    for (std::size_t i = 0; i < sum.size(); ++i) out.light.push_back(static_cast<float>(sum[i] / whole));
  });
  if (!seen) return tl::unexpected(seen.error());
  return out;
}

}  // namespace

Result<evaluation::WalkClip> walk_clip_of(const std::string& bytes, const std::string& name) {
  const TemporaryFolder folder;
  const auto path = folder.put(bytes, name);
  if (!path) return tl::unexpected(path.error());
  auto clip = read_clip(*path);
  if (!clip) clip.error().where.file = name;
  return clip;
}

bool is_clip(std::string_view bytes, std::string_view name) {
  for (const char* ending : {".csv", ".txt", ".tsv"})
    if (name.ends_with(ending)) return false;
  const auto start = bytes.substr(0, 4096);
  return start.starts_with("YUV4MPEG2") || start.find('\0') != std::string_view::npos;
}

}  // namespace provenit::loan
