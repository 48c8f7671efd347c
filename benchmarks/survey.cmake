provenit_benchmark(survey_speed DEPENDS programme LINK fmt::fmt)
target_sources(bench_survey_speed PRIVATE ${CMAKE_SOURCE_DIR}/tests/support/hdr_clip.cpp)
