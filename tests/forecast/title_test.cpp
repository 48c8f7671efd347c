// The fast path, its moments, and comparisons.
#include "provenit/forecast/title.h"

#include <gmock/gmock.h>

#include "fixture.h"
#include "provenit/forecast/compare.h"
#include "provenit/programme/frame_meter.h"

namespace provenit::forecast {
namespace {

using namespace testing;

programme::FrameRecord record_of(const programme::Picture& picture) {
  return programme::FrameMeter::make(picture.format).value().measure(picture).value();
}
double part(const FrameOutlook& f, Cause c) {
  return static_cast<double>(f.by_cause[static_cast<std::size_t>(c)]);
}

class Title : public ::testing::TestWithParam<const char*> {
 protected:
  Measured& m = measured(GetParam());
  TitleForecaster title{m.display};
  FrameOutlook outlook(const programme::Picture& picture) {
    const auto record = record_of(picture);
    return title.forecast(std::span(&record, 1)).front();
  }
};
INSTANTIATE_TEST_SUITE_P(Demo, Title, ::testing::Values("tern-32", "curlew-27"),
                         [](const auto& tested) { return std::string(tested.param).substr(0, 4); });

TEST_P(Title, GreyPicturesComeNearTheFullPath) {
  for (const auto& picture : {window(kWidth, kHeight, 0.5, 500, 300), window(kWidth, kHeight, 0.7, 900, 400),
                              window(kWidth, kHeight, 1, 600, 600)}) {
    const auto full = FrameForecaster::make(m.display, picture.format).value().still(picture).value();
    const double want = of(full.figures, Quantity::mean_delta_e).value;
    EXPECT_NEAR(outlook(picture).delta_e.value, want, 0.3 * want + 0.3);
  }
}

TEST_P(Title, NamesTheCause) {
  // 4000 cd/m2 on a tenth of the picture, grey around it: nothing but the clip.
  const auto clip = outlook(window(kWidth, kHeight, 0.2, 855, 400));
  EXPECT_GT(part(clip, Cause::clip), part(clip, Cause::halo));
  EXPECT_GT(part(clip, Cause::clip), 0.1);
  const auto plain = outlook(window(kWidth, kHeight, 0.2, 420, 400));
  EXPECT_EQ(part(plain, Cause::clip), 0);
  const bool zoned = m.display.optics().zoned();
  const auto star = outlook(window(kWidth, kHeight, 0.2, 940, 64));
  const auto full = outlook(window(kWidth, kHeight, 1, 700, 700));
  if (zoned) {
    EXPECT_GT(part(star, Cause::halo), 0.5);
  } else {
    EXPECT_EQ(part(star, Cause::halo), 0);
    EXPECT_GT(part(full, Cause::limiter), 1);
  }
}

TEST_P(Title, AnEmptyTitleHasNoMoments) {
  EXPECT_TRUE(title.forecast({}).empty());
  EXPECT_TRUE(worst_moments({}, 5, 1).empty());
}

TEST_P(Title, ItsIntervalIsThatOfTheFormOnceThatIsKnown) {
  const double before = title.form();
  const std::vector<double> fast{1, 2, 3, 4, 5}, full{1.1, 2.2, 3.3, 4.4, 5.5};
  title.set_form(std::span(fast).first(3), std::span(full).first(3));
  EXPECT_EQ(title.form(), before);  // too few
  title.set_form(fast, full);
  EXPECT_NEAR(title.form(), 1 - 1 / 1.1, 1e-9);
}

TEST(Moments, StandApartAndFallInOrder) {
  std::vector<FrameOutlook> frames;
  for (int i = 0; i < 100; ++i) {
    FrameOutlook f{.index = i, .time_s = i / 10.0, .delta_e = {}};
    f.delta_e.value = 10 - std::abs(i - 40) * 0.1 + (i == 90 ? 3 : 0);
    f.by_cause = {1, 0, 0, static_cast<float>(i), 0};
    frames.push_back(f);
  }
  const auto worst = worst_moments(frames, 3, 2);
  ASSERT_EQ(worst.size(), 3U);
  EXPECT_EQ(worst[0].frame.index, 40);
  EXPECT_EQ(worst[1].frame.index, 20);
  EXPECT_EQ(worst[0].cause, Cause::halo);
  const auto by_halo = worst_moments(frames, Cause::halo, 2, 1);
  EXPECT_EQ(by_halo[0].frame.index, 99);
  EXPECT_EQ(by_halo[1].frame.index, 89);
  EXPECT_TRUE(worst_moments(frames, Cause::gamut, 2, 1).empty());
}

TEST(Compare, SaysSoOnlyWhereIntervalsSeparate) {
  EXPECT_EQ(nearer_of({1, 0.8, 1.2}, {2, 1.5, 2.5}), Nearer::first);
  EXPECT_EQ(nearer_of({2, 1.5, 2.5}, {1, 0.8, 1.2}), Nearer::second);
  EXPECT_EQ(nearer_of({1, 0.8, 1.6}, {2, 1.5, 2.5}), Nearer::not_shown);
  EXPECT_EQ(nearer_of({-0.5, -0.6, -0.4}, {0.1, -0.2, 0.2}), Nearer::second);  // which way does not matter
}

TEST(Compare, TwoDisplaysOnTheSameMoments) {
  const auto picture = window(kWidth, kHeight, 0.2, 940, 64);
  std::vector<FrameForecast> tern, curlew;
  for (auto* list : {&tern, &curlew})
    list->push_back(FrameForecaster::make(measured(list == &tern ? "tern-32" : "curlew-27").display, picture.format)
                        .value()
                        .still(picture)
                        .value());
  const auto all = compare(tern, curlew);
  ASSERT_TRUE(all.has_value());
  ASSERT_EQ(all->size(), kQuantities);
  const auto& halo = (*all)[static_cast<std::size_t>(Quantity::halo_cdm2)];
  EXPECT_EQ(halo.nearer, Nearer::second);
  EXPECT_THAT(text_of(halo, "Tern 32", "Curlew 27"), ::testing::HasSubstr("Curlew 27 is nearer"));
  curlew.front().index = 7;
  EXPECT_FALSE(compare(tern, curlew).has_value());
  EXPECT_FALSE(compare(tern, std::span<const FrameForecast>{}).has_value());
}

}  // namespace
}  // namespace provenit::forecast
