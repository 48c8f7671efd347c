#include "provenit/report/html.h"

#include <gmock/gmock.h>

#include "sample.h"

namespace provenit::report {
namespace {

using nlohmann::ordered_json;

const std::string kOpen = "<script type=\"application/json\" id=\"provenit-document\">";
const std::string kPage = "<!doctype html><title>x</title>" + kOpen + "{}</script><p>after</p>";

Document document_of(const Contents& contents) {
  auto document = Document::build(contents);
  EXPECT_TRUE(document.has_value()) << document.error().text();
  return std::move(*document);
}

std::string data_in(const std::string& page) {
  const auto begin = page.find(kOpen) + kOpen.size();
  return page.substr(begin, page.find("</script>", begin) - begin);
}

TEST(Html, CarriesTheDocumentUnchanged) {
  const auto document = document_of(sample_contents());
  const auto page = html(document, kPage);
  ASSERT_TRUE(page) << page.error().text();
  EXPECT_EQ(ordered_json::parse(data_in(*page)), document.json());
  EXPECT_TRUE(page->ends_with("</script><p>after</p>"));
  EXPECT_THAT(*page, testing::HasSubstr("<title>Tern 32: report of a loan</title>"));
}

TEST(Html, LetsNoTextBecomeMarkup) {
  auto contents = sample_contents();
  const std::string nasty = "</script><script>alert(1)</script><!-- & \xe2\x80\xa8 \xe2\x80\xa9 \"\\ \u2032";
  contents.display.name = nasty;
  contents.questions[0].text = nasty;
  const auto document = document_of(contents);
  const auto page = html(document, kPage);
  ASSERT_TRUE(page) << page.error().text();
  const auto data = data_in(*page);
  EXPECT_EQ(ordered_json::parse(data).at("questions").at(0).at("text"), nasty);
  EXPECT_EQ(data.find_first_of("<>&"), std::string::npos);
  EXPECT_EQ(data.find("\xe2\x80\xa8"), std::string::npos);
  EXPECT_EQ(data.find("\xe2\x80\xa9"), std::string::npos);
  EXPECT_THAT(*page, testing::HasSubstr("<title>&lt;/script&gt;&lt;script&gt;"));
  EXPECT_EQ(page->find("<script>alert"), std::string::npos);
}

TEST(Html, RefusesAPageWithoutItsPlaces) {
  const auto document = document_of(sample_contents());
  const auto error_for = [&](const std::string& page) {
    const auto out = html(document, page);
    return out ? std::string("no error") : out.error().text();
  };
  EXPECT_THAT(error_for("<title>x</title>"), testing::HasSubstr("provenit-document"));
  EXPECT_THAT(error_for(kOpen + "{}</script>"), testing::HasSubstr("title"));
  EXPECT_THAT(error_for("<title>x</title>" + kOpen + "{}"), testing::HasSubstr("not closed"));
  EXPECT_THAT(error_for(kPage + kOpen + "{}</script>"), testing::HasSubstr("two places"));
  EXPECT_THAT(error_for(kOpen + "{}</script><title>x</title>"), testing::HasSubstr("after its data"));
}

TEST(Html, UsesTheEmbeddedPageOrSaysThatThereIsNone) {
  const auto page = html(document_of(sample_contents()));
  if (has_page()) {
    ASSERT_TRUE(page) << page.error().text();
    EXPECT_EQ(ordered_json::parse(data_in(*page)).at("display").at("name"), "Tern 32");
    EXPECT_EQ(page->find("src=\"http"), std::string::npos);
    EXPECT_EQ(page->find("<link rel=\"stylesheet\""), std::string::npos);
  } else {
    ASSERT_FALSE(page);
    EXPECT_EQ(page.error().code, ErrorCode::unsupported);
    EXPECT_THAT(page.error().advice, testing::HasSubstr("PROVENIT_WEB"));
  }
}

}  // namespace
}  // namespace provenit::report
