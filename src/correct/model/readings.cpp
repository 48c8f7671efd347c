#include "readings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>

#include "provenit/colour/difference.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/signal/encoded_light.h"
#include "provenit/signal/encoding.h"

namespace provenit::correct::model {
namespace {

constexpr std::array<const char*, 3> kChannelNames{"red", "green", "blue"};
/// A display that moved further than this has no one state to correct; our own choice.
constexpr double kLargestDrift = 0.08, kLargestJump = 0.03;

Vector vector_of(const colour::AbsoluteXyz<>& c) {
  return {c.X, c.Y, c.Z};
}

tl::unexpected<Error> refuse(const std::string& what, const std::string& advice, const std::string& reading = {}) {
  return fail(ErrorCode::invalid_input, reading.empty() ? what : fmt::format("{}: {}", reading, what), advice,
              {.field = reading});
}

Result<void> finite(const ModelReading& r) {
  for (const double x : {r.signal.r, r.signal.g, r.signal.b, r.light.X, r.light.Y, r.light.Z, r.time_s})
    if (!std::isfinite(x))
      return refuse("a number of this reading is not finite", "Read this patch again, or take the reading out.",
                    r.name);
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j)
      if (!std::isfinite(r.covariance(i, j)) || (i == j && r.covariance(i, j) < 0))
        return refuse("the uncertainty of this reading is not a covariance", "State the instrument's repeatability.",
                      r.name);
  return {};
}

/// The brightest reading of one channel alone: the others ask for nearly nothing.
const ModelReading* alone(std::span<const ModelReading> readings, int channel) {
  const ModelReading* best = nullptr;
  for (const auto& r : readings) {
    const Vector s{r.signal.r, r.signal.g, r.signal.b};
    const double others = std::max(s[(channel + 1) % 3], s[(channel + 2) % 3]);
    if (others > 0.02 || s[channel] < 0.2) continue;
    if (!best || r.light.Y > best->light.Y) best = &r;
  }
  return best;
}

bool is_grey(const ModelReading& r) {
  return std::abs(r.signal.r - r.signal.g) < 1e-9 && std::abs(r.signal.g - r.signal.b) < 1e-9;
}

/// Which of the container's primaries each measured one lies nearest, seen from white, by direction.
Result<void> in_their_places(const signal::Encoding& encoding, const std::array<const ModelReading*, 3>& primaries,
                             const Vector& black) {
  const auto& p = signal::primaries_of(encoding.container);
  const std::array<colour::UvPrime<>, 3> asked{uv_prime_from_xy(p.red), uv_prime_from_xy(p.green),
                                               uv_prime_from_xy(p.blue)};
  for (int c = 0; c < 3; ++c) {
    const auto& l = primaries[c]->light;
    const auto read =
        colour::uv_prime_from_xyz(colour::AbsoluteXyz<>{.X = l.X - black[0], .Y = l.Y - black[1], .Z = l.Z - black[2]});
    for (int other = 0; other < 3; ++other)
      if (colour::delta_uv_prime(read, asked[other]) < colour::delta_uv_prime(read, asked[c]))
        return refuse(fmt::format("{} was sent and light read that is nearer {}: channels are swapped",
                                  kChannelNames[c], kChannelNames[other]),
                      "Look at the cable's or the player's component order, then read again.", primaries[c]->name);
  }
  return {};
}

/// Signal beyond which a grey gives no more light.
Result<double> level_of_top(std::span<const ModelReading> readings, const signal::EncodedLight& light) {
  std::vector<std::pair<double, const ModelReading*>> greys;
  for (const auto& r : readings)
    if (is_grey(r) && !r.reference) greys.emplace_back(light.light(r.signal).g, &r);
  std::ranges::sort(greys, {}, [](const auto& g) { return g.first; });
  if (greys.size() < 4)
    return refuse(fmt::format("only {} greys were read", greys.size()), "Read at least four, from black to the peak.");
  double most = 0;
  for (const auto& [asked, r] : greys) most = std::max(most, r->light.Y);
  double top = greys.back().first;
  for (const auto& [asked, r] : greys)
    if (r->light.Y >= 0.997 * most) {
      top = asked;
      break;
    }
  // Twice the signal light with no more light to show, far below the top: the instrument clips, not the display.
  for (std::size_t i = 0; i + 1 < greys.size(); ++i) {
    const auto& [asked, r] = greys[i];
    const auto& [asked_next, next] = greys[i + 1];
    if (asked_next >= 1.5 * asked && asked > 0.05 && asked < 0.2 * top && next->light.Y < 1.02 * r->light.Y)
      return refuse(fmt::format("{:.4g} cd/m2 where {} gave {:.4g} for {:.0f} % of the signal's light: light or "
                                "instrument is clipped",
                                next->light.Y, r->name, r->light.Y, 100 * asked / asked_next),
                    "Use an instrument that reads this light, or the range that fits, and read again.", next->name);
  }
  return std::min(top * 1.03, light.most());
}

class Drift {
 public:
  static Result<Drift> from(std::span<const ModelReading> readings, const colour::Matrix3<>& channels_from_xyz,
                            const Vector& black) {
    Drift drift;
    std::optional<Vector> first;
    std::string before;
    for (const auto& r : readings) {
      if (!r.reference) continue;
      const Vector xyz = vector_of(r.light);
      const Vector f = channels_from_xyz * Vector{xyz[0] - black[0], xyz[1] - black[1], xyz[2] - black[2]};
      if (!first) first = f;
      Knot knot{.time_s = r.time_s};
      for (int c = 0; c < 3; ++c) {
        if (!((*first)[c] > 0))
          return refuse("the reference has no light in one channel", "Use a white as reference.", r.name);
        knot.state[c] = f[c] / (*first)[c];
        drift.largest_ = std::max(drift.largest_, std::abs(knot.state[c] - 1));
        if (std::abs(knot.state[c] - 1) > kLargestDrift)
          return refuse(fmt::format("{} is {:+.1f} % away from the first reference: the display changed more than a "
                                    "drift correction may take out",
                                    kChannelNames[c], 100 * (knot.state[c] - 1)),
                        "Let the display warm up, look for a power saver or a changed setting, and measure anew.",
                        r.name);
        if (!drift.knots_.empty() && std::abs(knot.state[c] - drift.knots_.back().state[c]) > kLargestJump)
          return refuse(fmt::format("{} jumped by {:+.1f} % since {}: the display changed in the middle of the run",
                                    kChannelNames[c], 100 * (knot.state[c] - drift.knots_.back().state[c]), before),
                        "Look for a changed setting, a moved instrument or light in the room, and measure anew.",
                        r.name);
      }
      drift.knots_.push_back(knot);
      before = r.name;
    }
    // The display as it is now, not as it was when it was colder.
    if (!drift.knots_.empty()) {
      const Vector last = drift.knots_.back().state;
      for (auto& knot : drift.knots_)
        for (int c = 0; c < 3; ++c) knot.state[c] /= last[c];
    }
    return drift;
  }
  [[nodiscard]] Vector at(double time_s) const {
    if (knots_.empty()) return {1, 1, 1};
    const auto next = std::ranges::lower_bound(knots_, time_s, {}, &Knot::time_s);
    if (next == knots_.begin()) return knots_.front().state;
    if (next == knots_.end()) return knots_.back().state;
    const Knot &a = *(next - 1), &b = *next;
    const double t = b.time_s > a.time_s ? (time_s - a.time_s) / (b.time_s - a.time_s) : 0;
    Vector s{};
    for (int c = 0; c < 3; ++c) s[c] = a.state[c] + t * (b.state[c] - a.state[c]);
    return s;
  }
  [[nodiscard]] double largest() const { return largest_; }

