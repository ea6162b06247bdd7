"""Draws units as the header of lot/draw says, with a generator of its own: draw_reference.py LOT SAMPLE random|systematic SEED."""
import sys


class Twister:
    """64-bit Mersenne twister as the C++ standard defines it ([rand.eng.mers]); shares no code with the tool."""

    def __init__(self, seed):
        mask = (1 << 64) - 1
        self.state, self.at = [seed & mask], 312
        for i in range(1, 312):
            last = self.state[-1]
            self.state.append((6364136223846793005 * (last ^ (last >> 62)) + i) & mask)

    def __call__(self):
        if self.at == 312:
            for i in range(312):
                y = (self.state[i] & 0xFFFFFFFF80000000) | (self.state[(i + 1) % 312] & 0x7FFFFFFF)
                self.state[i] = self.state[(i + 156) % 312] ^ (y >> 1) ^ (0xB5026F5AA96619E9 if y & 1 else 0)
            self.at = 0
        y = self.state[self.at]
        self.at += 1
        y ^= (y >> 29) & 0x5555555555555555
        y ^= (y << 17) & 0x71D67FFFEDA60000
        y ^= (y << 37) & 0xFFF7EEE000000000
        return y ^ (y >> 43)

    def skip(self, count):
        for _ in range(count):
            self()
        return self()


def below(m, draw):
    top = (1 << 64) // m * m
    while True:
        value = draw()
        if value < top:
            return value % m


def units(lot, sample, method, seed):
    draw = Twister(seed)
    if method == "systematic":
        start = below(lot, draw)
        return [(start + i * lot) // sample + 1 for i in range(sample)]
    row = list(range(1, lot + 1))
    for i in range(sample):
        at = i + below(lot - i, draw)
        row[i], row[at] = row[at], row[i]
    return row[:sample]


# [rand.predef] of the C++ standard: the 10000th output of mt19937_64 from its default seed.
assert Twister(5489).skip(9999) == 9981545732273789042
print(*units(int(sys.argv[1]), int(sys.argv[2]), sys.argv[3], int(sys.argv[4])))
