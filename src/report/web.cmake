# Builds web/ into ${page}. Every build folder has its own copy of the sources and its own node_modules, so that several
# can build at once and the source tree stays clean.
find_program(NODE_PROGRAM node REQUIRED)
find_program(NPM_PROGRAM npm REQUIRED)
set(web ${PROJECT_SOURCE_DIR}/web)
set(web_build ${CMAKE_CURRENT_BINARY_DIR}/web)
set(provenit_web_build ${web_build} CACHE INTERNAL "the copy of web/ that is built and tested")

file(GLOB_RECURSE web_sources CONFIGURE_DEPENDS ${web}/src/* ${web}/tests/*)
list(APPEND web_sources ${web}/index.html ${web}/vite.config.ts ${web}/svelte.config.js ${web}/tsconfig.json)
set(web_packages ${web}/package.json ${web}/package-lock.json ${web}/.npmrc)

add_custom_command(OUTPUT ${web_build}/node_modules/.package-lock.json
  COMMAND ${CMAKE_COMMAND} -E make_directory ${web_build}
  COMMAND ${CMAKE_COMMAND} -E copy ${web_packages} ${web_build}
  COMMAND ${CMAKE_COMMAND} -E chdir ${web_build} ${NPM_PROGRAM} ci --no-audit --no-fund --loglevel=error
  COMMAND ${CMAKE_COMMAND} -E touch ${web_build}/node_modules/.package-lock.json
  DEPENDS ${web_packages} VERBATIM COMMENT "Installing the packages of the page")
add_custom_command(OUTPUT ${page}
  COMMAND ${CMAKE_COMMAND} -E rm -rf ${web_build}/src ${web_build}/tests
  COMMAND ${CMAKE_COMMAND} -E copy_directory ${web}/src ${web_build}/src
  COMMAND ${CMAKE_COMMAND} -E copy_directory ${web}/tests ${web_build}/tests
  COMMAND ${CMAKE_COMMAND} -E copy ${web}/index.html ${web}/vite.config.ts ${web}/svelte.config.js ${web}/tsconfig.json ${web_build}
  COMMAND ${CMAKE_COMMAND} -E chdir ${web_build} ${NODE_PROGRAM} node_modules/vite/bin/vite.js build --logLevel warn
  COMMAND ${CMAKE_COMMAND} -E copy ${web_build}/dist/index.html ${page}
  DEPENDS ${web_sources} ${web_build}/node_modules/.package-lock.json VERBATIM COMMENT "Building the page of the report")

# The page is embedded by its name, which must exist when the build is configured.
if(NOT EXISTS ${page})
  file(WRITE ${page} "")
endif()
