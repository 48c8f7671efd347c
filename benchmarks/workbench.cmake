# How soon the page of the workbench answers, on a bench that big_bench makes large. Needs the page (PROVENIT_WEB).
add_executable(big_bench ${CMAKE_CURRENT_SOURCE_DIR}/big_bench.cpp)
target_link_libraries(big_bench PRIVATE provenit_options provenit_loan provenit_programme fmt::fmt)
provenit_benchmark(workbench_speed DEPENDS base LINK fmt::fmt)
target_compile_definitions(bench_workbench_speed PRIVATE PROVENIT_WEB_BUILD="${provenit_web_build}"
  PROVENIT_PROGRAM="$<TARGET_FILE:provenit>" PROVENIT_BIG_BENCH="$<TARGET_FILE:big_bench>")
add_dependencies(bench_workbench_speed provenit big_bench)
