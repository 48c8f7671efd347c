#include "provenit/signal/showing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <unordered_map>

#include "pictures/light.h"

namespace provenit::signal {
namespace {

constexpr int kAcross = 96, kDown = 54;
constexpr double kSame = 0.02;      // of the level: smaller changes are no change to a panel
constexpr double kLargeArea = 0.1;  // of the picture
constexpr double kLookedAt_s = 3;   // of a showing that goes round, at least
constexpr double kLongest_s = 300, kShortest_s = 5;

/// A repeatable number in [0, 1) for a place: what matters is that neighbours do not follow a pattern.
double jitter(unsigned a, unsigned b) {
  unsigned h = a * 0x9E3779B1U ^ (b + 0x7F4A7C15U) * 0x85EBCA77U;
  h ^= h >> 15, h *= 0xC2B2AE3DU, h ^= h >> 13, h *= 0x27D4EB2FU, h ^= h >> 16;
  return h / 4294967296.0;
}

/// The place in cell `i` of `n` along `length` pixels.
int place_in(int i, int n, int length, double offset) {
  return std::min(length - 1, static_cast<int>((i + offset) * length / n));
}

/// Luminance at the places of a frame. Codes repeat: each colour is worked out once.
class Places {
 public:
  explicit Places(const Showing& showing)
      : showing_(showing),
        light_(showing.encoding),
        across_(std::min(kAcross, showing.size.width)),
        down_(std::min(kDown, showing.size.height)) {}

  [[nodiscard]] std::size_t count() const {
    return static_cast<std::size_t>(across_) * static_cast<std::size_t>(down_);
  }

  std::vector<double> at(int frame) {
    std::vector<double> out;
    out.reserve(count());
    for (int i = 0; i < down_; ++i) {
      const auto row = showing_.row(frame, place_in(i, down_, showing_.size.height, jitter(7, unsigned(i))));
      for (int j = 0; j < across_; ++j) {
        const int x = place_in(j, across_, showing_.size.width, jitter(unsigned(i) + 11, unsigned(j)));
        const auto* p = row.data() + 3 * static_cast<std::size_t>(x);
        out.push_back(cdm2({{p[0], p[1], p[2]}}));
      }
    }
    return out;
  }

 private:
  double cdm2(const CodeRgb& code) {
    const auto key =
        std::uint64_t(code.code[0]) << 32 | std::uint64_t(code.code[1]) << 16 | std::uint64_t(code.code[2]);
    const auto [known, added] = known_.try_emplace(key, 0.0);
    if (added) known->second = std::max(0.0, light_.cdm2(code));
    return known->second;
  }

  const Showing& showing_;
  pictures::Light light_;
  int across_, down_;
  std::unordered_map<std::uint64_t, double> known_;
};

/// For how long each place has shown the same; the stay that is longest over what is allowed.
class Stays {
 public:
  Stays(std::size_t places, bool ends) : since_(places, 0), level_(places, -1), ends_(ends) {}

  /// The frame shown from `from_s` to `to_s`.
  void step(double from_s, double to_s, const std::vector<double>& light) {
    auto sorted = light;
    std::ranges::sort(sorted);
    for (std::size_t i = 0; i < light.size(); ++i) {
      if (!(std::abs(light[i] - level_[i]) <= kSame * light[i])) since_[i] = from_s, level_[i] = light[i];
      if (light[i] < kBrightStay_cdm2) continue;
      const auto brighter = sorted.end() - std::ranges::lower_bound(sorted, light[i]);
      BrightStay stay{.level_cdm2 = light[i],
                      .area = static_cast<double>(brighter) / static_cast<double>(light.size()),
                      .held = {ends_ ? to_s - since_[i] : 0}};
      stay.allowed = allowed_stay(stay.level_cdm2, stay.area);
      if (asks_more(stay)) worst_ = stay;
    }
  }
  [[nodiscard]] const BrightStay& worst() const { return worst_; }

