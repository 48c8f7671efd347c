# embed_assets(provenit_store dir): every file below dir becomes part of the target's binary. The target gets a generated
# header <store_assets.h> (the target's name without "provenit_"), so that several libraries can embed without clashing:
#   provenit::find_store_asset("/name")  bytes of that file; empty if there is none
#   provenit::store_assets()             path and bytes of each, in the order of their paths
# A changed file relinks; a new or removed one is noticed by the next build.
function(embed_assets target dir)
  string(REGEX REPLACE "^provenit_" "" name ${target})
  file(GLOB_RECURSE files CONFIGURE_DEPENDS RELATIVE "${dir}" "${dir}/*")
  list(SORT files)
  set(asm ".section .rodata\n")
  set(declarations "")
  set(table "")
  set(dependencies "")
  set(i 0)
  foreach(f IN LISTS files)
    set(symbol ${target}_asset_${i})
    string(APPEND asm ".balign 16\n.global ${symbol}, ${symbol}_end\n${symbol}: .incbin \"${dir}/${f}\"\n${symbol}_end: .byte 0\n")
    string(APPEND declarations "extern const char ${symbol}[], ${symbol}_end[];\n")
    string(APPEND table "      {\"/${f}\", {${symbol}, static_cast<std::size_t>(${symbol}_end - ${symbol})}},\n")
    list(APPEND dependencies "${dir}/${f}")
    math(EXPR i "${i}+1")
  endforeach()
  string(APPEND asm ".section .note.GNU-stack,\"\",@progbits\n")

  string(CONCAT header "#pragma once\n#include <span>\n#include <string_view>\n#include <utility>\n\n"
    "namespace provenit {\n"
    "[[nodiscard]] std::string_view find_${name}_asset(std::string_view path);\n"
    "[[nodiscard]] std::span<const std::pair<std::string_view, std::string_view>> ${name}_assets();\n"
    "}  // namespace provenit\n")
  string(CONCAT source "#include \"${name}_assets.h\"\n\n#include <array>\n#include <cstddef>\n\n"
    "extern \"C\" {\n${declarations}}\n\nnamespace provenit {\n\n"
    "std::span<const std::pair<std::string_view, std::string_view>> ${name}_assets() {\n"
    "  static const std::array<std::pair<std::string_view, std::string_view>, ${i}> table{{\n${table}  }};\n"
    "  return table;\n}\n\n"
    "std::string_view find_${name}_asset(std::string_view path) {\n"
    "  for (const auto& [name, bytes] : ${name}_assets())\n    if (name == path) return bytes;\n"
    "  return {};\n}\n\n}  // namespace provenit\n")
  set(out "${CMAKE_CURRENT_BINARY_DIR}/${name}_assets")
  file(CONFIGURE OUTPUT "${out}.S" CONTENT "${asm}" @ONLY)
  file(CONFIGURE OUTPUT "${out}.h" CONTENT "${header}" @ONLY)
  file(CONFIGURE OUTPUT "${out}.cpp" CONTENT "${source}" @ONLY)
  set_source_files_properties("${out}.S" PROPERTIES OBJECT_DEPENDS "${dependencies}")
  target_sources(${target} PRIVATE "${out}.S" "${out}.cpp")
  target_include_directories(${target} PRIVATE "${CMAKE_CURRENT_BINARY_DIR}")
endfunction()
