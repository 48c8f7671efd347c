# Builds the workbench of web/ into ${archive}, in a copy of the sources beside the report's, with its packages.
set(web ${PROJECT_SOURCE_DIR}/web)
set(workbench ${CMAKE_CURRENT_BINARY_DIR}/workbench)
set(packages ${provenit_web_build}/node_modules)

file(GLOB_RECURSE workbench_sources CONFIGURE_DEPENDS ${web}/src/*)
set(workbench_settings ${web}/vite.workbench.config.ts ${web}/svelte.config.js ${web}/tsconfig.json ${web}/package.json)

# One archive with the same bytes for the same files, whenever it is made.
add_custom_command(OUTPUT ${archive}
  COMMAND ${CMAKE_COMMAND} -E rm -rf ${workbench}
  COMMAND ${CMAKE_COMMAND} -E make_directory ${workbench}
  COMMAND ${CMAKE_COMMAND} -E copy_directory ${web}/src ${workbench}/src
  COMMAND ${CMAKE_COMMAND} -E copy ${workbench_settings} ${workbench}
  COMMAND ${CMAKE_COMMAND} -E create_symlink ${packages} ${workbench}/node_modules
  COMMAND ${CMAKE_COMMAND} -E chdir ${workbench} ${NODE_PROGRAM} node_modules/vite/bin/vite.js build
          --config vite.workbench.config.ts --outDir ${workbench}/dist --logLevel warn
  COMMAND ${CMAKE_COMMAND} -E chdir ${workbench}/dist ${CMAKE_COMMAND} -E tar cf ${archive} --format=zip
          --mtime=2026-01-01 -- .
  DEPENDS ${workbench_sources} ${workbench_settings} ${packages}/.package-lock.json
  VERBATIM COMMENT "Building the workbench")

# The archive is embedded by its name, which must exist when the build is configured.
if(NOT EXISTS ${archive})
  file(WRITE ${archive} "")
endif()
