provenit_benchmark(survey_kernel DEPENDS programme LINK fmt::fmt)
target_sources(bench_survey_kernel PRIVATE ${CMAKE_SOURCE_DIR}/tests/support/hdr_clip.cpp)
