#include "provenit/show/hdr_metadata.h"

#include <drm_mode.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstring>
#include <numeric>
#include <vector>

namespace provenit::show {
namespace {

// The offsets are those of the infoframe's fields behind the kernel's own type word.
static_assert(offsetof(hdr_output_metadata, hdmi_metadata_type1) == 4);
static_assert(sizeof(hdr_output_metadata) == 32);

TEST(HdrBlob, ByteForByte) {
  // By hand, from CTA-861: P3-D65 in steps of 0.00002: 0.680 -> 34000 = 0x84D0, 0.320 -> 16000 = 0x3E80, 0.265 -> 13250
  // = 0x33C2, 0.690 -> 34500 = 0x86C4, 0.150 -> 7500 = 0x1D4C, 0.060 -> 3000 = 0x0BB8, 0.3127 -> 15635 = 0x3D13, 0.3290
  // -> 16450 = 0x4042; 1000 = 0x03E8; 0.005 / 0.0001 = 50 = 0x0032; 1400 = 0x0578; 400 = 0x0190. Little-endian machine.
  const auto blob = hdr_blob({.eotf = InfoframeEotf::pq,
                              .mastering = colour::p3_d65_primaries,
                              .maximum_cdm2 = 1000,
                              .minimum_cdm2 = 0.005,
                              .max_cll_cdm2 = 1400,
                              .max_fall_cdm2 = 400});
  ASSERT_TRUE(blob);
  const std::vector<int> expected{0,    0,    0,    0,     // metadata_type of the kernel
                                  2,    0,                 // EOTF, static metadata type 1
                                  0xD0, 0x84, 0x80, 0x3E,  // red
                                  0xC2, 0x33, 0xC4, 0x86,  // green
                                  0x4C, 0x1D, 0xB8, 0x0B,  // blue
                                  0x13, 0x3D, 0x42, 0x40,  // white
                                  0xE8, 0x03, 0x32, 0x00, 0x78, 0x05, 0x90, 0x01, 0, 0};
  std::vector<int> got;
  for (const auto b : *blob) got.push_back(std::to_integer<int>(b));
  EXPECT_EQ(got, expected);
}

TEST(HdrBlob, TheKernelsOwnStructReadsIt) {
  const auto blob =
      hdr_blob({.eotf = InfoframeEotf::hlg, .maximum_cdm2 = 4000, .max_cll_cdm2 = 3999, .max_fall_cdm2 = 7});
  ASSERT_TRUE(blob);
  hdr_output_metadata read{};
  std::memcpy(&read, blob->data(), sizeof read);
  EXPECT_EQ(read.metadata_type, 0U);
  EXPECT_EQ(read.hdmi_metadata_type1.eotf, 3);
  EXPECT_EQ(read.hdmi_metadata_type1.display_primaries[0].x, 35400);  // BT.2020 red 0.708
  EXPECT_EQ(read.hdmi_metadata_type1.max_display_mastering_luminance, 4000);
  EXPECT_EQ(read.hdmi_metadata_type1.min_display_mastering_luminance, 1);
  EXPECT_EQ(read.hdmi_metadata_type1.max_cll, 3999);
  EXPECT_EQ(read.hdmi_metadata_type1.max_fall, 7);
}

TEST(HdrBlob, WhatDoesNotFitIsRefusedByName) {
  const auto field = [](const HdrMetadata& m) {
    const auto blob = hdr_blob(m);
    return blob ? std::string() : blob.error().where.field;
  };
  EXPECT_EQ(field({.maximum_cdm2 = 0.5}), "mastering maximum");
  EXPECT_EQ(field({.maximum_cdm2 = 65536}), "mastering maximum");
  EXPECT_EQ(field({.minimum_cdm2 = 0.00001}), "mastering minimum");
  EXPECT_EQ(field({.minimum_cdm2 = 7}), "mastering minimum");
  EXPECT_EQ(field({.max_cll_cdm2 = -1}), "MaxCLL");
  EXPECT_EQ(field({.max_cll_cdm2 = 400, .max_fall_cdm2 = 401}), "MaxFALL");
  EXPECT_EQ(field({.max_fall_cdm2 = 401}), "");
  EXPECT_EQ(field({.mastering = {.red = {.x = 1.2, .y = 0}}}), "mastering chromaticity");
}

TEST(UsualMetadata, FollowsTheEncoding) {
  EXPECT_FALSE(usual_metadata({.transfer = signal::Transfer::bt1886}));
  const auto pq = usual_metadata({.container = signal::Container::p3_d65, .nominal_peak_cdm2 = 1400});
  ASSERT_TRUE(pq);
  EXPECT_EQ(pq->eotf, InfoframeEotf::pq);
  EXPECT_EQ(pq->mastering.green.x, 0.265);
  EXPECT_EQ(pq->maximum_cdm2, 1400);
  EXPECT_EQ(usual_metadata({.transfer = signal::Transfer::hlg})->eotf, InfoframeEotf::hlg);
}

/// A base block and one CTA extension that holds these data blocks.
std::vector<std::uint8_t> edid_with(std::vector<std::uint8_t> blocks) {
  std::vector<std::uint8_t> edid(256, 0);
  edid[128] = 2, edid[129] = 3, edid[130] = static_cast<std::uint8_t>(4 + blocks.size());
  std::ranges::copy(blocks, edid.begin() + 132);
  edid[255] = static_cast<std::uint8_t>(256 - std::accumulate(edid.begin() + 128, edid.end(), 0U) % 256);
  return edid;
}

TEST(AnnouncedHdr, IsFoundAmongTheDataBlocks) {
  // A video block of two entries, then HDR static metadata: SDR, PQ and HLG, type 1, three luminance bytes.
  const auto edid = edid_with({0x42, 0x10, 0x1F, 0xE6, 0x06, 0x0D, 0x01, 0x70, 0x60, 0x10});
  const auto found = announced_hdr(edid);
  ASSERT_TRUE(found);
  EXPECT_TRUE(found->sdr);
  EXPECT_FALSE(found->traditional_hdr);
  EXPECT_TRUE(found->pq);
  EXPECT_TRUE(found->hlg);
}

TEST(AnnouncedHdr, IsNotMadeUp) {
  EXPECT_FALSE(announced_hdr({}));
  EXPECT_FALSE(announced_hdr(edid_with({0x42, 0x10, 0x1F})));
  EXPECT_FALSE(announced_hdr(edid_with({0xE3, 0x05, 0x06, 0x0D})));  // colorimetry
  EXPECT_FALSE(announced_hdr(edid_with({0xE6, 0x06, 0x0D})));        // longer than the block
  EXPECT_FALSE(announced_hdr(edid_with({0xE1, 0x06})));              // no byte for the EOTFs
  auto damaged = edid_with({0xE3, 0x06, 0x0D, 0x01});
  EXPECT_TRUE(announced_hdr(damaged));
  damaged[200] = 1;
  EXPECT_FALSE(announced_hdr(damaged));
  damaged.resize(255);
  EXPECT_FALSE(announced_hdr(damaged));
}

}  // namespace
}  // namespace provenit::show
