// Shows on a page what its standard input asks for, one JSON document a line, and answers each with one. The first line
// it prints is the address of the page.
//   {"signal": {...}}                       a signal's JSON
//   {"picture": KEY, "frame": N}            a test picture, 8-bit BT.1886
//   {"codes": KEY, "frame": N, "size": [W, H]}   the places of that picture at that size: nothing is shown
//   {"wish": SECONDS}                       what the viewer asked for
#include <fmt/format.h>

#include <iostream>
#include <nlohmann/json.hpp>
#include <string>

#include "provenit/show/page.h"

namespace {

using namespace provenit;
using Json = nlohmann::json;

Json outcome(const Result<void>& result) {
  if (result) return {{"ok", true}};
  return {{"ok", false}, {"code", name_of(result.error().code)}, {"text", result.error().text()}};
}

signal::PictureRequest request_of(const std::string& key, signal::RasterSize size) {
  return {.key = key,
          .encoding = {.transfer = signal::Transfer::bt1886,
                       .container = signal::Container::bt709,
                       .bits = 8,
                       .range = signal::Range::full,
                       .nominal_peak_cdm2 = 100},
          .size = size};
}

Json places_of(const Json& line) {
  const auto picture = signal::TestPicture::make(request_of(line["codes"], {line["size"][0], line["size"][1]}));
  if (!picture) return {{"ok", false}, {"text", picture.error().text()}};
  Json places = Json::array();
  for (const auto& p : picture->places(line["frame"]))
    places.push_back(
        {{"x", p.area.left + p.area.width / 2}, {"y", p.area.top + p.area.height / 2}, {"code", p.code.code}});
  return {{"ok", true}, {"places", places}};
}

Json answer_to(const Json& line, show::Page& page) {
  if (line.contains("signal")) {
    const auto signal = signal::signal_from_json(line["signal"]);
    return signal ? outcome(page.show(show::frame_of(*signal))) : outcome(tl::unexpected(signal.error()));
  }
  if (line.contains("picture"))
    return outcome(page.show(show::frame_of(request_of(line["picture"], {}), line["frame"])));
  if (line.contains("codes")) return places_of(line);
  const auto wish = page.wish({line["wish"]});
  return {{"ok", true}, {"wish", wish ? Json(static_cast<int>(*wish)) : Json()}};
}

}  // namespace

int main(int argc, char** argv) {
  show::PageOptions options{.cautions = {"A caution of the test."}, .start_time = {10}, .answer_time = {5}};
  options.full_screen = argc < 2 || std::string(argv[1]) != "windowed";
  auto page = show::Page::open(options);
  if (!page) {
    fmt::print(stderr, "{}\n", page.error().text());
    return 1;
  }
  std::cout << (*page)->address() << std::endl;
  for (std::string line; std::getline(std::cin, line);) std::cout << answer_to(Json::parse(line), **page) << std::endl;
  return 0;
}
