provenit_benchmark(farm DEPENDS farm LINK fmt::fmt)
target_sources(bench_farm PRIVATE ${CMAKE_SOURCE_DIR}/tests/support/hdr_clip.cpp)