 private:
  struct Knot {
    double time_s = 0;
    Vector state{1, 1, 1};
  };
  std::vector<Knot> knots_;
  double largest_ = 0;
};

}  // namespace

Result<Readings> prepared(const signal::Encoding& encoding, std::span<const ModelReading> all) {
  if (auto valid = signal::validate(encoding); !valid) return tl::unexpected(valid.error());
  std::vector<ModelReading> readings(all.begin(), all.end());
  std::ranges::stable_sort(readings, {}, &ModelReading::time_s);
  for (const auto& r : readings)
    if (auto ok = finite(r); !ok) return tl::unexpected(ok.error());
  const auto patches = std::ranges::count(readings, false, &ModelReading::reference);
  if (patches < kFewestPatches)
    return refuse(fmt::format("{} patches were read; a display model needs at least {}", patches, kFewestPatches),
                  "Let the run go on.");

  const signal::EncodedLight light(encoding);
  const ModelReading *white = nullptr, *dark = nullptr;
  for (const auto& r : readings) {
    if (!is_grey(r)) continue;
    if (!white || r.light.Y > white->light.Y) white = &r;
    if (r.signal.r <= 0 && (!dark || r.light.Y < dark->light.Y)) dark = &r;
  }
  std::array<const ModelReading*, 3> primaries{};
  for (int c = 0; c < 3; ++c) {
    primaries[c] = alone(readings, c);
    if (!primaries[c] || !(primaries[c]->light.Y > 0))
      return refuse(fmt::format("{} alone was not read, or gave no light", kChannelNames[c]),
                    "Read full red, green and blue, each alone.");
  }
  if (!white || !dark) return refuse("white or black was not read", "Read both.");

  Readings out;
  Start& start = out.start;
  for (int k = 0; k < 3; ++k) start.black[k] = std::max(vector_of(dark->light)[k], 0.0);
  if (auto ok = in_their_places(encoding, primaries, start.black); !ok) return tl::unexpected(ok.error());
  const auto top = level_of_top(readings, light);
  if (!top) return tl::unexpected(top.error());
  start.knots = CurveKnots(pq_of(*top));
  start.top_cdm2 = white->light.Y;

  colour::Matrix3<> columns;
  for (int c = 0; c < 3; ++c) {
    const Vector xyz = vector_of(primaries[c]->light);
    const colour::AbsoluteXyz<> own{
        .X = xyz[0] - start.black[0], .Y = xyz[1] - start.black[1], .Z = xyz[2] - start.black[2]};
    start.colour[c] = colour::xy_from_xyz(own);
    columns(0, c) = start.colour[c].x / start.colour[c].y;
    columns(1, c) = 1;
    columns(2, c) = (1 - start.colour[c].x - start.colour[c].y) / start.colour[c].y;
  }
  const Vector w = vector_of(white->light);
  start.luminance = inverse(columns) * Vector{w[0] / w[1], 1, w[2] / w[1]};
  for (int c = 0; c < 3; ++c)
    if (!(start.luminance[c] > 0))
      return refuse("the white cannot be mixed from the primaries that were read",
                    "Check that white, red, green and blue were read in the same mode.", primaries[c]->name);
  const auto& container = signal::primaries_of(encoding.container);
  start.mixing = rgb_to_rgb_matrix(
      container,
      colour::Primaries<>{
          .red = start.colour[0], .green = start.colour[1], .blue = start.colour[2], .white = container.white});

  const auto drift = Drift::from(readings, inverse(columns * colour::diagonal(start.luminance)), start.black);
  if (!drift) return tl::unexpected(drift.error());
  out.largest_drift = drift->largest();
  for (const auto& r : readings) {
    if (r.reference) continue;
    const auto asked = light.light(r.signal);
    out.points.push_back({.name = r.name,
                          .container = {asked.r, asked.g, asked.b},
                          .xyz = vector_of(r.light),
                          .covariance = r.covariance,
                          .state = drift->at(r.time_s)});
  }
  return out;
}

}  // namespace provenit::correct::model
