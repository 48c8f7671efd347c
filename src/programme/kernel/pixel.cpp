#include "provenit/programme/pixel.h"

#include <fmt/format.h>

#include <bit>

#include "kernel/decoder.h"
#include "kernel/sampling.h"

namespace provenit::programme {
namespace {

constexpr int kLargestSide = 32768;

bool subsampled(Chroma c) {
  return c == Chroma::c420 || c == Chroma::c422;
}
bool has_ycbcr(Chroma c) {
  return subsampled(c) || c == Chroma::c444;
}

Result<void> check_samples(const PictureFormat& f) {
  if (f.width < 1 || f.height < 1 || f.width > kLargestSide || f.height > kLargestSide)
    return fail(ErrorCode::out_of_range, fmt::format("a picture of {} x {} samples", f.width, f.height),
                fmt::format("Width and height are 1 to {}.", kLargestSide), {.field = "width, height"});
  if (f.is_float && f.bits != 32)
    return fail(ErrorCode::unsupported, fmt::format("float samples of {} bits", f.bits),
                "Float pictures have 32 bits a sample.", {.field = "bits"});
  if (!f.is_float && (f.bits < 8 || f.bits > 16))
    return fail(ErrorCode::out_of_range, fmt::format("samples of {} bits", f.bits), "Whole samples have 8 to 16 bits.",
                {.field = "bits"});
  if (f.is_float && (f.transfer != Transfer::linear || has_ycbcr(f.chroma)))
    return fail(ErrorCode::unsupported, "float samples that are not linear R, G, B or grey",
                "Float pictures are taken as linear light only.", {.field = "transfer"});
  return {};
}

Result<void> check_colour(const PictureFormat& f) {
  if (has_ycbcr(f.chroma) && f.matrix == Matrix::rgb)
    return fail(ErrorCode::unsupported, "Y'CbCr samples without a matrix", "Name it: bt601, bt709 or bt2020_ncl.",
                {.field = "matrix"});
  if (f.chroma == Chroma::rgb && f.matrix != Matrix::rgb)
    return fail(ErrorCode::unsupported, fmt::format("R'G'B' samples with the matrix {}", name_of(f.matrix)),
                "The matrix of R'G'B' samples is rgb.", {.field = "matrix"});
  if (f.transfer == Transfer::hlg && f.gamut != Gamut::bt2020)
    return fail(ErrorCode::unsupported, fmt::format("HLG with the primaries {}", name_of(f.gamut)),
                "BT.2100 defines HLG's light for BT.2020 primaries only.", {.field = "primaries"});
  if (f.chroma == Chroma::c422 && f.siting != Siting::left && f.siting != Siting::centre)
    return fail(ErrorCode::unsupported, fmt::format("4:2:2 with the chroma siting {}", name_of(f.siting)),
                "4:2:2 has the sitings left and centre.", {.field = "siting"});
  if (f.transfer != Transfer::pq && !(f.peak_cdm2 > 0 && f.peak_cdm2 <= 100000))
    return fail(ErrorCode::out_of_range, fmt::format("a peak of {} cd/m2", f.peak_cdm2),
                "The peak is above 0 and at most 100000 cd/m2.", {.field = "peak"});
  return {};
}

Result<void> check_plane(const Picture& p, int index) {
  const PictureFormat& f = p.format;
  const Plane& plane = p.planes[index];
  const bool half_width = index > 0 && subsampled(f.chroma), half_height = index > 0 && f.chroma == Chroma::c420;
  const int width = half_width ? (f.width + 1) / 2 : f.width, height = half_height ? (f.height + 1) / 2 : f.height;
  const auto wrong = [&](const std::string& what, const std::string& advice) {
    return fail(ErrorCode::invalid_input, fmt::format("plane {} {}", index, what), advice,
                {.frame = p.index, .field = fmt::format("plane {}", index)});
  };
  if (plane.data == nullptr) return wrong("has no samples", "The picture's format needs it.");
  if (plane.width != width || plane.height != height)
    return wrong(fmt::format("has {} x {} samples", plane.width, plane.height),
                 fmt::format("The picture's format needs {} x {}.", width, height));
  const std::ptrdiff_t bytes = f.is_float ? 4 : f.bits == 8 ? 1 : 2;
  const std::ptrdiff_t step = plane.stride < 0 ? -plane.stride : plane.stride;
  if (height > 1 && step < width * bytes)
    return wrong(fmt::format("has rows of {} bytes", step), fmt::format("Its samples need {}.", width * bytes));
  return {};
}

}  // namespace

Result<void> check_format(const PictureFormat& format) {
  if (auto checked = check_samples(format); !checked) return checked;
  return check_colour(format);
}

Result<void> check_picture(const Picture& picture) {
  if (auto checked = check_format(picture.format); !checked) return checked;
  const int planes = picture.format.chroma == Chroma::grey ? 1 : 3;
  for (int i = 0; i < planes; ++i)
    if (auto checked = check_plane(picture, i); !checked) return checked;
  return {};
}

Pixel pixel_at(const Picture& picture, int x, int y) {
  const PictureFormat& f = picture.format;
  const kernel::Decoder decoder(f);
  const auto code = [&](int plane, int at_x, int at_y) {
    const std::int32_t value = kernel::sample_at(f, picture.planes[plane], at_x, at_y);
    return f.is_float ? static_cast<double>(std::bit_cast<float>(value)) : static_cast<double>(value);
  };
  Pixel pixel;
  pixel.code[0] = code(0, x, y);
  if (f.chroma != Chroma::grey) {
    const int cx = subsampled(f.chroma) ? x / 2 : x, cy = f.chroma == Chroma::c420 ? y / 2 : y;
    pixel.code[1] = code(1, cx, cy);
    pixel.code[2] = code(2, cx, cy);
  }
  pixel.signal = decoder.signal(kernel::samples_at(picture, x, y));
  pixel.rgb = decoder.light(pixel.signal);
  pixel.xyz = decoder.xyz(pixel.rgb);
  return pixel;
}

}  // namespace provenit::programme