 private:
  [[nodiscard]] bool asks_more(const BrightStay& stay) const {
    if (worst_.level_cdm2 == 0) return true;
    if (!ends_) return stay.allowed < worst_.allowed;
    return stay.held.s * worst_.allowed.s > worst_.held.s * stay.allowed.s;
  }
  std::vector<double> since_, level_;
  bool ends_;
  BrightStay worst_;
};

Result<void> validate(const Showing& showing) {
  if (auto valid = validate(showing.encoding); !valid) return valid;
  if (showing.frames < 1) return fail(ErrorCode::out_of_range, "there are no frames to show", {}, {.field = "frames"});
  if (showing.size.width < 1 || showing.size.height < 1)
    return fail(ErrorCode::out_of_range, "the picture has no pixels", {}, {.field = "size"});
  if (!std::isfinite(showing.every.s) || showing.every.s < 0)
    return fail(ErrorCode::out_of_range, "frames cannot be held for that long", "Give seconds, 0 or more.",
                {.field = "every"});
  return {};
}

/// Worse: above before not above, then more flashes, then larger.
bool worse(const FlashSecond& a, const FlashSecond& b) {
  if (a.above != b.above) return a.above;
  if (a.flashes != b.flashes) return a.flashes > b.flashes;
  return a.area > b.area;
}

}  // namespace

Showing showing_of(const TestPicture& picture, Seconds every) {
  return {.encoding = picture.request().encoding,
          .size = picture.request().size,
          .frames = picture.frames(),
          .row = [&picture](int frame, int y) { return picture.row(frame, y); },
          .every = every};
}

Showing showing_of(const Raster& raster) {
  return {.encoding = raster.signal().encoding, .size = raster.size(), .frames = 1, .row = [raster](int, int y) {
            return raster.row(y);
          }};
}

Seconds allowed_stay(double level_cdm2, double area) {
  if (!(level_cdm2 >= kBrightStay_cdm2)) return {std::numeric_limits<double>::infinity()};
  const double by_level = kLongest_s * kBrightStay_cdm2 / level_cdm2;
  return {std::max(kShortest_s, area >= kLargeArea ? by_level / 2 : by_level)};
}

Result<ShowingCautions> cautions_of(const Showing& showing) {
  if (auto valid = validate(showing); !valid) return tl::unexpected(valid.error());
  Places places(showing);
  const double each = showing.every.s;
  const bool moves = showing.frames > 1 && each > 0;
  int steps = showing.frames;
  // Twice round: the way from the last frame to the first is a change like the others.
  if (moves && showing.again)
    steps = std::max(2 * steps, static_cast<int>(std::ceil(std::min(kLookedAt_s / each, 1e6))));
  FlashWatch watch(std::vector<double>(places.count(), 1.0 / static_cast<double>(places.count())));
  Stays stays(places.count(), moves);
  ShowingCautions cautions;
  for (int n = 0; n < steps; ++n) {
    const auto light = places.at(n % showing.frames);
    stays.step(n * each, (n + 1) * each, light);
    if (!moves) continue;
    if (const auto second = watch.step(n * each, light); worse(second, cautions.flashing)) cautions.flashing = second;
  }
  cautions.stay = stays.worst();
  return cautions;
}

std::vector<std::string> ShowingCautions::texts() const {
  std::vector<std::string> out;
  if (flashing.flashes > 0)
    out.push_back(fmt::format(
        "Flashing, {} the limits of Rec. ITU-R BT.1702 as far as this program knows them: up to {} {} within a second "
        "over {:.0f} % of the picture, changes of up to {:.3g} cd/m2 (limits: {} flashes over {:.0f} %). Flashing can "
        "cause seizures in photosensitive people, also below the limits: clear the room of those who may be affected.",
        flashing.above ? "ABOVE" : "within", flashing.flashes, flashing.flashes == 1 ? "flash" : "flashes",
        100 * flashing.area, flashing.change_cdm2, kFlashesPerSecond, 100 * kFlashArea));
  if (stay.caution())
    out.push_back(fmt::format(
        "Long bright stay: {:.4g} cd/m2 {} over {:.3g} % of the picture; do not leave it for more than {:.0f} s at a "
        "time. It can leave traces on a panel and dazzles eyes used to the dark: announce it, end on black.",
        stay.level_cdm2,
        stay.held.s > 0 ? fmt::format("for {:.0f} s", stay.held.s) : std::string("until it is changed"),
        100 * stay.area, stay.allowed.s));
  return out;
}

Error flashing_refused(const ShowingCautions& cautions, const std::string& confirm) {
  const auto& f = cautions.flashing;
  return {
      ErrorCode::out_of_range,
      fmt::format("this would flash {} times within a second over {:.0f} % of the picture, above the limits of Rec. "
                  "ITU-R BT.1702 ({} over {:.0f} %)",
                  f.flashes, 100 * f.area, kFlashesPerSecond, 100 * kFlashArea),
      fmt::format("Hold each frame for {} s or longer. Only if nobody who may be affected can see the screen: {}.",
                  kCalmHold_s, confirm),
      {}};
}

}  // namespace provenit::signal
