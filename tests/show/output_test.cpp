// Direct output against a described card: what is chosen, set, shown and put back, and what is said when it cannot be.
#include "provenit/show/output.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cerrno>
#include <chrono>

#include "output/card.h"

namespace provenit::show {
namespace {

using testing::HasSubstr;

const signal::Encoding kPq{.transfer = signal::Transfer::pq,
                           .container = signal::Container::bt2020,
                           .bits = 10,
                           .range = signal::Range::full,
                           .nominal_peak_cdm2 = 1400};

Connector hdmi() {
  return {.id = 77,
          .name = "HDMI-A-1",
          .connected = true,
          .modes = {{.size = {1920, 1080}, .refresh_hz = 60},
                    {.size = {64, 36}, .refresh_hz = 59.94, .preferred = true},
                    {.size = {64, 36}, .refresh_hz = 24},
                    {.size = {64, 36}, .refresh_hz = 50, .interlaced = true}},
          .hdr_metadata = true,
          .colorspaces = {"Default", "BT2020_RGB"},
          .max_bpc = 12,
          .ten_bits = true,
          .announced = AnnouncedHdr{.sdr = true, .pq = true}};
}

struct Seen {
  std::vector<OutputState> states;
  std::vector<std::uint32_t> pixels;
  int width = 0, restored = 0, ended = 0;
};

class DescribedCard final : public Card {
 public:
  DescribedCard(std::vector<Connector> all, Seen& seen) : all_(std::move(all)), seen_(seen) {}
  ~DescribedCard() override { ++seen_.ended; }
  Result<std::vector<Connector>> connectors() override { return all_; }
  Result<void> put(const OutputState& state, const Mode& mode, const LineWriter& writer) override {
    if (refuse != 0) return tl::unexpected(card_problem(CardStep::commit, refuse, "card0"));
    seen_.states.push_back(state);
    seen_.width = mode.size.width;
    seen_.pixels.assign(unsigned(mode.size.width * mode.size.height), 0);
    for (int y = 0; y < mode.size.height; ++y)
      writer(y, std::span(seen_.pixels).subspan(unsigned(y * mode.size.width), unsigned(mode.size.width)));
    return {};
  }
  Result<void> restore() override {
    ++seen_.restored;
    return {};
  }
  int refuse = 0;

