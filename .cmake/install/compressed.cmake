# SPDX-License-Identifier: GPL-3.0-or-later
# airlatch_install_compressed(FILE FOLDER COMPONENT): a text as Debian wants manual pages and
# changelogs, gzipped without a time; @PROJECT_VERSION@ in it is filled in.
find_program(GZIP gzip REQUIRED)
function(airlatch_install_compressed file folder component)
  cmake_path(GET file FILENAME name)
  configure_file(${file} ${CMAKE_CURRENT_BINARY_DIR}/${name} @ONLY)
  execute_process(COMMAND ${GZIP} -9nc ${CMAKE_CURRENT_BINARY_DIR}/${name}
    OUTPUT_FILE ${CMAKE_CURRENT_BINARY_DIR}/${name}.gz COMMAND_ERROR_IS_FATAL ANY)
  install(FILES ${CMAKE_CURRENT_BINARY_DIR}/${name}.gz DESTINATION ${folder} COMPONENT ${component})
endfunction()
