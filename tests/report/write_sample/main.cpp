// Writes the sample's page for the page test: write_sample OUT.html
#include <cstdio>

#include "provenit/base/text.h"
#include "provenit/report/html.h"
#include "sample.h"

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  using namespace provenit;
  const auto document = report::Document::build(report::sample_contents());
  if (!document) return std::fprintf(stderr, "%s\n", document.error().text().c_str()), 1;
  const auto page = report::html(*document);
  if (!page) return std::fprintf(stderr, "%s\n", page.error().text().c_str()), 1;
  const auto written = write_file(argv[1], *page);
  if (!written) return std::fprintf(stderr, "%s\n", written.error().text().c_str()), 1;
  return 0;
}
