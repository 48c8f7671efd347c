# What programme reads from anywhere: its own parsers from memory, and the whole way through libav and OpenImageIO.
foreach(target programme_parsers programme_reader)
  provenit_fuzz(${target} DEPENDS programme)
  target_include_directories(fuzz_${target} PRIVATE ${CMAKE_SOURCE_DIR}/src/programme)
endforeach()
