#include "instrument_inputs.h"

extern "C" int LLVMFuzzerTestOneInput(const unsigned char* data, std::size_t size) {
  provenit::instrument::fuzz::trace_import({reinterpret_cast<const char*>(data), size});
  return 0;
}