 private:
  std::vector<Connector> all_;
  Seen& seen_;
};

Result<std::unique_ptr<Output>> opened(Seen& seen, const std::vector<Connector>& all, const OutputOptions& options) {
  return Output::open(options, std::make_unique<DescribedCard>(all, seen));
}

Frame window(const signal::Encoding& encoding) {
  return frame_of(signal::Signal{.encoding = encoding,
                                 .patch = {{1023, 512, 1}},
                                 .surround = {{64, 65, 66}},
                                 .geometry = {.shape = signal::Shape::window, .area_fraction = 0.25}});
}

TEST(Pixels, LieAsTheFormatsSay) {
  // drm_fourcc.h: "[31:0] x:R:G:B 2:10:10:10 little endian", "[31:0] x:R:G:B 8:8:8:8 little endian".
  EXPECT_EQ(xrgb2101010(1023, 0, 0), 0x3FF00000U);
  EXPECT_EQ(xrgb2101010(0, 1023, 0), 0x000FFC00U);
  EXPECT_EQ(xrgb2101010(0, 0, 1023), 0x000003FFU);
  EXPECT_EQ(xrgb2101010(769, 64, 1), (769U << 20) + (64U << 10) + 1U);
  EXPECT_EQ(xrgb8888(255, 128, 1), 0x00FF8001U);
}

TEST(Output, ShowsExactCodesWithTheirMetadata) {
  Seen seen;
  {
    const auto output = opened(seen, {hdmi()}, {.encoding = kPq});
    ASSERT_TRUE(output) << output.error().text();
    EXPECT_TRUE(seen.states.empty());  // nothing is changed before the first frame
    EXPECT_EQ((*output)->size(), (signal::RasterSize{64, 36}));
    ASSERT_TRUE((*output)->show(window(kPq)));
    const auto pixel = [&](int x, int y) { return seen.pixels[unsigned(64 * y + x)]; };
    EXPECT_EQ(pixel(16, 9), xrgb2101010(1023, 512, 1));
    EXPECT_EQ(pixel(47, 26), xrgb2101010(1023, 512, 1));
    EXPECT_EQ(pixel(15, 9), xrgb2101010(64, 65, 66));
    EXPECT_EQ(pixel(48, 26), xrgb2101010(64, 65, 66));
    EXPECT_EQ(seen.restored, 0);
  }
  EXPECT_EQ(seen.restored, 1);
  EXPECT_EQ(seen.ended, 1);
  ASSERT_EQ(seen.states.size(), 1U);
  EXPECT_EQ(seen.states[0], (OutputState{.connector = 77,
                                         .mode = 1,
                                         .ten_bits = true,
                                         .colorspace = "BT2020_RGB",
                                         .max_bpc = 10,
                                         .metadata = hdr_blob(*usual_metadata(kPq)).value()}));
}

TEST(Output, SdrSendsNoMetadata) {
  Seen seen;
  auto sdr = kPq;
  sdr.transfer = signal::Transfer::bt1886, sdr.container = signal::Container::bt709, sdr.bits = 8;
  auto plain = hdmi();
  plain.hdr_metadata = false, plain.ten_bits = false;
  const auto output = opened(seen, {plain}, {.encoding = sdr});
  ASSERT_TRUE(output) << output.error().text();
  auto frame = frame_of(signal::Signal{.encoding = sdr, .patch = {{255, 128, 1}}});
  ASSERT_TRUE((*output)->show(frame));
  EXPECT_EQ(seen.pixels[0], 0x00FF8001U);
  EXPECT_EQ(seen.states[0].metadata, std::nullopt);
  EXPECT_EQ(seen.states[0].colorspace, "Default");
}

TEST(Output, FramesFollowEachOtherCalmly) {
  Seen seen;
  const auto output = opened(seen, {hdmi()}, {.encoding = kPq}).value();
  const auto before = std::chrono::steady_clock::now();
  for (int i = 0; i < 3; ++i) ASSERT_TRUE(output->show(window(kPq)));
  EXPECT_GE(std::chrono::duration<double>(std::chrono::steady_clock::now() - before).count(), 0.39);
}

TEST(Output, WhatTheCardRefusesIsSaid) {
  Seen seen;
  auto card = std::make_unique<DescribedCard>(std::vector{hdmi()}, seen);
  card->refuse = EINVAL;
  const auto output = Output::open({.encoding = kPq}, std::move(card)).value();
  const auto shown = output->show(window(kPq));
  ASSERT_FALSE(shown);
  EXPECT_THAT(shown.error().text(), HasSubstr("refused the mode, pixel format or metadata"));
}

std::string refused(const std::vector<Connector>& all, const OutputOptions& options) {
  Seen seen;
  const auto output = opened(seen, all, options);
  return output ? std::string() : output.error().text();
}

TEST(Output, EncodingsThatWouldNotBeExactAreRefused) {
  for (const auto& change :
       std::vector<std::function<void(signal::Encoding&)>>{[](auto& e) { e.range = signal::Range::narrow; },
                                                           [](auto& e) { e.bits = 12; }, [](auto& e) { e.bits = 8; }}) {
    auto encoding = kPq;
    change(encoding);
    EXPECT_THAT(refused({hdmi()}, {.encoding = encoding}), HasSubstr("full-range codes"));
  }
}

TEST(Output, SaysWhatAConnectorLacks) {
  const auto without = [](const std::function<void(Connector&)>& change) {
    auto c = hdmi();
    change(c);
    return refused({c}, {.encoding = kPq});
  };
  EXPECT_EQ(without([](auto&) {}), "");
  EXPECT_THAT(without([](auto& c) { c.hdr_metadata = false; }), HasSubstr("HDR_OUTPUT_METADATA"));
  EXPECT_THAT(without([](auto& c) { c.colorspaces.clear(); }), HasSubstr("Colorspace"));
  EXPECT_THAT(without([](auto& c) { c.colorspaces = {"Default"}; }), HasSubstr("BT2020_RGB"));
  EXPECT_THAT(without([](auto& c) { c.ten_bits = false; }), HasSubstr("XRGB2101010"));
  EXPECT_THAT(without([](auto& c) { c.max_bpc = 8; }), HasSubstr("8 bits at most"));
  EXPECT_THAT(without([](auto& c) { c.connected = false; }), HasSubstr("no display is connected"));
}

TEST(Output, ConnectorsAreChosenByName) {
  auto second = hdmi();
  second.name = "DP-2", second.id = 78;
  auto off = hdmi();
  off.name = "DP-3", off.connected = false, off.modes.clear();
  const std::vector all{hdmi(), second, off};
  EXPECT_EQ(choose_connector(all, "DP-2")->id, 78U);
  EXPECT_THAT(choose_connector(all, "").error().text(),
              testing::AllOf(HasSubstr("HDMI-A-1, DP-2"), Not(HasSubstr("DP-3"))));
  EXPECT_THAT(choose_connector(all, "DP-3").error().text(), HasSubstr("no display is connected to DP-3"));
  EXPECT_THAT(choose_connector(all, "VGA-1").error().text(), HasSubstr("HDMI-A-1, DP-2, DP-3"));
  EXPECT_EQ(choose_connector({off, second}, "")->id, 78U);
  EXPECT_EQ(choose_connector({}, "").error().code, ErrorCode::not_found);
}

TEST(Output, ModesAreChosenBySizeAndRefresh) {
  const auto c = hdmi();
  EXPECT_EQ(choose_mode(c, {0, 0}, 0), 1U);
  EXPECT_EQ(choose_mode(c, {1920, 1080}, 0), 0U);
  EXPECT_EQ(choose_mode(c, {64, 36}, 24), 2U);
  EXPECT_EQ(choose_mode(c, {64, 36}, 23.98), 2U);
  EXPECT_FALSE(choose_mode(c, {64, 36}, 60));  // 59.94 is another
  EXPECT_FALSE(choose_mode(c, {64, 36}, 50));  // interlaced only
  EXPECT_THAT(choose_mode(c, {3840, 2160}, 0).error().text(), HasSubstr("1920x1080@60.00, 64x36@59.94"));
}

TEST(Output, DoubtsAreTold) {
  EXPECT_EQ(doubts_of(hdmi(), kPq).size(), 1U);  // range and depth of the link: always
  auto silent = hdmi();
  silent.announced.reset(), silent.max_bpc = 0;
  EXPECT_EQ(doubts_of(silent, kPq).size(), 3U);
  auto hlg = kPq;
  hlg.transfer = signal::Transfer::hlg;
  EXPECT_THAT(doubts_of(hdmi(), hlg)[0], HasSubstr("does not list HLG"));
}

TEST(CardProblem, SaysWhatToDo) {
  EXPECT_THAT(card_problem(CardStep::open, ENOENT, "card0").text(), HasSubstr("no graphics card"));
  EXPECT_THAT(card_problem(CardStep::open, EACCES, "card0").text(), HasSubstr("member of its group"));
  EXPECT_THAT(card_problem(CardStep::become_master, EBUSY, "card0").text(), HasSubstr("text console"));
  EXPECT_THAT(card_problem(CardStep::become_master, EACCES, "card0").text(), HasSubstr("another program holds"));
  EXPECT_THAT(card_problem(CardStep::atomic, EOPNOTSUPP, "card0").text(), HasSubstr("no atomic mode setting"));
  EXPECT_THAT(card_problem(CardStep::commit, EINVAL, "card0").text(), HasSubstr("lower refresh"));
  EXPECT_THAT(card_problem(CardStep::open, EIO, "card0").text(), HasSubstr("cannot be used"));
}

TEST(CardProblem, APathWithoutACardIsSaid) {
  const auto card = open_drm_card("no/such/card");
  ASSERT_FALSE(card);
  EXPECT_EQ(card.error().code, ErrorCode::unsupported);
  EXPECT_EQ(card.error().where.file, "no/such/card");
}

}  // namespace
}  // namespace provenit::show
