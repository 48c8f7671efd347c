#include "provenit/signal/signal.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <limits>
#include <nlohmann/json.hpp>
#include <random>
#include <utility>

namespace provenit::signal {
namespace {

using nlohmann::json;

Signal window_10() {
  return {.encoding = {},
          .patch = {{723, 723, 723}},
          .surround = {{64, 64, 64}},
          .geometry = {.shape = Shape::window, .area_fraction = 0.1}};
}

Signal random_signal(std::mt19937_64& random) {
  const auto draw = [&](int low, int high) { return std::uniform_int_distribution<int>(low, high)(random); };
  Signal s;
  s.encoding.transfer = std::array{Transfer::pq, Transfer::hlg, Transfer::bt1886}[draw(0, 2)];
  s.encoding.container = std::array{Container::bt709, Container::p3_d65, Container::bt2020}[draw(0, 2)];
  s.encoding.bits = std::array{8, 10, 12, 16}[draw(0, 3)];
  s.encoding.range = std::array{Range::narrow, Range::full}[draw(0, 1)];
  s.encoding.nominal_peak_cdm2 = 1e-3 * draw(1, 10'000'000) / 3.0;
  for (auto* rgb : {&s.patch, &s.surround})
    for (int& c : rgb->code) c = draw(0, (1 << s.encoding.bits) - 1);
  s.geometry.shape = std::array{Shape::full_field, Shape::window, Shape::checkerboard}[draw(0, 2)];
  if (s.geometry.shape == Shape::window) {
    s.geometry.area_fraction = draw(1, 3000) / 3000.0;
    const double reach = 1 - std::sqrt(s.geometry.area_fraction);
    if (draw(0, 1) == 1) s.geometry.centre_x = 0.5 + reach * draw(-50, 50) / 100.0;
    if (draw(0, 1) == 1) s.geometry.centre_y = 0.5 + reach * draw(-50, 50) / 100.0;
  }
  if (s.geometry.shape == Shape::checkerboard) {
    s.geometry.columns = draw(2, 40);
    s.geometry.rows = draw(2, 40);
  }
  return s;
}

TEST(SignalJson, TextThrownAwayAndReadBackGivesTheSameSignal) {
  std::mt19937_64 random(20261125);
  for (int i = 0; i < 500; ++i) {
    const auto s = random_signal(random);
    const auto text = to_json(s).dump();
    const auto back = signal_from_json(json::parse(text));
    ASSERT_TRUE(back) << text << back.error().text();
    EXPECT_TRUE(*back == s) << text;
    EXPECT_EQ(to_json(*back).dump(), text);
  }
}

TEST(SignalJson, IsCanonical) {
  EXPECT_EQ(
      to_json(window_10()).dump(),
      R"({"encoding":{"transfer":"pq","container":"bt2020","bits":10,"range":"narrow","nominal_peak_cdm2":1000.0},)"
      R"("patch":[723,723,723],"surround":[64,64,64],)"
      R"("geometry":{"shape":"window","area_fraction":0.1,"columns":0,"rows":0}})");
}

TEST(SignalJson, EveryFaultNamesItsKey) {
  struct Case {
    const char* pointer;
    json value;
    const char* field;
    ErrorCode code;
  };
  const Case cases[] = {
      {"/encoding/transfer", "gamma", "encoding.transfer", ErrorCode::invalid_input},
      {"/encoding/transfer", 16, "encoding.transfer", ErrorCode::invalid_input},
      {"/encoding/container", "BT2020", "encoding.container", ErrorCode::invalid_input},
      {"/encoding/range", json(), "encoding.range", ErrorCode::invalid_input},
      {"/encoding/bits", 10.0, "encoding.bits", ErrorCode::invalid_input},
      {"/encoding/bits", 9, "encoding.bits", ErrorCode::out_of_range},
      {"/encoding/bits", 4294967306, "encoding.bits", ErrorCode::invalid_input},  // 10 modulo 2^32
      {"/encoding/nominal_peak_cdm2", "1000", "encoding.nominal_peak_cdm2", ErrorCode::invalid_input},
      {"/encoding/nominal_peak_cdm2", 0, "encoding.nominal_peak_cdm2", ErrorCode::out_of_range},
      {"/encoding/colour", 1, "encoding.colour", ErrorCode::invalid_input},
      {"/encoding", 3, "encoding", ErrorCode::invalid_input},
      {"/patch/1", 1024, "patch", ErrorCode::out_of_range},
      {"/patch/1", -1, "patch", ErrorCode::out_of_range},
      {"/patch", json::array({1, 2}), "patch", ErrorCode::invalid_input},
      {"/surround/2", 0.5, "surround", ErrorCode::invalid_input},
      {"/surround/2", 18446744073709551615u, "surround", ErrorCode::invalid_input},
      {"/geometry/shape", "circle", "geometry.shape", ErrorCode::invalid_input},
      {"/geometry/area_fraction", 0, "geometry.area_fraction", ErrorCode::out_of_range},
      {"/geometry/area_fraction", 1.01, "geometry.area_fraction", ErrorCode::out_of_range},
      {"/geometry/rows", 3, "geometry.columns", ErrorCode::out_of_range},
      {"/title", "x", "title", ErrorCode::invalid_input},
  };
  for (const auto& c : cases) {
    json j = to_json(window_10());
    j[json::json_pointer(c.pointer)] = c.value;
    const auto got = signal_from_json(j);
    ASSERT_FALSE(got) << c.pointer << ' ' << c.value;
    EXPECT_EQ(got.error().where.field, c.field);
    EXPECT_EQ(got.error().code, c.code) << c.pointer << ' ' << c.value;
  }
}

TEST(SignalJson, NoKeyIsOptional) {
  const json whole = to_json(window_10());
  for (const auto& pointer : {"/patch", "/surround", "/encoding", "/geometry", "/encoding/bits", "/geometry/rows"}) {
    json j = whole;
    const json::json_pointer p(pointer);
    j.at(p.parent_pointer()).erase(p.back());
    const auto got = signal_from_json(j);
    ASSERT_FALSE(got) << pointer;
    EXPECT_EQ(got.error().message, "is missing");
  }
  EXPECT_FALSE(signal_from_json(json::array()));
}

TEST(Validate, HoldsGeometryAgainstShape) {
  Signal s = window_10();
  EXPECT_TRUE(validate(s));
  s.geometry = {.shape = Shape::full_field, .area_fraction = 0.5};
  EXPECT_EQ(validate(s).error().where.field, "geometry.area_fraction");
  for (const auto& [columns, rows] : {std::pair{1, 3}, {3, 1}, {1, 1}, {-3, 3}, {0, 0}}) {
    s.geometry = {.shape = Shape::checkerboard, .columns = columns, .rows = rows};
    EXPECT_FALSE(validate(s)) << columns << 'x' << rows;
  }
  for (const auto& [columns, rows] : {std::pair{5, 3}, {4, 4}, {2, 3}, {2, 2}}) {
    s.geometry = {.shape = Shape::checkerboard, .columns = columns, .rows = rows};
    EXPECT_TRUE(validate(s)) << columns << 'x' << rows;
  }
  s.encoding.nominal_peak_cdm2 = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(validate(s).error().where.field, "encoding.nominal_peak_cdm2");
}

TEST(Validate, KeepsAWindowInsideThePicture) {
  Signal s = window_10();
  const auto with = [&](double area, double x, double y) {
    s.geometry = {.shape = Shape::window, .area_fraction = area, .centre_x = x, .centre_y = y};
    return validate(s);
  };
  EXPECT_TRUE(with(0.04, 0.1, 0.9));  // sides of 0.2
  EXPECT_TRUE(with(0.04, 0.5, 0.1));
  EXPECT_EQ(with(0.04, 0.0999, 0.5).error().where.field, "geometry.centre");
  EXPECT_FALSE(with(0.04, 0.5, 0.9001));
  EXPECT_FALSE(with(1, 0.5, 0.6));
  EXPECT_FALSE(with(0.04, std::numeric_limits<double>::quiet_NaN(), 0.5));
  s.geometry = {.shape = Shape::full_field, .centre_x = 0.4};
  EXPECT_EQ(validate(s).error().where.field, "geometry.centre");
  s.geometry = {.shape = Shape::checkerboard, .columns = 3, .rows = 3, .centre_y = 0.4};
  EXPECT_FALSE(validate(s));
}

TEST(SignalJson, ACentredWindowIsWrittenAsItAlwaysWas) {
  Signal s = window_10();
  EXPECT_EQ(to_json(s)["geometry"].dump(), R"({"shape":"window","area_fraction":0.1,"columns":0,"rows":0})");
  s.geometry.centre_x = 0.25;
  const json moved = to_json(s);
  EXPECT_EQ(moved["geometry"]["centre"].dump(), "[0.25,0.5]");
  EXPECT_EQ(signal_from_json(moved).value(), s);
  for (const char* wrong : {"[0.25]", "0.25", "[0.25,\"a\"]", "null", "[0.1,0.5]"}) {
    json bad = moved;
    bad["geometry"]["centre"] = json::parse(wrong);
    EXPECT_EQ(signal_from_json(bad).error().where.field, "geometry.centre") << wrong;
  }
}

TEST(Describe, SaysWhatIsShown) {
  Signal s = window_10();
  EXPECT_EQ(describe(s), "PQ 10-bit narrow, window 10 %, R'G'B' 723 723 723 on 64 64 64");
  s.encoding = {.transfer = Transfer::hlg, .container = Container::p3_d65, .bits = 12, .range = Range::full};
  s.geometry = {};
  EXPECT_EQ(describe(s), "HLG 1000 cd/m2 P3-D65 12-bit full, full field, R'G'B' 723 723 723");
  s.geometry = {.shape = Shape::checkerboard, .columns = 5, .rows = 3};
  EXPECT_THAT(describe(s), testing::EndsWith("checkerboard 5 x 3, R'G'B' 723 723 723 at the centre and 64 64 64"));
  s.geometry.columns = 4;
  EXPECT_THAT(describe(s), testing::HasSubstr("723 right of the centre and 64"));
  s.geometry.rows = 4;
  EXPECT_THAT(describe(s), testing::HasSubstr("723 right of and below the centre and 64"));
  s.geometry = {.shape = Shape::window, .area_fraction = 0.04, .centre_x = 0.5, .centre_y = 0.2};
  EXPECT_THAT(describe(s), testing::HasSubstr("window 4 % at 50 % across and 20 % down, R'G'B' 723"));
}

TEST(Names, GoBothWays) {
  for (const auto t : {Transfer::pq, Transfer::hlg, Transfer::bt1886}) EXPECT_EQ(transfer_from_name(name_of(t)), t);
  for (const auto c : {Container::bt709, Container::p3_d65, Container::bt2020})
    EXPECT_EQ(container_from_name(name_of(c)), c);
  for (const auto r : {Range::narrow, Range::full}) EXPECT_EQ(range_from_name(name_of(r)), r);
  for (const auto s : {Shape::full_field, Shape::window, Shape::checkerboard})
    EXPECT_EQ(shape_from_name(name_of(s)), s);
  EXPECT_EQ(shape_from_name("Window"), std::nullopt);
}

}  // namespace
}  // namespace provenit::signal
