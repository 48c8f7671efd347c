foreach(name scale scale_shelf)
  provenit_benchmark(${name} DEPENDS shelf loan programme LINK SQLiteCpp SQLite::SQLite3)
  target_sources(bench_${name} PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/scale_bench.cpp ${CMAKE_SOURCE_DIR}/tests/support/hdr_clip.cpp)
endforeach()
