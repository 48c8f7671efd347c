# One way to make each kind of target, so that every part of the tree is built and tested alike.

find_program(CCACHE_PROGRAM ccache)
if(CCACHE_PROGRAM)
  set(CMAKE_CXX_COMPILER_LAUNCHER ${CCACHE_PROGRAM})
endif()

add_library(provenit_options INTERFACE)
target_compile_options(provenit_options INTERFACE
  -Wall -Wextra -Wpedantic -Wshadow -Wnon-virtual-dtor -Wold-style-cast -Wcast-align -Woverloaded-virtual
  -Wconversion -Wno-sign-conversion -Wno-missing-field-initializers
  $<$<CXX_COMPILER_ID:GNU>:-Wno-restrict>  # GCC 12 warns of std::string concatenation by mistake (its bug 105329)
  $<$<CXX_COMPILER_ID:GNU>:-Wno-maybe-uninitialized>  # and of std::optional (its bug 80635)
  -Werror)
# Results must not depend on whether the compiler fuses a multiplication with an addition.
target_compile_options(provenit_options INTERFACE -ffp-contract=off)
# The tests' own code goes without the sanitizers of addresses and undefined behaviour, which double the time it takes
# to compile; the sanitizer of threads must see every access.
if(PROVENIT_SANITIZE)
  set(sanitized $<$<NOT:$<BOOL:$<TARGET_PROPERTY:PROVENIT_IS_TEST>>>:-fsanitize=${PROVENIT_SANITIZE}>)
  if(PROVENIT_SANITIZE MATCHES thread)
    set(sanitized -fsanitize=${PROVENIT_SANITIZE})
  endif()
  target_compile_options(provenit_options INTERFACE ${sanitized} -fno-omit-frame-pointer -fno-sanitize-recover=all)
  target_link_options(provenit_options INTERFACE -fsanitize=${PROVENIT_SANITIZE})
endif()

# provenit_library(colour DEPENDS base LINK Eigen3::Eigen PRIVATE_LINK lcms2)
# Sources: every .cpp of the current folder and its sub-folders named in SUBFOLDERS.
# Public headers: include/provenit/<name>/*.h. DEPENDS names libraries of this project that stand above this one.
function(provenit_library name)
  cmake_parse_arguments(ARG "" "" "DEPENDS;LINK;PRIVATE_LINK;SUBFOLDERS" ${ARGN})
  set(patterns ${CMAKE_CURRENT_SOURCE_DIR}/*.cpp)
  foreach(folder IN LISTS ARG_SUBFOLDERS)
    list(APPEND patterns ${CMAKE_CURRENT_SOURCE_DIR}/${folder}/*.cpp)
  endforeach()
  file(GLOB sources CONFIGURE_DEPENDS ${patterns})
  list(TRANSFORM ARG_DEPENDS PREPEND provenit_)
  if(sources)
    add_library(provenit_${name} STATIC ${sources})
    target_include_directories(provenit_${name} PUBLIC include PRIVATE ${CMAKE_CURRENT_SOURCE_DIR})
    target_link_libraries(provenit_${name} PUBLIC ${ARG_DEPENDS} ${ARG_LINK} PRIVATE provenit_options ${ARG_PRIVATE_LINK})
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
  cmake_parse_arguments(ARG "" "TIMEOUT" "DEPENDS;LINK" ${ARGN})
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
  target_link_libraries(${name}_test PRIVATE provenit_options ${ARG_DEPENDS} ${ARG_LINK} GTest::gmock GTest::gtest_main)
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
  target_link_libraries(bench_${name} PRIVATE provenit_options ${ARG_DEPENDS} ${ARG_LINK})
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
