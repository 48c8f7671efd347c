// Replays fuzz/corpus/: the seeds of the fuzz targets and every input that ever broke a parser.
#include <gtest/gtest.h>

#include <filesystem>

#include "instrument_inputs.h"
#include "provenit/base/text.h"

namespace provenit::instrument {
namespace {

void replay(const char* target, void (*input)(std::string_view)) {
  int count = 0;
  for (const auto& entry :
       std::filesystem::directory_iterator(std::string(PROVENIT_SOURCE_DIR) + "/fuzz/corpus/" + target)) {
    const auto bytes = read_file(entry.path());
    ASSERT_TRUE(bytes) << bytes.error().text();
    SCOPED_TRACE(entry.path());
    input(*bytes);
    // Cut short anywhere, it must do no harm either.
    for (std::size_t n = 0; n < bytes->size(); n += 7) input(std::string_view(*bytes).substr(0, n));
    ++count;
  }
  EXPECT_GE(count, 5);
}

TEST(Corpus, CsvImport) {
  replay("csv_import", fuzz::csv_import);
}
TEST(Corpus, CgatsImport) {
  replay("cgats_import", fuzz::cgats_import);
}
TEST(Corpus, LineReply) {
  replay("line_reply", fuzz::line_reply);
}
TEST(Corpus, TraceImport) {
  replay("trace_import", fuzz::trace_import);
}
TEST(Corpus, InstrumentDescription) {
  replay("instrument_description", fuzz::instrument_description);
}

}  // namespace
}  // namespace provenit::instrument
