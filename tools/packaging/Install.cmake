# What is installed where, and the .deb. Included by the top CMakeLists.txt.
include(GNUInstallDirs)

install(TARGETS switchwright RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(DIRECTORY meters profiles DESTINATION ${CMAKE_INSTALL_DATADIR}/switchwright FILES_MATCHING PATTERN "*.toml")

# Completions and the manual page come from the binary's own option table. A binary for another machine is asked through an
# emulator, or SWITCHWRIGHT_TABLE_FROM names one for this machine.
set(SWITCHWRIGHT_TABLE_FROM "" CACHE FILEPATH "A switchwright that runs here and prints the option table (cross builds)")
set(made ${CMAKE_BINARY_DIR}/made)
set(asked ${CMAKE_CROSSCOMPILING_EMULATOR} $<TARGET_FILE:switchwright>)
if(SWITCHWRIGHT_TABLE_FROM)
  set(asked ${SWITCHWRIGHT_TABLE_FROM})
endif()
configure_file(tools/packaging/changelog.in ${CMAKE_BINARY_DIR}/changelog @ONLY)
find_program(GZIP gzip REQUIRED)
add_custom_command(OUTPUT ${made}/switchwright.1.gz ${made}/changelog.gz
  COMMAND ${CMAKE_COMMAND} -E make_directory ${made}
  COMMAND ${asked} completions bash > ${made}/switchwright
  COMMAND ${asked} completions zsh > ${made}/_switchwright
  COMMAND ${asked} completions fish > ${made}/switchwright.fish
  COMMAND ${asked} completions man > ${made}/switchwright.1
  COMMAND ${GZIP} -9nf ${made}/switchwright.1
  COMMAND ${GZIP} -9nc ${CMAKE_BINARY_DIR}/changelog > ${made}/changelog.gz
  DEPENDS switchwright ${CMAKE_BINARY_DIR}/changelog VERBATIM)
add_custom_target(made_papers ALL DEPENDS ${made}/switchwright.1.gz)
install(FILES ${made}/switchwright.1.gz DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
install(FILES ${made}/switchwright DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions)
install(FILES ${made}/_switchwright DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions)
install(FILES ${made}/switchwright.fish DESTINATION ${CMAKE_INSTALL_DATADIR}/fish/vendor_completions.d)
install(FILES ${made}/changelog.gz tools/packaging/copyright DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(FILES README.md CHANGELOG.md DESTINATION ${CMAKE_INSTALL_DOCDIR})

configure_file(tools/packaging/switchwright.service.in ${CMAKE_BINARY_DIR}/switchwright.service @ONLY)
install(FILES ${CMAKE_BINARY_DIR}/switchwright.service DESTINATION lib/systemd/user)
install(FILES tools/packaging/70-switchwright.rules DESTINATION lib/udev/rules.d)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME switchwright)
set(CPACK_PACKAGE_CONTACT "the switchwright authors <authors@switchwright.invalid>")
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION electronics)
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "prove a heat-control switch good or bad with a multimeter")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION "A guided bench tool: it listens to a multimeter, leads through the terminal
pairs of a switch at every knob position, judges each reading with its
uncertainty, times the cycling contact and keeps the proof.")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_RECOMMENDS weasyprint)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
if(CMAKE_CROSSCOMPILING)
  set(CPACK_DEBIAN_PACKAGE_ARCHITECTURE ${SWITCHWRIGHT_DEB_ARCHITECTURE})
endif()
include(CPack)
