"""Every C++ file is laid out as .clang-format says. The formatter's version is part of the format: another one lays out otherwise."""
import os
import pathlib
import shutil
import subprocess
import unittest

SOURCE = pathlib.Path(os.environ.get("SOURCE_DIR", pathlib.Path(__file__).resolve().parents[2]))
FORMATTER = "clang-format-14"  # Debian 12's; Ubuntu 24.04 has a package of this name as well


def files():
    return [p for folder in ("src", "include", "tests") for p in sorted((SOURCE / folder).rglob("*.[ch]pp"))]


class Format(unittest.TestCase):
    def setUp(self):
        if not shutil.which(FORMATTER):
            self.skipTest(f"{FORMATTER} is missing (package {FORMATTER})")

    def complaints(self, paths):
        run = subprocess.run([FORMATTER, "--dry-run", "--Werror", f"--style=file:{SOURCE / '.clang-format'}", *map(str, paths)],
                             capture_output=True, text=True, timeout=240)
        self.assertIn(run.returncode, (0, 1), run.stderr)
        return [line for line in run.stderr.splitlines() if "[-Wclang-format-violations]" in line]

    def test_every_cpp_file_is_laid_out_by_the_formatter(self):
        self.assertGreater(len(files()), 100)
        found = self.complaints(files())
        self.assertEqual(found, [], "\n" + "\n".join(found[:20]) + f"\nmend it with: {FORMATTER} -i FILE")

    def test_a_file_that_is_not_would_be_found(self):
        import tempfile
        with tempfile.TemporaryDirectory() as folder:
            bent = pathlib.Path(folder) / "bent.cpp"
            bent.write_text("int  main( ){return 0;}\n")
            self.assertNotEqual(self.complaints([bent]), [])


if __name__ == "__main__":
    unittest.main()
