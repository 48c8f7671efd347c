// Replays fuzz/corpus/lut_files: seeds of the fuzz target and every input that ever broke a reader of tables.
#include <gtest/gtest.h>

#include <filesystem>

#include "../../fuzz/lut_inputs.h"
#include "provenit/base/text.h"

namespace provenit::correct {
namespace {

TEST(Corpus, ReadersOfTables) {
  int inputs = 0;
  for (const auto& entry : std::filesystem::directory_iterator(PROVENIT_SOURCE_DIR "/fuzz/corpus/lut_files")) {
    const auto bytes = read_file(entry.path().string());
    ASSERT_TRUE(bytes);
    SCOPED_TRACE(entry.path().string());
    try_lut_files(*bytes);
    ++inputs;
  }
  EXPECT_GE(inputs, 5);
}

}  // namespace
}  // namespace provenit::correct
