# One way to make each kind of target, so that every part of the tree is built and tested alike.

find_program(CCACHE_PROGRAM ccache)
if(CCACHE_PROGRAM)
  # What was compiled in one checkout serves another.
  set(CMAKE_CXX_COMPILER_LAUNCHER ${CMAKE_COMMAND} -E env CCACHE_BASEDIR=${CMAKE_SOURCE_DIR} CCACHE_NOHASHDIR=1
    CCACHE_SLOPPINESS=pch_defines,time_macros ${CCACHE_PROGRAM})
endif()

add_library(provenit_options INTERFACE)
if(PROVENIT_TOGETHER)
  set(together $<$<CXX_COMPILER_ID:GNU>:-Wno-subobject-linkage>)  # of files compiled together: none is included elsewhere
endif()
target_compile_options(provenit_options INTERFACE
  -Wall -Wextra -Wpedantic -Wshadow -Wnon-virtual-dtor -Wold-style-cast -Wcast-align -Woverloaded-virtual
  -Wconversion -Wno-sign-conversion -Wno-missing-field-initializers
  $<$<CXX_COMPILER_ID:GNU>:-Wno-restrict>  # GCC 12 warns of std::string concatenation by mistake (its bug 105329)
  $<$<CXX_COMPILER_ID:GNU>:-Wno-maybe-uninitialized>  # and of std::optional (its bug 80635)
  ${together} -Werror)
