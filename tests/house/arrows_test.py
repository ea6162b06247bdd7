"""The rooms of the house know only those below them: read from the include lines, as the compiler reads them."""
import os
import pathlib
import re
import unittest

SOURCE = pathlib.Path(os.environ.get("SOURCE_DIR", pathlib.Path(__file__).resolve().parents[2]))
# Ground floor first: the order in which src/CMakeLists.txt lays them.
ROOMS = re.findall(r"add_subdirectory\((\w+)\)", (SOURCE / "src/CMakeLists.txt").read_text())
INCLUDE = re.compile(r'^\s*#\s*include\s+(?:"([^"]+)"|<([^>]+)>)', re.M)
# The outside world: it reaches the tool through a real link, so only those who start it may know it.
MAY_START_THE_SIMULATOR = {"sim", "cli", "page"}
# Headers without an ending are the standard library's; these are the system's own, and the one forward declaration that costs nothing.
SYSTEM = re.compile(r"(sys/.*|[a-z_]+\.h|nlohmann/json_fwd\.hpp)$")


def sources():
    for base, skip in (("src", 1), ("include/switchwright", 2)):
        for path in sorted((SOURCE / base).rglob("*.[ch]pp")):
            yield path.relative_to(SOURCE), path.relative_to(SOURCE).parts[skip], base != "src"


def included(path):
    for quoted, angled in INCLUDE.findall((SOURCE / path).read_text()):
        yield quoted, angled


class Arrows(unittest.TestCase):
    def faults(self, rule):
        found = [line for path, room, public in sources() for quoted, angled in included(path)
                 for line in [rule(path, room, public, quoted, angled)] if line]
        self.assertEqual(found, [], "\n" + "\n".join(found))

    def test_the_house_has_rooms(self):
        self.assertIn("core", ROOMS)
        self.assertEqual({room for _, room, _ in sources()} - set(ROOMS), set())

    def test_a_room_knows_only_those_below_it(self):
        def rule(path, room, public, quoted, angled):
            match = re.match(r"(?:switchwright/)?(\w+)/", quoted)
            if match and match[1] in ROOMS and ROOMS.index(match[1]) > ROOMS.index(room):
                return f"{path}: {room} looks up into {match[1]}: {quoted}"
        self.faults(rule)

    def test_only_those_who_start_the_simulator_know_it(self):
        def rule(path, room, public, quoted, angled):
            if re.match(r"(?:switchwright/)?sim/", quoted) and room not in MAY_START_THE_SIMULATOR:
                return f"{path}: {quoted}"
        self.faults(rule)

    def test_private_headers_stay_in_their_room_but_for_the_ground_floor(self):
        def rule(path, room, public, quoted, angled):
            match = re.match(r"(\w+)/", quoted)
            if match and match[1] in ROOMS and match[1] not in (room, "core"):
                return f"{path}: borrows {quoted}"
            if public and quoted and not quoted.startswith("switchwright/"):
                return f"{path}: a public header includes the private {quoted}"
        self.faults(rule)

    def test_public_headers_include_the_standard_library_only(self):
        def rule(path, room, public, quoted, angled):
            if public and angled and ("/" in angled or "." in angled) and not SYSTEM.match(angled):
                return f"{path}: <{angled}>"
        self.faults(rule)

    def test_the_table_for_developers_names_the_heavy_headers_of_each_room(self):
        heavy = {"Asio": r"boost/asio|core/loop_io\.hpp", "Beast": r"boost/beast", "toml++": r"toml\+\+/|core/toml_reader\.hpp", "Eigen": "Eigen/",
                 "Boost.Math": r"boost/math", "SQLite": r"sqlite3\.h", "libpq": r"libpq-fe\.h", "nlohmann/json": r"nlohmann/json\.hpp",
                 "OpenSSL": "openssl/", "libqrencode": r"qrencode\.h", "libarchive": r"archive\.h", "CLI11": "CLI/", "spdlog": "spdlog/"}
        included_by = {room: set() for room in ROOMS}
        for path, room, _ in sources():
            for quoted, angled in included(path):
                included_by[room] |= {name for name, header in heavy.items() if re.match(header, quoted or angled)}
        rows = re.findall(r"^\| `(\w+)/` \|.*\| ([^|]*)\|$", (SOURCE / "DEVELOPERS.md").read_text(), re.M)
        self.assertEqual([room for room, _ in rows], ROOMS, "the table has the rooms in their order")
        for room, said in rows:
            self.assertEqual(set(filter(None, said.strip().split(", "))), included_by[room], room)


if __name__ == "__main__":
    unittest.main()
