// What holds for every picture at every raster, transfer function, bit depth, range and container.
#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <iterator>
#include <set>
#include <thread>
#include <vector>

#include "pictures_support.h"
#include "provenit/colour/quantise.h"

namespace provenit::signal {
namespace {

using namespace testing;

const RasterSize kSizes[] = {{3840, 2160}, {4096, 2160}, {1920, 1080}, {1280, 720}, {720, 576}, {853, 481}};

std::vector<Encoding> encodings() {
  std::vector<Encoding> out;
  for (const auto transfer : {Transfer::pq, Transfer::hlg, Transfer::bt1886})
    for (const int bits : {8, 10, 12, 16})
      for (const auto range : {Range::narrow, Range::full})
        for (const auto container : {Container::bt709, Container::p3_d65, Container::bt2020})
          out.push_back({.transfer = transfer,
                         .container = container,
                         .bits = bits,
                         .range = range,
                         .nominal_peak_cdm2 = transfer == Transfer::bt1886 ? 100.0 : 1000.0});
  return out;
}

std::string words(const std::string& key, const Encoding& e, RasterSize size, int frame) {
  return fmt::format("{} {}x{} {} {} {} bits {} frame {}", key, size.width, size.height, name_of(e.transfer),
                     name_of(e.container), e.bits, name_of(e.range), frame);
}

/// The one picture that is for some encodings only.
bool is_for(const std::string& key, const Encoding& e) {
  return key != "colour_bars" || (e.transfer != Transfer::bt1886 && e.container == Container::bt2020);
}

bool overlap(const PixelRectangle& a, const PixelRectangle& b) {
  return a.left < b.left + b.width && b.left < a.left + a.width && a.top < b.top + b.height && b.top < a.top + a.height;
}

/// Rows through the first, middle and last line of a place; of a picture with many places only every few.
std::set<int> rows_to_read(const std::vector<PicturePlace>& places, int height) {
  std::set<int> rows{0, height / 3, height - 1};
  const std::size_t stride = std::max<std::size_t>(1, places.size() / 12);
  for (std::size_t i = 0; i < places.size(); i += stride) {
    const auto& a = places[i].area;
    rows.insert({a.top, a.top + a.height / 2, a.top + a.height - 1});
  }
  return rows;
}

void check_frame(const TestPicture& p, int frame) {
  const auto& e = p.request().encoding;
  const auto size = p.request().size;
  const auto limits = colour::video_data_range(e.bits, e.range);
  const auto places = p.places(frame);
  ASSERT_FALSE(places.empty());
  std::set<std::string> names;
  for (std::size_t i = 0; i < places.size(); ++i) {
    const auto& [name, a, code] = places[i];
    EXPECT_TRUE(names.insert(name).second) << "two places are called " << name;
    ASSERT_TRUE(a.width > 0 && a.height > 0) << name;
    ASSERT_TRUE(a.left >= 0 && a.top >= 0 && a.left + a.width <= size.width && a.top + a.height <= size.height) << name;
    for (std::size_t k = i + 1; k < places.size(); ++k)
      ASSERT_FALSE(overlap(a, places[k].area)) << name << " and " << places[k].name;
    for (const int c : code.code) ASSERT_TRUE(c >= limits.lowest && c <= limits.highest) << name << ' ' << c;
  }
  for (const int y : rows_to_read(places, size.height)) {
    const auto row = p.row(frame, y);
    ASSERT_EQ(row.size(), 3 * static_cast<std::size_t>(size.width));
    const auto [low, high] = std::ranges::minmax_element(row);
    ASSERT_TRUE(*low >= limits.lowest && *high <= limits.highest) << "row " << y << ' ' << *low << ' ' << *high;
    for (const auto& place : places) {
      const auto& a = place.area;
      if (y < a.top || y >= a.top + a.height) continue;
      for (int x = a.left; x < a.left + a.width; ++x)
        ASSERT_EQ(pixel(row, x), place.code) << place.name << " at " << x << ' ' << y;
    }
  }
}

void check(const std::string& key, const Encoding& e, RasterSize size) {
  const auto made = ask(key, nlohmann::json::object(), e, size);
  if (!is_for(key, e)) {
    ASSERT_FALSE(made);
    EXPECT_EQ(made.error().code, ErrorCode::out_of_range);
    return;
  }
  SCOPED_TRACE(words(key, e, size, 0));
  ASSERT_TRUE(made) << made.error().text();
  ASSERT_GE(made->frames(), 1);
  for (const int frame : std::set<int>{0, made->frames() / 2, made->frames() - 1}) {
    SCOPED_TRACE(frame);
    ASSERT_NO_FATAL_FAILURE(check_frame(*made, frame));
    EXPECT_EQ(made->frame_text(frame).empty(), made->frames() == 1);
  }
}

TEST(Pictures, HaveTheirPlacesAtEveryEncoding) {
  // A small raster of odd size, so that all 72 encodings of every picture can be read.
  for (const auto& info : test_pictures())
    for (const auto& e : encodings()) ASSERT_NO_FATAL_FAILURE(check(info.key, e, {.width = 321, .height = 181}));
}

TEST(Pictures, HaveTheirPlacesOnEveryRaster) {
  // Each raster with some of the encodings, others for each picture.
  const auto all = encodings();
  std::size_t next = 0;
  for (const auto& info : test_pictures())
    for (const auto size : kSizes)
      for (int k = 0; k < 3; ++k) ASSERT_NO_FATAL_FAILURE(check(info.key, all[(next += 25) % all.size()], size));
}

TEST(Pictures, SayWhatTheyAre) {
  std::set<std::string> keys;
  for (const auto& info : test_pictures()) {
    EXPECT_TRUE(keys.insert(info.key).second) << info.key;
    EXPECT_FALSE(info.title.empty() || info.purpose.empty() || info.source.empty()) << info.key;
    EXPECT_TRUE(std::ranges::all_of(info.key, [](char c) { return (c >= 'a' && c <= 'z') || c == '_'; })) << info.key;
    std::set<std::string> names;
    for (const auto& p : info.parameters) {
      EXPECT_TRUE(names.insert(p.name).second) << info.key << ' ' << p.name;
      EXPECT_FALSE(p.meaning.empty()) << info.key << ' ' << p.name;
      EXPECT_LT(p.least, p.most) << info.key << ' ' << p.name;
      EXPECT_TRUE(p.value >= p.least && p.value <= p.most) << info.key << ' ' << p.name;
    }
  }
  EXPECT_GE(keys.size(), 25u);
}

TEST(Pictures, WarnOfLongLightAndOfFlashing) {
  const auto caution_of = [](const char* key) {
    return std::ranges::find(test_pictures(), key, &PictureInfo::key)->caution;
  };
  for (const char* bright : {"full_field", "window", "long_stay", "clip_steps", "checkerboard", "luminance_ramp",
                             "letterbox_object", "halo_rings", "colour_bars", "uniformity_field"})
    EXPECT_NE(caution_of(bright).find("dark-adapted"), std::string::npos) << bright;
  // Whatever has frames, or can have them.
  for (const auto& info : test_pictures()) {
    const auto& e = info.key == "colour_bars" ? hlg10 : sdr10;
    const bool steps =
        std::ranges::find(info.parameters, "one_per_frame", &PictureParameter::name) != info.parameters.end();
    if (!steps && picture(info.key, nlohmann::json::object(), e).frames() == 1) continue;
    EXPECT_NE(info.caution.find("BT.1702"), std::string::npos) << info.key;
  }
}

TEST(Pictures, AreDocumented) {
  std::ifstream in(std::string(PROVENIT_SOURCE_DIR) + "/docs/test-pictures.md");
  const std::string docs((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
  std::size_t at = 0;
  for (const auto& info : test_pictures()) {
    const auto heading = "### `" + info.key + "`: " + info.title;
    const auto found = docs.find(heading);
    ASSERT_NE(found, std::string::npos) << heading;
    EXPECT_GT(found, at) << info.key << " is not in the order of the registry";
    at = found;
    const auto section = docs.substr(found, docs.find("\n### ", found) - found);
    for (const auto& p : info.parameters)
      EXPECT_NE(section.find('`' + p.name + '`'), std::string::npos) << info.key << ' ' << p.name;
    EXPECT_EQ(section.find("**Caution.**") != std::string::npos, !info.caution.empty()) << info.key;
  }
}

TEST(Pictures, AreTheSameEveryTime) {
  for (const auto& info : test_pictures()) {
    const auto e = info.key == "colour_bars" ? hlg10 : sdr10;
    const RasterSize size{.width = 640, .height = 360};
    const auto a = picture(info.key, nlohmann::json::object(), e, size),
               b = picture(info.key, a.request().parameters, e, size);
    const int last = a.frames() - 1;
    for (int y = 0; y < size.height; y += 7) ASSERT_EQ(a.row(last, y), b.row(last, y)) << info.key;
    // A frame asked for after another is still itself.
    const auto before = a.row(0, 100);
    (void)a.row(last, 100);
    EXPECT_EQ(a.row(0, 100), before) << info.key;
  }
}

TEST(Pictures, CanBeReadBySeveralThreadsAtOnce) {
  const RasterSize size{.width = 480, .height = 270};
  const auto p = picture("border_walk", nlohmann::json::object(), sdr10, size);
  std::vector<int> wrong(4);
  std::vector<std::thread> threads;
  for (std::size_t t = 0; t < wrong.size(); ++t)
    threads.emplace_back([&, t] {
      for (int frame = static_cast<int>(t); frame < p.frames(); ++frame)
        for (int y = 0; y < 4; ++y) {
          // The box of frame k is at 16 k: known without asking another picture.
          const auto row = p.row(frame, y);
          wrong[t] += pixel(row, 16 * frame) == grey(64) || pixel(row, 16 * frame + 15) != pixel(row, 16 * frame);
          wrong[t] += frame > 0 && pixel(row, 16 * frame - 1) != grey(64);
        }
    });
  for (auto& thread : threads) thread.join();
  EXPECT_EQ(wrong, std::vector<int>(4));
}

TEST(Pictures, LookTheSameFromBothSidesWhereTheyShould) {
  for (const auto size : {RasterSize{.width = 1280, .height = 720}, RasterSize{.width = 853, .height = 481}})
    for (const char* key :
         {"full_field", "window", "disc", "long_stay", "halo_rings", "uniformity_field", "zone_plate"}) {
      const auto p = picture(key, nlohmann::json::object(), pq10, size);
      for (int y = 0; y < size.height; y += 3) {
        const auto row = p.row(0, y);
        ASSERT_EQ(row, p.row(0, size.height - 1 - y)) << key << ' ' << y;
        for (int x = 0; x < size.width; ++x)
          ASSERT_EQ(pixel(row, x), pixel(row, size.width - 1 - x)) << key << ' ' << x;
      }
    }
}

TEST(Pictures, RefuseWhatCannotBe) {
  const auto unknown = ask("no_such_picture");
  ASSERT_FALSE(unknown);
  EXPECT_EQ(unknown.error().code, ErrorCode::not_found);
  EXPECT_NE(unknown.error().advice.find("surface_chart"), std::string::npos) << "the keys are named";

  const auto error_of = [](const char* key, const nlohmann::json& parameters, const Encoding& e = pq10) {
    const auto made = ask(key, parameters, e);
    return made ? Error{.message = "made all the same"} : made.error();
  };
  auto error = error_of("window", {{"area", 10}});
  EXPECT_EQ(error.code, ErrorCode::invalid_input);
  EXPECT_EQ(error.where.field, "area");
  EXPECT_NE(error.advice.find("area_percent"), std::string::npos);
  error = error_of("window", {{"area_percent", "ten"}});
  EXPECT_EQ(error.code, ErrorCode::invalid_input);
  error = error_of("window", nlohmann::json::array());
  EXPECT_EQ(error.code, ErrorCode::invalid_input);
  error = error_of("window", {{"area_percent", 0}});
  EXPECT_EQ(error.code, ErrorCode::out_of_range);
  EXPECT_EQ(error.where.field, "area_percent");
  error = error_of("grey_steps", {{"steps", 2.5}});
  EXPECT_EQ(error.where.field, "steps");
  error = error_of("full_field", {{"level_cdm2", 101}}, sdr10);
  EXPECT_EQ(error.where.field, "level_cdm2");
  EXPECT_NE(error.advice.find("100"), std::string::npos);
  error = error_of("window", {{"centre_x_percent", 2}});
  EXPECT_EQ(error.where.field, "centre_x_percent");
  error = error_of("uniformity_boxes", {{"places", 10}});
  EXPECT_EQ(error.where.field, "places");
  error = error_of("luminance_ramp", {{"step_bits", 12}});
  EXPECT_EQ(error.where.field, "step_bits");
  error = error_of("letterbox_object", {{"aspect", 1.78}});
  EXPECT_EQ(error.where.field, "aspect");
  error = error_of("saturation_steps", {{"gamut", 3}}, sdr10);
  EXPECT_EQ(error.code, ErrorCode::out_of_range) << "BT.2020 does not fit into BT.709";
  EXPECT_FALSE(ask("window", nlohmann::json::object(), pq10, {.width = 100, .height = 100}));
  EXPECT_FALSE(ask("window", nlohmann::json::object(), {.bits = 9}));
}

TEST(Pictures, FillInTheirDefaults) {
  // 203 cd/m2: Report ITU-R BT.2408, PQ and HLG of 1000 cd/m2 (there 75 % signal, 203.15 cd/m2).
  EXPECT_EQ(picture("window").request().parameters.at("level_cdm2"), 203);
  EXPECT_NEAR(picture("window", nlohmann::json::object(), hlg10).request().parameters.at("level_cdm2").get<double>(),
              203.15, 0.005);
  EXPECT_EQ(picture("window", nlohmann::json::object(), sdr10).request().parameters.at("level_cdm2"), 100);
  EXPECT_EQ(picture("clip_steps").request().parameters.at("claimed_cdm2"), 1000);
  EXPECT_EQ(picture("window", {{"area_percent", 4}}).request().parameters.at("area_percent"), 4);
}

}  // namespace
}  // namespace provenit::signal
