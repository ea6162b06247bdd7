# Debian's arm64 toolchain; the libraries come from packages of that architecture.
set(CMAKE_SYSTEM_NAME Linux)
set(CMAKE_SYSTEM_PROCESSOR aarch64)
set(CMAKE_CXX_COMPILER aarch64-linux-gnu-g++)
set(CMAKE_LIBRARY_ARCHITECTURE aarch64-linux-gnu)
set(CMAKE_FIND_ROOT_PATH_MODE_PROGRAM NEVER)
set(ENV{PKG_CONFIG_LIBDIR} /usr/lib/aarch64-linux-gnu/pkgconfig:/usr/share/pkgconfig)
set(SWITCHWRIGHT_DEB_ARCHITECTURE arm64)
# What was built is asked for its manual page and run by the tests of the package (Debian package qemu-user-static).
find_program(SWITCHWRIGHT_EMULATOR qemu-aarch64-static)
if(SWITCHWRIGHT_EMULATOR)
  set(CMAKE_CROSSCOMPILING_EMULATOR ${SWITCHWRIGHT_EMULATOR})
endif()
