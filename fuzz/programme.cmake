# What programme reads from anywhere: its own parsers from memory, and the whole way through libav and OpenImageIO. The
# sources are compiled into the targets, so that the fuzzer sees their branches.
set(reader ${CMAKE_SOURCE_DIR}/src/programme/reader)
provenit_fuzz(programme_parsers DEPENDS programme LINK fmt::fmt ZLIB::ZLIB)
target_sources(fuzz_programme_parsers PRIVATE ${reader}/png_chunks.cpp ${reader}/isobmff.cpp ${reader}/dpx_header.cpp
  ${reader}/ts_tail.cpp ${reader}/troubles.cpp)
file(GLOB reader_sources CONFIGURE_DEPENDS ${reader}/*.cpp)
provenit_fuzz(programme_reader DEPENDS programme LINK provenit_libav PkgConfig::OpenImageIO fmt::fmt ZLIB::ZLIB)
target_sources(fuzz_programme_reader PRIVATE ${reader_sources})
foreach(target programme_parsers programme_reader)
  target_include_directories(fuzz_${target} PRIVATE ${CMAKE_SOURCE_DIR}/src/programme)
endforeach()
