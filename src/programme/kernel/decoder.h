#pragma once
// From samples to light in double precision: the definition behind pixel_at.
#include "kernel/sampling.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/quantities.h"
#include "provenit/programme/picture.h"

namespace provenit::programme::kernel {

[[nodiscard]] constexpr const colour::Primaries<>& primaries_of(Gamut gamut) {
  if (gamut == Gamut::bt709) return colour::bt709_primaries;
  return gamut == Gamut::p3_d65 ? colour::p3_d65_primaries : colour::bt2020_primaries;
}

/// Largest signal that is decoded: 1, and for HLG in narrow range the top of the video data range.
[[nodiscard]] double largest_signal(const PictureFormat& format);

/// Light of one channel of signal e, by itself: cd/m2, for HLG the scene light E. e is clamped first.
[[nodiscard]] double channel_light(const PictureFormat& format, double e);

class Decoder {
 public:
  explicit Decoder(const PictureFormat& format);
  /// R'G'B' before any clamp; linear stills: the samples.
  [[nodiscard]] colour::SignalRgb<> signal(const Samples& samples) const;
  /// cd/m2, in the picture's own primaries.
  [[nodiscard]] colour::AbsoluteRgb<> light(const colour::SignalRgb<>& signal) const;
  [[nodiscard]] colour::AbsoluteRgb<> light(const Samples& samples) const { return light(signal(samples)); }
  [[nodiscard]] colour::AbsoluteXyz<> xyz(const colour::AbsoluteRgb<>& rgb) const {
    return colour::xyz_from_rgb(rgb, to_xyz_);
  }
  [[nodiscard]] const colour::Matrix3<>& to_xyz() const { return to_xyz_; }

 private:
  [[nodiscard]] double luma(double code) const { return (code - luma_offset_) / luma_scale_; }
  [[nodiscard]] double chroma(double sixteenths) const { return (sixteenths / 16 - chroma_offset_) / chroma_scale_; }

  PictureFormat format_;
  colour::Matrix3<> to_xyz_;
  double luma_offset_ = 0, luma_scale_ = 1, chroma_offset_ = 0, chroma_scale_ = 1;
  double largest_ = 1;
};

/// max(R, G, B).
[[nodiscard]] inline double max_rgb(const colour::AbsoluteRgb<>& c) {
  const double rg = c.r > c.g ? c.r : c.g;
  return rg > c.b ? rg : c.b;
}

}  // namespace provenit::programme::kernel