# Results must not depend on whether the compiler fuses a multiplication with an addition.
target_compile_options(provenit_options INTERFACE -ffp-contract=off)
# The tests' own code goes without the sanitizers of addresses and undefined behaviour, which double the time it takes
# to compile; the sanitizer of threads must see every access.
if(PROVENIT_SANITIZE)
  set(sanitized $<$<NOT:$<BOOL:$<TARGET_PROPERTY:PROVENIT_IS_TEST>>>:-fsanitize=${PROVENIT_SANITIZE}>)
  if(PROVENIT_SANITIZE MATCHES thread)
    set(sanitized -fsanitize=${PROVENIT_SANITIZE})
  endif()
  # Pointers that lead astray are met by the sanitizer of addresses as well; the checks of each use take two fifths of the time
  # to compile. The fuzz targets, of clang, have them all.
  if(PROVENIT_SANITIZE MATCHES undefined AND CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
    list(APPEND sanitized -fno-sanitize=null,vptr,object-size,alignment,pointer-overflow,returns-nonnull-attribute,nonnull-attribute,return,unreachable,builtin)
  endif()
  target_compile_options(provenit_options INTERFACE ${sanitized} -fno-omit-frame-pointer -fno-sanitize-recover=all)
  target_link_options(provenit_options INTERFACE -fsanitize=${PROVENIT_SANITIZE})
endif()

# Outside headers that most files include are read once for all targets. Nothing of the project stands among them, and
# the static analysis goes without, so that a file which forgets to include what it uses is still found.
set(outside_headers <algorithm> <array> <chrono> <cmath> <cstdint> <filesystem> <functional> <limits> <map> <memory> <mutex>
  <numbers> <optional> <random> <ranges> <set> <span> <sstream> <string> <string_view> <thread> <utility> <vector>
  <fmt/format.h> <nlohmann/json.hpp> <tl/expected.hpp>)
function(provenit_outside_headers name)
  cmake_parse_arguments(ARG "TEST" "" "LINK;HEADERS" ${ARGN})
  set(source ${CMAKE_BINARY_DIR}/outside_headers/${name}.cpp)
  file(CONFIGURE OUTPUT ${source} CONTENT "// Only its precompiled headers are of use.\n")
  add_library(provenit_outside_${name} OBJECT ${source})
  target_link_libraries(provenit_outside_${name} PRIVATE provenit_options fmt::fmt nlohmann_json::nlohmann_json ${ARG_LINK})
  target_precompile_headers(provenit_outside_${name} PRIVATE ${outside_headers} ${ARG_HEADERS})
  if(ARG_TEST)
    set_target_properties(provenit_outside_${name} PROPERTIES PROVENIT_IS_TEST ON)
  endif()
endfunction()
provenit_outside_headers(all)
provenit_outside_headers(commands LINK CLI11::CLI11 HEADERS <CLI/CLI.hpp>)
if(PROVENIT_TESTS)
  provenit_outside_headers(tests TEST LINK GTest::gmock HEADERS <gmock/gmock.h> <gtest/gtest.h>)
endif()

# Most of the time of a build goes into what the files of a target share: they are compiled together, a few at a time, but
# where one works on the code and compiles a file again and again.
function(provenit_together target)
  if(PROVENIT_TOGETHER)
    set_target_properties(${target} PROPERTIES UNITY_BUILD ON UNITY_BUILD_BATCH_SIZE 8)
  endif()
endfunction()

# provenit_library(colour DEPENDS base LINK Eigen3::Eigen PRIVATE_LINK lcms2)
# Sources: every .cpp of the current folder and its sub-folders named in SUBFOLDERS.
# APART: files whose own names clash with others', so that they cannot be compiled together with them.
# Public headers: include/provenit/<name>/*.h. DEPENDS names libraries of this project that stand above this one.
function(provenit_library name)
  cmake_parse_arguments(ARG "" "" "DEPENDS;LINK;PRIVATE_LINK;SUBFOLDERS;APART" ${ARGN})
  set(patterns ${CMAKE_CURRENT_SOURCE_DIR}/*.cpp)
  foreach(folder IN LISTS ARG_SUBFOLDERS)
    list(APPEND patterns ${CMAKE_CURRENT_SOURCE_DIR}/${folder}/*.cpp)
  endforeach()
  file(GLOB sources CONFIGURE_DEPENDS ${patterns})
  # Where files are compiled together, those that include themselves once for each instruction set stand alone.
  foreach(source IN LISTS sources)
    file(STRINGS ${source} itself REGEX "hwy/foreach_target.h" LIMIT_COUNT 1)
    cmake_path(RELATIVE_PATH source BASE_DIRECTORY ${CMAKE_CURRENT_SOURCE_DIR} OUTPUT_VARIABLE relative)
    if(itself OR relative IN_LIST ARG_APART)
      set_source_files_properties(${source} PROPERTIES SKIP_UNITY_BUILD_INCLUSION ON)
    endif()
  endforeach()
  list(TRANSFORM ARG_DEPENDS PREPEND provenit_)
  if(sources)
    add_library(provenit_${name} STATIC ${sources})
    target_include_directories(provenit_${name} PUBLIC include PRIVATE ${CMAKE_CURRENT_SOURCE_DIR})
    target_link_libraries(provenit_${name} PUBLIC ${ARG_DEPENDS} ${ARG_LINK} PRIVATE provenit_options ${ARG_PRIVATE_LINK})
    target_precompile_headers(provenit_${name} REUSE_FROM provenit_outside_all)
    provenit_together(provenit_${name})
  else()
    add_library(provenit_${name} INTERFACE)
    target_include_directories(provenit_${name} INTERFACE include)
    target_link_libraries(provenit_${name} INTERFACE ${ARG_DEPENDS} ${ARG_LINK})
  endif()
endfunction()

# provenit_test(colour LINK lcms2): tests/<name>/*_test.cpp -> one program, each of its tests known to ctest. With
# sanitizers, where the start of a program takes longer than most tests, ctest knows four shares of each program instead.
# PROVENIT_SOURCE_DIR is the root of the tree, for tests that read data/ or tests/<name>/data.
function(provenit_test name)
  cmake_parse_arguments(ARG "" "TIMEOUT" "DEPENDS;LINK;APART" ${ARGN})
  file(GLOB sources CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/${name}/*.cpp)
  if(NOT sources)
    return()
  endif()
  if(NOT ARG_TIMEOUT)
    set(ARG_TIMEOUT 300)
  endif()
  list(TRANSFORM ARG_DEPENDS PREPEND provenit_)
  add_executable(${name}_test ${sources})
  target_include_directories(${name}_test PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/${name} ${CMAKE_CURRENT_SOURCE_DIR}/support)
  target_compile_definitions(${name}_test PRIVATE PROVENIT_SOURCE_DIR="${CMAKE_SOURCE_DIR}")
  target_link_libraries(${name}_test PRIVATE provenit_options ${ARG_DEPENDS} ${ARG_LINK} fmt::fmt GTest::gmock GTest::gtest_main)
  target_precompile_headers(${name}_test REUSE_FROM provenit_outside_tests)
  provenit_together(${name}_test)
  if(ARG_APART)
    list(TRANSFORM ARG_APART PREPEND ${CMAKE_CURRENT_SOURCE_DIR}/${name}/)
    set_source_files_properties(${ARG_APART} PROPERTIES SKIP_UNITY_BUILD_INCLUSION ON)
  endif()
  if(PROVENIT_SANITIZE)
    set_target_properties(${name}_test PROPERTIES PROVENIT_IS_TEST ON)
    foreach(share RANGE 3)
      add_test(NAME ${name}/${share} COMMAND ${name}_test --gtest_brief=1)
      set_tests_properties(${name}/${share} PROPERTIES TIMEOUT 1200 LABELS ${name}
        ENVIRONMENT "GTEST_TOTAL_SHARDS=4;GTEST_SHARD_INDEX=${share}")
    endforeach()
  else()
    gtest_discover_tests(${name}_test TEST_PREFIX "${name}/" PROPERTIES TIMEOUT ${ARG_TIMEOUT} LABELS ${name} DISCOVERY_TIMEOUT 60)
  endif()
endfunction()

# provenit_benchmark(coverage DEPENDS evaluation): benchmarks/<name>.cpp -> a program that prints figures (see benchmarks/figure.h).
function(provenit_benchmark name)
  cmake_parse_arguments(ARG "" "" "DEPENDS;LINK" ${ARGN})
  list(TRANSFORM ARG_DEPENDS PREPEND provenit_)
  add_executable(bench_${name} ${CMAKE_CURRENT_SOURCE_DIR}/${name}.cpp)
  target_include_directories(bench_${name} PRIVATE ${CMAKE_CURRENT_SOURCE_DIR})
  target_compile_definitions(bench_${name} PRIVATE PROVENIT_SOURCE_DIR="${CMAKE_SOURCE_DIR}")
  target_link_libraries(bench_${name} PRIVATE provenit_options ${ARG_DEPENDS} ${ARG_LINK} fmt::fmt)
  target_precompile_headers(bench_${name} REUSE_FROM provenit_outside_all)
endfunction()

# provenit_fuzz(csv_import DEPENDS instrument): fuzz/<name>.cpp -> a libFuzzer program.
function(provenit_fuzz name)
  cmake_parse_arguments(ARG "" "" "DEPENDS;LINK" ${ARGN})
  list(TRANSFORM ARG_DEPENDS PREPEND provenit_)
  add_executable(fuzz_${name} ${CMAKE_CURRENT_SOURCE_DIR}/${name}.cpp)
  target_compile_options(fuzz_${name} PRIVATE -fsanitize=fuzzer)
  target_link_options(fuzz_${name} PRIVATE -fsanitize=fuzzer)
  target_link_libraries(fuzz_${name} PRIVATE provenit_options ${ARG_DEPENDS} ${ARG_LINK})
endfunction()
