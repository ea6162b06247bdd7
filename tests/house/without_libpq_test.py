"""Whoever builds without libpq gets everything but the server, and a sentence in its place: the one file that knows libpq
compiles without it, and no other file names it."""
import os
import pathlib
import shutil
import subprocess
import unittest

SOURCE = pathlib.Path(os.environ.get("SOURCE_DIR", pathlib.Path(__file__).resolve().parents[2]))


class WithoutLibpq(unittest.TestCase):
    def test_the_server_file_compiles_without_libpq(self):
        compiler = shutil.which(os.environ.get("CXX", "c++"))
        if compiler is None:
            self.skipTest("SKIPPED: needs a C++ compiler (Debian package g++)")
        done = subprocess.run([compiler, "-std=c++20", "-fsyntax-only", "-Wall", "-Wextra", "-Werror", "-I", SOURCE / "include", "-I",
                               SOURCE / "src", SOURCE / "src/record/server.cpp"], capture_output=True, text=True)
        self.assertEqual(done.returncode, 0, done.stderr[-3000:])

    def test_one_file_alone_knows_libpq(self):
        knowing = [path.name for path in (SOURCE / "src").rglob("*.[ch]pp") if "libpq-fe.h" in path.read_text()]
        self.assertEqual(knowing, ["server.cpp"])


if __name__ == "__main__":
    unittest.main()
