#include "provenit/report/html.h"

#include <fmt/format.h>

#include "report_assets.h"

namespace provenit::report {
namespace {

constexpr std::string_view kMarker = "id=\"provenit-document\"";
constexpr std::string_view kPage = "/index.html";
constexpr const char* kRebuild = "Build the page again (web/, PROVENIT_WEB=ON).";

/// JSON that cannot end its script element: the escapes stand only inside strings, where JSON allows them.
std::string script_safe(std::string_view json) {
  std::string out;
  out.reserve(json.size() + json.size() / 16);
  for (std::size_t i = 0; i < json.size(); ++i) {
    const std::string_view three = json.substr(i, 3);
    if (json[i] == '<')
      out += "\\u003c";
    else if (json[i] == '>')
      out += "\\u003e";
    else if (json[i] == '&')
      out += "\\u0026";
    else if (three == "\xe2\x80\xa8" || three == "\xe2\x80\xa9") {
      out += three.back() == '\xa8' ? "\\u2028" : "\\u2029";
      i += 2;
    } else
      out += json[i];
  }
  return out;
}

std::string text_safe(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == '<')
      out += "&lt;";
    else if (c == '>')
      out += "&gt;";
    else if (c == '&')
      out += "&amp;";
    else
      out += c;
  }
  return out;
}

struct Span {
  std::size_t begin = 0, end = 0;
};

/// What stands between an element's opening tag, in which `inside_tag` lies, and `closing`.
Result<Span> content_of(std::string_view page, std::string_view inside_tag, std::string_view closing) {
  const auto tag = page.find(inside_tag);
  if (tag == std::string_view::npos)
    return fail(ErrorCode::invalid_input, fmt::format("the page has no {}", inside_tag), kRebuild);
  const auto open = page.find('>', tag);
  const auto close = open == std::string_view::npos ? open : page.find(closing, open);
  if (close == std::string_view::npos)
    return fail(ErrorCode::invalid_input, fmt::format("the page's {} is not closed", inside_tag), kRebuild);
  return Span{open + 1, close};
}

}  // namespace

Result<std::string> html(const Document& document, std::string_view page) {
  const auto title = content_of(page, "<title", "</title>");
  if (!title) return tl::unexpected(title.error());
  const auto data = content_of(page, kMarker, "</script>");
  if (!data) return tl::unexpected(data.error());
  if (page.find(kMarker, data->end) != std::string_view::npos)
    return fail(ErrorCode::invalid_input, "the page has two places for its data", kRebuild);
  if (title->end > data->begin)
    return fail(ErrorCode::invalid_input, "the page's title stands after its data", kRebuild);

  const auto& json = document.json();
  const auto name = json.at("display").at("name").get<std::string>();
  std::string out(page.substr(0, title->begin));
  out += text_safe(name + ": report of a loan");
  out += page.substr(title->end, data->begin - title->end);
  out += script_safe(json.dump());
  out += page.substr(data->end);
  return out;
}

bool has_page() {
  return !find_report_asset(kPage).empty();
}

Result<std::string> html(const Document& document) {
  if (!has_page())
    return fail(ErrorCode::unsupported, "this build has no report page",
                "Build with -DPROVENIT_WEB=ON (needs node 18.20 or newer and npm), or write the data package instead.");
  return html(document, find_report_asset(kPage));
}

}  // namespace provenit::report
